"""What hits a whole place, against every state of every part written out and against the binomial distribution."""

from itertools import combinations, product

import numpy as np
import pytest
from oracles_network import every_state_with_events
from scipy.stats import binom

from advisor.network.engine import Evidence, posterior
from advisor.network.events import PlaceEvent, event_left, event_mass
from advisor.network.nodes import restricted
from advisor.network.priors import prior
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED, Worlds

# Expected faults of the modes of each part; every mode has one severity.
PARTS = [[0.02, 0.01], [0.1], [0.03, 0.05], [0.04], [0.06, 0.02]]
FLAT = [(part, mode) for part, modes in enumerate(PARTS) for mode in range(len(modes))]
X = np.array([PARTS[part][mode] for part, mode in FLAT])
ROOT = {"as_designed": 0.05, "unlisted": 0.05}
EVENTS = ((0.03, 0.4, (0, 2, 3, 4)), (0.01, 0.3, (1, 2)))
PLACES = [PlaceEvent(*event) for event in EVENTS]
WHOLE = (0, 3, 5, 6)
"""A cause of each part of the first event's place."""


def worlds_of(sets):
    """Hypotheses for sets of causes, every mode a cause of one severity."""
    width = max(map(len, sets))
    members = np.full((len(sets) + SPECIALS, width), -1, dtype=np.intp)
    for row, causes in enumerate(sets, SPECIALS):
        members[row, : len(causes)] = causes
    ranges = np.stack([members, members + 1], axis=2)
    ranges[members < 0] = 0
    names, own = tuple(f"p{p}/m{m}" for p, m in FLAT), np.arange(len(FLAT))
    part, nothing = np.array([p for p, _ in FLAT], dtype=np.intp), np.zeros((len(members), 0))
    return Worlds(names, part, own, members, ranges, (), (), nothing, (), nothing)


def up_to(size):
    """Sets of at most so many causes of different parts."""
    return [
        chosen
        for k in range(1, size + 1)
        for chosen in combinations(range(len(FLAT)), k)
        if len({FLAT[c][0] for c in chosen}) == k
    ]


def exact():
    """Every set of causes with its probability beside what the special hypotheses take."""
    states = every_state_with_events(PARTS, EVENTS)
    return {tuple(sorted(FLAT.index(fault) for fault in state)): 0.9 * p for state, p in states.items()}


@pytest.mark.parametrize(("parts", "attack"), [(2, 0.3), (4, 0.3), (10, 0.3), (7, 0.05)])
def test_sizes_are_binomial(parts, attack):
    """The number of parts hit has the binomial distribution of scipy.stats; at n = 10, a = .3, 62 % are over two."""
    event = PlaceEvent(0.01, attack, tuple(range(parts)))
    worlds = Worlds(
        tuple(f"p{i}/m" for i in range(parts)), np.arange(parts), np.arange(parts), np.full((SPECIALS, 1), -1),
        np.zeros((SPECIALS, 1, 2), dtype=np.intp), (), (), np.zeros((SPECIALS, 0)), (), np.zeros((SPECIALS, 0)),
    )  # fmt: skip
    nothing, share = np.zeros(SPECIALS), np.ones(parts)
    for size in range(2, parts + 1):
        every, with_cause = event_left(worlds, nothing, share, event, range(size, size + 1))
        assert every == pytest.approx(0.01 * binom.pmf(size, parts, attack), rel=1e-12)
        assert with_cause == pytest.approx(0.01 * attack * binom.pmf(size - 1, parts - 1, attack), rel=1e-12)
    more, _ = event_left(worlds, nothing, share, event, range(3, parts + 1))
    assert more == pytest.approx(0.01 * binom.sf(2, parts, attack), rel=1e-12)
    if (parts, attack) == (10, 0.3):
        assert binom.sf(2, 10, 0.3) == pytest.approx(0.62, abs=0.005)


@pytest.mark.parametrize("also", [[], [WHOLE], [WHOLE, (1, 4, 5, 7)]], ids=["no-whole-place", "one", "two"])
@pytest.mark.parametrize("depth", [1, 2, 3, 5])
def test_no_mass_is_lost_or_counted_twice(depth, also):
    """Each set has its own exact mass; what stands for others carries what they have; the rest is omitted."""
    sets = [*up_to(depth), *(chosen for chosen in also if len(chosen) > depth)]
    worlds, states = worlds_of(sets), exact()
    root = prior(worlds, X, **ROOT, events=PLACES)
    assert root.weights.sum() + root.omitted == pytest.approx(1.0, abs=1e-13)
    assert root.own[SPECIALS:] == pytest.approx([states[chosen] for chosen in sets], rel=1e-9)
    assert root.own[NONE] == pytest.approx(states[()], rel=1e-12)
    assert root.weights[[AS_DESIGNED, UNLISTED]].tolist() == [0.05, 0.05]
    left = {chosen: p for chosen, p in states.items() if chosen and chosen not in set(sets)}
    assert root.unsolved == pytest.approx(sum(left.values()), rel=1e-9, abs=1e-14)
    holding = [sum(p for chosen, p in left.items() if cause in chosen) for cause in range(len(FLAT))]
    assert root.unsolved_with == pytest.approx(holding, rel=1e-9, abs=1e-14)
    standing = np.flatnonzero(root.lumped > 1e-15) - SPECIALS
    assert {sets[row] for row in standing} == (set(also) if depth < 4 else set())


