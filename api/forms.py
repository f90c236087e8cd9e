"""What every form of a page carries beside its fields, and what was sent with it."""

from __future__ import annotations

import hashlib
import re
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from flask import Flask, request
from markupsafe import Markup

from advisor.cases.book import Write
from advisor.store.records import Key
from api.caller import caller
from api.case_fields import FIELDS, FORMS
from api.csrf import FIELD, csrf_field
from api.refused import Refused

NONCE, SEEN = "nonce", "seen"
SECRETS = (NONCE, SEEN, FIELD)
MAX_FIELDS = 300
_NONCE = re.compile(r"[A-Za-z0-9_-]{16,64}")


DAMAGED = "This form is damaged or not one of this server's pages. Go back to the case and enter it again."


@dataclass(frozen=True)
class Sent:
    """A form as it was sent: its nonce, the version of the case that it was filled in on, its fields with values."""

    nonce: str
    seen: frozenset[int]
    fields: Mapping[str, tuple[str, ...]]

    def get(self, name: str) -> str:
        """Give the first value of a field without space around it, empty where there is none."""
        return next((value.strip() for value in self.fields.get(name, ())), "")

    def all(self, name: str) -> Sequence[str]:
        """Give all values of a field."""
        return self.fields.get(name, ())


def form_secrets(seen: int | None = None) -> Markup:
    """Give the hidden fields of a form: a nonce, the version of the case that the page shows, the session's secret."""
    fields = {NONCE: secrets.token_urlsafe(16)} | ({SEEN: str(seen)} if seen is not None else {})
    row = Markup('<input type="hidden" name="{}" value="{}">')
    return Markup("").join(row.format(name, value) for name, value in fields.items()) + csrf_field()


def sent() -> Sent:
    """Read the form of the request; raises Refused."""
    request.max_form_parts = MAX_FIELDS
    nonce, seen = request.form.get(NONCE, ""), request.form.get(SEEN, "")
    if not _NONCE.fullmatch(nonce):
        raise Refused("bad-request", DAMAGED)
    versions = frozenset({int(seen)}) if re.fullmatch(r"[1-9][0-9]{0,8}", seen) else frozenset()
    # A browser sends line ends as CR LF; what is kept has LF.
    fields = {
        name: tuple(value.replace("\r\n", "\n") for value in values)
        for name, values in request.form.lists()
        if name not in SECRETS
    }
    return Sent(nonce, versions, fields)


def write(form: Sent) -> Write:
    """Say how a form is written: once, however often it is sent.

    The fields are part of the key: another answer on the same page, after going back, is another write.
    """
    digest = hashlib.sha256(repr(sorted(form.fields.items())).encode()).hexdigest()
    asks, route = caller(), f"{request.method} {request.path}"
    key = Key(asks.shop, asks.token, route, f"{form.nonce}.{digest[:32]}", digest)
    return Write(asks.shop, key, form.seen, asks.name)


def install(app: Flask) -> None:
    """Let templates write forms from the one table of fields, with their hidden fields."""
    app.jinja_env.globals.update(form_secrets=form_secrets, FIELDS=FIELDS, FORMS=FORMS)
