"""The engine against sums written out over every state of every part."""

from dataclasses import replace
from itertools import permutations
from math import prod

import numpy as np
import pytest
from oracles_network import shares
from shipped_models import TABLES, drawn, random_findings, small_model, usual_prior
from tables import seen, table_worlds

from advisor.decision.advise import decide
from advisor.errors import ImpossibleFindingsError
from advisor.knowledge.compiled import Compiled
from advisor.knowledge.hypotheses import FaultSets
from advisor.knowledge.model import Model
from advisor.knowledge.predicting import Predictor
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import Evidence, IntakeShares, posterior, symptom_likelihood
from advisor.network.findings import OutcomeFinding, ReadingFinding, SymptomFinding
from advisor.network.nodes import restricted
from advisor.network.priors import prior
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED

CIRCUITS = drawn("engine")
MODELS = (*CIRCUITS, *TABLES)

INTAKE = IntakeShares(0.05, 0.04, 0.08)
CASES = range(200)
# Five parts of the reversing lamps, each with one or two modes of a single severity: 2 x 3 x ... states in all.
FALLIBLE_PARTS = 5


@pytest.fixture(scope="module")
def every_part_state():
    """Reversing lamps in which only some parts can fail, solved under every state of all of them."""
    whole = small_model("reversing-lamps")
    plain = [cause for cause in whole.wiring.causes if len(cause.variants) == 1]
    parts = [item for item in dict.fromkeys(c.part for c in plain) if "/" not in item][:FALLIBLE_PARTS]
    causes = tuple(cause for cause in plain if cause.part in parts)
    modes = {part: [c.mode.id for c in causes if c.part == part] for part in parts}
    worlds = table_worlds(modes, {})
    changes = tuple(sum((causes[c].variants[0] for c in row if c >= 0), ()) for row in worlds.members)
    alone = np.arange(len(changes))[:, None].repeat(4, axis=1)
    sets = FaultSets(worlds.members, worlds.severities, changes, alone)
    run = Predictor(whole.wiring)
    latched = run.latched(sets)
    tests = whole.compiled.tests
    predicted, presence = run.predict(tests, sets, latched), run.presence(sets, latched)
    nothing = np.zeros_like(predicted.value)
    ids = tuple(cause.id for cause in causes)
    compiled = Compiled(
        tests,
        (),
        ids,
        sets.members,
        sets.severities,
        predicted.value,
        predicted.spread,
        predicted.jumps,
        presence,
        nothing,
        {},
    )
    return Model(whole.schematic, replace(whole.wiring, causes=causes), compiled, "sha256:0")


def test_every_state_is_there(every_part_state):
    """All states of the five parts are solved, and nothing is omitted."""
    modes = np.bincount(every_part_state.worlds.cause_part)
    assert len(every_part_state.worlds.members) == np.prod(modes + 1) + SPECIALS - 1
    root = plain_prior(every_part_state)
    assert root.omitted == pytest.approx(0.0, abs=1e-15)


def plain_prior(model):
    """The prior without place events, which would also hit parts that this model leaves out."""
    return prior(model.worlds, model.prevalence(Vehicle()), as_designed=0.05, unlisted=0.05)


def either_way(model, evidence):
    """P(findings | hypothesis) while its fault shows or hides, one hypothesis at a time."""
    chances = []
    for h, quiet in enumerate(model.worlds.quiet):
        shows, hides = prod(float(e.shows[h]) for e in evidence), prod(float(e.hidden[h]) for e in evidence)
        chances.append((1.0 - quiet) * shows + quiet * hides)
    return np.array(chances)


def few(worlds):
    """Indices of the special hypotheses, singles and pairs."""
    return np.flatnonzero((worlds.members >= 0).sum(axis=1) <= 2)


