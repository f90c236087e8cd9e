"""Every rule, order and filled chart can be followed on its circuit, and calls good what an undamaged vehicle shows."""

import pytest
from bench.policies_known import CHARTS, charts_for, in_turn
from bench.rules import RULES, SOURCE_TO_LOAD
from shipped_models import CIRCUITS, small_model

from advisor.knowledge.checking import chart_problems


def shown_undamaged(test):
    """The outcome of a test where nothing is wrong; looks for damage find none."""
    if test.kind == "inspect":
        return "sound"
    return next(o.id for o in test.outcomes if o.low <= test.normal_value < o.high)


def ends(rule, step, way=()):
    """Ways of a rule from a step to its verdicts; a step that comes back to itself fails."""
    assert step not in way, f"{step} leads back to itself: {way}"
    for answer in rule[step][1].values():
        target = answer.removeprefix("-> ")
        yield from ends(rule, target, (*way, step)) if target != answer else [((*way, step), answer.split())]


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_every_symptom_has_a_rule_that_comes_to_an_end(circuit):
    """Each outcome has one answer, each way ends in parts that can fail, and no step is out of reach."""
    model = small_model(circuit)
    assert set(RULES[circuit]) == set(SOURCE_TO_LOAD[circuit]) == set(model.schematic.symptoms)
    for symptom, rule in RULES[circuit].items():
        for steps in (rule, in_turn(model, *SOURCE_TO_LOAD[circuit][symptom])):
            ways = list(ends(steps, next(iter(steps))))
            assert {step for way, _ in ways for step in way} == set(steps), (symptom, "out of reach")
            assert {part for _, parts in ways for part in parts} <= set(model.cause_parts), symptom
            for test, answers in steps.values():
                answered = sorted(outcome for outcomes in answers for outcome in outcomes.split())
                assert answered == sorted(o.id for o in model.tests[test].outcomes), (symptom, test)


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_an_undamaged_vehicle_passes_from_source_to_load(circuit):
    """What an order calls good holds the outcome that the circuit without a fault shows."""
    tests = small_model(circuit).tests
    for symptom, (way, _) in SOURCE_TO_LOAD[circuit].items():
        for test, good, _ in way:
            assert shown_undamaged(tests[test]) in good.split(), (symptom, test)


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_a_filled_chart_adds_to_the_printed_one(circuit):
    """It starts like the printed chart, keeps its tests and answers every outcome."""
    model = small_model(circuit)
    for printed in model.schematic.charts:
        filled = charts_for(model, printed.symptom)["filled chart"]
        assert not list(chart_problems(filled, model.compiled))
        assert filled.steps[0].test == printed.steps[0].test
        assert {step.test for step in printed.steps} <= {step.test for step in filled.steps}
        for step in filled.steps:
            assert {answer.outcome for answer in step.answers} == {o.id for o in model.tests[step.test].outcomes}


def test_a_filled_chart_is_there_for_each_printed_one():
    """Circuits with a printed chart and filled charts are the same."""
    printed = {circuit for circuit in CIRCUITS if small_model(circuit).schematic.charts}
    assert printed <= {path.name.removesuffix("-filled.chart.yaml") for path in CHARTS.glob("*.chart.yaml")}
