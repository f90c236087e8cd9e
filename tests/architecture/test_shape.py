"""The bars for the shape of the code: short files, short functions, everything documented and annotated."""

import ast
import statistics

import pytest
from architecture.sources import PACKAGES, ROOT, Source, python_sources

FILE_MAX, FILE_MEDIAN = 400, 150
FUNCTION_MAX, FUNCTION_P90, FUNCTION_MEDIAN = 60, 25, 8

# "module" or "module.function" → why it may be longer; each also stands in DEVELOPERS.md under Decisions.
LONGER: dict[str, str] = {}


def length(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Count a function's lines from `def` to its end, its docstring left out."""
    lines = (function.end_lineno or function.lineno) - function.lineno + 1
    text = function.body[0] if ast.get_docstring(function, clean=False) is not None else None
    return lines - ((text.end_lineno or text.lineno) - text.lineno + 1 if text else 0)


def bad_habits(source: Source) -> list[str]:
    """List bare excepts, star imports and mutable defaults."""
    found = []
    for node in ast.walk(source.tree):
        if isinstance(node, ast.ExceptHandler) and node.type is None:
            found.append((node.lineno, "bare except"))
        elif isinstance(node, ast.ImportFrom) and any(alias.name == "*" for alias in node.names):
            found.append((node.lineno, "star import"))
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            defaults = [*node.args.defaults, *node.args.kw_defaults]
            if any(isinstance(value, ast.Dict | ast.List | ast.Set) for value in defaults):
                found.append((node.lineno, "mutable default"))
    return [f"{source.name}:{line}: {what}" for line, what in found]


def undocumented(source: Source) -> list[str]:
    """List public functions, nested ones included, without docstring or return annotation."""
    return [
        f"{source.name}:{function.lineno}: {function.name}"
        for function in source.functions
        if not function.name.startswith("_") and (ast.get_docstring(function) is None or function.returns is None)
    ]


@pytest.mark.parametrize("package", PACKAGES)
def test_files_are_short(package):
    """No file is longer than the bar, and the median file is far shorter."""
    sizes = {source.name: source.text.count("\n") for source in python_sources(ROOT, package)}
    assert {name: size for name, size in sizes.items() if size > FILE_MAX and name not in LONGER} == {}
    assert statistics.median(sizes.values()) <= FILE_MEDIAN


@pytest.mark.parametrize("package", PACKAGES)
def test_functions_are_short(package):
    """No function is longer than the bar; nine in ten and the median are far shorter."""
    functions = [(f"{s.name}.{f.name}", length(f)) for s in python_sources(ROOT, package) for f in s.functions]
    assert [(name, lines) for name, lines in functions if lines > FUNCTION_MAX and name not in LONGER] == []
    lengths = sorted(lines for _, lines in functions)
    assert lengths[int(0.9 * len(lengths))] <= FUNCTION_P90
    assert statistics.median(lengths) <= FUNCTION_MEDIAN


@pytest.mark.parametrize("package", PACKAGES)
def test_public_functions_are_documented(package):
    """Every public function has a docstring and a return annotation."""
    assert [line for source in python_sources(ROOT, package) for line in undocumented(source)] == []


@pytest.mark.parametrize("package", PACKAGES)
def test_no_bad_habits(package):
    """There is no bare except, star import or mutable default."""
    assert [line for source in python_sources(ROOT, package) for line in bad_habits(source)] == []


def test_the_measure_itself():
    """A planted function of known length and three planted habits are measured as they are."""
    text = '''from os import *
def plain(a=[]):
    """Two lines of docstring
    do not count."""
    try:
        return a
    except:
        raise
'''
    source = Source("planted", ROOT / "planted.py", text)
    assert [length(function) for function in source.functions] == [5]
    assert sorted(what.split(": ")[1] for what in bad_habits(source)) == [
        "bare except",
        "mutable default",
        "star import",
    ]
    assert undocumented(source) == ["planted:2: plain"]
