"""More sets where bounds stand wide: inside the old bounds, and just as a larger model has them."""

import numpy as np
import pytest
from shipped_models import CIRCUITS, small_model, usual_prior

from advisor.knowledge.expanding import LEADING, SETS, WIDE, expanded, width
from advisor.knowledge.loading import load_model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import posterior
from advisor.network.findings import DeclinedFinding, OutcomeFinding, ReadingFinding, SymptomFinding
from advisor.network.worlds import NONE, SPECIALS


def likely_case(circuit, seed):
    """A complaint and the outcomes of a few tests, from a fault that shows it."""
    model, root, rng = small_model(circuit), usual_prior(circuit), np.random.default_rng(seed)
    worlds, symptom = model.worlds, int(rng.integers(len(model.worlds.symptoms)))
    able = root.weights[SPECIALS:] * worlds.presence[SPECIALS:, symptom]
    truth = SPECIALS + int(rng.choice(len(able), p=able / able.sum()))
    findings = [SymptomFinding(worlds.symptoms[symptom]), DeclinedFinding(worlds.tests[-1])]
    for index in rng.choice(len(worlds.tests) - 1, size=int(rng.integers(3)), replace=False):
        row = worlds.likelihood[truth, worlds.columns[index]]
        findings.append(OutcomeFinding(worlds.tests[index], worlds.outcomes[index][rng.choice(len(row), p=row)]))
    return findings


def belief_of(circuit, findings):
    """What the findings leave of the small model."""
    model, root = small_model(circuit), usual_prior(circuit)
    return posterior(model.worlds, root, model.evidence(findings, root))


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_expansion_stays_within_the_old_bounds_and_narrows_them(circuit):
    """Every cause's new share and bounds lie within its old bounds; the leading cause's bounds come closer."""
    model, wide = small_model(circuit), 0
    for seed in range(12):
        findings = likely_case(circuit, seed)
        before = belief_of(circuit, findings)
        found = expanded(model, findings, before, Vehicle())
        assert (found is None) == (width(model.worlds, before) <= WIDE)
        if found is None:
            continue
        share, after = found.worlds.with_cause(found.belief.weights), found.belief
        assert (before.low - 1e-12 <= np.minimum(after.low, share)).all()
        assert (np.maximum(after.high, share) <= before.high + 1e-12).all()
        top = int(model.worlds.with_cause(before.weights).argmax())
        assert after.high[top] - after.low[top] < before.high[top] - before.low[top]
        assert found.root.weights.sum() + found.root.omitted == pytest.approx(1.0, abs=1e-12)
        assert found.root.unsolved < usual_prior(circuit).unsolved
        wide += 1
    assert wide > 0


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_added_sets_are_new_and_hold_what_leads(circuit):
    """Each added pair holds a leading cause, each triple a leading pair; none was there; about as many as asked for."""
    model = small_model(circuit)
    cases = (likely_case(circuit, seed) for seed in range(12))
    findings = next(f for f in cases if width(model.worlds, belief_of(circuit, f)) > WIDE)
    before = belief_of(circuit, findings)
    found = expanded(model, findings, before, Vehicle(), 60)
    there = {frozenset(row[row >= 0].tolist()) for row in model.worlds.members}
    leading = set(np.argsort(-model.worlds.with_cause(before.weights))[:LEADING].tolist())
    added = [frozenset(row[row >= 0].tolist()) for row in found.worlds.members[len(model.worlds.members) :]]
    assert 60 <= len(added) < 60 + 27
    assert not there & set(added)
    assert all(chosen & leading for chosen in added if len(chosen) == 2)
    assert {len(chosen) for chosen in added} <= {2, 3}


def test_added_sets_show_what_a_larger_model_has_them_show():
    """The likelihood of each added set is that of the same set in a model compiled with more sets from the start."""
    circuit = "reversing-lamps"
    model, root = small_model(circuit), usual_prior(circuit)
    large = load_model(circuit, None, 4000)
    volts = next(t for t in model.compiled.tests if t.unit == "V" and t.id not in model.battery_tests)
    battery = next(iter(model.battery_tests))
    findings = [
        SymptomFinding("both-dark"), SymptomFinding("dim", False), ReadingFinding(battery, 12.2),
        ReadingFinding(volts.id, 3.3), OutcomeFinding(model.worlds.tests[1], model.worlds.outcomes[1][0]),
    ]  # fmt: skip
    before = posterior(model.worlds, root, model.evidence(findings, root))
    found = expanded(model, findings, before, Vehicle(), SETS)
    where = {
        (tuple(row[row >= 0].tolist()), tuple(spans[row >= 0].ravel().tolist())): i
        for i, (row, spans) in enumerate(zip(large.worlds.members, large.worlds.severities, strict=True))
    }
    count = len(model.worlds.members)
    tested = np.prod([e.likelihood for e in large.evidence(findings[2:], large.prior(Vehicle()))], axis=0)
    base = [e.likelihood[NONE] for e in model.evidence(findings[:2], root)]
    dark, dim = (large.worlds.presence[:, large.worlds.symptoms.index(s)] for s in ("both-dark", "dim"))
    expected = tested * (base[0] + (1 - base[0]) * dark) * base[1] * (1 - dim)
    joint = found.belief.weights * found.belief.evidence / found.root.weights
    compared = 0
    for row in range(count, len(found.worlds.members)):
        members, spans = found.worlds.members[row], found.worlds.severities[row]
        other = where.get((tuple(members[members >= 0].tolist()), tuple(spans[members >= 0].ravel().tolist())))
        if other is not None:
            assert joint[row] == pytest.approx(expected[other], rel=1e-6, abs=1e-15)
            compared += 1
    assert compared > 100
