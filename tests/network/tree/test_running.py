"""The tree of buckets against enumeration of every case."""

import math
import tracemalloc

import numpy as np
import pytest
from discrete import SEEDS, drawn_cases, one_case, random_families, seen, shipped_with_pgmpy
from hypothesis import given, settings
from oracles_network import seen_cases

from advisor.errors import ImpossibleFindingsError, NetworkTooLargeError, RequestError
from advisor.network.tree import running
from advisor.network.tree.compiled import compile_tree
from advisor.network.tree.evidence import Seen
from advisor.network.tree.families import Discrete, Family, NoisyMax
from advisor.network.tree.joints import joints
from advisor.network.tree.running import log_evidence, possible_posteriors, posteriors, retracted


def random_likelihoods(rng, families, cases):
    """For each variable nothing, a hard state, or a soft likelihood with zeros in it, shape (cases, states)."""
    result = {}
    for family in families:
        card, kind = len(family.states), rng.integers(0, 3)
        if kind == 1:
            result[family.name] = np.eye(card)[rng.integers(0, card, cases)]
        elif kind == 2:
            result[family.name] = rng.random((cases, card)) * (rng.random((cases, card)) < 0.8)
    return result


@settings(max_examples=40, deadline=None)
@given(SEEDS)
def test_against_every_case(seed):
    """P(evidence) and all posteriors are those of the whole joint distribution, and nothing is a number at zero."""
    rng = np.random.default_rng(seed)
    families = random_families(rng, int(rng.integers(1, 7)), zeros=0.3)
    network = Discrete(families)
    likelihoods = random_likelihoods(rng, families, 5)
    tree, cases = compile_tree(network), Seen(network, 5, likelihoods=likelihoods)
    logs, found = log_evidence(tree, cases), possible_posteriors(tree, cases)
    for case in range(5):
        given_here = {name: each[case] / max(each[case].max(), 1e-300) for name, each in likelihoods.items()}
        total, expected = seen_cases(families, given_here)
        if total == 0.0:
            assert logs[case] == -math.inf
            assert not any(table[case].any() for table in found.by_name.values())
            continue
        assert logs[case] == pytest.approx(math.log(total), abs=1e-12)
        for name, table in expected.items():
            assert found.by_name[name][case] == pytest.approx(table, abs=1e-13)


@settings(max_examples=20, deadline=None)
@given(SEEDS)
def test_retraction(seed):
    """What is left when a variable's own evidence is taken back is the posterior without it."""
    rng = np.random.default_rng(seed)
    families = random_families(rng, 5)
    network = Discrete(families)
    likelihoods = {name: each + 0.01 for name, each in random_likelihoods(rng, families, 1).items()}
    found = retracted(compile_tree(network), Seen(network, 1, likelihoods=likelihoods))
    for family in families:
        others = {name: each[0] for name, each in likelihoods.items() if name != family.name}
        _, expected = seen_cases(families, others)
        assert found.by_name[family.name][0] == pytest.approx(expected[family.name], abs=1e-13)


@settings(max_examples=4, deadline=None)
@given(SEEDS)
def test_joints(seed):
    """Every cause with every test, whichever of the two is conditioned on."""
    rng = np.random.default_rng(seed)
    families = random_families(rng, 6, zeros=0.2)
    network, tree = Discrete(families), compile_tree(Discrete(families))
    names = [family.name for family in families]
    evidence = Seen(network, 1, likelihoods={names[5]: rng.random((1, network.cards[names[5]])) + 0.1})
    for causes, tests in ((names[:2], names[2:5]), (names[:4], names[4:5])):
        found = joints(tree, evidence, causes, tests)
        states = [sum(network.cards[name] for name in some) for some in (causes, tests)]
        assert found.cases == min(states)
        for cause in causes:
            for test in tests:
                assert found.of(cause, test) == pytest.approx(_pair(families, evidence, cause, test), abs=1e-13)


def _pair(families, evidence, cause, test):
    soft = {name: each[0] for name, each in evidence.likelihoods.items()}
    whole, _ = seen_cases(families, soft)
    network = evidence.network
    result = np.zeros((network.cards[cause], network.cards[test]))
    for i, j in np.ndindex(result.shape):
        both = {cause: np.eye(result.shape[0])[i], test: np.eye(result.shape[1])[j]}
        result[i, j] = seen_cases(families, {**soft, **both})[0] / whole
    return result


def test_how_many_run_at_once_changes_nothing(rng, monkeypatch):
    """Case by case, in pairs or all together: the same numbers."""
    network = shipped_with_pgmpy("alarm")
    tree, cases = compile_tree(network), seen(network, drawn_cases(network, 7, 0.2, rng))
    together = posteriors(tree, cases)
    monkeypatch.setattr(running, "CACHE_BYTES", 1)
    monkeypatch.setattr(running, "_LEAST", 2)
    apart = posteriors(tree, cases)
    assert apart.log_evidence == pytest.approx(together.log_evidence, abs=1e-12)
    for name, table in together.by_name.items():
        assert apart.by_name[name] == pytest.approx(table, abs=1e-14)


