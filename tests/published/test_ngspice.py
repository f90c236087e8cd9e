"""Our solver against ngspice (an open circuit simulator of its own line): recorded always, live where it is present."""

from __future__ import annotations

import hashlib
import json
import os

import numpy as np
import pytest
from networks import GROUND, battery, netlist, resistor
from published.record_ngspice import FOLDER, SEED, sample, title
from published.spice_judge import Bench, against, bench, departures, inconsistent, judged, ngspice
from shipped_models import SWEPT

from advisor.circuit.netlist import lamp_element
from advisor.circuit.solve import solve
from advisor.circuit.spice import deck
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.shipped import shipped_circuits

CIRCUITS = tuple(shipped_circuits())
DOUBLES, DOUBLES_OF_OTHERS = 500, 40
SINGLES, SINGLES_OF_OTHERS = 60, 5
"""Single faults a setup, drawn; all of them in `tests/bench/bench_ngspice.py`."""


@pytest.fixture(scope="module", params=CIRCUITS)
def shelf(request) -> Bench:
    """Give each shipped circuit with all of its single faults."""
    return bench(request.param)


@pytest.fixture
def live() -> bool:
    """Tell whether ngspice can be asked; where it is required, its absence is a failure."""
    present = ngspice() is not None
    assert present or not os.environ.get("ADVISOR_REQUIRE_NGSPICE"), "ngspice is required and not on the path"
    return present


@pytest.fixture
def recorded(shelf):
    """Give a circuit's record."""
    return json.loads((FOLDER / f"{shelf.id}.json").read_text(encoding="utf-8"))


def _again(shelf, case):
    """Solve a recorded case as the circuits stand today."""
    jumper, lamp = (tuple(case[tool]) or None for tool in ("jumper", "lamp"))
    setup = Setup(case["set"], tuple(case["unplug"]), jumper, lamp, case["swap"])
    return shelf.solved(setup, [shelf.row(case["fault"], case["severity"])])


def test_recorded_decks_are_those_of_today(shelf, recorded):
    """Every recorded case's deck is the one written today; after a change of circuits, run record_ngspice.py again."""
    changed = []
    for case in recorded["cases"]:
        text = deck(_again(shelf, case), 0, title(shelf.id, case["fault"], case["severity"]))
        if hashlib.sha256(text.encode("ascii")).hexdigest() != case["deck"]:
            changed.append((case["fault"], case["severity"], case["set"]))
    assert changed == []
    assert list(shelf.run.wiring.netlist.nodes) == recorded["nodes"]


def test_the_solver_agrees_with_the_record(shelf, recorded):
    """Node voltages are within 1 mV or 1e-4 of the recorded ones; floating nodes stay below what a meter shows."""
    found = []
    for case in recorded["cases"]:
        solution, volts = _again(shelf, case), np.array([case["volts"]])
        found += [f"{case['fault']}: {text}" for text in departures(solution, volts) + inconsistent(solution, volts)]
    assert found == []


def test_the_record_covers_what_it_should(shelf, recorded):
    """The record holds every normal condition, its faults, and in swept circuits a plug apart and a jumper in place."""
    normal = len(shelf.run.schematic.normal)
    assert [case["fault"] for case in recorded["cases"][:normal]] == [""] * normal
    assert len(recorded["cases"]) == normal + sample(shelf.id)
    assert shelf.id not in SWEPT or any(case["unplug"] for case in recorded["cases"])
    assert shelf.id not in SWEPT or any(case["jumper"] for case in recorded["cases"])
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 600_000


def test_single_faults_in_every_setup_agree_live(shelf, live):
    """The sound circuit and single faults in every setup: voltages agree and switching states are consistent."""
    found, rng = [], np.random.default_rng(SEED)
    for setup in shelf.setups() if live else ():
        count = SINGLES if shelf.id in SWEPT else SINGLES_OF_OTHERS
        solution = shelf.solved(setup, [0, *rng.choice(len(shelf.sets), count, replace=False).tolist()])
        found += [f"{setup}: {text}" for text in against(solution)]
    assert found == []


def test_random_double_faults_agree_live(shelf, live):
    """Five hundred random pairs of faults, forty where not swept whole, spread over all setups, agree."""
    rng, doubles = np.random.default_rng(SEED), DOUBLES if shelf.id in SWEPT else DOUBLES_OF_OTHERS
    assert not live or [f"{setup}: {text}" for setup, s in shelf.doubles(doubles, rng) for text in against(s)] == []


def test_lamps_and_sources_at_battery_negative_agree_live(live):
    """Lamps with either end at the reference, a cold one, and a source the wrong way round are written right."""
    lamps = [lamp_element("L0", GROUND, "a", watts=5, volts=12), lamp_element("L1", "a", "plus", watts=21, volts=12)]
    cold = lamp_element("L2", "a", "b", watts=60, volts=12)
    parts = (battery(12), *lamps, cold, resistor("R", "b", GROUND, 1e3), battery(3, GROUND, "c", ohms=2.0, id="E2"))
    solution = solve(netlist(*parts, resistor("R2", "c", "b", 1e3)), [[]], ("plus", "a", "b", "c"))
    assert not live or departures(solution, judged(solution)) == []
