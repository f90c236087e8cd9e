"""The one maker of errors for programs: problem+json (RFC 9457) with pointers (RFC 6901)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pydantic import BaseModel, ConfigDict

from advisor.errors import AdvisorError, CircuitError, KnowledgeError, RequestError, RequestProblem, UnknownModelError

MEDIA_TYPE = "application/problem+json"
MAX_ERRORS = 200


@dataclass(frozen=True)
class Kind:
    """One kind of error: HTTP status, short title, and what a caller can do about it."""

    status: int
    title: str
    remedy: str


KINDS: Mapping[str, Kind] = {
    "not-json": Kind(400, "The body is not JSON", "Send one JSON object in UTF-8."),
    "bad-request": Kind(400, "The request is not understood", "Check the request line and the headers."),
    "not-found": Kind(404, "Nothing has this address", "GET /v1/circuits lists what there is."),
    "method-not-allowed": Kind(405, "This address does not take this method", "The Allow header lists the methods."),
    "too-large": Kind(413, "The body is too large", "Send at most 1 MB."),
    "not-json-type": Kind(415, "The content type is not JSON", "Send the header Content-Type: application/json."),
    "foreign-host": Kind(421, "This server does not answer for this host", "Use the address that the server printed."),
    "invalid-request": Kind(422, "The request is not valid", "Each entry of errors points at what is wrong."),
    "impossible-findings": Kind(
        422, "The findings cannot all be true", "Measure again, or leave out one of the findings pointed at."
    ),
    "broken-model": Kind(500, "The model of this circuit cannot be used", "Run: advisor check"),
    "internal-error": Kind(500, "The server failed", "Try again; if it stays, report it with the time."),
}


class ProblemError(BaseModel):
    """One thing wrong: where it stands in the request, and what it is."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    pointer: str
    detail: str


class Problem(BaseModel):
    """An error as a document; `errors` lists everything that is wrong at once."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    type: str
    title: str
    status: int
    detail: str
    errors: tuple[ProblemError, ...] = ()


def problem(kind: str, detail: str | None = None, errors: Iterable[RequestProblem] = ()) -> Problem:
    """Make the problem of a kind in `KINDS`; without a detail it says the remedy."""
    known, listed = KINDS[kind], tuple(errors)
    shown = [ProblemError(pointer=item.pointer, detail=item.message) for item in listed[:MAX_ERRORS]]
    if len(listed) > len(shown):
        shown.append(ProblemError(pointer="#", detail=f"and {len(listed) - len(shown)} more"))
    return Problem(
        type=f"/problems/{kind}",
        title=known.title,
        status=known.status,
        detail=detail or known.remedy,
        errors=tuple(shown),
    )


def problem_of(error: AdvisorError) -> Problem:
    """Make the problem of an error that the project raised on purpose; file names stay inside."""
    if isinstance(error, RequestError):
        count = len(error.problems)
        detail = f"{count} {'thing is' if count == 1 else 'things are'} wrong. {KINDS[error.kind].remedy}"
        return problem(error.kind, detail, error.problems)
    if isinstance(error, UnknownModelError):
        return problem("not-found", str(error))
    if isinstance(error, (KnowledgeError, CircuitError)):
        return problem("broken-model")
    return problem("bad-request", str(error))
