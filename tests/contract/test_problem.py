"""The one maker of problem documents."""

import pytest

from advisor.contract.problem import KINDS, MAX_ERRORS, problem, problem_of
from advisor.errors import (
    CircuitError,
    KnowledgeError,
    Problem,
    RequestError,
    RequestProblem,
    UnknownModelError,
    UsageError,
)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_the_shape(kind):
    """A problem has type, title, status, detail and errors."""
    made = problem(kind).model_dump()
    assert set(made) == {"type", "title", "status", "detail", "errors"}
    assert (made["type"], made["status"]) == (f"/problems/{kind}", KINDS[kind].status)


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (RequestError([RequestProblem("#/a", "wrong")]), 422),
        (UnknownModelError("no such circuit"), 404),
        (KnowledgeError([Problem("/secret/file.yaml", 1, 1, "wrong")]), 500),
        (CircuitError("cannot be solved"), 500),
        (UsageError("no"), 400),
    ],
)
def test_every_error_has_its_status(error, status):
    """Each branch of the error tree has a status, and file names stay inside."""
    made = problem_of(error)
    assert made.status == status
    assert "secret" not in made.model_dump_json()


def test_endless_lists_are_cut():
    """A list of errors without end is cut, and says so."""
    made = problem_of(RequestError([RequestProblem("#/a", "wrong")] * (MAX_ERRORS + 5)))
    assert len(made.errors) == MAX_ERRORS + 1
    assert made.errors[-1].detail == "and 5 more"
