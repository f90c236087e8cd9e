"""The keys of an answer are a promise; its numbers keep every digit."""

import json
import math
import tomllib
from dataclasses import replace
from pathlib import Path

import fakes
import pytest
from pydantic import ValidationError

from advisor.contract import service
from advisor.contract.version import ENGINE_VERSION

# As the contract fixes them; a key beyond these is an extension, a missing one breaks callers.
KEYS = {
    "": "circuit release evidence no_fault as_designed unlisted causes tests withheld repairs next expected_cost",
    "release": "knowledge priors engine",
    "evidence": "probability omitted_mass conflict_decibans",
    "causes": "cause part mode probability low high repair on_chart",
    "tests": "test title place probe instrument condition minutes cost worth outcomes cautions",
    "tests/place": "id title",
    "tests/probe": "connector cavity",
    "tests/condition": "set unplug text",
    "tests/outcomes": "outcome label low high unit probability",
    "tests/cautions": "id level text",
    "withheld": "test reason",
    "repairs": "repair title minutes cost probability",
    "next": "kind id reason",
    "expected_cost": "now after_next",
    "not_proved": "part pin role title probability test",
    "stopping": "same_decision tests perfect_information no_test_pays",
}
EXTENSIONS = {
    "": "reasons stopping not_proved learned",
    "evidence": "expected_slips not_showing supply_volts supply_spread_volts black_lead_astray mirrored",
    "causes": "title repair_group",
    "tests": "kind disturbing opens normal",
    "tests/condition": "jumper swap timed",
    "tests/outcomes": "settles",
    "withheld": "title",
    "repairs": "cautions spares",
    "tests/cautions": "source",
    "next": "asks_for bearings",
    "expected_cost": "currency lower_bound gap",
}


@pytest.fixture
def answer():
    """Give the answer to the good request, as JSON values."""
    return json.loads(service.answer(json.dumps(fakes.GOOD_REQUEST).encode(), fakes.engine()).model_dump_json())


@pytest.mark.parametrize("path", KEYS)
def test_keys_are_exactly_the_contract(answer, path):
    """Every object has the keys of the contract and the named extensions, no more and no fewer."""
    rows = [answer]
    for step in filter(None, path.split("/")):
        rows = [item for row in rows for item in (row[step] if isinstance(row[step], list) else [row[step]])]
    assert rows
    expected = {*KEYS[path].split(), *EXTENSIONS.get(path, "").split()}
    assert all(set(row) == expected for row in rows)


def asking(**left):
    """Give the answer to the good request with something authorised."""
    body = {**fakes.GOOD_REQUEST, **left}
    return json.loads(service.answer(json.dumps(body).encode(), fakes.engine()).model_dump_json())["next"]


def test_the_customer_is_asked_for_what_is_not_authorised():
    """What was spent is taken off; the step that was meant and the estimate are in the answer."""
    step = asking()
    assert step["asks_for"] is None
    asked = asking(authorised={"minutes": 60}, spent={"minutes": 45})
    assert (asked["kind"], asked["id"]) == ("ask_customer", None)
    assert set(asked["asks_for"]) == {"kind", "id", "cost", "minutes", "estimate"}
    assert (asked["asks_for"]["kind"], asked["asks_for"]["id"]) == (step["kind"], step["id"])
    assert asked["asks_for"]["estimate"] == {"low": 42.0, "expected": 151.0, "high": 388.0}
    assert asking(authorised={"money": 20, "minutes": None})["kind"] == "ask_customer"
    assert asking(authorised={"money": 10}, spent={"money": 50})["kind"] == "ask_customer"
    assert asking(authorised={"money": 100, "minutes": 60}, spent={"money": 70, "minutes": 10}) == step


def test_numbers_keep_every_digit(answer):
    """A share in the JSON text is the very double that the domain gave."""
    request = service.parse_request(fakes.GOOD_REQUEST, fakes.engine())
    direct = service.advise(fakes.MODEL, request, fakes.decide)
    assert [cause["probability"] for cause in answer["causes"]] == [cause.probability for cause in direct.causes]


def test_open_ends_are_null(answer):
    """An open end of a range is null."""
    test = next(test for test in answer["tests"] if test["test"] == "volts.battery.reminding")
    assert [(item["low"], item["high"]) for item in test["outcomes"]] == [(12.0, None), (1.0, 12.0), (None, 1.0)]


def test_nan_never_leaves():
    """A number that is none stops the answer instead of leaving it."""

    def broken(*args: object, **options: object):
        return replace(fakes.decide(*args, **options), no_fault=math.nan)

    with pytest.raises(ValidationError):
        service.answer_body(fakes.GOOD_REQUEST, fakes.engine(decide=broken))


def test_every_test_says_whose_procedure_counts(answer):
    """The vehicle maker's procedure stands last in the cautions of every test."""
    assert all(test["cautions"][-1]["id"] == "maker-procedure" for test in answer["tests"])


def test_engine_version_is_the_packages():
    """The version in the answer is the one of the package."""
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text())
    assert project["project"]["version"] == ENGINE_VERSION
