"""Networks read from open formats: the same numbers, or every problem with its line."""

import gzip

import numpy as np
import pytest
from discrete import bif_of, random_families, xmlbif_of

from advisor.errors import KnowledgeError
from advisor.knowledge import converted as kept_networks
from advisor.knowledge.converted import converted, network_file
from advisor.knowledge.documents import Address
from advisor.knowledge.interchange import as_json, from_json, main, read_network
from advisor.network.tree.families import Family


def same(one, other):
    """Whether two networks are equal, the order of variables and of parents apart."""
    found = {family.name: family for family in other}
    assert sorted(found) == sorted(family.name for family in one)
    for family in one:
        theirs = found[family.name]
        assert theirs.states == family.states
        order = [theirs.parents.index(parent) for parent in family.parents]
        assert theirs.table.transpose([*order, len(order)]) == pytest.approx(family.table, abs=1e-15)


@pytest.mark.parametrize(("name", "written"), [("a.bif", bif_of), ("a.xml", xmlbif_of), ("a.xmlbif.gz", xmlbif_of)])
def test_read(rng, tmp_path, name, written):
    """A network is read with all its digits from both formats, packed or not; a cause may have four parents."""
    families = random_families(rng, 9)
    data = written(families).encode()
    (tmp_path / name).write_bytes(gzip.compress(data) if name.endswith(".gz") else data)
    found = read_network(tmp_path / name)
    same(families, found)
    same(found, from_json(as_json(found)))


PAIR = (
    Family("a", ("no", "yes"), (), np.array([0.9, 0.1])),
    Family("b", ("no", "yes"), ("a",), np.array([[0.8, 0.2], [0.3, 0.7]])),
)


def problems_of(tmp_path, text, name="a.bif"):
    """The problems of a file, as line and message."""
    path = tmp_path / name
    path.write_text(text)
    with pytest.raises(KnowledgeError) as caught:
        read_network(path)
    assert {problem.file for problem in caught.value.problems} == {str(path)}
    return [(problem.line, problem.message) for problem in caught.value.problems]


def test_rounded_rows_are_made_whole(tmp_path):
    """A row that misses 1 by a file's few digits is divided by its sum."""
    (tmp_path / "a.bif").write_text(bif_of(PAIR).replace("0.8, 0.2", "0.801, 0.2"))
    found = {family.name: family for family in read_network(tmp_path / "a.bif")}
    assert found["b"].table[0] == pytest.approx([0.801 / 1.001, 0.2 / 1.001], abs=1e-15)
    assert found["b"].table.sum(axis=-1) == pytest.approx(1.0, abs=1e-15)


def test_rows_that_miss_one(tmp_path):
    """A row that misses 1 by more is refused with its line and its sum."""
    ((line, message),) = problems_of(tmp_path, bif_of(PAIR).replace("0.8, 0.2", "0.6, 0.2"))
    assert bif_of(PAIR).splitlines()[line - 1].startswith("probability ( b | a )")
    assert "row (0,) sum to 0.8" in message


def test_negative_chances(tmp_path):
    """A chance below zero is refused although its row sums to 1."""
    ((_, message),) = problems_of(tmp_path, bif_of(PAIR).replace("0.8, 0.2", "1.2, -0.2"))
    assert "non-negative" in message or "not between 0 and 1" in message


def test_rings(tmp_path):
    """Variables that are their own ancestors are refused."""
    ring = (Family("a", ("no", "yes"), ("b",), PAIR[1].table), PAIR[1])
    ((_, message),) = problems_of(tmp_path, bif_of(ring))
    assert "loop" in message.lower() or "ancestor" in message or "cycle" in message.lower()


@pytest.mark.parametrize("text", ["", "network x {", "no network at all", "\x00"])
def test_no_network(tmp_path, text):
    """A text that is no network is one problem, not a traceback and not an empty network."""
    ((line, message),) = problems_of(tmp_path, text)
    assert line == 1
    assert message


def test_bytes_that_are_no_text(tmp_path):
    """Bytes that are no text, or no archive, are told."""
    for name in ("a.bif", "a.bif.gz"):
        (tmp_path / name).write_bytes(b"\xff\xfe\x00")
        with pytest.raises(KnowledgeError, match="cannot be read"):
            read_network(tmp_path / name)


def test_conversion_is_kept(tmp_path, monkeypatch):
    """A network is converted once; a kept one that is damaged is converted again."""
    monkeypatch.setattr(kept_networks, "_convert", lambda path: as_json(read_network(path)))
    source = tmp_path / "a.bif"
    source.write_text(bif_of(PAIR))
    cache = tmp_path / "cache"
    same(PAIR, converted(source, cache).families)
    (entry,) = cache.iterdir()
    checksum, _, kept = entry.read_text().partition("\n")
    entry.write_text(f"{checksum}\n{kept.replace('0.9', '0.7')}")
    same(PAIR, converted(source, cache).families)
    assert entry.read_text() == f"{checksum}\n{kept}"


def test_problems_come_back_from_the_other_process(tmp_path):
    """What is wrong with a file is told with its line also through the other process."""
    source = tmp_path / "a.bif"
    source.write_text(bif_of(PAIR).replace("0.9, 0.1", "0.9, 0.3"))
    with pytest.raises(KnowledgeError, match=r"a\.bif:9:1: a: the chances of row \(\) sum to 1\.2"):
        converted(source, None)
    assert main(str(source), str(tmp_path / "out.json")) == 1


def test_where_a_network_is_looked_for(tmp_path):
    """A path is relative to the roles file; pgmpy's networks go by name; an unknown one is told with its address."""
    at = Address(str(tmp_path / "roles.yaml"), 3, 7)
    (tmp_path / "a.bif").write_text("")
    assert network_file("a.bif", at) == tmp_path / "a.bif"
    assert network_file("pgmpy:asia", at).name == "asia.bif.gz"
    for wrong in ("b.bif", "pgmpy:printers", "pgmpy:../asia"):
        with pytest.raises(KnowledgeError, match=r"roles\.yaml:3:7: file: "):
            network_file(wrong, at)
