"""Escapes from the type checker say why they are there."""

import ast
import re

from architecture.sources import ROOT, Source, project_sources

IGNORE = re.compile(r"#\s*type:\s*ignore")
REASONED_IGNORE = re.compile(r"#\s*type:\s*ignore\[[\w,\s-]+\]\s*(#|-)\s*\w+(\W+\w+)+")


def unreasoned(source: Source) -> list[str]:
    """List the lines with an `Any` or a `type: ignore` that carry no reason."""
    bare = [
        line
        for line, comment in source.comments.items()
        if IGNORE.search(comment) and not REASONED_IGNORE.search(comment)
    ]
    for node in ast.walk(source.tree):
        named = isinstance(node, ast.Name) and node.id == "Any"
        dotted = isinstance(node, ast.Attribute) and node.attr == "Any"
        if (named or dotted) and len(source.comments.get(node.lineno, "").split()) < 3:
            bare.append(node.lineno)
    return [f"{source.path.name}:{line}" for line in sorted(set(bare))]


def test_every_escape_has_a_reason():
    """Each `Any` and each `type: ignore` has a comment on its line that says why."""
    assert [line for source in project_sources() for line in unreasoned(source)] == []


def test_unreasoned_escapes_are_seen():
    """Bare escapes are found, reasoned ones pass."""
    text = "\n".join(
        [
            "import typing",
            "a: typing.Any = 1",
            "b: Any = 1  # YAML gives any value here",
            "c = f()  # type: ignore[no-untyped-call]",
            "d = f()  # type: ignore[no-untyped-call]  # the library ships no types",
            "e = f()  # type: ignore",
        ]
    )
    assert unreasoned(Source("x", ROOT / "x.py", text)) == ["x.py:2", "x.py:4", "x.py:6"]
