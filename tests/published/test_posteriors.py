"""Posteriors against pyAgrum and pgmpy, which share no code with the engine.

pyAgrum is given every double through its interface, so that the two agree to 1e-9; reading text it keeps single
precision only, so that its answer from the exported file is compared to 1e-6.  pgmpy takes minutes on thousands of
hypotheses: it judges a small network, and a few nodes of the shipped ones.
"""

import numpy as np
import pytest
from outside_engines import BIFReader, VariableElimination, pyagrum, through_interface
from shipped_models import TABLES, apart, drawn, likelihoods, random_findings, small_model, usual_prior
from tables import table_worlds

from advisor.network.bif import bif_text
from advisor.network.engine import Evidence, IntakeShares, posterior, symptom_likelihood
from advisor.network.findings import OutcomeFinding, SymptomFinding
from advisor.network.nodes import as_nodes, heaviest, restricted
from advisor.network.pgmpy_export import to_pgmpy
from advisor.network.priors import prior

CIRCUITS = drawn("posteriors")
MODELS = (*CIRCUITS, *TABLES)

CASES = range(5)


@pytest.fixture(scope="module", params=MODELS)
def circuit(request):
    """Each shipped circuit."""
    return request.param


@pytest.fixture(scope="module")
def network(circuit):
    """The nodes of a shipped circuit."""
    model = small_model(circuit)
    return as_nodes(model.worlds, usual_prior(circuit), model.intake)


@pytest.fixture(scope="module")
def exact(network):
    """Inference in pyAgrum on the doubles."""
    return pyagrum.LazyPropagation(through_interface(network))


@pytest.fixture(scope="module")
def read(network, tmp_path_factory):
    """Inference in pyAgrum on the exported text."""
    path = tmp_path_factory.mktemp("bif") / "network.bif"
    path.write_text(bif_text(network, title="network", remarks=["a remark"]), encoding="utf-8")
    return pyagrum.LazyPropagation(pyagrum.loadBN(str(path)))


def observed(network, findings):
    """Node and state of each finding."""
    result = {}
    for finding in findings:
        kind, id = ("symptom", finding.symptom) if isinstance(finding, SymptomFinding) else ("test", finding.test)
        node = next(n for n in network.children if (n.kind, n.id) == (kind, id))
        says = finding.present if isinstance(finding, SymptomFinding) else finding.outcome
        result[node.name] = node.states[node.meanings.index(says)]
    return result


def compare(network, inference, evidence, likelihood, tolerance):
    """Hold every part, symptom and test, and the probability of the findings, against another engine."""
    joint = network.root * np.prod(likelihood, axis=0)
    inference.setEvidence(evidence)
    inference.makeInference()
    assert inference.evidenceProbability() == pytest.approx(joint.sum(), rel=1e3 * tolerance, abs=tolerance)
    weights = joint / joint.sum()
    assert inference.posterior("fault").toarray() == pytest.approx(weights, abs=tolerance)
    for node in network.children:
        if node.name not in evidence:
            assert inference.posterior(node.name).toarray() == pytest.approx(weights @ node.table, abs=tolerance)


@pytest.mark.parametrize("seed", CASES)
def test_engine_agrees_with_pyagrum(circuit, network, exact, seed):
    """Every part and every test's outcomes to 1e-9, by the engine's own weights."""
    model, root = small_model(circuit), usual_prior(circuit)
    findings = random_findings(circuit, seed)
    belief = posterior(model.worlds, root, apart(circuit, findings))
    evidence = observed(network, findings)
    exact.setEvidence(evidence)
    exact.makeInference()
    # The engine's probability of the findings leaves the omitted sets out; the network is normalised without them.
    assert exact.evidenceProbability() == pytest.approx(belief.evidence / root.weights.sum(), rel=1e-9)
    held = belief.weights @ model.worlds.holds
    share = dict(zip(model.worlds.causes, held, strict=True))
    for node in network.children:
        if node.name in evidence:
            continue
        theirs = exact.posterior(node.name).toarray()
        if node.kind == "part":
            ours = [share[f"{node.id}/{mode}"] for mode in node.meanings[1:]]
            assert theirs[1:] == pytest.approx(ours, abs=1e-9)
        elif node.kind == "test":
            columns = model.worlds.columns[model.worlds.tests.index(node.id)]
            assert theirs == pytest.approx(belief.weights @ model.worlds.likelihood[:, columns], abs=1e-9)


