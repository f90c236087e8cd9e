"""The forms of a request, and what its types refuse."""

import fakes
import pytest

from advisor.contract import service
from advisor.contract.request import AdviceRequest
from advisor.errors import RequestError


def refused(body: object) -> dict[str, str]:
    """Give what is wrong with a request, by pointer."""
    with pytest.raises(RequestError) as caught:
        service.answer_body(body, fakes.engine())
    return {problem.pointer: problem.message for problem in caught.value.problems}


def with_findings(*findings: object) -> dict[str, object]:
    """Make a request with findings only."""
    return {"circuit": "belt-reminder", "findings": list(findings)}


def test_only_the_circuit_is_required():
    """A request with a circuit alone has the defaults of the trade."""
    request = AdviceRequest.model_validate({"circuit": "belt-reminder"})
    assert (request.vehicle.years, request.costs.labour_per_hour, request.costs.hand_over) == (9, 85, 250)


def test_every_problem_comes_at_once():
    """Wrong types, unknown keys, unknown names and missing keys are told together."""
    body = {
        "circuit": "belt-reminder",
        "vehicle": {"years": True, "hour": 3},
        "findings": [
            {"symptom": "lamp-stays-dar"},
            {"test": "nope"},
            {"test": "volts.C12-1.reminding", "outcome": "odd"},
        ],
        "opened": ["knee-panle"],
        "costs": {"currency": "euro", "labour_per_hour": -1},
    }
    wrong = refused(body)
    assert set(wrong) == {
        "#/vehicle/years",
        "#/vehicle/hour",
        "#/findings/0/symptom",
        "#/findings/1",
        "#/findings/2/outcome",
        "#/opened/0",
        "#/costs/currency",
        "#/costs/labour_per_hour",
    }
    assert "did you mean hours?" in wrong["#/vehicle/hour"]
    assert "did you mean lamp-stays-dark?" in wrong["#/findings/0/symptom"]
    assert "did you mean knee-panel?" in wrong["#/opened/0"]


@pytest.mark.parametrize(
    ("finding", "pointer"),
    [
        ({"test": "volts.C12-1.reminding", "reading": {"value": True, "unit": "V"}}, "#/findings/0/reading/value"),
        ({"test": "volts.C12-1.reminding", "reading": {"value": 1}}, "#/findings/0/reading"),
        ({"test": "volts.C12-1.reminding", "reading": {"value": 1, "unit": "kV"}}, "#/findings/0/reading/unit"),
        (
            {"test": "volts.C12-1.reminding", "reading": {"value": 1, "unit": "V", "over_range": True}},
            "#/findings/0/reading",
        ),
        ({"test": "volts.C12-1.reminding", "reading": {}}, "#/findings/0/reading"),
        ({"kind": "reading", "test": "volts.C12-1.reminding"}, "#/findings/0"),
        (
            {"kind": "reading", "test": "volts.C12-1.reminding", "value": float("nan"), "unit": "V"},
            "#/findings/0/value",
        ),
        (
            {"kind": "reading", "test": "volts.C12-1.reminding", "value": float("inf"), "unit": "V"},
            "#/findings/0/value",
        ),
        ({"kind": "reading", "test": "look.belt-lamp.prove-out", "value": 1, "unit": "V"}, "#/findings/0"),
        ({"test": "jumper.C12-1-to-ground.reminding", "outcome": "lit"}, "#/findings/0/test"),
        ({"test": "volts.C12-1.reminding", "outcome": "normal", "extra": 1}, "#/findings/0/extra"),
        ({"kind": "rumour", "repair": "x"}, "#/findings/0"),
        ({"kind": "repair", "repair": "x", "result": "perhaps"}, "#/findings/0/result"),
        ({"kind": "repair", "repair": "x", "symptom": "purple"}, "#/findings/0/symptom"),
        ({"kind": ["x"]}, "#/findings/0"),
        (7, "#/findings/0"),
        ({"symptom": "lamp-stays-dark", "present": 1}, "#/findings/0/present"),
        ({"symptom": ""}, "#/findings/0/symptom"),
        ({"symptom": "\ud800"}, "#/findings/0/symptom"),
    ],
)
def test_wrong_findings_are_pointed_at(finding, pointer):
    """Every wrong finding is refused at its own address."""
    assert list(refused(with_findings(finding))) == [pointer]


def test_a_test_or_symptom_is_answered_once():
    """A second answer for the same test or symptom is refused at its own address."""
    look, dark = "look.belt-lamp.prove-out", "lamp-stays-dark"
    body = with_findings(
        {"test": look, "outcome": "lit"},
        {"symptom": dark},
        {"test": look, "outcome": "dim"},
        {"symptom": dark, "present": False},
    )
    assert list(refused(body)) == ["#/findings/2/test", "#/findings/3/symptom"]


def test_a_repair_lets_every_test_be_answered_once_more():
    """What was read before a repair may be read again after it; a complaint is reported once."""
    look, dark = {"test": "look.belt-lamp.prove-out", "outcome": "lit"}, {"symptom": "lamp-stays-dark"}
    repair = {"kind": "repair", "repair": "replace-lamp", "result": "stays"}
    body = with_findings(dark, look, repair, look, look, dark)
    assert list(refused(body)) == ["#/findings/4/test", "#/findings/5/symptom"]


@pytest.mark.parametrize("body", [None, 5, [], "x", {}, {"circuit": 5}, {"circuit": None}])
def test_what_is_no_request_is_refused(body):
    """A body of another shape is refused at the root or at the circuit."""
    assert set(refused(body)) <= {"#", "#/circuit"}


def test_an_unknown_circuit_in_the_body_is_pointed_at():
    """An unknown circuit is the body's fault, told with the nearest name and beside other problems."""
    wrong = refused({"circuit": "belt-remainder", "vehicle": {"years": 61}})
    assert set(wrong) == {"#/circuit", "#/vehicle/years"}
    assert "did you mean belt-reminder?" in wrong["#/circuit"]


def test_a_path_is_no_circuit():
    """The contract takes ids; a path is an unknown circuit."""
    assert list(refused({"circuit": "../belt-reminder.yaml"})) == ["#/circuit"]


def test_limits():
    """At most 200 findings, and each limit is told."""
    many = [{"symptom": "lamp-stays-dark"}] * 201
    assert list(refused(with_findings(*many))) == ["#/findings"]
    assert list(refused({"circuit": "belt-reminder", "vehicle": {"years": -1, "hours": 100_001}})) == [
        "#/vehicle/years",
        "#/vehicle/hours",
    ]


def test_impossible_findings_keep_their_kind():
    """Findings that no fault gives are told apart from malformed ones."""
    with pytest.raises(RequestError) as caught:
        service.answer_body(
            with_findings({"test": "volts.C12-1.reminding", "reading": {"value": 999, "unit": "V"}}), fakes.engine()
        )
    assert caught.value.kind == "impossible-findings"
