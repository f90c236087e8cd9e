"""Imports point down, and the table knows every module."""

from pathlib import Path

import pytest
from architecture.layers import EXCEPTIONS, HOMES, cycles, graph, layer_of, violations
from architecture.sources import PACKAGES, ROOT, Source, project_sources, python_sources


def plant(root: Path, files: dict[str, str]) -> list[Source]:
    """Write a small tree of modules and read it back."""
    for name, text in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return python_sources(root, *PACKAGES)


def test_every_import_points_down():
    """No module lacks a layer, imports from above, or knows a sibling."""
    sources = project_sources()
    assert len(sources) > 10
    assert violations(sources) == []


def test_no_import_cycles():
    """No module reaches itself through imports, not even inside one layer."""
    assert cycles(graph(project_sources())) == []


def test_imports_are_absolute():
    """No import starts with a dot, so that a line says by itself where it points."""
    relative = [f"{s.path.name}:{found.line}" for s in project_sources() for found in s.imports if found.relative]
    assert relative == []


def test_private_names_stay_in_their_module():
    """No module imports a name or module with a leading underscore from another."""
    private = [
        f"{source.name} imports {found.target}"
        for source in project_sources()
        for found in source.imports
        if found.target.startswith(PACKAGES) and any(part.startswith("_") for part in found.target.split("."))
    ]
    assert private == []


def test_outside_libraries_stay_in_their_layer():
    """Each outside library of the table is imported in its own layers only."""
    strays = [
        f"{source.name} imports {found.target}"
        for source in project_sources()
        for found in source.imports
        if layer_of(source.name) not in HOMES.get(found.target.split(".")[0], (layer_of(source.name),))
    ]
    assert strays == []


def test_exceptions_are_used_and_reasoned():
    """An exception of the table names a real import and says why in a sentence."""
    edges = graph(project_sources())
    assert [pair for pair in EXCEPTIONS if pair[1] not in edges.get(pair[0], ())] == []
    assert [pair for pair, reason in EXCEPTIONS.items() if len(reason.split()) < 5] == []


def test_project_is_where_the_tests_look():
    """The packages stand beside the tests."""
    assert all((ROOT / package / "__init__.py").exists() for package in PACKAGES)


@pytest.mark.parametrize(
    ("file", "line", "complaint"),
    [
        ("advisor/errors.py", "from advisor.units import volts", "is above it"),
        ("advisor/errors.py", "from advisor import load", "is above it"),
        ("advisor/circuit/solve.py", "import advisor.network.findings", "is a sibling of its row"),
        ("advisor/cli.py", "def f():\n    from api.serve import serve", "is a sibling of its row"),
        ("advisor/knowledge/reader.py", "from advisor.decision import advice", "is above it"),
        ("advisor/drawer.py", "", "has no layer in the table"),
    ],
)
def test_planted_violation_is_caught(tmp_path, file, line, complaint):
    """One wrong line in a sound tree gives exactly its complaint."""
    sound = {
        "advisor/__init__.py": "from advisor.contract.service import advise",
        "advisor/errors.py": "",
        "advisor/units.py": "from advisor.errors import AdvisorError",
        "advisor/circuit/__init__.py": "",
        "advisor/network/__init__.py": "",
        "advisor/network/findings.py": "from advisor import errors",
        "advisor/knowledge/__init__.py": "",
        "advisor/decision/__init__.py": "",
        "advisor/decision/advice.py": "",
        "advisor/contract/service.py": "from advisor.decision import advice",
        "advisor/cli.py": "from advisor import advise",
        "api/serve.py": "import advisor",
    }
    assert violations(plant(tmp_path / "sound", sound)) == []
    broken = violations(plant(tmp_path / "broken", {**sound, file: line}))
    assert [what for *_, what in broken] == [complaint]


def test_planted_exception_is_obeyed(tmp_path):
    """A pair in the table of exceptions is no violation."""
    sources = plant(tmp_path, {"advisor/errors.py": "from advisor.units import a", "advisor/units.py": "a = 1"})
    assert violations(sources, {("advisor.errors", "advisor.units"): "for this test"}) == []


def test_planted_cycle_is_caught(tmp_path):
    """Two modules of one layer that import each other are both named, and their innocent user is not."""
    sources = plant(
        tmp_path,
        {
            "advisor/circuit/a.py": "from advisor.circuit.b import B",
            "advisor/circuit/b.py": "import advisor.circuit.a",
            "advisor/circuit/c.py": "from advisor.circuit import a",
        },
    )
    assert cycles(graph(sources)) == ["advisor.circuit.a", "advisor.circuit.b"]
