"""The batched solver: laws of linear networks, its slow twin, fuses, drivers, and what it refuses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, reject, settings
from hypothesis import strategies as st
from networks import GROUND, SHAPES, battery, decades, driver, fuse, laid_out, netlist, resistor
from oracles import operating_point

from advisor.circuit.logic import parse
from advisor.circuit.netlist import OPEN, Change, Element, Input, Netlist, Output, Relay, Unit, lamp_element
from advisor.circuit.solve import FUSE_OPENS_ABOVE, LEAK_SIEMENS, solve
from advisor.errors import OscillationError

PROPERTY = settings(max_examples=60, deadline=None, derandomize=True)
NODES = ("a", "b", "c", "d", "e")
MODES = ("run", "off")


@st.composite
def meshes(draw, sources: int = 2) -> Netlist:
    """Linear networks: every node hangs on an earlier one, some more resistors close loops, sources sit anywhere."""
    parts = [resistor(f"T{i}", node, draw(_earlier(i)), draw(decades(0.01, 1e4))) for i, node in enumerate(NODES)]
    parts += [resistor(f"L{i}", *draw(_pairs()), draw(decades(0.01, 1e4))) for i in range(draw(st.integers(0, 5)))]
    for i in range(sources):
        parts.append(battery(draw(st.floats(-20, 20)), *draw(_pairs()), ohms=draw(decades(0.01, 10)), id=f"E{i}"))
    return netlist(*parts)


def _earlier(index: int) -> st.SearchStrategy[str]:
    return st.sampled_from((GROUND, *NODES[:index]))


def _pairs() -> st.SearchStrategy[tuple[str, str]]:
    return st.sampled_from([(a, b) for a in (GROUND, *NODES) for b in NODES if a != b])


@st.composite
def devices(draw) -> Netlist:
    """Small vehicles: a battery and some loops of resistors, lamps, motors, fuses and drivers, one unit, one relay."""
    parts: list[Element] = [battery(draw(st.floats(5, 15)), "a", ohms=draw(decades(0.005, 0.5)))]
    for i, node in enumerate(NODES[1:], start=1):
        parts.append(draw(_device(f"T{i}", node, draw(_earlier(i)))))
    for i in range(draw(st.integers(1, 6))):
        parts.append(draw(_device(f"L{i}", *draw(_pairs()))))
    drivers = [e.id for e in parts if e.kind == "driver"]
    names = {"mode": MODES, "in": ("low", "high")}
    texts = ("mode == run", "mode == run and in == low", "in == high", "mode == off or not in == low")
    outputs = tuple(Output(d, parse(draw(st.sampled_from(texts)), names)) for d in drivers)
    inputs = (Input("in", draw(st.sampled_from(NODES)), draw(st.floats(1, 8))),)
    unit = Unit("unit", draw(st.sampled_from(NODES)), GROUND, draw(st.floats(1, 9)), inputs, outputs)
    coil, contacts = draw(_pairs()), draw(_pairs())
    parts += [resistor("coil", *coil, draw(decades(10, 1e3))), driver("contacts", *contacts)]
    relay = Relay("relay", "coil", draw(st.floats(1, 9)), "contacts")
    return replace(netlist(*parts, units=(unit,), settings={"mode": "run"}), relays=(relay,))


def _device(id: str, a: str, b: str) -> st.SearchStrategy[Element]:
    return st.one_of(
        decades(0.01, 1e4).map(lambda ohms: resistor(id, a, b, ohms)),
        decades(1, 60).map(lambda watts: lamp_element(id, a, b, watts=watts, volts=12.0)),
        decades(0.1, 10).map(lambda ohms: Element(id, "motor", a, b, ohms, volts=10.0)),
        decades(0.5, 30).map(lambda amps: fuse(id, a, b, amps, ohms=0.077 / amps)),
        decades(0.05, 5).map(lambda ohms: driver(id, a, b, ohms)),
    )


@PROPERTY
@given(meshes())
def test_superposition(circuit):
    """Two sources together give the sum of what each gives alone."""

    def volts(*alone: str) -> np.ndarray:
        parts = [
            battery(e.volts if e.id in alone else 0.0, e.a, e.b, e.ohms, e.id) if e.volts else e
            for e in circuit.elements
        ]
        return solve(netlist(*parts), [[]]).volts[0]

    assert volts("E0", "E1") == pytest.approx(volts("E0") + volts("E1"), abs=1e-9)


@PROPERTY
@given(meshes(), _pairs(), _pairs())
def test_reciprocity(circuit, one, other):
    """A current put in at one pair shows at another what it would show the other way round."""
    solution = solve(circuit, [[]], NODES)
    names = {node: i for i, node in enumerate(solution.probes)}
    full = np.pad(solution.resistances[0], ((0, 1), (0, 1)))
    assert full == pytest.approx(full.T, rel=1e-9, abs=1e-12)
    (a, b), (c, d) = ([names.get(node, -1) for node in pair] for pair in (one, other))
    forth = full[a, c] - full[a, d] - full[b, c] + full[b, d]
    back = full[c, a] - full[c, b] - full[d, a] + full[d, b]
    assert forth == pytest.approx(back, rel=1e-9, abs=1e-9 * full.max())


@PROPERTY
@given(meshes())
def test_output_resistance_is_what_a_load_finds(circuit):
    """A resistor across two nodes moves their voltage as the open-circuit voltage and output resistance say."""
    open_volts, ohms = solve(circuit, [[]], NODES).between("e", GROUND)
    loaded = solve(circuit.altered({}, [resistor("M", "e", GROUND, 50.0)]), [[]])
    assert loaded.at("e") == pytest.approx(open_volts * 50.0 / (50.0 + ohms), abs=1e-9)


def test_the_resistance_of_an_isolated_part_keeps_its_digits():
    """Between two ends that hang in the air together a pair of probes finds the resistor, not the leaks' rounding."""
    circuit = netlist(battery(12), resistor("R", "plus", "a", 1.0), resistor("M", "a", "b", 0.02))
    solution = solve(circuit, [[Change(1, "set", OPEN)]], [("a", "b")])
    _, ohms = solution.between("a", "b")
    assert ohms == pytest.approx(1.0 / (1.0 / 0.02 + LEAK_SIEMENS / 2.0), rel=1e-14)