def test_some_variables_only(rng):
    """Asked for a few variables, the engine goes only where they are and says the same of them."""
    network = shipped_with_pgmpy("alarm")
    tree, cases = compile_tree(network), seen(network, drawn_cases(network, 3, 0.2, rng))
    some = posteriors(tree, cases, ["HR", "CATECHOL"])
    assert list(some.by_name) == ["HR", "CATECHOL"]
    assert some.by_name["HR"] == pytest.approx(posteriors(tree, cases).by_name["HR"], abs=1e-14)
    assert len(tree.on_the_way(["HR"])) < len(tree.workers)


def test_faint_evidence():
    """Likelihoods of very different sizes neither vanish nor overflow: a chain of a hundred steps at 1e-9 each."""
    families = [Family("x0", ("a", "b"), (), np.array([0.5, 0.5]))]
    stay = np.array([[0.9, 0.1], [0.2, 0.8]])
    families += [Family(f"x{i}", ("a", "b"), (f"x{i - 1}",), stay) for i in range(1, 100)]
    network = Discrete(tuple(families))
    soft = {f"x{i}": np.array([[1e-9, 1.0] if i % 2 else [1.0, 1e-9]]) for i in range(100)}
    found = posteriors(compile_tree(network), Seen(network, 1, likelihoods=soft))
    forward, log = np.array([0.5, 0.5]) * soft["x0"][0], 0.0
    for i in range(1, 100):
        forward = (forward @ stay) * soft[f"x{i}"][0]
        log += math.log(forward.sum())
        forward /= forward.sum()
    assert found.log_evidence[0] == pytest.approx(log, abs=1e-9)
    assert found.by_name["x99"][0] == pytest.approx(forward, abs=1e-12)


def noisy(rng, parents, states):
    """A noisy-MAX of some parents of two states, the first of which changes nothing."""
    links = []
    for _ in parents:
        link = np.stack([np.eye(states)[0], rng.dirichlet(np.ones(states))])
        links.append(link)
    names = tuple(f"o{i}" for i in range(states))
    return NoisyMax("y", names, tuple(parents), rng.dirichlet(np.ones(states)), tuple(links))


@pytest.mark.parametrize("states", [2, 3])
def test_noisy_max_is_its_table(rng, states):
    """A noisy-MAX kept compact answers as its whole table does."""
    parents = tuple(f"x{i}" for i in range(4))
    roots = tuple(Family(name, ("no", "yes"), (), rng.dirichlet(np.ones(2))) for name in parents)
    compact = noisy(rng, parents, states)
    table = np.zeros((2, 2, 2, 2, states))
    for cell in np.ndindex(2, 2, 2, 2):
        below = np.cumsum(compact.leak) * np.prod(
            [np.cumsum(link[at]) for link, at in zip(compact.links, cell, strict=True)], axis=0
        )
        table[cell] = np.diff(below, prepend=0.0)
    written = Discrete((*roots, Family("y", compact.states, parents, table)))
    cases = [{"y": "o0"}, {"y": f"o{states - 1}", "x1": "no"}, {"x0": "yes"}]
    found = posteriors(compile_tree(Discrete((*roots, compact))), Seen.of(Discrete((*roots, compact)), cases))
    expected = posteriors(compile_tree(written), Seen.of(written, cases))
    assert found.log_evidence == pytest.approx(expected.log_evidence, abs=1e-13)
    for name in (*parents, "y"):
        assert found.by_name[name] == pytest.approx(expected.by_name[name], abs=1e-13)


def test_noisy_or_of_many_parents(rng):
    """Sixty parents would be a table of 2^61 numbers; P(no | nothing else) = (1 - l) prod (1 - p c) all the same."""
    p, c = rng.random(60) * 0.1, rng.random(60)
    roots = tuple(Family(f"x{i}", ("no", "yes"), (), np.array([1.0 - p[i], p[i]])) for i in range(60))
    links = tuple(np.array([[1.0, 0.0], [1.0 - each, each]]) for each in c)
    y = NoisyMax("y", ("no", "yes"), tuple(f"x{i}" for i in range(60)), np.array([0.99, 0.01]), links)
    network = Discrete((*roots, y))
    tree = compile_tree(network)
    assert tree.cost.largest <= 8
    found = posteriors(tree, Seen.of(network, [{"y": "no"}]))
    assert math.exp(found.log_evidence[0]) == pytest.approx(0.99 * np.prod(1.0 - p * c), rel=1e-12)
    assert found.by_name["x3"][0, 1] == pytest.approx(p[3] * (1.0 - c[3]) / (1.0 - p[3] * c[3]), rel=1e-12)


