"""Releases of priors: what is in force for whom, cases that keep to theirs, and what a file may say."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import count

import fakes
import numpy as np
import pytest

import advisor
from advisor.cases.book import CaseBook, Write
from advisor.cases.release_words import side_by_side
from advisor.contract.case_queries import AdviceQuery
from advisor.contract.priors import priors_of, read_priors
from advisor.contract.rates import Rates, compared
from advisor.contract.saying import of_what_is_learned
from advisor.engine import shipped_engine
from advisor.errors import NotInForceError, RequestError, StoreAwayError, UnknownReleaseError
from advisor.knowledge.prevalence import Vehicle

CIRCUIT = "belt-reminder"
LAMP, AT_LAMP = "belt-lamp/open", "#/factors/belt-reminder/belt-lamp~1open"


def told(name="north-1", **factors):
    """A file as JSON values; each factor by cause, its slash written as two underscores."""
    listed = {cause.replace("__", "/").replace("_", "-"): {"factor": value} for cause, value in factors.items()}
    return {"format": "priors/1", "name": name, "factors": {CIRCUIT: listed}}


@pytest.fixture
def book(store):
    """A book whose clock goes on by a second each time it is looked at."""
    ticks = count()
    start = datetime(2026, 1, 1, tzinfo=UTC)
    return CaseBook(store, shipped_engine(), lambda: start + timedelta(seconds=next(ticks)))


def add(book, shop="shop", **file):
    """Add a release and name it."""
    row = book.releases.add(priors_of(told(**file)), book.engine, shop, "anna")
    return f"{row.name}@{row.id[7:19]}"


def test_a_shops_release_stands_over_the_common_one(book):
    """A shop's factors go before the common ones, which stand for all else; another shop sees the common ones alone."""
    common = add(book, "", name="all", battery__weak=2.0, belt_lamp__open=3.0)
    own = add(book, "north", name="own", belt_lamp__open=5.0)
    book.releases.activate(common, "", "anna")
    book.releases.activate(own, "north", "anna")
    assert book.releases.rates("south") == Rates(common, {CIRCUIT: {"battery/weak": 2.0, "belt-lamp/open": 3.0}})
    north = book.releases.rates("north")
    assert north == Rates(f"{own}+{common}", {CIRCUIT: {"battery/weak": 2.0, "belt-lamp/open": 5.0}})
    assert book.releases.named(north.name, "north") == north
    with pytest.raises(UnknownReleaseError):
        book.releases.find(own, "south")
    book.releases.activate("handbook-1", "north", "anna")
    assert book.releases.rates("north") == Rates()


def test_going_back_goes_back_one_step_each_time(book):
    """Activations lie upon each other; going back takes one off, and what is activated twice lies there once."""
    first, second = add(book, name="a", belt_lamp__open=2.0), add(book, name="b", belt_lamp__open=3.0)
    for name in (first, second, second):
        book.releases.activate(name, "shop", "anna")
    with pytest.raises(NotInForceError, match="is not in force"):
        book.releases.roll_back("shop", "anna", leaving=first)
    book.releases.roll_back("shop", "anna", leaving=second)
    assert book.releases.rates("shop").name == first
    book.releases.roll_back("shop", "anna")
    assert book.releases.rates("shop") == Rates()
    with pytest.raises(NotInForceError, match="nothing to go back from"):
        book.releases.roll_back("shop", "anna")


def test_open_cases_keep_to_theirs_until_they_are_moved(book):
    """A case is advised on under the rates that it was opened with; moving names the release that is in force."""
    case = book.open({"circuit": CIRCUIT, "symptom": "lamp-stays-dark"}, Write())
    name = add(book, name="worse", belt_lamp__open=50.0)
    book.releases.activate(name, "shop", "anna")
    query = AdviceQuery(depth="1")

    def chance(**how):
        advice = book.advice("shop", case.id, query.model_copy(update=how)).advice
        return advice.release.priors, next(c.probability for c in advice.causes if c.cause == "belt-lamp/open")

    (kept, before), (now, after) = chance(), chance(release="now")
    assert (kept, now) == ("handbook-1", name)
    assert after > 3 * before
    seen = book.read("shop", case.id)
    assert seen.release_changed and seen.release_now.priors == name
    moved = {"kind": "moved", "body": {"release": seen.release.model_dump()}}
    with pytest.raises(RequestError, match="the release in force"):
        book.append(case.id, {"events": [moved]}, Write(seen=frozenset({1})))
    moved["body"]["release"] = seen.release_now.model_dump()
    gone_over = book.append(case.id, {"events": [moved]}, Write(seen=frozenset({1})))
    assert not gone_over.release_changed
    assert chance() == (name, after)
    undone = {"kind": "retraction", "body": {"of": gone_over.version}}
    book.append(case.id, {"events": [undone]}, Write(seen=frozenset({gone_over.version})))
    assert chance() == (kept, before)


