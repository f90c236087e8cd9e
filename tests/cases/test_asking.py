"""From a case to the engine's request: order, stretches, repairs, and errors told in the case's own places."""

import fakes
from journals import journal

from advisor.cases.asking import question
from advisor.cases.replay import replay
from advisor.contract.request import AdviceRequest
from advisor.errors import RequestError, RequestProblem

TEST = {"test": "look.belt-lamp.prove-out"}


def asked(*events):
    """Ask about a journal."""
    return question(replay(journal(*events)))


def test_every_case_gives_a_request_of_the_contract():
    """What is asked is a request, kept whole by its type."""
    body = asked(("finding", {**TEST, "reading": {"over_range": True}}), ("place-opened", {"place": "buckle"})).body
    request = AdviceRequest.model_validate(body)
    assert (request.circuit, request.opened, request.vehicle.years) == ("belt-reminder", ("buckle",), 9.0)
    assert [finding.kind for finding in request.findings] == ["symptom", "reading"]
    assert fakes.MODEL.schematic.id == request.circuit


def test_findings_keep_the_order_of_the_journal():
    """A corrected answer stands where it was corrected."""
    body = asked(
        ("finding", {**TEST, "outcome": "lit"}), ("declined", {"test": "b"}), ("finding", {**TEST, "outcome": "dark"})
    ).body
    assert [finding.get("outcome", finding["kind"]) for finding in body["findings"]] == ["symptom", "declined", "dark"]


def test_what_is_authorised_and_spent_is_told():
    """Amounts are added up; what nobody spoke of has no limit."""
    body = asked(
        ("authorised", {"minutes": 60.0, "whom": "owner"}),
        ("spent", {"minutes": 20.0, "money": 9.5}),
        ("authorised", {"minutes": 30.0, "whom": "owner"}),
        ("spent", {"minutes": 15.0}),
    ).body
    request = AdviceRequest.model_validate(body)
    assert (request.authorised.minutes, request.authorised.money) == (90.0, None)
    assert (request.spent.minutes, request.spent.money) == (35.0, 9.5)


def test_a_repair_stands_between_its_stretches():
    """What was answered before a repair and after it is told both times."""
    repaired = asked(
        ("finding", {**TEST, "outcome": "lit"}),
        ("repair", {"repair": "replace-f8", "result": "stays"}),
        ("finding", {**TEST, "outcome": "dark"}),
    )
    told = [finding.get("outcome", finding["kind"]) for finding in repaired.body["findings"]]
    assert told == ["symptom", "lit", "repair", "dark"]
    assert repaired.sources == (1, 2, 3, 4)


def test_errors_are_told_in_the_places_of_the_case():
    """A pointer into the request's findings becomes one into the journal; others stay."""
    put = asked(("note", {"text": "x"}), ("finding", {**TEST, "outcome": "lit"}))
    error = RequestError([RequestProblem("#/findings/1/test", "a"), RequestProblem("#/circuit", "b")])
    assert [problem.pointer for problem in put.retold(error).problems] == ["#/events/2/body/test", "#/circuit"]
