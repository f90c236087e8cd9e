"""What a network says of its roles' nodes: priors of fault sets, what each would show."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.roles import Roles, States
from advisor.network.priors import Prior
from advisor.network.tree.compiled import Tree
from advisor.network.tree.evidence import Seen
from advisor.network.tree.families import Discrete
from advisor.network.tree.running import possible_posteriors, posteriors
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

ROOT_MASS = 0.2
"""Root mass of "as designed" and of "unlisted"; shares after a complaint do not depend on it."""


def mask(network: Discrete, node: str, states: States) -> Floats:
    """1 for each state that is among some, shape (D,)."""
    return np.array([float(state in states) for state in network.by_name[node].states])


def odds_of(tree: Tree, roles: Roles) -> Floats:
    """Odds of each cause against its part being good, by the network's own shares, shape (C,)."""
    nodes = [part.node for part in roles.parts.values()]
    found = posteriors(tree, Seen(tree.network, 1), nodes).by_name
    odds = []
    for part in roles.parts.values():
        share = found[part.node][0]
        good = float(share @ mask(tree.network, part.node, part.good))
        odds += [
            float(share @ mask(tree.network, part.node, m.states)) / max(good, 1e-300) for m in part.modes.values()
        ]
    return np.array(odds)


def states_of(roles: Roles, network: Discrete, members: Ints) -> dict[str, Floats]:
    """Which states each part's node may have under each hypothesis, shape (H, D)."""
    result, cause = {}, 0
    for part in roles.parts.values():
        rows = np.tile(mask(network, part.node, part.good), (len(members), 1))
        for mode in part.modes.values():
            rows[(members == cause).any(axis=1)] = mask(network, part.node, mode.states)
            cause += 1
        result[part.node] = rows
    return result


def shown(tree: Tree, seen: Seen, roles: Roles) -> dict[str, Floats]:
    """P(outcome | what was seen) of every test, zeros where that cannot be, shape (B, O)."""
    found = possible_posteriors(tree, seen, list(dict.fromkeys(test.node for test in roles.tests.values()))).by_name
    return {
        test.id: np.stack(
            [found[test.node] @ mask(tree.network, test.node, o.states) for o in test.outcomes.values()], axis=1
        )
        for test in roles.tests.values()
    }


def whole(given: Mapping[str, Floats], anyhow: Mapping[str, Floats]) -> dict[str, Floats]:
    """Chances that sum to 1; a fault set that cannot be shows what is shown on the whole."""
    result = {}
    for id, block in given.items():
        filled = np.where(block.any(axis=1, keepdims=True), block, anyhow[id])
        result[id] = filled / filled.sum(axis=1, keepdims=True)
    return result


def presence_of(tree: Tree, seen: Seen, roles: Roles) -> Floats:
    """P(symptom shows | hypothesis), shape (H, S)."""
    nodes = list(dict.fromkeys(symptom.node for symptom in roles.symptoms.values()))
    found = possible_posteriors(tree, seen, nodes).by_name
    columns = [found[s.node] @ mask(tree.network, s.node, s.shows) for s in roles.symptoms.values()]
    presence: Floats = np.clip(np.stack(columns, axis=1), 0.0, 1.0)
    return presence


def root_of(tree: Tree, roles: Roles, logs: Floats, members: Ints) -> Prior:
    """The network's own prior of every fault set, and what is left out of it, whole and with each cause."""
    scale = 1.0 - 2.0 * ROOT_MASS
    weights = scale * np.exp(logs)
    weights[[AS_DESIGNED, UNLISTED]] = ROOT_MASS
    found = posteriors(tree, Seen(tree.network, 1), [part.node for part in roles.parts.values()]).by_name
    whole = scale * np.array(
        [
            found[part.node][0] @ mask(tree.network, part.node, mode.states)
            for part in roles.parts.values()
            for mode in part.modes.values()
        ]
    )
    listed = np.append(weights[SPECIALS:], 0.0)
    held = np.array([weights[(members == cause).any(axis=1)].sum() for cause in range(len(whole))])
    omitted = max(scale - float(weights[NONE]) - float(listed.sum()), 0.0)
    return Prior(weights, omitted, np.maximum(whole - held, 0.0))