@PROPERTY
@given(meshes(), _pairs())
def test_a_pair_of_probes_is_two_probed_nodes(circuit, pair):
    """What instruments find between a pair does not depend on whether the pair or its nodes are asked for."""
    apart, together = solve(circuit, [[]], NODES).between(*pair), solve(circuit, [[]], [pair]).between(*pair)
    assert together[0] == pytest.approx(apart[0], abs=1e-12)
    assert together[1] == pytest.approx(apart[1], rel=1e-9, abs=1e-9)


def test_output_resistance_of_a_lamp_is_its_tangent():
    """Behind a lit lamp the output resistance is dV/dI, not V/I: a small load moves the voltage so much."""
    lamp = lamp_element("L", "plus", "m", watts=5, volts=12)
    circuit = netlist(battery(12), lamp, resistor("R", "m", GROUND, 20.0))
    solution = solve(circuit, [[]], ["m"])
    volts, ohms = solution.between("m", GROUND)
    loaded = solve(circuit.altered({}, [resistor("M", "m", GROUND, 1e5)]), [[]]).at("m")
    assert ohms == pytest.approx((volts - loaded) / (loaded / 1e5), rel=1e-3)
    chord = solution.drops[0, 1] / solution.currents[0, 1]
    # dV/dI = V/I / 0.55 for I ~ V^0.55, beside 20 ohm.
    assert ohms == pytest.approx(1 / (0.55 / chord + 1 / 20.0), rel=1e-6)


@PROPERTY
@given(devices())
def test_power_balance(circuit):
    """What sources deliver, the elements and the leaks turn into heat; currents at every node add up to its leak."""
    try:
        solution = solve(circuit, [[]])
    except OscillationError:
        reject()
    drawn = (solution.drops * solution.currents).sum() + LEAK_SIEMENS * (solution.volts**2).sum()
    assert drawn == pytest.approx(0.0, abs=1e-6)
    a, b = solution.netlist.ends
    flows = np.zeros(len(circuit.nodes) + 1)
    np.add.at(flows, a, solution.currents[0])
    np.add.at(flows, b, -solution.currents[0])
    assert flows[:-1] == pytest.approx(-LEAK_SIEMENS * solution.volts[0], abs=1e-8)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(devices(), st.lists(st.tuples(st.integers(0, 9), st.sampled_from(["add", "set", "scale"]), decades(0.01, 1e4))))
