"""A case as a query string."""

import pytest

from advisor.errors import ImpossibleFindingsError, RequestError, RequestProblem
from api.case_query import CaseQuery, parse_case, salvaged

QUERY = "symptom=lamp-stays-dark&t=look.x~lit&open=knee-panel&r=volts.y~11,8&skip=z&years=9"


def test_a_query_comes_back_as_its_own_address():
    """Reading an address and writing it gives the same address, order kept."""
    case, _ = parse_case("belt-reminder", QUERY)
    assert parse_case("belt-reminder", case.url().partition("?")[2])[0] == case
    assert [key for key, _ in case.steps] == ["symptom", "t", "open", "r", "skip"]


def test_the_request_behind_a_query():
    """Steps become findings in their order; a skipped test is a declined one."""
    body = parse_case("belt-reminder", QUERY)[0].body()
    assert body == {
        "circuit": "belt-reminder",
        "vehicle": {"years": 9.0},
        "findings": [
            {"kind": "symptom", "symptom": "lamp-stays-dark", "present": True},
            {"kind": "outcome", "test": "look.x", "outcome": "lit"},
            {"kind": "reading", "test": "volts.y", "value": 11.8, "unit": ""},
            {"kind": "declined", "test": "z"},
        ],
        "opened": ["knee-panel"],
    }


def test_undo_takes_the_last_finding_and_what_came_with_it():
    """Undo goes back over the skipped test, then the reading, then the outcome with its opened place."""
    case = parse_case("c", QUERY)[0]
    counts = []
    while case is not None:
        counts.append(len(case.steps))
        case = case.undone()
    assert counts == [5, 4, 3, 1, 0]


def test_a_step_is_added_once():
    """Adding what is there already changes nothing."""
    case = CaseQuery("c").plus(("open", "a"))
    assert case.plus(("open", "a")) == case


def test_after_a_repair_the_same_answer_is_another():
    """A test answered alike before and after a repair stands twice, and each is taken back by itself."""
    case = CaseQuery("c")
    for step in (("symptom", "s"), ("t", "x~lit"), ("fix", "r~stays"), ("t", "x~lit"), ("symptom", "s")):
        case = case.plus(step)
    assert [key for key, _ in case.steps] == ["symptom", "t", "fix", "t"]
    assert case.body()["findings"][2] == {"kind": "repair", "repair": "r", "result": "stays"}
    assert case.without(3).steps == case.steps[:3]
    assert case.plus(("t", "x~lit")) == case


def test_a_form_sends_its_reading():
    """The two fields of the form become one step."""
    assert parse_case("c", "reading-of=volts.y&reading=+11,8+")[1] == ("r", "volts.y~11,8")
    assert parse_case("c", "reading-of=volts.y&reading=")[1] is None


@pytest.mark.parametrize(
    "query", ["t=nothing", "r=volts.y~x", "years=old", "symptoms=a", "t=%ff", "&".join(["open=a"] * 400)]
)
def test_a_damaged_query_is_refused_and_can_be_mended(query):
    """A wrong part of an address is refused, and the case without it is offered."""
    with pytest.raises(RequestError) as caught:
        parse_case("c", query)[0].body()
    assert salvaged("c", query).mended(caught.value).body()["circuit"] == "c"


def test_mending_keeps_what_is_right():
    """Only what is wrong is left out."""
    query = "symptom=a&r=volts.y~x&years=old&hours=5"
    with pytest.raises(RequestError) as caught:
        parse_case("c", query)[0].body()
    assert salvaged("c", query).mended(caught.value).url() == "/circuit/c/case?symptom=a&hours=5"


def test_of_impossible_findings_only_the_last_goes():
    """Findings that cannot be true together are not all thrown away."""
    case = parse_case("c", "symptom=a&t=x~lit&t=y~lit")[0]
    error = ImpossibleFindingsError([RequestProblem("#/findings/1", ""), RequestProblem("#/findings/2", "")])
    assert case.mended(error).steps == (("symptom", "a"), ("t", "x~lit"))


def test_of_a_symptom_named_twice_one_stays():
    """The second naming goes, the first stays."""
    case = parse_case("c", "symptom=a&symptom=a")[0]
    assert case.mended(RequestError([RequestProblem("#/findings/1/symptom", "")])).steps == (("symptom", "a"),)