def test_a_whole_place_carries_its_larger_sets_alone():
    """What stands for the place has the binomial mass of three parts and more; pairs left out stay omitted."""
    worlds = worlds_of([*up_to(1), WHOLE])
    added = event_mass(worlds, X, np.ones(worlds.members.shape), PLACES[0])
    assert added.kept.sum() + added.lumped.sum() == pytest.approx(0.03 * binom.sf(2, 4, 0.4), rel=1e-12)
    assert added.omitted == pytest.approx(0.03 * binom.pmf(2, 4, 0.4), rel=1e-12)
    assert added.total == pytest.approx(0.03 * binom.sf(1, 4, 0.4), rel=1e-12)


def test_several_stand_ins_share():
    """Of two hypotheses for one place the one of the more usual modes carries more."""
    worlds = worlds_of([*up_to(2), (0, 3, 5, 6), (1, 4, 5, 7)])
    lumped = prior(worlds, X, **ROOT, events=PLACES).lumped[-2:]
    # Shares of the modes in their parts.
    usual, rare = 2 / 3 + 3 / 8 + 1 + 3 / 4, 1 / 3 + 5 / 8 + 1 + 1 / 4
    assert lumped[0] / lumped[1] == pytest.approx(usual / rare, rel=1e-12)


@pytest.mark.parametrize("needed", [(1,), (0, 4), (2, 7), tuple(range(8))])
def test_mass_that_is_able_to_show(needed):
    """Mass with a needed cause is the sum over the states left out that hold one, whole and with each cause."""
    sets, states = [*up_to(2), WHOLE], exact()
    needs = np.isin(np.arange(len(FLAT)), needed)[None, :]
    ((mass, with_cause),) = prior(worlds_of(sets), X, **ROOT, events=PLACES, needs=needs).able
    able = {s: p for s, p in states.items() if s and s not in set(sets) and set(s) & set(needed)}
    assert mass == pytest.approx(sum(able.values()), rel=1e-9)
    holding = [sum(p for chosen, p in able.items() if cause in chosen) for cause in range(len(FLAT))]
    assert with_cause == pytest.approx(holding, rel=1e-8, abs=1e-15)


@pytest.mark.parametrize(("depth", "seed"), list(product((1, 2, 3), range(40))))
def test_bounds_hold_the_posterior_over_every_state(depth, seed):
    """With events, whole places and proved ceilings, the posterior over all states lies within low and high."""
    rng, states = np.random.default_rng(seed), exact()
    sets = [*(s for s in up_to(depth) if len(s) == 1 or rng.random() < 0.7), *([WHOLE] if rng.random() < 0.7 else [])]
    needed, otherwise = set(rng.choice(len(FLAT), 3, replace=False).tolist()), 0.02
    chance = [{s: float(rng.random() ** 3) for s in states} for _ in range(2)]
    chance[0] = {s: p if needed & set(s) else otherwise * p for s, p in chance[0].items()}
    worlds = worlds_of(sets)
    root = prior(worlds, X, **ROOT, events=PLACES, needs=np.isin(np.arange(len(FLAT)), list(needed))[None, :])
    rows = np.array([[each[s] for s in ((), (), (), *sets)] for each in chance])
    able, able_with = root.able[0]
    unsolved = (
        able + (root.unsolved - able) * otherwise,
        able_with + (root.unsolved_with - able_with) * otherwise,
    )
    given = [Evidence(rows[0], 1.0, unsolved=unsolved), Evidence(rows[1], max(chance[1].values()))]
    belief = posterior(worlds, root, given)
    joint = {s: p * chance[0][s] * chance[1][s] for s, p in states.items()}
    special = root.weights[[AS_DESIGNED, UNLISTED]] @ rows[:, [AS_DESIGNED, UNLISTED]].prod(axis=0)
    total = sum(joint.values()) + special
    truly = np.array([sum(p for s, p in joint.items() if cause in s) for cause in range(len(FLAT))]) / total
    assert (belief.low <= truly + 1e-12).all()
    assert (truly <= belief.high + 1e-12).all()
    plain = posterior(worlds, root, [Evidence(rows[0], 1.0), given[1]])
    assert (plain.low <= belief.low + 1e-12).all()
    assert (belief.high <= plain.high + 1e-12).all()


def test_dropping_hypotheses_leaves_their_mass_unsolved():
    """A smaller network counts what was dropped, stood for or not, as unsolved, with each cause."""
    sets, states = [*up_to(2), WHOLE], exact()
    worlds = worlds_of(sets)
    root = prior(worlds, X, **ROOT, events=PLACES)
    kept = np.flatnonzero(worlds.sizes <= 1)
    smaller, less = restricted(worlds, root, kept)
    assert len(smaller.members) == len(kept)
    larger = {s: p for s, p in states.items() if len(s) > 1}
    assert less.unsolved == pytest.approx(sum(larger.values()), rel=1e-9)
    holding = [sum(p for chosen, p in larger.items() if cause in chosen) for cause in range(len(FLAT))]
    assert less.unsolved_with == pytest.approx(holding, rel=1e-9)
    assert less.weights.sum() + less.omitted == pytest.approx(1.0, abs=1e-13)
