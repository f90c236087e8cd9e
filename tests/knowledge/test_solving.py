"""Chunks and processes change nothing of what is predicted."""

import numpy as np
from shipped_models import drawn

from advisor.knowledge import solving
from advisor.knowledge.candidates import Candidates
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.hypotheses import singles
from advisor.knowledge.predicting import Predictor
from advisor.knowledge.reader import read_schematic
from advisor.knowledge.shipped import shipped_circuits
from advisor.knowledge.wiring import wire_up

CIRCUITS = drawn("solving")


def test_chunks_are_the_whole_in_order():
    """Chunks hold every set once, and neighbours in severity stay inside."""
    sets = singles(wire_up(read_schematic(shipped_circuits()[CIRCUITS[0]])).causes)
    chunks = sets.chunks(50)
    assert len(chunks) > 1
    assert (np.concatenate([c.members for c in chunks]) == sets.members).all()
    assert all(((c.beside >= 0) & (c.beside < len(c))).all() for c in chunks)


def test_processes_find_the_same(monkeypatch):
    """Two processes and small chunks give what one process gives at once; progress counts up to all sets."""
    wiring = wire_up(read_schematic(shipped_circuits()[CIRCUITS[0]]))
    sets, tests = singles(wiring.causes), Candidates(wiring).tests()[:30]
    alone = solving.Solver(Predictor(wiring)).solve("sets", tests, sets)
    monkeypatch.setattr(solving, "_ROWS", 150)
    monkeypatch.setattr(solving, "_WORTH_PROCESSES", 0.0)
    told = []
    both = solving.Solver(Predictor(wiring), 2, lambda *now: told.append(now)).solve("sets", tests, sets)
    assert np.allclose(both.value, alone.value, rtol=1e-9, atol=1e-9)
    assert np.allclose(both.presence, alone.presence, rtol=1e-9, atol=1e-12)
    assert np.allclose(both.jumper_amps, alone.jumper_amps, rtol=1e-9, atol=1e-9)
    assert told[-1] == ("sets", len(sets), len(sets))


def test_what_is_kept_is_what_is_solved_again():
    """A setup that is asked for twice gives the same points, and other fault sets or fuses never those of before."""
    wiring = wire_up(read_schematic(shipped_circuits()[CIRCUITS[0]]))
    run, fresh = Predictor(wiring), Predictor(wiring)
    sets = singles(wiring.causes)
    setup, latched = Setup(wiring.usual({})), run.latched(sets)
    first = run.solved(setup, sets, latched, (), keep=True)
    assert run.solved(setup, sets, latched, ()).volts is first.volts
    for part, blown in ((sets.chunks(50)[1], latched[: len(sets.chunks(50)[1])]), (sets, ~latched)):
        assert (run.solved(setup, part, blown, ()).volts == fresh.solved(setup, part, blown, ()).volts).all()
