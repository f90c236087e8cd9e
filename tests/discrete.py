"""Discrete networks for tests: random small ones, and those that come with pgmpy."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from hypothesis import strategies as st
from outside_engines import pgmpy_networks

from advisor.knowledge.interchange import read_network
from advisor.network.tree.evidence import Seen
from advisor.network.tree.families import Discrete, Family


def random_families(rng: np.random.Generator, count: int, zeros: float = 0.0) -> tuple[Family, ...]:
    """A network of some variables of two to four states and at most three parents; a share of chances is zero."""
    cards = rng.integers(2, 5, count)
    families = []
    for i in range(count):
        parents = tuple(sorted(rng.choice(i, min(i, int(rng.integers(0, 4))), replace=False).tolist())) if i else ()
        table = rng.dirichlet(np.ones(cards[i]), size=[cards[p] for p in parents])
        table = np.where(rng.random(table.shape) < zeros, 0.0, table)
        table[..., 0] += table.sum(axis=-1) == 0.0
        states = tuple(f"s{k}" for k in range(cards[i]))
        families.append(
            Family(f"v{i}", states, tuple(f"v{p}" for p in parents), table / table.sum(axis=-1, keepdims=True))
        )
    return tuple(rng.permutation(np.array(families, dtype=object)).tolist())


SEEDS = st.integers(0, 2**32 - 1)


@cache
def shipped_with_pgmpy(name: str) -> Discrete:
    """A network of pgmpy's wheel, read as ours are."""
    return Discrete(read_network(Path(pgmpy_networks()) / f"{name}.bif.gz"))


def drawn_cases(network: Discrete, cases: int, share: float, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Cases drawn from the network by parents first, of which a share of the variables is seen; -1 elsewhere."""
    drawn: dict[str, np.ndarray] = {}
    waiting = list(network.families)
    while waiting:
        family = next(f for f in waiting if all(parent in drawn for parent in f.parents))
        waiting.remove(family)
        rows = np.broadcast_to(family.table[tuple(drawn[p] for p in family.parents)], (cases, len(family.states)))
        below = rows.cumsum(axis=1) / rows.sum(axis=1, keepdims=True)
        drawn[family.name] = (rng.random((cases, 1)) >= below[:, :-1]).sum(axis=1)
    names = [family.name for family in network.families]
    rank = rng.random((cases, len(names))).argsort(axis=1)
    kept = rank < round(share * len(names))
    return {name: np.where(kept[:, i], drawn[name], -1) for i, name in enumerate(names)}


def one_case(network: Discrete, codes: dict[str, np.ndarray], case: int) -> dict[str, str]:
    """One of many cases as states by variable."""
    return {n: network.by_name[n].states[c[case]] for n, c in codes.items() if c[case] >= 0}


def seen(network: Discrete, codes: dict[str, np.ndarray]) -> Seen:
    """Cases as the engine takes them."""
    return Seen(network, len(next(iter(codes.values()))), codes)


def bif_of(families) -> str:
    """A network as text in BIF, a row for each state of the parents."""
    lines = ["network test {", "}"]
    states = {f.name: f.states for f in families}
    for f in families:
        lines.append(f"variable {f.name} {{\n  type discrete [ {len(f.states)} ] {{ {', '.join(f.states)} }};\n}}")
    for f in families:
        if not f.parents:
            lines.append(f"probability ( {f.name} ) {{\n  table {_numbers(f.table)};\n}}")
            continue
        lines.append(f"probability ( {f.name} | {', '.join(f.parents)} ) {{")
        for row in np.ndindex(f.table.shape[:-1]):
            above = ", ".join(states[parent][i] for parent, i in zip(f.parents, row, strict=True))
            lines.append(f"  ({above}) {_numbers(f.table[row])};")
        lines.append("}")
    return "\n".join(lines) + "\n"


def xmlbif_of(families) -> str:
    """The same in XMLBIF; numbers run over the parents in their order, the variable's own states fastest."""
    lines = ['<?xml version="1.0"?>', '<BIF VERSION="0.3"><NETWORK><NAME>test</NAME>']
    for f in families:
        outcomes = "".join(f"<OUTCOME>{state}</OUTCOME>" for state in f.states)
        lines.append(f'<VARIABLE TYPE="nature"><NAME>{f.name}</NAME>{outcomes}</VARIABLE>')
    for f in families:
        above = "".join(f"<GIVEN>{parent}</GIVEN>" for parent in f.parents)
        numbers = " ".join(map(repr, f.table.ravel().tolist()))
        lines.append(f"<DEFINITION><FOR>{f.name}</FOR>{above}<TABLE>{numbers}</TABLE></DEFINITION>")
    return "\n".join([*lines, "</NETWORK></BIF>"]) + "\n"


def _numbers(row) -> str:
    return ", ".join(map(repr, row.tolist()))
