"""YAML with addresses: what a scalar is, where a node stands, what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from advisor.errors import Problem
from advisor.knowledge.documents import Address
from advisor.knowledge.yaml_nodes import MAX_BYTES, QUICK, YamlList, YamlMap, YamlNode, YamlScalar, load_yaml


def load(folder: Path, content: bytes | str) -> tuple[YamlNode | None, list[Problem]]:
    """Read content as a file."""
    path = folder / "file.yaml"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return load_yaml(path)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        # YAML 1.2.2, section 10.3.2, the examples of its table and the words that YAML 1.1 took for flags.
        ("null", None),
        ("~", None),
        ("", None),
        ("true", True),
        ("False", False),
        ("0", 0),
        ("0o7", 7),
        ("0x3A", 58),
        ("-19", -19),
        ("0.", 0.0),
        ("-0.0", -0.0),
        (".5", 0.5),
        ("+12e03", 12000.0),
        ("-2E+05", -200000.0),
        ("on", "on"),
        ("off", "off"),
        ("yes", "yes"),
        ("no", "no"),
        ("1:20", "1:20"),
        ("1_000", "1_000"),
        ("2024-01-01", "2024-01-01"),
        ("'5'", "5"),
        ('"true"', "true"),
    ],
)
def test_scalars_follow_the_core_schema(text: str, value: object, tmp_path: Path) -> None:
    """A scalar is what the YAML 1.2 core schema says, not what YAML 1.1 did."""
    node, problems = load(tmp_path, f"key: {text}\n")
    assert isinstance(node, YamlMap)
    scalar = node.find("key")
    assert isinstance(scalar, YamlScalar)
    assert problems == []
    assert (type(scalar.value), scalar.value) == (type(value), value)


def test_nodes_know_where_they_stand(tmp_path: Path) -> None:
    """Lines and columns count from 1, for keys and values, in block and flow style."""
    node, _ = load(tmp_path, "# comment\na:\n  b: {c: [1, 22]}\n")
    assert isinstance(node, YamlMap)
    inner = node.find("a", "b", "c")
    assert isinstance(inner, YamlList)
    assert inner.items[1].at == Address(str(tmp_path / "file.yaml"), 3, 14)
    middle = node.find("a")
    assert isinstance(middle, YamlMap)
    assert middle.entries["b"][0].at.column == 3
    assert node.find("a", "x") is None
    assert node.find("a", "b", "c", "d") is None


@pytest.mark.parametrize(
    ("content", "line", "column", "said"),
    [
        (b"", 1, 1, "the file is empty"),
        (b"# only a comment\n", 1, 1, "the file is empty"),
        (b"a: 1\nb: \xff\n", 2, 4, "not UTF-8"),
        ("a: 1".encode("utf-16"), 1, 1, "not UTF-8"),
        (b"a: 1\nb: \x00\n", 2, 4, "'\\x00' is not allowed"),
        (b'a: "\\x07"\n', 1, 4, "control characters"),
        (b'a: "\\ud800"\n', 1, 4, "control characters"),
        (b'a: 1\nb: "\\UFFFFFFFF"\n', 2, 1, "out of range"),
        (b"a: 1\nb: 2\na: 3\n", 3, 1, "duplicate key 'a', also at line 1"),
        (b"a: 1\nb: 2\na: 3\n", 1, 1, "duplicate key 'a', also at line 3"),
        (b"a: {1: x, '1': y}\n", 1, 11, "duplicate key '1'"),
        (b"a: &x 1\n", 1, 4, "anchor &x is refused"),
        (b"a: &x 1\nb: *x\n", 2, 4, "alias *x is refused"),
        (b"a: &x {b: *x}\n", 1, 11, "alias *x is refused"),
        (b"a: !!int 5\n", 1, 4, "tag"),
        (b"a: !thing {}\n", 1, 4, "tag"),
        (b"? [a]\n: 1\n", 1, 3, "a key must be a single name"),
        (b"a: .nan\n", 1, 4, "not a finite number"),
        (b"a: -.inf\n", 1, 4, "not a finite number"),
        (b"a: 1e999\n", 1, 4, "too large"),
        (b"a: 1\n---\nb: 2\n", 2, 1, "a second document"),
        (b"a: " + b"[" * 30 + b"]" * 30, 1, 23, "deeper than 20"),
        (b"a: " + b"[" * 50_000, 1, 23, "deeper than 20"),
        (b"#" * (MAX_BYTES + 1), 1, 1, "larger than"),
        (b"a: 1\nb 2\nc: 3\n", 2, 1, "could not find expected ':'"),
        (b"a 1\nb: 2\n", 2, 2, "is one missing in the line before"),
        (b"a: 1\nb: 'open\nc: 2\n", 2, 4, "unexpected end of stream"),
        (b"a: {b: 1\nc: 2\n", 2, 2, "flow mapping"),
        (b"a: 1\n\tb: 2\n", 2, 1, "cannot start any token"),
    ],
)
def test_what_is_refused_has_an_address(content: bytes, line: int, column: int, said: str, tmp_path: Path) -> None:
    """Everything refused is reported with the line and column where it stands."""
    _, problems = load(tmp_path, content)
    assert [p for p in problems if (p.line, p.column) == (line, column) and said in p.message], problems


def test_long_numbers_are_not_read_as_numbers(tmp_path: Path) -> None:
    """A number of thousands of digits is no whole number; as a float it is too large."""
    _, problems = load(tmp_path, "a: " + "9" * 5000)
    assert [problem.message for problem in problems] == ["the number is too large"]


def test_all_problems_of_a_sound_syntax_are_found_at_once(tmp_path: Path) -> None:
    """An anchor, a duplicate key and a NaN in one file give all their problems."""
    _, problems = load(tmp_path, "a: &x 1\nb: .nan\nb: 2\n")
    assert sorted(problem.line for problem in problems) == [1, 2, 2, 3]


def test_byte_order_mark_is_allowed(tmp_path: Path) -> None:
    """A UTF-8 byte order mark is no part of the first key."""
    node, problems = load(tmp_path, b"\xef\xbb\xbfa: 1\n")
    assert isinstance(node, YamlMap)
    assert (list(node.entries), problems) == (["a"], [])


@pytest.mark.parametrize("name", ["absent.yaml", ".", "x" * 5000, "nul\x00"])
def test_what_is_no_file_is_reported(name: str, tmp_path: Path) -> None:
    """A missing file, a folder and an impossible name give a problem, not an exception of the system."""
    node, problems = load_yaml(tmp_path / name)
    assert node is None
    assert len(problems) == 1


@pytest.mark.parametrize(
    "path", sorted((Path(__file__).parents[2] / "models").rglob("*.yaml")), ids=lambda path: path.name
)
def test_both_readers_say_the_same(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The quick reader gives the nodes and places of the plain one, for every shipped file."""
    assert QUICK is not yaml.SafeLoader  # else nothing is compared
    quick = load_yaml(path)
    monkeypatch.setattr("advisor.knowledge.yaml_nodes.QUICK", yaml.SafeLoader)
    assert load_yaml(path) == quick
