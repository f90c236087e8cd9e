"""The network as discrete nodes: one root with a state per hypothesis, everything else its children."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.network.engine import IntakeShares, symptom_likelihood
from advisor.network.priors import Prior
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED, Floats, Ints, Worlds

Meaning = str | bool | list[str] | None

# Words of the interchange format, which its readers refuse as names.
_RESERVED = ("network", "variable", "probability", "property", "type", "discrete", "table", "default")
_SPECIAL_STATES = {NONE: "h0", AS_DESIGNED: "as_designed", UNLISTED: "unlisted"}


@dataclass(frozen=True)
class Node:
    """A child of the hypotheses, or another root.

    Attributes:
        name: Identifier, unique in its network.
        kind: part, test, symptom, shared or slip.
        id: Id of that part, test, symptom or place.
        states: State identifiers.
        meanings: What each state stands for: a mode id, None for ok, an outcome id, or reported or not.
        table: P(state | parents), one axis for each parent's states, the node's own last: mostly (H, states).
        parents: Names of the parents.
    """

    name: str
    kind: str
    id: str
    states: tuple[str, ...]
    meanings: tuple[Meaning, ...]
    table: Floats
    parents: tuple[str, ...] = ("fault",)


@dataclass(frozen=True)
class Network:
    """Hypotheses and what hangs on them.

    Attributes:
        states: One identifier per hypothesis; its number counts the hypotheses that hold causes.
        meanings: Causes of each hypothesis; None for unlisted.
        root: Prior normalised over the enumerated hypotheses, shape (H,).
        children: Parts, then symptoms, then tests.
        roots: What else has no parent: the state that findings share, and each place's lasting slip.
    """

    states: tuple[str, ...]
    meanings: tuple[Meaning, ...]
    root: Floats
    children: tuple[Node, ...]
    roots: tuple[Node, ...] = ()

    @property
    def nodes(self) -> tuple[Node, ...]:
        """All nodes but the hypotheses, parents before children."""
        return (*self.roots, *self.children)

    def states_of(self, name: str) -> tuple[str, ...]:
        """States of a parent."""
        return next((node.states for node in self.roots if node.name == name), self.states)


class Names:
    """Hands out identifiers of letters, digits and underscores, each once."""

    def __init__(self, taken: Sequence[str] = ()) -> None:
        self.taken = set(taken)

    def __call__(self, text: str) -> str:
        """Make a text an identifier that was not given before."""
        plain = re.sub(r"\W", "_", text, flags=re.ASCII)
        plain = plain if re.match(r"[A-Za-z_]", plain) else f"_{plain}"
        name, count = plain, 1
        while name in self.taken:
            count += 1
            name = f"{plain}_{count}"
        self.taken.add(name)
        return name


def as_nodes(worlds: Worlds, prior: Prior, intake: IntakeShares) -> Network:
    """Lay out the network of hypotheses, parts, symptoms (selection included) and tests."""
    names = Names(["fault"])
    states = [_SPECIAL_STATES.get(h, f"h{h - SPECIALS + 1}") for h in range(len(worlds.members))]
    meanings: list[Meaning] = [[worlds.causes[c] for c in causes if c >= 0] for causes in worlds.members]
    meanings[UNLISTED] = None
    tables = [symptom_likelihood(worlds, prior, intake, s) for s in range(len(worlds.symptoms))]
    children = [
        *_parts(worlds, names),
        *(_symptom(names, id, present) for id, present in zip(worlds.symptoms, tables, strict=True)),
        *(_test(worlds, names, index) for index in range(len(worlds.tests))),
    ]
    return Network(tuple(states), tuple(meanings), prior.weights / prior.weights.sum(), tuple(children))


def _parts(worlds: Worlds, names: Names) -> list[Node]:
    """One deterministic child per part: which of its modes the hypothesis holds."""
    nodes = []
    for part in dict.fromkeys(worlds.cause_part.tolist()):
        mine = np.flatnonzero(worlds.cause_part == part)
        id = worlds.causes[mine[0]].rpartition("/")[0]
        modes = [worlds.causes[c].rpartition("/")[2] for c in mine]
        held = worlds.holds[:, mine].astype(float)
        state = Names(["ok", *_RESERVED])
        states = ("ok", *(state(mode) for mode in modes))
        table = np.column_stack([1.0 - held.sum(axis=1), held])
        nodes.append(Node(names(f"part__{id}"), "part", id, states, (None, *modes), table))
    return nodes


def _symptom(names: Names, id: str, present: Floats) -> Node:
    table = np.column_stack([present, 1.0 - present])
    return Node(names(f"symptom__{id}"), "symptom", id, ("present", "absent"), (True, False), table)


def _test(worlds: Worlds, names: Names, index: int) -> Node:
    id, outcomes = worlds.tests[index], worlds.outcomes[index]
    states = tuple(f"s{i}" for i in range(len(outcomes)))
    return Node(names(f"test__{id}"), "test", id, states, outcomes, worlds.likelihood[:, worlds.columns[index]])


def names_map(network: Network) -> Mapping[str, Mapping[str, Mapping[str, object]]]:
    """Say what every node and state stands for, ready for JSON."""
    nodes: dict[str, Mapping[str, object]] = {
        node.name: {node.kind: node.id, "states": dict(zip(node.states, node.meanings, strict=True))}
        for node in network.nodes
    }
    return {"nodes": nodes | {"fault": {"states": dict(zip(network.states, network.meanings, strict=True))}}}


def heaviest(worlds: Worlds, prior: Prior, most: int) -> Ints:
    """Choose at most `most` hypotheses: the special ones, all single causes, then the likeliest sets, in their order.

    Raises:
        ValueError: the special hypotheses and the single causes alone are more; the message says how many.
    """
    sizes = worlds.sizes
    base = int((sizes <= 1).sum())
    if most < base:
        raise ValueError(f"at least {base} hypotheses are needed: every single cause and the three without one")
    larger = np.flatnonzero(sizes > 1)
    chosen = larger[np.argsort(-prior.weights[larger], kind="stable")[: most - base]]
    return np.sort(np.concatenate([np.flatnonzero(sizes <= 1), chosen]))


def restricted(worlds: Worlds, prior: Prior, kept: Ints) -> tuple[Worlds, Prior]:
    """Keep some hypotheses; the prior mass of the others joins what is omitted."""
    with_cause = np.delete(prior.own, kept) @ np.delete(worlds.holds, kept, axis=0)
    smaller = replace(
        worlds,
        members=worlds.members[kept],
        severities=worlds.severities[kept],
        likelihood=worlds.likelihood[kept],
        presence=worlds.presence[kept],
        hides=worlds.quiet[kept],
    )
    omitted = prior.omitted + float(np.delete(prior.weights, kept).sum())
    lumped = (prior.lumped + np.zeros(len(prior.weights)))[kept]  # sets stood for stay in `lumped_with`, kept or not
    return smaller, Prior(prior.weights[kept], omitted, prior.omitted_with + with_cause, lumped, prior.lumped_with)
