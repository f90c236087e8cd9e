"""Requests that the web edge itself does not let in."""

from __future__ import annotations

from collections.abc import Mapping

from werkzeug.exceptions import HTTPException

from advisor.contract.problem import KINDS


class Refused(HTTPException):
    """A request is not let in: a kind of `KINDS`, what the caller may read, and headers that go with it."""

    def __init__(self, kind: str, detail: str | None = None, headers: Mapping[str, str] | None = None) -> None:
        super().__init__(detail)
        self.code = KINDS[kind].status
        self.kind, self.detail, self.sent_with = kind, detail, dict(headers or {})
