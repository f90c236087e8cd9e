"""The network with what findings share: a shared state, each connector's side, each place's lasting slip."""

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
        connector: What may be read from the other side; nothing where that makes no difference.
        mirrored: Prior of that.
        turned: `table` and `hidden` in that case, None where it makes no difference.
    """

    table: Floats
    hidden: Floats
    place: str
    lasting: float
    stray: Floats
    connector: str = ""
    mirrored: float = 0.0
    turned: tuple[Floats, Floats] | None = None


def with_shared(
    network: Network, links: Mapping[str, Linked], states: Floats, meanings: Sequence[str], quiet: Floats
) -> Network:
    """Put the shared state, the connectors' sides and the places' slips above the tests.

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
    sides: dict[str, Node] = {}
    children = []
    hiding = np.flatnonzero(quiet)
    network = _split(network, hiding, quiet[hiding])
    for node in network.children:
        if node.kind != "test":
            children.append(node)
            continue
        link = links[node.id]
        above = []
        if link.turned is not None:
            above.append(sides.setdefault(link.connector, _switch(names, "mirrored", link.connector, link.mirrored)))
        if link.lasting:
            above.append(slips.setdefault(link.place, _switch(names, "slip", link.place, link.lasting)))
        children.append(_linked(node, link, above, hiding))
    return replace(network, children=tuple(children), roots=(shared, *sides.values(), *slips.values()))


def _switch(names: Names, kind: str, id: str, chance: float) -> Node:
    """A node of two states, no and yes."""
    return Node(names(f"{kind}__{id}"), kind, id, ("no", "yes"), (False, True), np.array([1.0 - chance, chance]), ())


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


def _linked(node: Node, link: Linked, above: Sequence[Node], hiding: Ints) -> Node:
    """A test below its hypothesis, the shared state, its connector's side and its place's slip, where each matters."""
    table, parents = np.append(link.table, link.hidden[hiding], axis=0), ["fault"]
    shared = table.shape[1] > 1
    if shared:
        parents.append(SHARED)
    if link.turned is not None:
        turned = np.append(link.turned[0], link.turned[1][hiding], axis=0)
        table = np.stack(np.broadcast_arrays(table, turned), axis=-2)
    if not shared:
        table = table[:, 0]
    if link.lasting:
        table = np.stack([table, np.broadcast_to(link.stray, table.shape)], axis=-2)
    return replace(node, table=table, parents=(*parents, *(other.name for other in above)))
