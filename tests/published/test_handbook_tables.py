"""The part library against printed tables of wires, fuses, contacts and lamps; each table names its source."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.circuit import lamp
from advisor.circuit.solve import FUSE_OPENS_ABOVE, solve
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.reader import read_schematic
from advisor.knowledge.shipped import shipped_circuits
from advisor.knowledge.wiring import fuse_ohms, wire_up

CIRCUITS = tuple(shipped_circuits())
# Largest resistance at 20 C [mohm/m] by mm2: IEC 60228 class 5, plain copper.
IEC_60228 = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.3}
# Largest resistance at 20 C [mohm/m] of vehicle wires: ISO 6722-1, from memory.
ISO_6722 = {0.35: 54.4, 0.5: 37.1, 0.75: 24.7, 1.0: 18.5, 1.5: 12.7, 2.5: 7.6, 4.0: 4.71, 6.0: 3.14}
# Solid copper by American gauge: mm2 and mohm/m at 20 C; ASTM B258 diameters 0.005 in * 92^((36 - n)/39).
ASTM_B258 = {10: (5.261, 3.277), 12: (3.309, 5.211), 14: (2.081, 8.285), 16: (1.309, 13.17)}
ASTM_B258 |= {18: (0.823, 20.95), 20: (0.518, 33.31), 22: (0.326, 52.96)}
IACS_OHM_MM2_PER_M = 1.0 / 58.0  # IEC 60028, from memory
# Cold resistance [mohm] and typical drop at rated current [mV] of regular blade fuses by rating [A]: a fuse maker's
# datasheet, from memory; the 40 A row was seen.
BLADE_FUSES = {5: (17.85, 128), 7.5: (10.91, 116), 10: (7.7, 109), 15: (4.8, 102), 20: (3.38, 98), 25: (2.52, 92)}
BLADE_FUSES |= {30: (1.97, 84), 40: (1.44, 96)}
# Shortest and longest opening time [s] of a 35 to 40 A blade fuse by load: the same datasheet; ISO 8820-3 allows 1800 s
# at 135 %.
OPENING_SECONDS = {1.00: (360_000, np.inf), 1.35: (0.75, 600), 2.00: (0.15, 5), 3.50: (0.08, 0.5), 6.00: (0, 0.15)}
# Most that a lamp takes at 13.5 V [W] by its rating [W]: category sheets of UN Regulation 37, from memory but for 21 W
# and the 5 W filament of a double lamp (6.6 W), which were seen.
MOST_WATTS_AT_13_5 = {21: 26.5, 5: 5.5, 15: 16.5}


@pytest.fixture(scope="module", params=CIRCUITS)
def wiring(request):
    """Each shipped circuit's wiring."""
    return wire_up(read_schematic(shipped_circuits()[request.param]))


@pytest.fixture(scope="module")
def library():
    """The part library."""
    return read_schematic(shipped_circuits()[CIRCUITS[0]]).library


def test_wires_are_those_of_the_standard(library):
    """Every gauge of IEC 60228 has its largest resistance, which is up to a tenth above ISO 6722's; 0.35 mm2 below."""
    table = library.milliohm_per_metre
    assert {gauge: table[gauge] for gauge in IEC_60228} == IEC_60228
    ratios = {gauge: table[gauge] / ohms for gauge, ohms in ISO_6722.items()}
    assert 0.90 < ratios.pop(0.35) < 1.0  # taken from resistivity: solid copper, no allowance for strands
    assert all(1.0 <= ratio < 1.1 for ratio in ratios.values()), ratios


def test_wires_are_copper(library):
    """Resistance times section is that of solid copper, and up to 16 % more for strands; so says the American table."""
    solid = [area * ohms * 1e-3 for area, ohms in ASTM_B258.values()]
    assert solid == pytest.approx([IACS_OHM_MM2_PER_M] * len(solid), rel=2e-3)
    for gauge, milliohm in library.milliohm_per_metre.items():
        assert 0.999 <= gauge * milliohm * 1e-3 / IACS_OHM_MM2_PER_M < 1.16, gauge