def test_the_slow_twin_agrees(circuit, changes):
    """One batch over some faults gives row by row what Gaussian elimination and plain loops give.

    The drivers of a faulted circuit start as they are in the sound one.
    """
    sound = operating_point(circuit, {e.id: e.ohms for e in circuit.elements})
    faults = [[Change(0, "add", 0.0)], *([Change(i % len(circuit.elements), kind, v)] for i, kind, v in changes)]
    faults += [[Change(i, "set", OPEN)] for i in range(1, len(circuit.elements))]
    if not sound.settled:
        with pytest.raises(OscillationError):
            solve(circuit, faults)
        return
    solution = solve(circuit, faults)
    for row, (change,) in enumerate(faults):
        ohms = {e.id: e.ohms for e in circuit.elements}
        changed, value = circuit.elements[change.element].id, change.value
        ohms[changed] = {"add": ohms[changed] + value, "scale": ohms[changed] * value, "set": value}[change.kind]
        twin = operating_point(circuit, ohms, sound.on)
        assert solution.unsteady[row] == (not twin.settled)
        if twin.settled:
            assert _flagged(circuit, "driver", solution.on[row]) == twin.on
            assert _flagged(circuit, "fuse", solution.blown[row]) == twin.blown
            expected = [twin.volts[node] for node in circuit.nodes]
            assert solution.volts[row] == pytest.approx(expected, abs=1e-6)


def _flagged(circuit: Netlist, kind: str, flags: np.ndarray) -> set[str]:
    return {circuit.elements[i].id for i in circuit.of_kind(kind)[flags]}


def test_rows_do_not_touch_each_other():
    """Six hundred faults in one batch give what each gives alone."""
    parts = laid_out(("series", [1.0, ("parallel", [2.0, 3.0]), 4.0]), "plus", GROUND)
    circuit = netlist(battery(12), *parts, lamp_element("L", "plus", GROUND, watts=21, volts=12))
    faults = [[Change(1 + i % 5, "scale", 1.0 + i / 100)] for i in range(600)]
    together = solve(circuit, faults).volts
    assert together == pytest.approx(np.concatenate([solve(circuit, [fault]).volts for fault in faults]), abs=1e-9)


def test_many_rows_are_each_row_alone():
    """A batch so large that it is cut, and that rows with a short are solved apart, gives what small batches give."""
    lamps = [lamp_element(f"L{i}", "plus", f"m{i}", watts=5 + 16 * i, volts=12) for i in (0, 1)]
    legs = [resistor(f"R{i}", f"m{i}", GROUND, 0.1) for i in (0, 1)]
    circuit = netlist(battery(12, ohms=0.05), *lamps, *legs, resistor("short", "m0", "m1", OPEN))
    series = np.geomspace(0.01, 1e5, 700)
    faults = [[Change(e, "add", ohms)] for e in (3, 4) for ohms in series]
    faults += [[Change(5, "set", ohms), Change(3, "scale", 7.0)] for ohms in series[:100]]
    whole = solve(circuit, faults)
    for row in range(0, len(faults), 61):
        alone = solve(circuit, [faults[row]])
        assert whole.volts[row] == pytest.approx(alone.volts[0], abs=1e-10)


def test_of_two_fuses_in_series_the_smaller_opens():
    """20 A through fuses of 15 A and 10 A: both carry over their limit, the 10 A one opens and saves the other."""
    circuit = netlist(
        battery(12), fuse("F15", "plus", "m", 14.0), fuse("F10", "m", "n", 10.0), resistor("R", "n", GROUND, 0.58)
    )
    solution = solve(circuit, [[]])
    assert _flagged(circuit, "fuse", solution.blown[0]) == {"F10"}
    assert solution.at("m")[0] == pytest.approx(12.0, abs=1e-4)
    assert solution.at("n")[0] == pytest.approx(0.0, abs=1e-4)


def test_of_two_equal_fuses_in_series_one_opens():
    """Equal fuses in series carry the same; one opens, the first, and the other stays whole."""
    circuit = netlist(battery(12), fuse("F1", "plus", "m", 5), fuse("F2", "m", "n", 5), resistor("R", "n", GROUND, 0.5))
    assert _flagged(circuit, "fuse", solve(circuit, [[]]).blown[0]) == {"F1"}


def test_of_two_fuses_in_parallel_both_open_in_turn():
    """20 A shared equally by a 5 A and a 12 A fuse: the 5 A one opens at 200 %, then the other at 20 A of 16.2 A."""
    circuit = netlist(
        battery(12), fuse("F5", "plus", "m", 5), fuse("F12", "plus", "m", 12), resistor("R", "m", GROUND, 0.59)
    )
    solution = solve(circuit, [[]])
    assert _flagged(circuit, "fuse", solution.blown[0]) == {"F5", "F12"}
    held = netlist(*circuit.elements[:2], fuse("F12", "plus", "m", 15), circuit.elements[3])
    assert _flagged(held, "fuse", solve(held, [[]]).blown[0]) == {"F5"}  # 20 A of 20.25 A


