"""Events as they are sent: every kind reads, and what is wrong is pointed at in the sender's own places."""

import copy
import random

import pytest
from pointers import names_something

from advisor.contract.case_events import EVENTS, KINDS, CaseIn, EventsIn, body_of
from advisor.contract.case_requests import parse
from advisor.contract.event import PERSONAL
from advisor.errors import RequestError

# One full body of each kind.
BODIES = {
    "finding": {"kind": "reading", "test": "t", "value": 1.5, "unit": "V"},
    "retraction": {"of": 2},
    "place-opened": {"place": "p"},
    "declined": {"test": "t", "why": "cannot reach it"},
    "repair": {"repair": "r", "result": "back", "after_days": 12},
    "worked": {"place": "p", "what": "equipment"},
    "note": {"text": "x"},
    "authorised": {"minutes": 60, "money": 100.5, "whom": "owner"},
    "spent": {"minutes": 25, "money": 12.5},
    "work-declined": {"what": "new unit", "whom": "owner"},
    "put-on": {"id": "j", "what": "jumper", "where": "C12/9"},
    "put-back": {"id": "j"},
    "not-fit": {"until": "the brake lamps work"},
    "fit": {"why": "tried"},
    "closed": {
        "complaint": "dark",
        "cause": "switch",
        "correction": "new",
        "cause_status": "confirmed",
        "causes": ["s/open"],
        "cause_of_cause": "water",
        "parts": [{"part": "switch", "count": 1, "price": 20}],
        "minutes": [{"step": "look", "minutes": 2}],
        "proved_good": ["fuse"],
    },
    "reopened": {"why": "back"},
    "comeback": {"of": "c"},
    "moved": {"release": {"knowledge": "sha256:0", "priors": "handbook-1", "engine": "1"}},
    "details": {"reference": "W-17", "words": "it is dark"},
}
WRONG = [None, True, [], {}, "", "x" * 5000, 10**400, -1, 1.5, float("nan"), "nope", [None], {"a": 1}, "\ud800", "\x00"]


def test_every_kind_has_a_full_body_here():
    """The table above, the union and the bodies name the same kinds; what is personal is a key of its body."""
    assert set(BODIES) == set(EVENTS) == {*KINDS.values(), "finding"}
    by_kind = {kind: body for body, kind in KINDS.items()}
    for kind, names in PERSONAL.items():
        fields = CaseIn.model_fields if kind == "opened" else by_kind[kind].model_fields
        assert set(names) <= set(fields)


@pytest.mark.parametrize("kind", BODIES)
def test_a_stored_body_reads_as_it_was_sent(kind):
    """What is stored of an event is read back as the same value."""
    sent = parse(EventsIn, {"events": [{"kind": kind, "body": BODIES[kind]}]}).events[0].body
    assert body_of(kind, sent.model_dump(mode="json", exclude_none=True)) == sent


@pytest.mark.parametrize(
    ("kind", "body", "where"),
    [
        ("finding", {"test": "t", "outcome": 3}, "/body/outcome"),
        ("finding", {"test": "t", "reading": {"value": "1", "unit": "V"}}, "/body/reading/value"),
        ("finding", {"nothing": 1}, "/body"),
        ("repair", {"repair": "r", "result": "gone", "after_days": 3}, "/body"),
        ("repair", {"repair": "r", "result": "worse"}, "/body/result"),
        ("authorised", {"whom": "owner"}, "/body"),
        ("spent", {}, "/body"),
        ("closed", {**BODIES["closed"], "parts": [{"part": 3}]}, "/body/parts/0/part"),
        ("closed", {**BODIES["closed"], "parts": [{"part": "a", "prize": 3}]}, "/body/parts/0/prize"),
        ("note", {"txt": "x", "text": "y"}, "/body/txt"),
        ("put-on", {"id": "j", "what": "tape"}, "/body/what"),
        ("retraction", {"of": 1.0}, "/body/of"),
        ("opened", {}, ""),
    ],
)
def test_what_is_wrong_is_pointed_at(kind, body, where):
    """Pointers name what the sender wrote, never how it was taken."""
    with pytest.raises(RequestError) as refused:
        parse(EventsIn, {"events": [{"kind": "note", "body": {"text": "x"}}, {"kind": kind, "body": body}]})
    assert [problem.pointer for problem in refused.value.problems] == [f"#/events/1{where}"]


@pytest.mark.parametrize("events", [[], [{"kind": "note", "body": {"text": "x"}}] * 101])
def test_a_request_holds_some_events_and_not_too_many(events):
    """None and more than a hundred are refused."""
    with pytest.raises(RequestError) as refused:
        parse(EventsIn, {"events": events})
    assert refused.value.problems[0].pointer == "#/events"


def places(node, path=()):
    """Give the path of every value below a node."""
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [path_ for key, item in items for path_ in ((*path, key), *places(item, (*path, key)))]


@pytest.mark.parametrize("seed", range(300))
def test_damaged_events_are_always_pointed_at(seed):
    """Whatever one value of a good request is turned into, it is taken, or refused at places that it has."""
    rng = random.Random(seed)
    body = {"by": "anna", "events": [{"kind": kind, "body": copy.deepcopy(given)} for kind, given in BODIES.items()]}
    path = rng.choice(places(body))
    here = body
    for step in path[:-1]:
        here = here[step]
    here[path[-1]] = copy.deepcopy(rng.choice(WRONG))
    try:
        parse(EventsIn, body)
    except RequestError as error:
        assert error.problems
        for problem in error.problems:
            assert names_something(problem.pointer, body), problem
            assert "\x00" not in problem.message
