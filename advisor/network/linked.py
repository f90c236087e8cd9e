"""The network with what findings share: a node for the shared state and one for each place's lasting slip."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.network.nodes import Names, Network, Node
from advisor.network.worlds import Floats, Ints

SHARED = "shared"


@dataclass(frozen=True)
class Linked:
    """A test's outcomes in every shared state.

    Attributes:
        table: P(outcome | hypothesis, state) while no slip lasts, shape (H, G, O); (H, 1, O) where no state matters.
        hidden: The same while the hypothesis' fault hides, of the same shape.
        place: Where the hand is.
        lasting: Chance of a slip that falsifies every finding of the place.
        stray: P(outcome | lasting slip), shape (O,).
    """

    table: Floats
    hidden: Floats
    place: str
    lasting: float
    stray: Floats


def with_shared(
    network: Network, links: Mapping[str, Linked], states: Floats, meanings: Sequence[str], quiet: Floats
) -> Network:
    """Put the shared state and the places' slips above the tests.

    Each hypothesis whose fault may hide has a second state, after all others: it is reported as the first, and tested
    as none is.

    Args:
        network: Of tests that share nothing.
        links: Of every test by its id.
        states: Prior of G shared states, shape (G,).
        meanings: What each state is.
        quiet: P(the fault hides | hypothesis), shape (H,).
    """
    names = Names([SHARED, "fault", *(node.name for node in network.children)])
    ids = tuple(f"g{i}" for i in range(len(states)))
    shared = Node(SHARED, "shared", SHARED, ids, tuple(meanings), states, ())
    slips: dict[str, Node] = {}
    children = []
    hiding = np.flatnonzero(quiet)
    network = _split(network, hiding, quiet[hiding])
    for node in network.children:
        if node.kind != "test":
            children.append(node)
            continue
        link = links[node.id]
        if link.lasting and link.place not in slips:
            chance = np.array([1.0 - link.lasting, link.lasting])
            name = names(f"slip__{link.place}")
            slips[link.place] = Node(name, "slip", link.place, ("no", "yes"), (False, True), chance, ())
        children.append(_linked(node, link, slips.get(link.place) if link.lasting else None, hiding))
    return replace(network, children=tuple(children), roots=(shared, *slips.values()))


def _split(network: Network, hiding: Ints, quiet: Floats) -> Network:
    """Add a state for each fault that may hide: reported as while it shows, tested as none is."""
    root = np.append(network.root, quiet * network.root[hiding])
    root[hiding] *= 1.0 - quiet
    children = [replace(n, table=np.append(n.table, n.table[hiding], axis=0)) for n in network.children]
    return replace(
        network,
        states=(*network.states, *(f"{network.states[h]}__hides" for h in hiding)),
        meanings=(*network.meanings, *(network.meanings[h] for h in hiding)),
        root=root,
        children=tuple(children),
    )


def _linked(node: Node, link: Linked, slip: Node | None, hiding: Ints) -> Node:
    """A test below its hypothesis, its shared state and its place's slip, as far as each matters."""
    table, parents = np.append(link.table, link.hidden[hiding], axis=0), ["fault"]
    if table.shape[1] > 1:
        parents.append(SHARED)
    else:
        table = table[:, 0]
    if slip is not None:
        parents.append(slip.name)
        table = np.stack([table, np.broadcast_to(link.stray, table.shape)], axis=-2)
    return replace(node, table=table, parents=tuple(parents))
