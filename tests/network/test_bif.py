"""The text of the network."""

import re

import numpy as np
import pytest
from tables import table_worlds

from advisor.network.bif import bif_text
from advisor.network.engine import IntakeShares
from advisor.network.nodes import as_nodes
from advisor.network.priors import prior

WORLDS = table_worlds(
    {"fuse": ["open"], "lamp": ["dim"]},
    {"look": (["dark", "lit"], lambda faults: (2.0 / 3.0, 1.0 / 3.0) if faults else (0.1, 0.9))},
)
NETWORK = as_nodes(
    WORLDS,
    prior(WORLDS, np.array([0.01, 0.02]), as_designed=0.05, unlisted=0.05),
    IntakeShares(0.05, 0.04, 0.08),
)


def test_every_table_has_all_its_digits():
    """The numbers read back are the very same doubles."""
    text = bif_text(NETWORK, title="van-lamp")
    tables = re.findall(r"probability \( (\w+)(?: \| fault)? \) \{\n(.*?)\n\}", text, flags=re.DOTALL)
    read = {
        name: [[float(x) for x in row.split(",")] for row in re.findall(r"(?:table|\(\w+\)) ([^;]*);", body)]
        for name, body in tables
    }
    assert read["fault"] == [NETWORK.root.tolist()]
    for node in NETWORK.children:
        assert read[node.name] == node.table.tolist()


def test_remarks_stay_on_their_line():
    """A remark is one comment line, whatever it holds; the title becomes an identifier that is no word of BIF."""
    lines = bif_text(NETWORK, title="van-lamp", remarks=["two\nlines"]).splitlines()
    assert lines[:2] == ["// two lines", "network circuit__van_lamp {"]


def test_rows_name_their_parent_state():
    """Each row of a child stands behind a hypothesis, in order, so that no reader can confuse the axes."""
    body = bif_text(NETWORK, title="x").split("probability ( test__look | fault ) {\n")[1]
    assert re.findall(r"\((\w+)\)", body) == list(NETWORK.states)


@pytest.mark.parametrize("node", NETWORK.children, ids=lambda node: node.name)
def test_every_node_is_declared_once(node):
    """Each node has one declaration with its states."""
    text = bif_text(NETWORK, title="x")
    declared = f"variable {node.name} {{\n  type discrete [ {len(node.states)} ] {{ {', '.join(node.states)} }};\n}}"
    assert text.count(declared) == 1
