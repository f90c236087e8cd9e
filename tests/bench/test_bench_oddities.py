"""Odd vehicles are odd in the ways stated, can be repaired by physics, and are the same for every policy."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from bench.policies_known import as_chart
from bench.policy_walk import lead
from bench.rules import RULES
from bench.undescribed import Shop, Undescribed, outcome_of
from shipped_models import small_model
from twin_faults import Fault
from twin_oddities import Oddities, OddTwin, Strand
from twin_vehicles import Twin

from advisor.circuit.netlist import Change
from advisor.decision.charted import chart_plan
from advisor.decision.complaint import complaint_of
from advisor.decision.plan import HandOver, repairs_in_turn
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.prevalence import Vehicle
from advisor.network.findings import ReadingFinding
from advisor.network.worlds import NONE, SPECIALS

CIRCUIT, SYMPTOM = "reversing-lamps", "both-dark"


@cache
def shop():
    """Some odd vehicles."""
    return Shop.of(complaint_of(small_model(CIRCUIT), SYMPTOM), SYMPTOM, 40, np.random.default_rng(5))


def fault_of(model, cause, severity=0):
    """A fault of one cause."""
    index = next(i for i, c in enumerate(model.wiring.causes) if c.id == cause)
    return Fault((index,), None, model.wiring.causes[index].variants[severity])


def plan_of(cause):
    """The repair of a cause, by its place in the order of repairs."""
    return next(i for i, plan in enumerate(shop().complaint.bench.ground.plans) if cause in plan.restores)


def only(fault):
    """A shop with one vehicle of a fault, with nothing odd but exact parts."""
    twin = shop().twin
    fleet = Twin(shop().complaint.bench.model).vehicles([fault], np.random.default_rng(1))
    technician = replace(shop().technician, fleet=fleet, twin=twin)
    return replace(shop(), technician=technician, fleet=fleet, luck=np.ones((1, 40)), read={})


def test_rates_differ_within_their_factors():
    """Single faults of joints are off by up to ten, of other parts by up to three, against each other."""
    model = small_model(CIRCUIT)
    odd, worlds = OddTwin(model, np.random.default_rng(2)), model.worlds
    singles = SPECIALS + np.arange(len(worlds.severity_cause))
    ratio = odd.sets.root.weights[singles] / model.prior(Vehicle()).weights[singles]
    joint = np.array(["/" in model.cause_parts[worlds.cause_part[c]] for c in worlds.severity_cause])
    assert ratio[joint].max() / ratio[joint].min() > 9.0
    other = np.array([model.cause_parts[worlds.cause_part[c]].startswith("W") for c in worlds.severity_cause])
    assert 1.5 < ratio[other].max() / ratio[other].min() <= 9.0 + 1e-9
    assert odd.sets.root.weights.sum() == pytest.approx(model.prior(Vehicle()).weights.sum())


def test_a_strand_fails_under_load_only():
    """It has its ohms while amps flow through it, and the share of them that small currents meet where they do not."""
    model = small_model(CIRCUIT)
    twin = OddTwin(model, np.random.default_rng(2), Oddities(tapped=0.0, wrong_lamp=0.0, strands=0.0, weak_supply=0.0))
    volts = []
    for severity in (2, 7):  # some ohms, behind which amps still flow; some kilohms
        plain = fault_of(model, "X22/1/high-resistance", severity)
        strand = replace(plain, changes=tuple(Strand(c.element, c.kind, c.value) for c in plain.changes))
        light = replace(plain, changes=tuple(Change(c.element, c.kind, 0.02 * c.value) for c in plain.changes))
        fleets = [twin.vehicles([fault], np.random.default_rng(3)) for fault in (plain, strand, light)]
        reverse = Setup(twin.wiring.usual({"ignition": "run", "gear": "reverse"}))
        volts.append([float(twin.solved(fleet, reverse, ()).at("X22/2")[0]) for fleet in fleets])
    (plain_low, strand_low, light_low), (plain_high, strand_high, light_high) = volts
    assert strand_low == pytest.approx(plain_low) and strand_low < light_low - 1.0
    assert strand_high == pytest.approx(light_high) and strand_high > 10.0 * plain_high


def test_the_right_repair_ends_the_complaint_and_others_do_not():
    """A dead switch is fixed by its repair, after wires that change nothing; a blown fuse with its short comes back."""
    switch, wire = plan_of("reverse-switch/stuck-open"), plan_of("W301/open")
    fault, problem = fault_of(small_model(CIRCUIT), "reverse-switch/stuck-open"), shop().complaint.problem
    came = lead(problem, repairs_in_turn(problem, (wire, switch)), Undescribed(only(fault)))
    assert (came.values["wrong_parts"][0], came.values["fixed"][0]) == (1.0, 1.0)
    came = lead(problem, repairs_in_turn(problem, (wire,)), Undescribed(only(fault)))
    assert (came.values["fixed"][0], came.values["handed_over"][0]) == (0.0, 1.0)
    short = fault_of(small_model(CIRCUIT), "W301/short-to-ground")
    fuse = plan_of("F12/open")
    came = lead(problem, repairs_in_turn(problem, (fuse, wire)), Undescribed(only(short)))
    assert (came.values["wrong_parts"][0], came.values["fixed"][0]) == (1.0, 1.0)


def test_explaining_ends_what_is_no_fault():
    """It is accepted where nothing is wrong, and not where a switch is dead."""
    problem = shop().complaint.problem
    explain = repairs_in_turn(problem, (problem.explain,))
    sound, dead = Fault((), NONE), fault_of(small_model(CIRCUIT), "reverse-switch/stuck-open")
    assert lead(problem, explain, Undescribed(only(sound))).values["fixed"][0] == 1.0
    assert lead(problem, explain, Undescribed(only(dead))).values["fixed"][0] == 0.0


def test_policies_meet_the_same_readings():
    """A policy led twice comes to the same, and so do two policies that begin alike; vehicles are left as they came."""
    complaint = shop().complaint
    rule = chart_plan(complaint, as_chart(complaint.bench.model, SYMPTOM, RULES[CIRCUIT][SYMPTOM]))
    before = shop().fleet.faults
    worlds = [Undescribed(shop()) for _ in range(2)]
    one, two = (lead(complaint.problem, rule, world) for world in worlds)
    assert all((one.values[name] == two.values[name]).all() for name in one.values)
    assert worlds[0].findings == worlds[1].findings
    assert shop().fleet.faults is before
    handed = lead(complaint.problem, HandOver(), Undescribed(shop()))
    assert (handed.values["cost"] == complaint.problem.hand_over).all()
    assert (one.values["fixed"] + one.values["handed_over"] == 1.0).all()
    assert one.values["fixed"].mean() > 0.5


def test_a_reading_is_the_outcome_whose_range_it_lies_in():
    """Every voltage is the outcome that ends above it, over range is the last one that settles."""
    test = small_model(CIRCUIT).tests["volts.X5-3.reverse"]
    low = next(o for o in test.outcomes if o.id == "low")
    assert test.outcomes[outcome_of(test, ReadingFinding(test.id, low.high - 0.01))].id == "low"
    assert test.outcomes[outcome_of(test, ReadingFinding(test.id, 12.6))].id == "normal"
    assert test.outcomes[outcome_of(test, ReadingFinding(test.id, -0.02))].id == "none"
    ohms = small_model(CIRCUIT).tests["ohms.reverse-switch.key-off"]
    assert ohms.outcomes[outcome_of(ohms, ReadingFinding(ohms.id, None))].id == "open"