@pytest.mark.parametrize(("rating", "row"), BLADE_FUSES.items())
def test_fuses_have_the_resistance_of_the_datasheet(rating, row):
    """Within a quarter of the cold resistance to 25 A, 35 % above; the drop is .6 to 1 of that of the hot fuse."""
    cold_milliohm, hot_millivolt = row
    assert 1e3 * fuse_ohms(rating) == pytest.approx(cold_milliohm, rel=0.25 if rating <= 25 else 0.35)
    assert 0.6 <= 1e3 * fuse_ohms(rating) * rating / hot_millivolt <= 1.0


def test_fuses_open_where_the_datasheet_lets_them_open():
    """The limit lies above the load that a fuse stands for ever, and not above the first that opens it in 1800 s."""
    stands = max(load for load, (_, longest) in OPENING_SECONDS.items() if longest == np.inf)
    opens = min(load for load, (_, longest) in OPENING_SECONDS.items() if longest <= 1800)
    assert stands < FUSE_OPENS_ABOVE <= opens


def test_no_sound_circuit_loads_a_fuse_by_more_than_the_trade_allows(wiring):
    """In every normal condition each blade fuse carries at most 80 % of its rating: common practice, no source.

    A thermal fuse goes by its temperature, and its rating is what it stands in its air stream.
    """
    parts, types = wiring.schematic.parts, wiring.schematic.library.types
    blades = [id for id, part in parts.items() if types[part.type].kind == "fuse"]
    for normal in wiring.schematic.normal.values():
        netlist = wiring.under(Setup(wiring.usual(normal.when)))
        solution = solve(netlist, [[]])
        loads = {
            netlist.elements[f].id: abs(solution.currents[0, f]) / netlist.elements[f].amps
            for f in netlist.of_kind("fuse")
            if netlist.elements[f].id in blades
        }
        assert len(loads) == len(blades)
        assert {fuse: load for fuse, load in loads.items() if load > 0.8} == {}, normal.id


def test_contacts_are_within_what_is_allowed(library):
    """A contact has 2 to 5 mohm (common practice), at most 30 (MIL-DTL-26482 size 20); a relay's 3, at most 50."""
    assert 0.002 <= library.types["contact"].ohms <= 0.005
    assert library.types["relay"].ohms == pytest.approx(0.003)  # a relay maker's datasheet: typical 3, largest 50 mohm
    assert max(library.types[name].ohms for name in ("contact", "holder", "ground", "splice")) <= 0.030


def test_shipped_lamps_take_what_their_category_may(wiring):
    """At 13.5 V no 21, 15 (three of 5) or 5 W lamp takes more than its category's sheet allows, nor 15 % less."""
    for part in wiring.schematic.parts.values():
        if wiring.schematic.library.types[part.type].kind == "lamp" and part.watts in MOST_WATTS_AT_13_5:
            ohms, most = lamp.rated_ohms(part.watts, part.volts), MOST_WATTS_AT_13_5[part.watts]
            watts = 13.5 * float(lamp.current(np.array([13.5]), np.array([part.volts]), np.array([ohms]))[0])
            assert 0.75 * most <= watts <= most, part.id


@pytest.mark.parametrize(
    ("watts", "amps"),
    [(21, 1.750), (16, 1.333), (10, 0.833), (5, 0.417), (4, 0.333), (3, 0.250), (2, 0.17), (1.2, 0.10)],
)
def test_current_of_rated_lamps(watts, amps):
    """Rated power over 12 V for P21W, W16W, R10W, W5W, T4W, W3W, and the instrument lamps W2W, W1.2W (from memory)."""
    ohms = np.array([lamp.rated_ohms(watts, 12.0)])
    found = float(lamp.current(np.array([12.0]), np.array([12.0]), ohms)[0])
    assert found == pytest.approx(amps, abs=0.004)
