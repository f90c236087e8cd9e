"""What can be done about causes."""

import pytest

import advisor
from advisor.decision.repairs import repair_plans


@pytest.fixture(scope="module", params=["belt-reminder", "reversing-lamps"])
def model(request):
    """Each shipped circuit."""
    return advisor.load(request.param)


def test_every_cause_has_exactly_one_repair(model):
    """Nothing is left without a repair, and no two repairs claim the same cause."""
    restored = [cause for plan in repair_plans(model.wiring) for cause in plan.restores]
    assert sorted(restored) == sorted(model.compiled.causes)


def test_contacts_are_mended_a_connector_at_a_time(model):
    """All suspect contacts of a connector are one repair, whose title names it."""
    for connector in model.schematic.connectors.values():
        contacts = {cause for cause in model.compiled.causes if cause.startswith(f"{connector.id}/")}
        if contacts:
            (plan,) = (p for p in repair_plans(model.wiring) if p.restores & contacts)
            assert plan.restores == contacts
            assert connector.title in plan.title


def test_a_parts_own_price_counts():
    """The price in the circuit file goes before the library's."""
    plans = {plan.id: plan for plan in repair_plans(advisor.load("reversing-lamps").wiring)}
    assert plans["repair-reverse-switch"].price == 20
    assert plans["repair-ignition-switch"].price == 60