def test_what_cannot_be_is_refused():
    """Evidence of probability zero is an error that names each case and what it had."""
    network = shipped_with_pgmpy("asia")
    cases = [{"dysp": "yes"}, {"either": "yes", "lung": "no", "tub": "no"}]
    with pytest.raises(ImpossibleFindingsError) as caught:
        posteriors(compile_tree(network), Seen.of(network, cases))
    assert [problem.pointer for problem in caught.value.problems] == ["#/cases/1"]
    assert "either=yes" in caught.value.problems[0].message
    with pytest.raises(ImpossibleFindingsError):
        joints(compile_tree(network), Seen.of(network, cases[1:]), ["smoke"], ["xray"])


def test_random_evidence_is_answered_or_refused(rng):
    """States drawn without the network's help, many of them impossible: finite answers or minus infinity, never NaN.

    What is called impossible is so: the published network's "either" is tub or lung, and nothing else in it is certain.
    """
    network = shipped_with_pgmpy("asia")
    codes = {name: rng.integers(-1, 2, 1000) for name in network.by_name}
    found = possible_posteriors(compile_tree(network), seen(network, codes))
    cases = [one_case(network, codes, i) for i in range(1000)]
    contradicted = [
        (case.get("either") == "no" and "yes" in (case.get("tub"), case.get("lung")))
        or (case.get("either") == "yes" and case.get("tub") == case.get("lung") == "no")
        for case in cases
    ]
    assert (found.log_evidence == -math.inf).tolist() == contradicted
    assert 100 < sum(contradicted) < 500
    for table in found.by_name.values():
        assert np.isfinite(table).all()
        assert table.sum(axis=1) == pytest.approx(1.0 - np.array(contradicted), abs=1e-12)


@pytest.mark.parametrize(
    ("codes", "likelihoods", "pointer"),
    [
        ({"nobody": np.zeros(2, dtype=int)}, {}, "#/nobody"),
        ({"tub": np.array([0, 2])}, {}, "#/cases/1/tub"),
        ({}, {"tub": np.array([[0.5, np.nan], [1.0, 0.0]])}, "#/cases/0/tub"),
        ({}, {"tub": np.ones((2, 3))}, "#/tub"),
        ({"tub": np.zeros(3, dtype=int)}, {}, "#/tub"),
    ],
)
def test_wrong_evidence(codes, likelihoods, pointer):
    """Evidence that means nothing is refused with its address."""
    with pytest.raises(RequestError) as caught:
        Seen(shipped_with_pgmpy("asia"), 2, codes, likelihoods)
    assert [problem.pointer for problem in caught.value.problems] == [pointer]


def test_wrong_states_by_name():
    """States by name are checked too."""
    with pytest.raises(RequestError) as caught:
        Seen.of(shipped_with_pgmpy("asia"), [{"tub": "maybe"}, {"tube": "yes"}])
    assert {problem.pointer for problem in caught.value.problems} == {"#/cases/0/tub", "#/cases/1/tube"}


def test_memory_is_known_beforehand(rng):
    """A run takes no more memory than its cost says; its numbers are in its text."""
    network = shipped_with_pgmpy("hailfinder")
    tree = compile_tree(network)
    cases = seen(network, drawn_cases(network, 64, 0.2, rng))
    posteriors(tree, cases)
    tracemalloc.start()
    posteriors(tree, cases)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < tree.cost.bytes(64)
    assert f"{tree.cost.largest:,} entries" in repr(tree)


def test_too_large():
    """A grid of twenty by twenty is refused with its numbers before anything of that size is made."""
    table = np.full((2, 2, 2), 0.5)
    families = [Family("x0-0", ("a", "b"), (), table[0, 0])]
    for i, j in np.ndindex(20, 20):
        parents = tuple(f"x{a}-{b}" for a, b in ((i - 1, j), (i, j - 1)) if a >= 0 and b >= 0)
        if parents:
            families.append(Family(f"x{i}-{j}", ("a", "b"), parents, table if len(parents) == 2 else table[0]))
    with pytest.raises(NetworkTooLargeError, match=r"MiB for one case, allowed are 1; its largest table has [\d,]+"):
        compile_tree(Discrete(tuple(families)), limit=2**20, tries=1)


@pytest.mark.parametrize(
    ("families", "said"),
    [
        ([Family("a", ("x", "y"), (), np.array([0.5, 0.4]))], "miss 1 by 0.1"),
        ([Family("a", ("x", "y"), (), np.array([0.5, np.nan]))], "between 0 and 1"),
        ([Family("a", ("x", "y"), ("b",), np.full((2, 2), 0.5))], "unknown parent b"),
        ([Family("a", ("x", "y"), (), np.full((2, 2), 0.5))], "has the shape"),
        ([Family("a", ("x", "x"), (), np.full(2, 0.5))], "two states of one name"),
        ([Family("a", ("x",), (), np.ones(1))] * 2, "a second variable"),
        (
            [Family(a, ("x", "y"), (b,), np.full((2, 2), 0.5)) for a, b in ("ab", "bc", "ca")],
            "its own ancestor, by ",
        ),
    ],
)
def test_what_is_no_network(families, said):
    """A network that does not hold together cannot exist."""
    with pytest.raises(ValueError, match=said):
        Discrete(tuple(families))
