"""Which larger sets get a hypothesis: against plain loops over all of them."""

from itertools import combinations

import numpy as np
import pytest
from shipped_models import drawn, small_model

from advisor.knowledge.choosing import Sieve, choose, whole_places
from advisor.knowledge.hypotheses import blocks, coarse_rows, levels
from advisor.knowledge.prevalence import place_events
from advisor.network.events import PlaceEvent
from advisor.network.worlds import SPECIALS

CIRCUITS = drawn("choosing")

# Nine causes of seven parts, one cause in three severities; an event at three of the parts; two symptoms, one proved.
PART = np.array([0, 0, 1, 2, 3, 4, 5, 6, 6])
EVENT = PlaceEvent(1e-4, 0.3, (1, 2, 3))


@pytest.fixture(params=range(5))
def sieve(request):
    """Random odds, some of them large."""
    rng = np.random.default_rng(request.param)
    needs = np.stack([np.ones(9, dtype=bool), rng.random(9) < 0.3])
    rows = np.array([1, 3, 1, 1, 3, 1, 1, 1, 3])
    return Sieve(
        10.0 ** rng.uniform(-4, -1, 9),
        PART,
        (EVENT,),
        10.0 ** rng.uniform(-4, -2, 2),
        needs,
        np.array([1.0, 0.01]),
        rows,
    )


def share_of(sieve, causes):
    """The largest share of one set in any symptom, or in any fault at all."""
    mass = np.prod([sieve.odds[c] for c in causes])
    if all(PART[c] in EVENT.parts for c in causes):
        mass += EVENT.mass(len(causes)) * np.prod([sieve.odds[c] / sieve.odds[PART[c] == PART].sum() for c in causes])
    ceilings = [
        1.0 if any(needs[c] for c in causes) else otherwise
        for needs, otherwise in zip(sieve.needs, sieve.otherwise, strict=True)
    ]
    return mass * max(1.0 / sieve.odds.sum(), *(c / r for c, r in zip(ceilings, sieve.reported, strict=True)))


def every(size):
    """All sets of so many causes of different parts."""
    return [s for s in combinations(range(9), size) if len({PART[c] for c in s}) == size]


def test_shares_are_those_of_the_definition(sieve):
    """P(set) times the largest ceiling over what is reported, for every pair and triple."""
    for size in (2, 3):
        assert sieve.share(np.array(every(size))) == pytest.approx([share_of(sieve, s) for s in every(size)])


@pytest.mark.parametrize("most", [0, 5, 20, 60, 10_000])
def test_the_best_sets_are_chosen_with_all_their_pairs(sieve, most):
    """About as many as wanted, in falling share per hypothesis; no pair left out is worth more than one chosen."""
    chosen = choose(sieve, most)
    assert len(set(chosen)) == len(chosen)
    for triple in (s for s in chosen if len(s) == 3):
        assert set(combinations(triple, 2)) <= set(chosen[: chosen.index(triple)])
    rows = [int(np.prod(sieve.rows[list(s)])) for s in chosen]
    assert sum(rows[:-1]) < max(most, 1)
    worth = {s: share_of(sieve, s) / np.prod(sieve.rows[list(s)]) for s in every(2)}
    last = min((worth[s] for s in chosen if len(s) == 2), default=np.inf)
    left = [worth[s] for s in every(2) if s not in chosen]
    assert max(left, default=0.0) <= last * (1.0 + 1e-9)
    if most == 10_000:
        assert any(len(s) == 3 for s in chosen)


def test_sets_that_are_there_are_not_chosen_again(sieve):
    """A triple that stands for a place already is passed over."""
    triple = next(s for s in choose(sieve, 10_000) if len(s) == 3)
    assert triple not in choose(sieve, 10_000, frozenset([triple]))


def test_a_whole_place_holds_each_part_in_its_likeliest_mode(sieve):
    """One cause per part of the event's place."""
    (place,) = whole_places(sieve)
    assert [PART[c] for c in place] == [1, 2, 3]
    pair = Sieve(sieve.odds, PART, (PlaceEvent(1e-4, 0.3, (0, 6)),), *list(vars(sieve).values())[3:])
    assert whole_places(pair) == []


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_blocks_hold_every_combination_and_levels_the_same_step_of_all(circuit):
    """Severities of a block cover each cause's once in every combination; those of levels go up together."""
    causes = small_model(circuit).wiring.causes
    many = [i for i, rows in enumerate(coarse_rows(causes)) if rows > 2][:2]
    few = next(i for i, rows in enumerate(coarse_rows(causes)) if rows == 1)
    chosen = tuple(sorted((*many, few)))
    whole, steps = blocks(causes, [chosen[:2], chosen]), levels(causes, [chosen])
    assert whole.members.shape[1] == steps.members.shape[1] == 3
    triple = whole.severities[(whole.members >= 0).all(axis=1)]
    assert len(np.unique(triple.reshape(len(triple), -1), axis=0)) == len(triple) == 9
    width = [len(causes[c].variants) for c in chosen]
    for row in range(3):
        spans = steps.severities[row, :, 1] - steps.severities[row, :, 0]
        assert spans.tolist() == [n // 3 if n > 1 else 1 for n in width]
        assert len(steps.changes[row]) == sum(len(causes[c].variants[0]) for c in chosen)
    assert steps.beside[1].tolist() == [0, 2, 1, 1, 1, 1]
    # A neighbour differs by one step of one cause.
    for row, beside in enumerate(whole.beside):
        for column, other in enumerate(beside):
            differs = (whole.severities[row] != whole.severities[other]).any(axis=1)
            assert not np.delete(differs, column // 2).any()
            assert (whole.members[row] == whole.members[other]).all()


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_places_with_an_event_stand_whole_in_the_model(circuit):
    """Each place of three parts and more that an event may hit has hypotheses that hold all its parts."""
    model = small_model(circuit)
    worlds = model.worlds
    for event in place_events(model.wiring):
        if len(event.parts) > 2:
            parts = [set(worlds.cause_part[row[row >= 0]]) for row in worlds.members[SPECIALS:]]
            assert sum(p == set(event.parts) for p in parts) >= 1
