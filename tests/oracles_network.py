"""Slow, obvious twins of the network's sums: every state of every part is written out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, product
from math import exp, log10, prod

import numpy as np


def symmetric_sum(values: Sequence[float], size: int) -> float:
    """Sum of the products of every choice of `size` of the values."""
    return sum(prod(chosen) for chosen in combinations(values, size))


def every_state(expected: Sequence[Sequence[float]]) -> dict[frozenset[tuple[int, int]], float]:
    """Probability of every fault set, from the expected faults x of each severity of each part.

    A part is sound with probability exp(-sum x), else in one severity in proportion to x; parts are independent.
    """
    parts = []
    for x in expected:
        total = sum(x)
        sound = exp(-total)
        parts.append([(None, sound), *((v, (1.0 - sound) * each / total) for v, each in enumerate(x))])
    result = {}
    for chosen in product(*parts):
        faults = frozenset((part, v) for part, (v, _) in enumerate(chosen) if v is not None)
        result[faults] = prod(p for _, p in chosen)
    return result


def shares(prior: np.ndarray, likelihoods: Sequence[np.ndarray]) -> tuple[np.ndarray, float]:
    """Posterior of each hypothesis and the probability of the findings, one hypothesis at a time."""
    joint = np.array([prior[h] * prod(float(each[h]) for each in likelihoods) for h in range(len(prior))])
    return joint / joint.sum(), float(joint.sum())


def shared_likelihood(findings, states) -> np.ndarray:
    """P(findings | hypothesis): every state, every choice of mirrored connectors, every choice of slipped places."""
    places = sorted({f.place for f in findings})
    sides = {f.turned.connector: f.turned.chance for f in findings if f.turned}
    result = np.zeros(len(findings[0].row))
    for h in range(len(result)):
        for g, chance in enumerate(states):
            for mirrored in product([False, True], repeat=len(sides)):
                turned = dict(zip(sides, mirrored, strict=True))
                either = prod(sides[c] if turned[c] else 1.0 - sides[c] for c in sides)
                for slipped in product([False, True], repeat=len(places)):
                    p = chance * either
                    for place, lost in zip(places, slipped, strict=True):
                        here = [f for f in findings if f.place == place]
                        lasting = max(f.lasting for f in here)
                        p *= lasting if lost else 1.0 - lasting
                        for f in here:
                            p *= f.stray if lost else _given(f, h, g, turned)
                    result[h] += p
    return result


def _given(finding, hypothesis: int, state: int, mirrored) -> float:
    """P(finding) where no slip lasts, at the cavity that the probe really is in."""
    source = finding.turned if finding.turned and mirrored[finding.turned.connector] else finding
    return float(source.table[source.row[hypothesis], min(state, source.table.shape[1] - 1)])


def every_state_with_events(
    expected: Sequence[Sequence[float]], events: Sequence[tuple[float, float, Sequence[int]]]
) -> dict[frozenset[tuple[int, int]], float]:
    """`every_state`, to which each event (nu, a, parts) adds its sets of two parts and more; then all is normalised.

    An event hits each of its parts with chance a, on its own; a part that is hit is in one of its severities, in
    proportion to x.
    """
    result = every_state(expected)
    for nu, attack, parts in events:
        for hit in product((False, True), repeat=len(parts)):
            mine = [part for part, yes in zip(parts, hit, strict=True) if yes]
            if len(mine) < 2:
                continue
            chance = nu * prod(attack if yes else 1.0 - attack for yes in hit)
            for chosen in product(*(range(len(expected[part])) for part in mine)):
                share = prod(expected[p][v] / sum(expected[p]) for p, v in zip(mine, chosen, strict=True))
                result[frozenset(zip(mine, chosen, strict=True))] += chance * share
    total = sum(result.values())
    return {state: p / total for state, p in result.items()}


def latest_of(leak: Sequence[float], rows: Sequence[Sequence[float]]) -> list[float]:
    """Chances of the latest outcome that leak and causes pick, each pick written out."""
    result = [0.0] * len(leak)
    for picks in product(range(len(leak)), repeat=1 + len(rows)):
        result[max(picks)] += prod(row[pick] for row, pick in zip((leak, *rows), picks, strict=True))
    return result


def weights_of_evidence(prior, holds, joint_of, count) -> tuple[list[float], list[float]]:
    """Weights for one cause by definition, 10 log10 of P(e_i | cause, others) / P(e_i | no cause, others) [decibans].

    `joint_of` gives P(chosen findings | hypothesis) for a set of findings; first the weights in turn, each with those
    before it, then each with all others.
    """

    def chance(chosen, side) -> float:
        """P(chosen findings | side of the odds)."""
        likelihood = joint_of(chosen)
        mass = [(prior[h], prior[h] * likelihood[h]) for h in range(len(prior)) if bool(holds[h]) == side]
        return sum(joint for _, joint in mass) / sum(p for p, _ in mass)

    def weight(i, others) -> float:
        """The finding's Bayes factor beside the others."""
        given = [chance([*others, i], side) / chance(others, side) for side in (True, False)]
        return 10.0 * log10(given[0] / given[1])

    in_turn = [weight(i, list(range(i))) for i in range(count)]
    return in_turn, [weight(i, [j for j in range(count) if j != i]) for i in range(count)]


def every_case(families) -> tuple[list[str], np.ndarray]:
    """The joint distribution of a small discrete network, an axis for each variable, one product per cell."""
    names = [family.name for family in families]
    joint = np.zeros([len(family.states) for family in families])
    for cell in np.ndindex(joint.shape):
        at = dict(zip(names, cell, strict=True))
        joint[cell] = prod(float(f.table[(*(at[parent] for parent in f.parents), at[f.name])]) for f in families)
    return names, joint


def seen_cases(families, likelihoods) -> tuple[float, dict[str, np.ndarray]]:
    """P(evidence), and P(state | evidence) of every variable, from the joint distribution and likelihoods by name."""
    names, joint = every_case(families)
    for axis, name in enumerate(names):
        shape = [-1 if i == axis else 1 for i in range(len(names))]
        joint = joint * np.asarray(likelihoods.get(name, np.ones(joint.shape[axis]))).reshape(shape)
    total = float(joint.sum())
    sums = [joint.sum(axis=tuple(i for i in range(len(names)) if i != axis)) for axis in range(len(names))]
    return total, {name: each / total if total else each for name, each in zip(names, sums, strict=True)}
