"""Whether a network has the nodes and states that its roles name."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.errors import KnowledgeError, Problem
from advisor.knowledge.documents import Address
from advisor.knowledge.notes import suggestion
from advisor.knowledge.roles import Roles, States
from advisor.network.tree.families import Discrete


def check_roles(roles: Roles, network: Discrete) -> None:
    """Hold the roles against the network.

    Raises:
        KnowledgeError: a node or state is not there, or a part's states are not all good or a mode.
    """
    found = list(_problems(roles, network))
    if found:
        raise KnowledgeError(found)


def _problems(roles: Roles, network: Discrete) -> Iterator[Problem]:
    owner: dict[str, str] = {}
    named: list[tuple[Address, str, list[States], bool]] = [
        *((p.at, p.node, [p.good, *(m.states for m in p.modes.values())], True) for p in roles.parts.values()),
        *((s.at, s.node, [s.shows], False) for s in roles.symptoms.values()),
        *((t.at, t.node, [o.states for o in t.outcomes.values()], True) for t in roles.tests.values()),
    ]
    for at, node, groups, all_states in named:
        if node not in network.by_name:
            what = f"the network has no node {node!r}, {suggestion(node, list(network.by_name))}"
            yield Problem(at.file, at.line, at.column, what)
            continue
        known, used = network.by_name[node].states, [state for group in groups for state in group]
        for state in used:
            if state not in known:
                what = f"node {node!r} has no state {state!r}, {suggestion(state, known)}"
                yield Problem(at.file, at.line, at.column, what)
        left = [state for state in known if state not in used]
        if all_states and left:
            yield Problem(at.file, at.line, at.column, f"states of node {node!r} without a meaning: {', '.join(left)}")
    for part in roles.parts.values():
        if part.node in owner:
            what = f"node {part.node!r} is the node of {owner[part.node]!r} already"
            yield Problem(part.at.file, part.at.line, part.at.column, what)
        owner[part.node] = part.id