def test_rates_are_those_of_a_model_with_its_factors(book):
    """The posterior under a release is that of a model whose root was weighed by hand."""
    name = add(book, name="by-hand", belt_lamp__open=4.0)
    book.releases.activate(name, "shop", "anna")
    model = book.engine_now("shop").load(CIRCUIT)
    library = advisor.load(CIRCUIT)
    cause = library.compiled.causes.index("belt-lamp/open")
    x = library.prevalence(Vehicle()) * np.where(library.worlds.severity_cause == cause, 4.0, 1.0)
    np.testing.assert_allclose(model.prevalence(Vehicle()), x, rtol=1e-12)
    assert book.engine_now("shop").load(CIRCUIT) is model


def test_a_release_lives_through_a_store_that_does_not_answer(book, monkeypatch):
    """What was in force last stays in force."""
    name = add(book, belt_lamp__open=2.0)
    book.releases.activate(name, "shop", "anna")
    assert book.releases.rates("shop").name == name

    def away(_):
        raise StoreAwayError("away")

    monkeypatch.setattr(book.store, "reading", away)
    assert book.releases.rates("shop").name == name
    assert book.releases.rates("other") == Rates()


def test_minutes_of_a_release_are_in_force_with_it(book):
    """Listed, a shop's go before the common ones, by kind of work; open cases keep to theirs, and answers say whose."""
    case = book.open({"circuit": CIRCUIT, "symptom": "lamp-stays-dark"}, Write())
    slow = {work: {"factor": factor, "orders": 40} for work, factor in (("test: voltmeter", 3.0), ("access", 2.0))}
    common = book.releases.add(
        priors_of(told(name="all") | {"minutes": slow, "in_force": ["minutes"]}), book.engine, "", "anna"
    )
    own = book.releases.add(
        priors_of(told(name="own") | {"minutes": {"access": {"factor": 0.5}}, "in_force": ["minutes"]}),
        book.engine,
        "shop",
        "anna",
    )
    book.releases.activate(common.id, "", "anna")
    book.releases.activate(own.id, "shop", "anna")
    assert book.releases.rates("shop").learned.minutes == {"test: voltmeter": 3.0, "access": 0.5}
    assert book.releases.rates("north").learned.minutes == {"test: voltmeter": 3.0, "access": 2.0}
    kept, now = (book.advice("shop", case.id, AdviceQuery(depth="1", **how)).advice for how in ({}, {"release": "now"}))
    assert kept.learned is None and of_what_is_learned(kept) == ""
    assert now.learned.model_dump() == {
        "priors": now.release.priors,
        "minutes": {"test: voltmeter": 3.0, "access": 0.5},
        "slips": {},
    }
    said = f"From {now.release.priors}: minutes: access × 0.50, test: voltmeter × 3.00."
    assert of_what_is_learned(now) == said
    tests, now_of = advisor.load(CIRCUIT).tests, {test.test: test.minutes for test in now.tests}
    for test in (test for test in kept.tests if test.test in now_of):
        alone = tests[test.test].minutes
        times = 3.0 if test.instrument == "voltmeter" else 1.0
        assert now_of[test.test] == pytest.approx(times * alone + 0.5 * (test.minutes - alone))
    assert any(test.instrument == "voltmeter" and test.test in now_of for test in kept.tests)
    moved = side_by_side(Rates(), book.releases.rates("shop")).minutes
    assert [(row.name, row.after) for row in moved] == [("access", 0.5), ("test: voltmeter", 3.0)]


