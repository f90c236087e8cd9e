"""The list of spare parts: chains, splits and merges, and what is wrong with a list."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from shipped_models import MODELS, small_model

from advisor.decision.repairs import repair_plans
from advisor.errors import KnowledgeError
from advisor.knowledge.read_spares import SparesFile
from advisor.knowledge.reader import read_any, read_model
from advisor.knowledge.shipped import shipped
from advisor.knowledge.spares import bought, current, older, spares_for

HEAD = "format: spares/1\ntitle: test\ncurrency: EUR\nspares:\n"
LIST = """
  A1: {title: a, replaced_by: [A2]}
  A2: {title: a, replaced_by: [A3], fits: false}
  A3: {title: a, price: 3, on: 2026-01-31, used_for: [lamp]}
  S1: {title: whole, replaced_by: [S2, S3]}
  S2: {title: half, price: 1, on: 2026-01-31}
  S3: {title: other half, replaced_by: [S4]}
  S4: {title: other half, price: 2, on: 2026-01-31, used_for: [lamp]}
  M1: {title: one, replaced_by: [M3]}
  M2: {title: two, replaced_by: [M3]}
  M3: {title: both, price: 5, on: 2026-01-31}
"""


def written(path: Path, text: str) -> Path:
    """Write a list."""
    file = path / "spares.yaml"
    file.write_text(HEAD + text, "utf-8")
    return file


@pytest.fixture
def spares(tmp_path):
    """Read the list above."""
    read = read_any(written(tmp_path, LIST))
    assert isinstance(read, SparesFile)
    return read.priced


@pytest.mark.parametrize(
    ("number", "today"),
    [("A1", ["A3"]), ("A3", ["A3"]), ("S1", ["S2", "S4"]), ("M1", ["M3"]), ("M2", ["M3"])],
)
def test_a_number_leads_to_what_is_bought_today(spares, number, today):
    """A chain ends at its last number, a split at all its pieces, a merge at the one."""
    assert [s.number for s in current(spares, number)] == today


@pytest.mark.parametrize(("number", "fit"), [("A3", ("A1",)), ("S4", ("S3",)), ("S2", ()), ("M3", ("M1", "M2"))])
def test_older_numbers_fit_unless_they_do_not(spares, number, fit):
    """An older number fits where it is said to, also over another; one that was split stands in for no piece."""
    assert older(spares, number) == fit


def test_a_part_finds_its_numbers(spares):
    """All that is for a part is bought, with its price and its day; an unknown number buys nothing."""
    assert [(b.spare.number, b.spare.price, b.spare.on, b.spare.currency) for b in spares_for(spares, "lamp")] == [
        ("A3", 3.0, "2026-01-31", "EUR"),
        ("S4", 2.0, "2026-01-31", "EUR"),
    ]
    assert bought(spares, "Z9") == ()


@pytest.mark.parametrize(
    ("old", "new", "line", "message"),
    [
        ("A3: {title: a, price: 3, on: 2026-01-31, used", "A3: {title: a, replaced_by: [A1], used", 8, "by itself"),
        ("A3: {title: a, price: 3, on: 2026-01-31, used", "A3: {title: a, used", 8, "'A3' is a dead end"),
        ("replaced_by: [A2]", "replaced_by: [A22]", 6, "unknown number 'A22', did you mean 'A2'?"),
        ("replaced_by: [A2]", "replaced_by: [A1]", 6, "'A1' is, over others, replaced by itself"),
        ("price: 5, on: 2026-01-31", "price: 5", 15, "needs price and day together"),
        ("price: 5, on: 2026-01-31", "price: 5, on: 2026-02-31", 15, "expected a day such as 2026-03-01"),
        ("price: 5,", "price: -5,", 15, "a number of at least 0"),
        ("title: both", "titel: both", 15, "unknown key 'titel', did you mean 'title'?"),
    ],
)
def test_what_is_wrong_with_a_list_has_its_address(tmp_path, old, new, line, message):
    """Loops, dead ends, unknown numbers and half prices are reported at their lines."""
    file = written(tmp_path, LIST.replace(old, new, 1))
    with pytest.raises(KnowledgeError) as caught:
        read_any(file)
    assert any(p.line == line and message in p.message for p in caught.value.problems), str(caught.value)


def test_a_repair_cannot_name_a_number_that_is_not_listed(tmp_path):
    """A circuit whose repair asks for an unknown number is reported at that number."""
    models = shutil.copytree(shipped("models"), tmp_path / "models")
    belt = models / "quellmar-p3" / "circuits" / "belt-reminder.yaml"
    belt.write_text(belt.read_text("utf-8").replace("QP3-0412", "QP3-0421"), "utf-8")
    with pytest.raises(KnowledgeError) as caught:
        read_model(belt)
    assert "unknown spare number 'QP3-0421', did you mean 'QP3-0412'?" in str(caught.value)


@pytest.mark.parametrize("name", MODELS)
def test_prices_of_the_list_are_those_of_the_files(name):
    """Where a repair of a shipped model says what its parts cost, the list says the same today."""
    schematic = small_model(name).schematic
    for repair in schematic.repairs.values():
        for part in repair.parts:
            assert sum(b.spare.price for b in bought(schematic.spares, part.number)) == part.price


def test_whatever_the_list_is_for_exists():
    """Each part that a number is for stands in some shipped model."""
    models = [small_model(name) for name in MODELS]
    known = {item.split("/")[0] for model in models for item in model.wiring.items}
    assert {part for s in models[0].schematic.spares.values() for part in s.used_for} <= known


def test_a_repair_tells_what_to_buy():
    """The belt lamp's repair has the current number and the older one that fits, not the first of the chain."""
    plans = {plan.id: plan for plan in repair_plans(small_model("belt-reminder").wiring)}
    assert [(b.spare.number, b.older) for b in plans["replace-belt-lamp"].spares] == [("QP3-0412", ("QP3-0312",))]
    assert plans["repair-G4"].spares == ()
