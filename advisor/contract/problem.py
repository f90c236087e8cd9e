"""The one maker of errors for programs: problem+json (RFC 9457) with pointers (RFC 6901)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pydantic import BaseModel, ConfigDict

from advisor.contract.case_answer import EventOut, event_out
from advisor.contract.event import StaleCaseError
from advisor.errors import (
    AdvisorError,
    BusyError,
    CircuitError,
    ImportLimitError,
    KeyReusedError,
    KnowledgeError,
    MissingExtraError,
    MissingVersionError,
    NotInForceError,
    RequestError,
    RequestProblem,
    StoreAwayError,
    StoreError,
    StoreFullError,
    UnknownCaseError,
    UnknownModelError,
    UnknownReleaseError,
)

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
    "not-csv": Kind(400, "The body is no table of orders", "Send CSV in UTF-8 whose first line names the columns."),
    "bad-request": Kind(400, "The request is not understood", "Check the request line and the headers."),
    "token-missing": Kind(
        401, "A token in force is needed", "Send the header Authorization: Bearer, with a token of your shop."
    ),
    "role": Kind(403, "The token's role may not do this", "Ask for a token of another role."),
    "cross-site": Kind(403, "The request comes from another site", "Send it from a page of this server itself."),
    "not-found": Kind(404, "Nothing has this address", "GET /v1/circuits lists what there is."),
    "method-not-allowed": Kind(405, "This address does not take this method", "The Allow header lists the methods."),
    "case-state": Kind(
        409,
        "The case does not take this as it stands",
        "Each entry of errors points at an event and says what is first.",
    ),
    "key-reused": Kind(422, "This idempotency key stands for another request", "Send a new key with a new request."),
    "case-changed": Kind(
        412, "The case has changed meanwhile", "Look at the events in changed, then send it again with the new version."
    ),
    "not-in-force": Kind(409, "This release is not in force", "See what is in force, then decide again."),
    "too-large": Kind(413, "The body is too large", "Send at most 1 MB, of a table 20 MB."),
    "not-json-type": Kind(415, "The content type is not JSON", "Send the header Content-Type: application/json."),
    "not-csv-type": Kind(415, "The content type is not CSV", "Send the header Content-Type: text/csv."),
    "foreign-host": Kind(421, "This server does not answer for this host", "Use the address that the server printed."),
    "invalid-request": Kind(422, "The request is not valid", "Each entry of errors points at what is wrong."),
    "impossible-findings": Kind(
        422, "The findings cannot all be true", "Measure again, or leave out one of the findings pointed at."
    ),
    "too-many": Kind(429, "Too many requests", "Wait for the seconds in Retry-After."),
    "version-missing": Kind(
        428, "The version that was seen is missing", 'Send the case\'s ETag in the header If-Match, such as "3".'
    ),
    "broken-model": Kind(500, "The model of this circuit cannot be used", "Run: advisor check"),
    "internal-error": Kind(500, "The server failed", "Try again; if it stays, report it with the time."),
    "broken-store": Kind(500, "The store of cases cannot be used", "The server's log says why."),
    "extra-missing": Kind(501, "This server cannot give this format", "Ask for CSV."),
    "busy": Kind(503, "The server is busy with another of these", "Try again after the time in Retry-After."),
    "store-away": Kind(
        503, "The store of cases does not answer now", "Send the same request again after the time in Retry-After."
    ),
    "store-full": Kind(507, "The store of cases is full", "Nothing was written. Make room, then send it again."),
}
# Types of errors, their kind, and whether their text is for the caller: others may name files or hosts of the server.
_KIND_OF: tuple[tuple[tuple[type[AdvisorError], ...], str, bool], ...] = (
    ((UnknownModelError, UnknownCaseError, UnknownReleaseError), "not-found", True),
    ((NotInForceError,), "not-in-force", True),
    ((KeyReusedError,), "key-reused", True),
    ((MissingVersionError,), "version-missing", True),
    ((ImportLimitError,), "too-large", True),
    ((BusyError,), "busy", True),
    ((MissingExtraError,), "extra-missing", True),
    ((KnowledgeError, CircuitError), "broken-model", False),
    ((StoreAwayError,), "store-away", False),
    ((StoreFullError,), "store-full", False),
    ((StoreError,), "broken-store", False),
)


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


class StaleProblem(Problem):
    """A write that has not seen everything: the version of the case now, and what was added since."""

    version: int
    changed: tuple[EventOut, ...]


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
    if isinstance(error, StaleCaseError):
        return _stale(error)
    for types, kind, is_told in _KIND_OF:
        if isinstance(error, types):
            return problem(kind, str(error) if is_told else None)
    return problem("bad-request", str(error))


def _stale(error: StaleCaseError) -> StaleProblem:
    changed = tuple(event_out(event) for event in error.changed)
    plain = problem("case-changed", f"{str(error)[:1].upper()}{str(error)[1:]}.")
    return StaleProblem(**plain.model_dump(), version=error.version, changed=changed)