@pytest.mark.parametrize("seed", CASES)
def test_bounds_hold_the_full_posterior(every_part_state, seed):
    """Singles and pairs alone: the posterior over all part states lies within low and high, for every cause."""
    model, rng = every_part_state, np.random.default_rng(seed)
    # Faults far more frequent than in a vehicle, so that much is omitted and the bounds have work to do.
    x = model.prevalence(Vehicle())
    root = prior(model.worlds, x / x.max() * rng.uniform(0.02, 0.5), as_designed=0.05, unlisted=0.05)
    few_worlds, few_root = restricted(model.worlds, root, few(model.worlds))
    truth = int(rng.integers(SPECIALS, len(model.worlds.members)))
    possible = [s for s, shown in zip(model.worlds.symptoms, model.worlds.presence.T, strict=True) if shown.max() > 0.5]
    findings = [SymptomFinding(str(rng.choice(possible)))]
    for index in rng.choice(len(model.worlds.tests), size=int(rng.integers(5)), replace=False):
        row = model.worlds.likelihood[truth, model.worlds.columns[index]]
        chosen = int(rng.choice(len(row), p=row / row.sum()))
        findings.append(OutcomeFinding(model.worlds.tests[index], model.worlds.outcomes[index][chosen]))
    evidence = model.evidence(findings, root)
    exact, total = shares(root.weights, [either_way(model, evidence)])
    kept = [replace(e.along(few(model.worlds)), shared=None, unsolved=None) for e in evidence]
    belief = posterior(few_worlds, few_root, kept)
    truly = exact @ model.worlds.holds
    assert (belief.low <= truly + 1e-12).all()
    assert (truly <= belief.high + 1e-12).all()
    assert (belief.low <= belief.weights @ few_worlds.holds + 1e-12).all()
    assert (belief.weights @ few_worlds.holds <= belief.high + 1e-12).all()
    assert belief.evidence <= total + 1e-15
    everything = posterior(model.worlds, root, evidence)
    assert everything.weights == pytest.approx(exact, abs=1e-13)
    assert everything.low == pytest.approx(everything.high, abs=1e-9)


def test_the_restricted_prior_is_that_of_pairs(every_part_state):
    """The prior of singles and pairs alone counts as omitted exactly what the full one holds beyond them."""
    model = every_part_state
    few_worlds, few_root = restricted(model.worlds, plain_prior(model), few(model.worlds))
    pairs_only = replace(few_worlds, members=few_worlds.members[:, :2], severities=few_worlds.severities[:, :2])
    root = prior(pairs_only, model.prevalence(Vehicle()), as_designed=0.05, unlisted=0.05)
    assert root.weights == pytest.approx(few_root.weights, rel=1e-12)
    assert root.omitted == pytest.approx(few_root.omitted, rel=1e-9)
    assert root.omitted_with == pytest.approx(few_root.omitted_with, rel=1e-9)


WORLDS = table_worlds(
    {"fuse": ["open"], "switch": ["open", "closed"], "lamp": ["open"]},
    {
        "look": (["dark", "lit"], lambda f: (0.9, 0.1) if f - {"switch/closed"} else (0.1, 0.9)),
        "feed": (["none", "full"], lambda f: (1.0, 0.0) if "fuse/open" in f else (0.02, 0.98)),
        "pin": (["none", "full"], lambda f: (0.97, 0.03) if {"fuse/open", "switch/open"} & f else (0.1, 0.9)),
    },
)
ROOT = prior(WORLDS, np.array([0.02, 0.01, 0.01, 0.05]), as_designed=0.05, unlisted=0.05)
FINDINGS = [seen(WORLDS, "look", "dark"), seen(WORLDS, "feed", "full"), seen(WORLDS, "pin", "none")]


def test_order_of_findings_never_matters():
    """Every order of the findings gives the same answer."""
    first = posterior(WORLDS, ROOT, FINDINGS)
    for order in permutations(FINDINGS):
        other = posterior(WORLDS, ROOT, order)
        assert other.weights == pytest.approx(first.weights, abs=1e-15)
        assert other.conflict_decibans == pytest.approx(first.conflict_decibans, abs=1e-12)
        assert other.high == pytest.approx(first.high, abs=1e-15)


def test_a_certain_finding_changes_nothing():
    """A finding that every hypothesis makes certain leaves weights, probability and bounds as they are."""
    certain = Evidence(np.ones(len(WORLDS.members)), 1.0)
    before, after = posterior(WORLDS, ROOT, FINDINGS), posterior(WORLDS, ROOT, [*FINDINGS, certain])
    for name in ("weights", "low", "high"):
        assert getattr(after, name).tolist() == getattr(before, name).tolist()
    assert after.evidence == before.evidence


