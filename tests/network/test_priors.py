"""Priors against every state of every part written out."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from oracles_network import every_state, symmetric_sum

from advisor.network.events import PlaceEvent, set_mass
from advisor.network.priors import odds, prior
from advisor.network.sums import symmetric_sums
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED, Worlds

# Expected faults of the severities of each cause of each part: two causes, one of them in two severities, and so on.
PARTS = [[[0.02, 0.03], [0.01]], [[0.4]], [[0.001], [0.2]], [[0.05]], [[0.15, 0.05, 0.1]]]
SEVERITIES = [x for part in PARTS for cause in part for x in cause]


def _by_size(severities):
    return len(severities), severities


def worlds_of(depth, dropped=()):
    """All fault sets of at most `depth` causes, severities apart, but for the dropped pairs of parts."""
    flat = [(p, c) for p, part in enumerate(PARTS) for c, cause in enumerate(part) for _ in cause]
    causes = list(dict.fromkeys(flat))
    per_part = [[-1, *(v for v, (p, _) in enumerate(flat) if p == part)] for part in range(len(PARTS))]
    sets = sorted((tuple(v for v in chosen if v >= 0) for chosen in product(*per_part)), key=_by_size)
    chosen = [s for s in sets if 0 < len(s) <= depth and frozenset(flat[v][0] for v in s) not in dropped]
    members = np.full((len(chosen) + SPECIALS, depth), -1, dtype=np.intp)
    ranges = np.zeros((*members.shape, 2), dtype=np.intp)
    for row, severities in enumerate(chosen, SPECIALS):
        members[row, : len(severities)] = [causes.index(flat[v]) for v in severities]
        ranges[row, : len(severities)] = [(v, v + 1) for v in severities]
    return Worlds(
        tuple(f"p{p}/m{c}" for p, c in causes),
        np.array([p for p, _ in causes], dtype=np.intp),
        np.array([causes.index(key) for key in flat], dtype=np.intp),
        members,
        ranges,
        (),
        (),
        np.zeros((len(members), 0)),
        (),
        np.zeros((len(members), 0)),
    )


def states_of(worlds):
    """Each hypothesis as its (part, severity of that part) pairs, and the probability of every such set."""
    starts = np.cumsum([0, *(sum(map(len, part)) for part in PARTS)])
    place = [(p, v - starts[p]) for p in range(len(PARTS)) for v in range(starts[p], starts[p + 1])]
    rows = [frozenset(place[low] for low, high in row if high > low) for row in worlds.severities[SPECIALS:].tolist()]
    return rows, every_state([[x for cause in part for x in cause] for part in PARTS])


def test_odds_are_those_of_exclusive_modes():
    """A part's odds over its modes sum to p / (1 - p), with p = 1 - exp(-sum x), in proportion to x."""
    x, part = np.array([0.02, 0.06, 0.5]), np.array([0, 0, 1])
    o = odds(x, part)
    p = 1.0 - np.exp(-0.08)
    assert o[:2] == pytest.approx([p / (1.0 - p) / 4.0, 3.0 * p / (1.0 - p) / 4.0], rel=1e-14)
    assert o[2] == pytest.approx(np.exp(0.5) - 1.0, rel=1e-14)
    assert odds(np.zeros(2), np.array([0, 0])).tolist() == [0.0, 0.0]


@pytest.mark.parametrize("size", range(6))
def test_symmetric_sums_are_sums_over_choices(rng, size):
    """The recurrence gives the sum of the products of every choice."""
    values = rng.uniform(0.0, 0.4, 9)
    assert symmetric_sums(values, 5)[size] == pytest.approx(symmetric_sum(values.tolist(), size), rel=1e-13)


@pytest.mark.parametrize("depth", [1, 2, 3, 5])
def test_weights_are_those_of_independent_parts(depth):
    """Each fault set has the product of its parts' probabilities, scaled by what the special masses leave."""
    worlds = worlds_of(depth)
    root = prior(worlds, np.array(SEVERITIES), as_designed=0.04, unlisted=0.06)
    rows, probability = states_of(worlds)
    assert root.weights[SPECIALS:] == pytest.approx([0.9 * probability[row] for row in rows], rel=1e-12)
    assert root.weights[NONE] == pytest.approx(0.9 * probability[frozenset()], rel=1e-12)
    assert root.weights[[AS_DESIGNED, UNLISTED]].tolist() == [0.04, 0.06]


def test_all_fault_sets_and_the_specials_sum_to_one():
    """With every state of every part enumerated, the weights sum to 1 and nothing is omitted."""
    root = prior(worlds_of(5), np.array(SEVERITIES), as_designed=0.05, unlisted=0.05)
    assert root.weights.sum() == pytest.approx(1.0, abs=1e-14)
    assert root.omitted == pytest.approx(0.0, abs=1e-15)
    assert root.omitted_with == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize("dropped", [(), (frozenset({1, 4}), frozenset({0, 2}))], ids=["all-pairs", "pairs-left-out"])