def test_drivers_settle_before_fuses_open():
    """A driver that its unit switches off at once does not blow a fuse in between: control is faster than heat."""
    names = {"mode": MODES, "in": ("low", "high")}
    output = Output("unit/out", parse("in == high", names))
    unit = Unit("unit", "plus", GROUND, 7.0, (Input("in", "s", 4.0),), (output,))
    sense = (resistor("pull-up", "plus", "s", 1e3), resistor("S", "s", GROUND, OPEN))
    load = (fuse("F", "plus", "m", 5), driver("unit/out", "m", "x"), resistor("R", "x", GROUND, 100.0))
    circuit = netlist(battery(12), *sense, *load, units=(unit,), settings={"mode": "run"})
    solution = solve(circuit, [[], [Change(5, "set", 0.1), Change(2, "set", 1.0)], [Change(5, "set", 0.1)]])
    assert solution.on[:2].tolist() == [[True], [False]]
    assert solution.blown.tolist() == [[False], [False], [True]]


def test_fuses_that_had_opened_stay_open():
    """A fuse handed in as blown stays so, however small its load."""
    circuit = netlist(battery(12), fuse("F", "plus", "m", 10), resistor("R", "m", GROUND, 100))
    assert solve(circuit, [[]]).blown.tolist() == [[False]]
    solution = solve(circuit, [[]], blown=np.array([[True]]))
    assert solution.blown.tolist() == [[True]]
    assert solution.ohms[0, 1] == OPEN


def test_a_fuse_opens_only_above_its_limit():
    """A hair under 135 % holds, a hair over opens."""
    for share, opens in ((0.999, False), (1.001, True)):
        ohms = 12.0 / (10.0 * FUSE_OPENS_ABOVE * share) - 0.01
        circuit = netlist(battery(12), fuse("F", "plus", "m", 10), resistor("R", "m", GROUND, ohms))
        assert solve(circuit, [[]]).blown[0, 0] == opens


def resetting(wire_ohms: float) -> Netlist:
    """A unit whose output loads its own feed: on a thin wire its supply falls below what it works at."""
    always = parse("mode == run", {"mode": MODES})
    unit = Unit("unit", "supply", GROUND, 7.0, (), (Output("unit/out", always),))
    parts = (battery(12), resistor("wire", "plus", "supply", wire_ohms), resistor("draw", "supply", GROUND, 600.0))
    return netlist(*parts, driver("unit/out", "supply", GROUND, 2.0), units=(unit,), settings={"mode": "run"})


def test_a_sound_circuit_that_chatters_is_an_error():
    """The error of a sound circuit that never settles names the unit and its driver."""
    with pytest.raises(OscillationError, match="never settles") as caught:
        solve(resetting(10.0), [[]])
    assert len(caught.value.reasons) == 1
    assert "unit" in caught.value.reasons[0]
    assert "unit/out" in caught.value.reasons[0]


def test_under_a_fault_chatter_is_marked():
    """A bad contact that makes a unit reset over and over is marked unsteady and shown with the output off."""
    solution = solve(resetting(0.1), [[], [Change(1, "add", 10.0)], [Change(1, "set", OPEN)]])
    assert solution.unsteady.tolist() == [False, True, False]
    assert solution.on.tolist() == [[True], [False], [False]]
    assert solution.at("supply")[1] == pytest.approx(12 * 600 / 610.1, rel=1e-3)


def test_many_opening_fuses_are_no_chatter():
    """Twenty fuses that open one after another, the last of which wakes a unit, are not taken for chatter."""
    names = {"mode": MODES, "in": ("low", "high")}
    fuses = [fuse(f"F{i}", "plus", "m", 0.1 + 0.001 * i) for i in range(20)]
    output = Output("unit/out", parse("in == low", names))
    unit = Unit("unit", "plus", GROUND, 7.0, (Input("in", "m", 4.0),), (output,))
    parts = (
        battery(12),
        *fuses,
        resistor("R", "m", GROUND, 1.0),
        driver("unit/out", "plus", "x"),
        resistor("L", "x", GROUND, 50),
    )
    solution = solve(netlist(*parts, units=(unit,), settings={"mode": "run"}), [[]])
    assert solution.blown.all()
    assert solution.on.all()
    assert not solution.unsteady.any()


def test_a_free_end_has_no_voltage():
    """A node behind an open contact stands at 0 V behind a gigaohm, and nothing is NaN."""
    circuit = netlist(battery(12), resistor("R", "plus", "end", 1.0))
    solution = solve(circuit, [[Change(1, "set", OPEN)]], ["end"])
    volts, ohms = solution.between("end", GROUND)
    assert volts[0] == pytest.approx(0.0, abs=1e-9)
    assert ohms[0] == pytest.approx(1.0 / LEAK_SIEMENS, rel=1e-6)
    assert np.isfinite(solution.currents).all()