@pytest.mark.parametrize("seed", CASES)
def test_exported_text_agrees(circuit, network, read, seed):
    """The exported file, read by another program, gives the same answers to its single precision."""
    findings = random_findings(circuit, seed)
    compare(network, read, observed(network, findings), likelihoods(circuit, findings), 1e-6)


@pytest.fixture(scope="module")
def few(circuit):
    """The special hypotheses, all singles, and the likeliest pairs up to a few more."""
    root, worlds = usual_prior(circuit), small_model(circuit).worlds
    return heaviest(worlds, root, int((worlds.members[:, 1] < 0).sum()) + 20)


@pytest.fixture(scope="module")
def sharing(circuit, few):
    """The nodes of a shipped circuit with what findings share, and pyAgrum's answer machine."""
    network = small_model(circuit).network(usual_prior(circuit), few)
    return network, pyagrum.LazyPropagation(through_interface(network))


@pytest.mark.parametrize("circuit", CIRCUITS, indirect=True)  # findings on a table share nothing
@pytest.mark.parametrize("seed", CASES)
def test_shared_states_agree_with_pyagrum(circuit, few, sharing, seed):
    """With nine shared states and lasting slips at places: hypotheses, shared state and slips to 1e-9.

    Half of the outcomes come from tests of two places, so that their slips matter.
    """
    model, (network, inference) = small_model(circuit), sharing
    findings = [*random_findings(circuit, seed), *same_place(model, seed)]
    findings = list({getattr(f, "test", f): f for f in findings}.values())
    worlds, root = restricted(model.worlds, usual_prior(circuit), few)
    evidence = model.evidence(findings, usual_prior(circuit), model.coarse_axis)
    kept = [e.along(few) for e in evidence]
    for i, finding in enumerate(findings):  # what a complaint says of sound vehicles depends on what is enumerated
        if isinstance(finding, SymptomFinding):
            says = symptom_likelihood(worlds, root, model.intake, worlds.symptoms.index(finding.symptom))
            kept[i] = Evidence(says if finding.present else 1.0 - says, 1.0)
    belief = posterior(worlds, root, kept, model.coarse_axis.prior)
    given = observed(network, findings)
    inference.setEvidence(given)
    inference.makeInference()
    assert inference.evidenceProbability() == pytest.approx(belief.evidence / root.weights.sum(), rel=1e-9)
    theirs = inference.posterior("fault").toarray()
    hiding = np.flatnonzero(worlds.quiet)
    assert len(theirs) == len(few) + len(hiding)
    assert theirs[len(few) :].sum() == pytest.approx(belief.hiding, abs=1e-9)
    theirs[hiding] += theirs[len(few) :]
    theirs = theirs[: len(few)]
    assert theirs == pytest.approx(belief.weights, abs=1e-9)
    assert inference.posterior("shared").toarray() == pytest.approx(belief.states, abs=1e-9)


def same_place(model, seed):
    """Outcomes of up to four tests in each of two places."""
    rng, by_place = np.random.default_rng(seed), {}
    for test in model.predicted.values():
        if test.lasting:
            by_place.setdefault(test.test.probe[0], []).append(test.test)
    places = [tests for tests in by_place.values() if len(tests) > 1]
    chosen = [test for i in rng.choice(len(places), 2, replace=False) for test in places[i][:4]]
    return [OutcomeFinding(test.id, str(rng.choice([o.id for o in test.outcomes]))) for test in chosen]