@pytest.mark.parametrize("depth", [1, 2, 3])
def test_omitted_mass_is_that_of_the_sets_left_out(depth, dropped):
    """Omitted mass, whole and with each cause, is the sum over the states that no hypothesis stands for."""
    worlds = worlds_of(depth, dropped)
    root = prior(worlds, np.array(SEVERITIES), as_designed=0.05, unlisted=0.05)
    rows, probability = states_of(worlds)
    left_out = {state: p for state, p in probability.items() if state and state not in set(rows)}
    assert root.omitted == pytest.approx(0.9 * sum(left_out.values()), rel=1e-11)
    cause_of = [(p, v) for p, part in enumerate(PARTS) for v in range(sum(map(len, part)))]
    expected = np.zeros(len(worlds.causes))
    for severity, cause in enumerate(worlds.severity_cause):
        expected[cause] += 0.9 * sum(p for state, p in left_out.items() if cause_of[severity] in state)
    assert root.omitted_with == pytest.approx(expected, rel=1e-11)
    assert root.weights.sum() + root.omitted == pytest.approx(1.0, abs=1e-14)


def test_coarser_severities_hold_the_same_mass():
    """A hypothesis that stands for several severities has the sum of their weights."""
    fine, x = worlds_of(1), np.array(SEVERITIES)
    whole = replace(fine, severities=fine.severities.copy())
    first, last = len(SEVERITIES) - 3, len(SEVERITIES)
    whole.severities[SPECIALS + first, 0] = first, last
    weights = [prior(worlds, x, as_designed=0.05, unlisted=0.05).weights for worlds in (fine, whole)]
    assert weights[1][SPECIALS + first] == pytest.approx(weights[0][SPECIALS + first :].sum(), rel=1e-13)


@pytest.mark.parametrize(
    ("low", "as_designed", "unlisted"), [(-0.1, 0.05, 0.05), (0.0, 0.0, 0.1), (0.0, -0.1, 0.2), (0.0, 0.5, 0.5)]
)
def test_impossible_masses_are_refused(low, as_designed, unlisted):
    """A negative prevalence, and root masses that are not positive or leave nothing, are refused."""
    x = np.array(SEVERITIES)
    x[0] = low
    with pytest.raises(ValueError, match="must"):
        prior(worlds_of(1), x, as_designed=as_designed, unlisted=unlisted)


EVENT = PlaceEvent(prevalence=0.03, attack=0.4, parts=(1, 3, 4))


@pytest.mark.parametrize("depth", [2, 3, 5])
def test_place_events_add_their_sets(depth):
    """Sets of two or more parts are added with nu a^k (1-a)^(n-k), kept or left out, then all is normalised."""
    plain, x = worlds_of(depth), np.array(SEVERITIES)
    before = prior(plain, x, as_designed=0.05, unlisted=0.05)
    after = prior(plain, x, as_designed=0.05, unlisted=0.05, events=[EVENT])
    # Of three parts: two hit in three ways, or all three; one alone is in the parts' own rates.
    two, three = 0.03 * 0.4**2 * 0.6, 0.03 * 0.4**3
    total = 1.0 + 3 * two + three
    inside = {1, 3, 4}
    parts = [{int(plain.cause_part[c]) for c in row if c >= 0} for row in plain.members]
    share = np.array([_share(plain, row) for row in plain.severities])
    for size, mass in ((2, two), (3, three)):
        chosen = np.array([len(p) == size and p <= inside for p in parts])
        expected = (before.weights[chosen] + 0.9 * mass * share[chosen]) / total
        assert after.weights[chosen] == pytest.approx(expected, rel=1e-12)
    outside = np.array([bool(p) and (len(p) == 1 or not p <= inside) for p in parts])
    assert after.weights[outside] == pytest.approx(before.weights[outside] / total, rel=1e-12)
    assert after.weights[UNLISTED] == before.weights[UNLISTED]
    assert after.weights.sum() + after.omitted == pytest.approx(1.0, abs=1e-13)
    left_out = (three if depth == 2 else 0.0) * 0.9 / total
    assert after.omitted == pytest.approx(before.omitted / total + left_out, rel=1e-9, abs=1e-15)


def _share(worlds, ranges):
    """Product over a set's faults of the severity's share in its part's odds."""
    x, result = np.array(SEVERITIES), 1.0
    for low, high in ranges:
        if high > low:
            part = worlds.cause_part[worlds.severity_cause]
            result *= x[low:high].sum() / x[part == part[low]].sum()
    return result


def test_pairs_of_one_place_weigh_more():
    """The mass by which sets are chosen is the product of odds, plus the event's for pairs of its place."""
    o, part = np.array([0.1, 0.2, 0.05]), np.array([0, 1, 2])
    event = PlaceEvent(0.01, 0.5, (0, 1))
    mass = set_mass(o, part, [event], np.array([[0, 1], [0, 2]]))
    assert mass == pytest.approx([0.02 + 0.01 * 0.25, 0.005])
    assert set_mass(o, part, [event], np.array([[0, 1, 2]])) == pytest.approx(0.001)