def test_minutes_and_slips_that_a_file_does_not_list_are_told_along_only():
    """No verdict judges them, so nobody gets them by activating rates."""
    learned = {"minutes": {"access": {"factor": 0.1}}, "slips": {"eye": {"middle": 0.4}}}
    assert not priors_of(told(name="rates") | learned).rates.learned
    both = priors_of(told(name="both") | learned | {"in_force": ["slips", "minutes"]}).rates.learned
    assert (both.minutes, both.slips) == ({"access": 0.1}, {"eye": 0.4})


def test_slips_of_a_release_are_in_force_with_it(book):
    """Under a release that trusts the eye less a look tells less; the answer says so, and the two are told apart."""
    name = book.releases.add(
        priors_of(told(name="blind") | {"slips": {"eye": {"middle": 0.4}}, "in_force": ["slips"]}),
        book.engine,
        "shop",
        "anna",
    )
    case = book.open({"circuit": CIRCUIT, "symptom": "lamp-stays-dark"}, Write())
    finding = {"kind": "finding", "body": {"test": "look.belt-lamp.prove-out", "outcome": "lit"}}
    book.append(case.id, {"events": [finding]}, Write(seen=frozenset({1})))
    book.releases.activate(name.id, "shop", "anna")
    kept, now = (book.advice("shop", case.id, AdviceQuery(depth="1", **h)).advice for h in ({}, {"release": "now"}))
    assert kept.learned is None and now.learned.slips == {"eye": 0.4}
    assert of_what_is_learned(now).endswith("slips: eye 40.0 %.")
    assert now.evidence.expected_slips > 3.0 * kept.evidence.expected_slips
    (moved,) = side_by_side(Rates(), book.releases.rates("shop")).slips
    assert (moved.name, moved.before, moved.after) == ("eye", None, 0.4)


def test_what_a_release_says_of_lost_causes_is_left_aside():
    """Knowledge may change under a release; it goes on with what is there."""
    engine = fakes.engine(load=lambda _: replace(fakes.MODEL, cause_ids=("a/open",)))
    held = engine.under(Rates("north@0123456789ab", {CIRCUIT: {"a/open": 2.0, "gone/open": 2.0}})).load(CIRCUIT)
    assert held.priors == "north@0123456789ab"


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"format": "priors/2"}, "#/format"),
        ({"name": "North one"}, "#/name"),
        (
            {"factors": {"belt-reminder": {"belt-lamp/open": {"factor": 0}}}},
            "#/factors/belt-reminder/belt-lamp~1open/factor",
        ),
        (
            {"factors": {"belt-reminder": {"belt-lamp/open": {"factor": 1e9}}}},
            "#/factors/belt-reminder/belt-lamp~1open/factor",
        ),
        (
            {"factors": {"belt-reminder": {"belt-lamp/open": {"factor": "2"}}}},
            "#/factors/belt-reminder/belt-lamp~1open/factor",
        ),
        ({"factors": {"belt-reminder": {"belt-lanp/open": {"factor": 2}}}}, "#/factors/belt-reminder/belt-lanp~1open"),
        ({"factors": {"belt-remainder": {}}}, "#/factors/belt-remainder"),
    ],
)
def test_a_wrong_file_is_refused_with_its_place(book, change, where):
    """Form, ranges, circuits and causes; what is close is proposed."""
    with pytest.raises(RequestError) as refused:
        book.releases.add(read_priors(json.dumps({**told(), **change}).encode()), book.engine, "shop", "anna")
    assert where in [problem.pointer for problem in refused.value.problems]


def test_a_release_is_its_content(book):
    """The order of keys changes nothing, a digit does; the same content of two shops is one release to each."""
    one, two = told(belt_lamp__open=2.0), dict(reversed(told(belt_lamp__open=2.0).items()))
    assert priors_of(one).id == priors_of(two).id != priors_of(told(belt_lamp__open=2.01)).id
    assert (
        add(book, "north", belt_lamp__open=2.0)
        == add(book, "south", belt_lamp__open=2.0)
        == add(book, "north", belt_lamp__open=2.0)
    )
    assert len(book.releases.all(None)) == 2


def test_what_moves_most_comes_first():
    """By the ratio, either way; what is equal is left out."""
    before = Rates("a", {"c": {"x/open": 2.0, "y/open": 1.0, "z/open": 3.0}})
    after = Rates("b", {"c": {"x/open": 0.5, "z/open": 3.0, "w/open": 3.0}})
    assert [(m.cause, m.ratio) for m in compared(before, after)] == [("x/open", 0.25), ("w/open", 3.0)]
