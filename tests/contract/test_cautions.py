"""Safety lines."""

import fakes
import pytest
from shipped_models import MODELS, small_model

from advisor.contract.cautions import LEVELS, cautions
from advisor.decision.repairs import repair_plans


def test_the_most_serious_comes_first_and_the_maker_last():
    """Lines are ordered by seriousness; the maker's procedure closes them."""
    lines = cautions(("jumper", "restraint", "jumper"), fakes.LIBRARY)
    assert [line.id for line in lines] == ["restraint", "jumper", "maker-procedure"]
    assert all(line.level in LEVELS and line.text.endswith(".") for line in lines)


def test_an_unknown_caution_is_still_shown():
    """A caution that has no sentence yet is shown by its name."""
    assert cautions(("hot-lamp",), fakes.LIBRARY)[0].text == "Take care: hot lamp."


def test_who_comes_first_is_said_whatever_the_library_says():
    """Maker, local codes and licensed practice are named last even where a library has no line at all."""
    (line,) = cautions((), fakes.LIBRARY)
    assert all(words in line.text for words in ("maker's procedure", "local codes", "licensed practice"))


@pytest.mark.parametrize("name", MODELS)
def test_every_caution_of_a_shipped_model_has_its_line(name):
    """Whatever places, part types, conditions, tests and repairs name has a sentence, a level and a source."""
    model = small_model(name)
    known = model.schematic.library.cautions
    named = [*(test.cautions for test in model.compiled.tests), *(p.cautions for p in repair_plans(model.wiring))]
    named += [place.cautions for place in model.schematic.places.values()]
    assert {id for ids in named for id in ids} <= known.keys()
    assert all(line.source and line.text.endswith(".") for line in known.values())
    types = model.schematic.library.types.values()
    assert {id for part in types for id in part.cautions} <= known.keys()


def test_places_and_part_types_speak_up():
    """A test in the engine bay warns of the fan, a battery repair of acid, one at the buckle of the restraint."""
    model = small_model("belt-reminder")
    posts = next(test for test in model.compiled.tests if test.id in model.battery_tests)
    assert "moving-fan" in posts.cautions
    plans = {plan.id: plan for plan in repair_plans(model.wiring)}
    assert {"battery-acid", "battery-order", "moving-fan"} <= set(plans["repair-battery"].cautions)
    assert {"restraint", "battery-off-and-wait"} <= set(plans["replace-buckle"].cautions)