def test_lamps_behind_open_ends():
    """Lamps of which one or both ends hang in the air are dark, and solved."""
    lamps = [lamp_element("L0", "plus", "m", watts=5, volts=12), lamp_element("L1", "m", "n", watts=21, volts=12)]
    solution = solve(
        netlist(battery(12), *lamps, resistor("R", "n", GROUND, 1.0)),
        [[Change(3, "set", OPEN)], [Change(1, "set", OPEN)]],
    )
    assert solution.light("L0", 12.0) == pytest.approx([0.0, 0.0], abs=1e-12)
    assert solution.at("n") == pytest.approx([12.0, 0.0], abs=1e-3)


@PROPERTY
@given(SHAPES)
def test_a_shape_has_its_textbook_resistance(shape):
    """Series adds, parallel adds inverses: the resistance seen between the ends of a random network."""

    def textbook(part: object) -> float:
        if isinstance(part, float):
            return part
        how, parts = part
        values = [textbook(inner) for inner in parts]
        return sum(values) if how == "series" else 1.0 / sum(1.0 / v for v in values)

    solution = solve(netlist(*laid_out(shape, "a", GROUND)), [[]], ["a"])
    assert solution.between("a", GROUND)[1][0] == pytest.approx(textbook(shape), rel=1e-4)


def test_of_two_stable_states_the_one_from_a_working_circuit():
    """A unit without ground that holds itself up through its own output stays on, as it was before the fault."""
    output = Output("unit/out", parse("mode == run", {"mode": MODES}))
    unit = Unit("unit", "plus", "g", 7.0, (), (output,))
    parts = (battery(12), resistor("draw", "plus", "g", 600.0), resistor("G", "g", GROUND, 0.01))
    load = (driver("unit/out", "o", "g"), resistor("L", "o", GROUND, 1.0))
    circuit = netlist(*parts, *load, units=(unit,), settings={"mode": "run"})
    lost_ground = [Change(2, "set", OPEN)]
    assert solve(circuit, [[], lost_ground]).on.tolist() == [[True], [True]]
    assert solve(circuit.altered({"G": OPEN}), [[]]).on.tolist() == [[False]]


def relay_circuit(series_ohms: float) -> Netlist:
    """12 V, a coil of 85 ohm behind a resistance, and a relay that operates at 8 V and switches 1 ohm."""
    parts = (battery(12), resistor("W", "plus", "86", series_ohms), resistor("coil", "86", GROUND, 85.0))
    load = (driver("contacts", "plus", "87", 0.001), resistor("R", "87", GROUND, 1.0))
    return replace(netlist(*parts, *load), relays=(Relay("K", "coil", 8.0, "contacts"),))


@pytest.mark.parametrize(("series_ohms", "on"), [(0.01, True), (42.0, True), (43.0, False), (OPEN, False)])
def test_a_relay_operates_at_its_voltage(series_ohms, on):
    """12 V x 85 / (85 + R) is 8 V at R = 42.5 ohm: below that the contacts carry 12 A, above it nothing."""
    solution = solve(relay_circuit(series_ohms), [[]])
    assert solution.on.tolist() == [[on]]
    assert solution.at("87")[0] == pytest.approx(12.0 / 1.001 if on else 0.0, abs=1e-4)


def test_a_relay_goes_by_its_current():
    """An open coil, and one of 130 ohm (92 mA, a sound one operates at 94 mA), see 12 V and stay at rest."""
    solution = solve(relay_circuit(0.01), [[], [Change(2, "set", OPEN)], [Change(2, "set", 130.0)]])
    assert solution.at("86") == pytest.approx([12.0, 12.0, 12.0], abs=0.002)
    assert solution.on.tolist() == [[True], [False], [False]]


def test_a_relay_pulls_whichever_way_the_current_flows():
    """A coil with its ends exchanged operates too."""
    circuit = relay_circuit(0.01)
    turned = replace(
        circuit, elements=(*circuit.elements[:2], resistor("coil", GROUND, "86", 85.0), *circuit.elements[3:])
    )
    assert solve(turned, [[]]).on.tolist() == [[True]]


def test_a_buzzer_is_named():
    """A relay whose contacts short its own coil never settles; the error names it."""
    circuit = relay_circuit(10.0)
    buzzer = replace(circuit, elements=(*circuit.elements[:3], driver("contacts", "86", GROUND, 0.1)))
    with pytest.raises(OscillationError) as caught:
        solve(buzzer, [[]])
    assert "K: its contacts, once switched, move the voltage of its own coil" in str(caught.value)
