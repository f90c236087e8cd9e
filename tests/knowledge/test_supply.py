"""A battery reading is what later readings are judged against."""

import pytest

import advisor
from advisor.circuit.netlist import Netlist
from advisor.circuit.solve import solve
from advisor.decision.advise import decide
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.supply import measured_volts
from advisor.network.findings import ReadingFinding, SymptomFinding

COMPLAINT = SymptomFinding("dim")
LOW = ReadingFinding("volts.X22-1.reverse", 10.0)
FEED = ("F12", "W301", "X5/3", "X22/1", "ignition-switch", "main-fuse", "feed-cable")


@pytest.fixture(scope="module")
def model():
    """The reversing lamps."""
    return advisor.load("reversing-lamps")


@pytest.fixture(scope="module")
def battery(model):
    """The test that reads the battery."""
    (test,) = model.battery_tests
    return test


def share(model, findings, parts):
    """Share of some parts after findings."""
    return sum(c.probability for c in decide(model, findings).causes if c.part in parts)


def test_a_tired_battery_explains_a_low_reading(model, battery):
    """10.0 V before the switch blames what feeds it, until the battery has been read: 10.1 V, and nothing is lost."""
    alone = share(model, [COMPLAINT, LOW], FEED)
    with_battery = share(model, [COMPLAINT, ReadingFinding(battery, 10.1), LOW], FEED)
    assert alone > 0.5
    assert with_battery < 0.2 * alone


def test_a_good_battery_leaves_the_feed_to_blame(model, battery):
    """12.6 V at the posts and 10.0 V before the switch: 2.6 V are lost on the way."""
    assert share(model, [COMPLAINT, ReadingFinding(battery, 12.6), LOW], FEED) > 0.8


def test_a_weak_battery_is_not_counted_twice(model, battery):
    """11.1 V at the posts under load and 10.9 V before the switch: the battery is weak, and the feed is good."""
    findings = [COMPLAINT, ReadingFinding(battery, 11.1), ReadingFinding("volts.X22-1.reverse", 10.9)]
    causes = {f"{c.part}/{c.mode}": c.probability for c in decide(model, findings).causes}
    assert causes["battery/weak"] > 0.5


def test_readings_are_in_proportion_to_the_supply(model):
    """Solved at 11.4 V, every wire-side voltage is that at 12.6 V times 11.4/12.6, within what lamps bend: 60 mV."""
    setup = Setup(model.wiring.usual({}))
    netlist = model.wiring.under(setup)
    elements = tuple(
        e if e.kind != "source" else type(e)(e.id, e.kind, e.a, e.b, e.ohms, volts=11.4) for e in netlist.elements
    )
    low = solve(Netlist(netlist.reference, elements, netlist.units, netlist.settings), [()])
    usual = solve(netlist, [()])
    assert low.volts == pytest.approx(usual.volts * 11.4 / 12.6, abs=0.06)


def test_light_falls_with_the_supply(model, battery):
    """At 11.0 V of 12.6 V a sound lamp gives (11.0/12.6)^3.4 = 0.63 of its light; ohms and looks for damage stay."""
    later = model.at_supply_of([ReadingFinding(battery, 11.0)])
    ids = list(model.tests)
    rest = model.compiled.value[0, ids.index(battery)]
    lamp, ohms = ids.index("look.reverse-left.reverse"), next(i for i, t in enumerate(ids) if t.startswith("ohms."))
    light = later.compiled.value[0, lamp] / model.compiled.value[0, lamp]
    assert light == pytest.approx((11.0 / rest) ** 3.4, rel=1e-9)
    assert later.compiled.value[:, ohms] == pytest.approx(model.compiled.value[:, ohms])


@pytest.mark.parametrize(("value", "volts"), [(11.83, 11.85), (0.02, None), (None, None), (19.0, None)])
def test_only_a_plausible_supply_counts(value, volts):
    """Nothing at the posts, over range or far too much is no supply that others are judged by."""
    assert measured_volts([ReadingFinding("battery", value)], {"battery"}) == (volts and pytest.approx(volts))