def test_without_findings_the_prior_stays():
    """No finding: the prior over what is enumerated, probability of what is enumerated, no conflict."""
    belief = posterior(WORLDS, ROOT, [])
    assert belief.weights == pytest.approx(ROOT.weights / ROOT.weights.sum(), abs=1e-15)
    assert belief.evidence == pytest.approx(1.0 - ROOT.omitted, abs=1e-15)
    assert belief.conflict_decibans is None


def test_what_cannot_be_has_no_posterior():
    """A finding of probability zero under every hypothesis gives None, never a number."""
    assert posterior(WORLDS, ROOT, [Evidence(np.zeros(len(WORLDS.members)), 1.0)]) is None


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_what_cannot_be_read_is_refused(circuit):
    """A reading far beyond what the meter can show is refused with a pointer to each finding."""
    volts = next(test for test in small_model(circuit).compiled.tests if test.unit == "V")
    with pytest.raises(ImpossibleFindingsError) as refusal:
        decide(small_model(circuit), [ReadingFinding(volts.id, 1e6)])
    assert [problem.pointer for problem in refusal.value.problems] == ["#/findings/0"]


def shown(presence):
    """The small worlds with a symptom of which the fault sets have this probability."""
    return replace(WORLDS, symptoms=("dark",), presence=np.full((len(WORLDS.members), 1), presence))


@pytest.mark.parametrize("presence", [1e-6, 0.02, 0.7])
def test_intake_shares_hold_right_after_the_complaint(presence):
    """Whatever the symptom's frequency, none, as designed and unlisted get their shares exactly."""
    worlds = shown(presence)
    belief = posterior(worlds, ROOT, [Evidence(symptom_likelihood(worlds, ROOT, INTAKE, 0), 1.0)])
    assert belief.weights[[NONE, AS_DESIGNED, UNLISTED]] == pytest.approx(INTAKE.all, abs=1e-15)


def test_a_share_that_its_root_mass_cannot_carry_is_refused():
    """A root mass too small for its share is an error, not a probability above 1."""
    tiny = prior(WORLDS, np.full(4, 0.5), as_designed=1e-4, unlisted=0.05)
    with pytest.raises(ValueError, match="too small"):
        symptom_likelihood(shown(1.0), tiny, INTAKE, 0)


@pytest.mark.parametrize("circuit", MODELS)
def test_intake_shares_of_shipped_circuits(circuit):
    """Each shipped symptom gives the special hypotheses the library's shares."""
    model, root = small_model(circuit), usual_prior(circuit)
    for symptom in model.worlds.symptoms:
        belief = posterior(model.worlds, root, model.evidence([SymptomFinding(symptom)], root))
        assert belief.weights[[NONE, AS_DESIGNED, UNLISTED]] == pytest.approx(model.intake.all, abs=1e-14)


@pytest.mark.parametrize("circuit", MODELS)
def test_shipped_circuits_against_sums_written_out(circuit):
    """Weights and probability of random findings are those of one hypothesis at a time."""
    model, root = small_model(circuit), usual_prior(circuit)
    for seed in range(10):
        evidence = model.evidence(random_findings(circuit, seed), root)
        exact, total = shares(root.weights, [either_way(model, evidence)])
        belief = posterior(model.worlds, root, evidence)
        assert belief.weights == pytest.approx(exact, abs=1e-14)
        assert belief.evidence == pytest.approx(total, rel=1e-12)


def test_unrelated_faults_are_reported_like_none():
    """A fault that does not start the symptom keeps, against none, its prior odds after the complaint."""
    presence = np.zeros((len(WORLDS.members), 1))
    presence[SPECIALS] = 1.0
    worlds = replace(WORLDS, symptoms=("dark",), presence=presence)
    likelihood = symptom_likelihood(worlds, ROOT, INTAKE, 0)
    assert likelihood[SPECIALS + 1 :] == pytest.approx(likelihood[NONE], rel=1e-12)
    assert likelihood[SPECIALS] == 1.0
    after = ROOT.weights * likelihood
    assert after[NONE] / after.sum() == pytest.approx(0.05, rel=1e-12)
    assert after[UNLISTED] / after.sum() == pytest.approx(0.08, rel=1e-12)