@pytest.fixture(scope="module")
def small():
    """A lamp circuit of four parts written as tables, its network and pgmpy's answer machine."""
    worlds = table_worlds(
        {"fuse": ["open"], "switch": ["open", "closed"], "wire-1": ["open", "short"], "lamp": ["open"]},
        {
            "look": (["dark", "lit"], lambda f: (0.95, 0.05) if f - {"switch/closed"} else (0.04, 0.96)),
            "feed": (
                ["none", "low", "full"],
                lambda f: (
                    (0.98, 0.01, 0.01) if {"fuse/open", "wire-1/short"} & f else (1.0 / 3e3, 0.02, 0.98 - 1 / 3e3)
                ),
            ),
            "pin": (["none", "full"], lambda f: (0.97, 0.03) if f - {"switch/closed", "lamp/open"} else (0.02, 0.98)),
        },
    )
    dark = np.where((worlds.members >= 0).any(axis=1), 0.6, 0.001)[:, None]
    worlds = type(worlds)(
        worlds.causes, worlds.cause_part, worlds.severity_cause, worlds.members, worlds.severities, worlds.tests,
        worlds.outcomes, worlds.likelihood, ("stays-dark",), dark,
    )  # fmt: skip
    root = prior(worlds, np.array([0.02, 0.01, 0.01, 0.05, 0.01, 0.1]), as_designed=0.05, unlisted=0.05)
    network = as_nodes(worlds, root, IntakeShares(0.05, 0.04, 0.08))
    return worlds, root, network, VariableElimination(to_pgmpy(network))


SMALL_CASES = (
    [SymptomFinding("stays-dark")],
    [SymptomFinding("stays-dark", False), OutcomeFinding("look", "dark")],
    [OutcomeFinding("feed", "full"), OutcomeFinding("look", "dark"), OutcomeFinding("pin", "full")],
    [SymptomFinding("stays-dark"), OutcomeFinding("feed", "low"), OutcomeFinding("pin", "none")],
)


@pytest.mark.parametrize("findings", SMALL_CASES)
def test_engine_agrees_with_pgmpy(small, findings):
    """Every part and every test of a small network to 1e-9."""
    worlds, root, network, elimination = small
    evidence = observed(network, findings)
    rows = [
        next(n.table for n in network.children if n.name == name)[:, int(state == "absent")]
        if name.startswith("symptom__")
        else next(n for n in network.children if n.name == name).table[:, int(state[1:])]
        for name, state in evidence.items()
    ]
    belief = posterior(worlds, root, [Evidence(row, 1.0) for row in rows])
    for node in (n for n in network.children if n.name not in evidence):
        answer = elimination.query([node.name], evidence=evidence, show_progress=False)
        theirs = [answer.get_value(**{node.name: state}) for state in node.states]
        assert theirs == pytest.approx(belief.weights @ node.table, abs=1e-9)


def test_networks_compare_themselves(small):
    """The same network answers the same through pyAgrum as through pgmpy."""
    _, _, network, _ = small
    inference = pyagrum.LazyPropagation(through_interface(network))
    look = next(n for n in network.children if n.id == "look")
    compare(network, inference, {look.name: "s0"}, [look.table[:, 0]], 1e-12)


def test_pgmpy_reads_every_digit(small, tmp_path):
    """The exported text, read by pgmpy, holds the very same doubles."""
    _, _, network, _ = small
    path = tmp_path / "small.bif"
    path.write_text(bif_text(network, title="small", remarks=['with "quotes" and {braces}']), encoding="utf-8")
    read = BIFReader(str(path)).get_model()
    assert read.get_cpds("fault").get_values()[:, 0].tolist() == network.root.tolist()
    for node in network.children:
        table = read.get_cpds(node.name)
        assert table.state_names == {node.name: list(node.states), "fault": list(network.states)}
        assert table.get_values().T.tolist() == node.table.tolist()


def test_shipped_networks_are_networks_to_pgmpy(circuit, network):
    """The other library accepts every shipped network and agrees on its first part and last test after a complaint."""
    worlds, root = small_model(circuit).worlds, usual_prior(circuit)
    findings = [SymptomFinding(worlds.symptoms[0])]
    belief = posterior(worlds, root, small_model(circuit).evidence(findings, root))
    elimination = VariableElimination(to_pgmpy(network))
    evidence = observed(network, findings)
    for node in (network.children[0], network.children[-1]):
        answer = elimination.query([node.name], evidence=evidence, show_progress=False)
        theirs = [answer.get_value(**{node.name: state}) for state in node.states]
        assert theirs == pytest.approx(belief.weights @ node.table, abs=1e-9)
