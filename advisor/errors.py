"""The one tree of errors that the project raises on purpose.

AdvisorError
├── KnowledgeError        a model file is wrong: every problem with its address
├── UnknownModelError     no circuit has this id or path
├── CircuitError          the circuit cannot be solved: physical reasons are listed
│   ├── FloatingNodeError     a node has no path to the battery in the healthy circuit
│   └── OscillationError      the switching logic never settles
├── NetworkTooLargeError  a discrete network takes more memory than is allowed
├── RequestError          a caller's request is wrong: every problem with its pointer
│   ├── ImpossibleFindingsError   the findings cannot all be true in this model
│   └── CaseStateError            the case does not take this event as it stands
├── CaseError             a case cannot be reached or written as asked
│   ├── UnknownCaseError      no case has this id
│   ├── MissingVersionError   a write does not say which version of the case it has seen
│   └── KeyReusedError        one idempotency key came with two different requests
├── StoreError            the store of cases cannot be used
│   ├── StoreAwayError        it does not answer now; later it may
│   ├── StoreFullError        there is no room to write
│   └── SchemaError           its tables are of another release
├── OrdersFileError       a file of orders cannot be read at all: every problem with its address
├── ImportLimitError      a table is too long to be taken in at once
├── BusyError             what is asked for takes long, and is being done for another
├── MissingExtraError     what is asked for needs an extra that is not installed
└── UsageError            a command or a call names something that does not exist
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class AdvisorError(Exception):
    """Any error that the project raises on purpose; its text is fit for a reader."""


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong in a file, with its address (line and column count from 1)."""

    file: str
    line: int
    column: int
    message: str

    def __str__(self) -> str:
        """Give the problem as file:line:column: message."""
        return f"{self.file}:{self.line}:{self.column}: {self.message}"


class KnowledgeError(AdvisorError):
    """A model file is wrong; all of its problems are in `problems`, in file order."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(str(problem) for problem in self.problems))


class UnknownModelError(AdvisorError):
    """No circuit has this id or path."""


class CircuitError(AdvisorError):
    """The circuit cannot be solved; `reasons` are physical and fit for a reader."""

    def __init__(self, message: str, reasons: Sequence[str] = ()) -> None:
        self.reasons = tuple(reasons)
        super().__init__("\n  - ".join([message, *self.reasons]))


class FloatingNodeError(CircuitError):
    """A node of the healthy circuit has no path to the battery."""


class OscillationError(CircuitError):
    """The switching logic never settles."""


class NetworkTooLargeError(AdvisorError):
    """A discrete network takes more memory than is allowed; the text has the numbers."""


@dataclass(frozen=True)
class RequestProblem:
    """One thing wrong in a request; `pointer` is an RFC 6901 fragment such as #/findings/2/test."""

    pointer: str
    message: str


class RequestError(AdvisorError):
    """A request is wrong; all of its problems are in `problems`."""

    kind = "invalid-request"

    def __init__(self, problems: Sequence[RequestProblem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(f"{p.pointer}: {p.message}" for p in self.problems))


class ImpossibleFindingsError(RequestError):
    """The findings cannot all be true in this model, not even with an unlisted fault."""

    kind = "impossible-findings"


class CaseStateError(RequestError):
    """The case does not take this event as it stands, such as a closing while a jumper is on."""

    kind = "case-state"


class CaseError(AdvisorError):
    """A case cannot be reached or written as asked."""


class UnknownCaseError(CaseError):
    """No case of this shop has this id."""


class UnknownReleaseError(CaseError):
    """No release of priors of this shop has this id or name."""


class NotInForceError(CaseError):
    """A release is to be taken out of force that is not in it."""


class MissingVersionError(CaseError):
    """A write to an existing case does not say which version it has seen."""


class KeyReusedError(CaseError):
    """An idempotency key came before with another request."""


class StoreError(AdvisorError):
    """The store of cases cannot be used."""


class StoreAwayError(StoreError):
    """The store does not answer now; `retry_after` [s] says when to try again."""

    retry_after = 5


class StoreFullError(StoreError):
    """There is no room to write; nothing was written."""


class SchemaError(StoreError):
    """The tables of the store are those of another release."""


class OrdersFileError(AdvisorError):
    """A file of orders cannot be read at all; all of its problems are in `problems`."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[OrdersFileError], tuple[tuple[Problem, ...]]]:
        """Travel from another process with all problems."""
        return type(self), (self.problems,)


class ImportLimitError(AdvisorError):
    """A table is too long to be taken in at once; nothing of it was."""


class BusyError(AdvisorError):
    """What is asked for takes long, and is being done for another; `retry_after` [s] says when to try again."""

    retry_after = 15


class MissingExtraError(AdvisorError):
    """What is asked for needs an extra of the package that is not installed."""


class UsageError(AdvisorError):
    """A command or a call names something that does not exist."""
