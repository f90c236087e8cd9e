"""What the package shows to its users, and what it costs to import."""

import inspect
import subprocess
import sys

from architecture.sources import ROOT

import advisor

HEAVY = ("pandas", "pgmpy", "sqlalchemy", "flask", "pyagrum", "matplotlib")


def said(code: str) -> str:
    """Give what a fresh interpreter prints, errors included."""
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    return (run.stdout + run.stderr).strip()


def glossary() -> str:
    """Give the glossary of the developers' page."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return text.partition("\n## Glossary\n")[2].partition("\n## ")[0]


def test_exports_are_few():
    """The package lists its public names, at most twenty, each of which exists."""
    assert 0 < len(advisor.__all__) <= 20
    assert len(set(advisor.__all__)) == len(advisor.__all__)
    assert [name for name in advisor.__all__ if not hasattr(advisor, name)] == []


def test_exports_are_explained():
    """Each public name has a docstring of its own and stands in the glossary."""
    assert [name for name in advisor.__all__ if not inspect.getdoc(getattr(advisor, name))] == []
    assert [name for name in advisor.__all__ if f"`{name}`" not in glossary()] == []


def test_importing_the_package_is_light():
    """A fresh interpreter that imports the package has loaded none of the heavy libraries."""
    code = f"import advisor, sys; print([name for name in {HEAVY!r} if name in sys.modules])"
    assert said(code) == "[]"


def test_the_command_line_starts_before_numpy():
    """The serving command can set how many threads linear algebra takes, which is read when numpy is loaded."""
    code = "import advisor.cli, api.serve, sys; print('numpy' in sys.modules)"
    assert said(code) == "False"


def test_advising_loads_no_store():
    """The commands that keep no cases start without the libraries of the store."""
    loaded = "[name for name in ('sqlalchemy', 'alembic') if name in sys.modules]"
    code = f"import advisor.cli.advise, advisor.cli.plan, sys; print({loaded})"
    assert said(code) == "[]"


def test_serving_and_advising_import_no_analyst_library():
    """The edges load neither pgmpy nor pandas, which a serving machine need not even have."""
    loaded = "[n for n in ('pandas', 'pandera', 'pgmpy', 'pyarrow') if n in sys.modules]"
    code = f"import advisor.cli, api.serve, sys; print({loaded})"
    assert said(code) == "[]"
