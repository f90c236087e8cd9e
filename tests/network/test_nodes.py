"""The network laid out as nodes."""

import json

import numpy as np
import pytest
from tables import table_worlds

from advisor.network.engine import IntakeShares
from advisor.network.nodes import as_nodes, heaviest, names_map, restricted
from advisor.network.priors import prior

INTAKE = IntakeShares(0.05, 0.04, 0.08)
WORLDS = table_worlds(
    {"f-3": ["open", "ok"], "f 3": ["high-resistance"], "X1/2": ["table"]},
    {"feed.f-3": (["low", "full"], lambda faults: (0.9, 0.1) if faults else (0.2, 0.8))},
)
ROOT = prior(WORLDS, np.array([0.01, 0.02, 0.03, 0.04]), as_designed=0.05, unlisted=0.05)


def test_names_are_identifiers_and_differ():
    """Ids alike but for what an identifier may not hold get different names, and so do a mode ok and a word of BIF."""
    network = as_nodes(WORLDS, ROOT, INTAKE)
    assert [node.name for node in network.children] == ["part__f_3", "part__f_3_2", "part__X1_2", "test__feed_f_3"]
    assert network.children[0].states == ("ok", "open", "ok_2")
    assert network.children[2].states == ("ok", "table_2")


def test_the_map_says_what_every_name_means():
    """The map gives each node's id and each state's mode, outcome or causes; none is empty, unlisted null."""
    nodes = json.loads(json.dumps(names_map(as_nodes(WORLDS, ROOT, INTAKE))))["nodes"]
    assert nodes["test__feed_f_3"] == {"test": "feed.f-3", "states": {"s0": "low", "s1": "full"}}
    assert nodes["part__f_3"] == {"part": "f-3", "states": {"ok": None, "open": "open", "ok_2": "ok"}}
    assert nodes["part__X1_2"] == {"part": "X1/2", "states": {"ok": None, "table_2": "table"}}
    fault = nodes["fault"]["states"]
    assert list(fault)[:4] == ["h0", "as_designed", "unlisted", "h1"]
    assert (fault["h0"], fault["as_designed"], fault["unlisted"], fault["h1"]) == ([], [], None, ["f-3/open"])
    assert sorted(fault["h11"]) == ["X1/2/table", "f 3/high-resistance", "f-3/ok"]


def test_parts_follow_from_the_hypothesis():
    """A part's table has a single 1 in each row, at the mode that the hypothesis holds."""
    network = as_nodes(WORLDS, ROOT, INTAKE)
    for node in network.children[:3]:
        assert set(np.unique(node.table)) == {0.0, 1.0}
        assert (node.table.sum(axis=1) == 1.0).all()
        for row, causes in zip(node.table, network.meanings, strict=True):
            mode = node.meanings[int(row.argmax())]
            assert (mode is None) == (not any((c or "").startswith(f"{node.id}/") for c in causes or []))
            assert mode is None or f"{node.id}/{mode}" in causes


def test_the_heaviest_keep_every_single():
    """A smaller network holds the special hypotheses, all singles and the likeliest of the rest."""
    kept = heaviest(WORLDS, ROOT, 9)
    assert kept[:7].tolist() == list(range(7))
    rest = np.delete(ROOT.weights, kept)
    assert ROOT.weights[kept[7:]].min() >= rest.max()
    with pytest.raises(ValueError, match="at least 7"):
        heaviest(WORLDS, ROOT, 6)


def test_what_is_dropped_is_counted_as_omitted():
    """Kept and omitted mass still sum to 1, with every cause."""
    kept = heaviest(WORLDS, ROOT, 8)
    worlds, root = restricted(WORLDS, ROOT, kept)
    assert len(worlds.members) == 8
    assert root.weights.sum() + root.omitted == pytest.approx(1.0, abs=1e-14)
    whole = ROOT.weights @ WORLDS.holds + ROOT.omitted_with
    assert root.weights @ worlds.holds + root.omitted_with == pytest.approx(whole, abs=1e-15)
