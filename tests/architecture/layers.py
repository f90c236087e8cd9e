"""The layer table as data, and what breaks it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from architecture.sources import Source

# From the top down. A module may import from rows below its own, and from its own entry, but from no other entry
# of its row. "advisor" alone is the package's __init__; every other module belongs to the entry that it starts with.
ROWS: tuple[tuple[str, ...], ...] = (
    ("api", "advisor.cli"),
    ("advisor.refit", "advisor.cases"),
    ("advisor.store",),
    ("advisor",),
    ("advisor.engine",),
    ("advisor.contract",),
    ("advisor.decision", "advisor.drawing"),
    ("advisor.knowledge",),
    ("advisor.circuit", "advisor.network"),
    ("advisor.units",),
    ("advisor.errors",),
)

# (importing module, imported module) → why this one may point up or sideways.
EXCEPTIONS: Mapping[tuple[str, str], str] = {}

# The one place of each outside library, so that replacing it touches one layer.
HOMES: Mapping[str, tuple[str, ...]] = {
    "alembic": ("advisor.store",),
    "click": ("advisor.cli", "api"),
    "rich": ("advisor.cli",),
    "flask": ("api",),
    "jinja2": ("advisor.cli", "api"),
    "waitress": ("api",),
    "werkzeug": ("api",),
    "markupsafe": ("api",),
    "prometheus_client": ("api",),
    "psycopg": ("advisor.store",),
    "pydantic": ("advisor.contract", "advisor.knowledge", "api"),
    "scipy": ("advisor.knowledge", "advisor.network", "advisor.refit"),
    "pyarrow": ("advisor.cases", "advisor.refit"),
    "pandas": ("advisor.refit",),
    "pandera": ("advisor.refit",),
    "distributed": ("advisor.refit",),
    "structlog": ("api",),
    "sqlalchemy": ("advisor.store",),
    "yaml": ("advisor.knowledge",),
}


def layer_of(module: str) -> str | None:
    """Name the table's entry that a module belongs to, None where there is none."""
    if module == "advisor":
        return module
    entries = [entry for row in ROWS for entry in row if entry != "advisor"]
    return next((entry for entry in entries if module == entry or module.startswith(f"{entry}.")), None)


def row_of(layer: str) -> int:
    """Count the row of an entry from the top."""
    return next(number for number, row in enumerate(ROWS) if layer in row)


def graph(sources: Sequence[Source]) -> dict[str, set[str]]:
    """Map each module to the project's modules that it imports; a name counts for the module that holds it."""
    names = {source.name for source in sources}
    edges: dict[str, set[str]] = {source.name: set() for source in sources}
    for source in sources:
        for found in source.imports:
            target = found.target
            while target and target not in names:
                target = target.rpartition(".")[0]
            if target and target != source.name:
                edges[source.name].add(target)
    return edges


def violations(
    sources: Sequence[Source], exceptions: Mapping[tuple[str, str], str] = EXCEPTIONS
) -> list[tuple[str, str, str]]:
    """List (importer, imported, what is wrong) for every module without a layer and every import up or sideways."""
    edges = graph(sources)
    found = [(module, "", "has no layer in the table") for module in edges if layer_of(module) is None]
    for importer, targets in edges.items():
        for imported in sorted(targets):
            above, below = layer_of(importer), layer_of(imported)
            if above is None or below is None or above == below or (importer, imported) in exceptions:
                continue
            if row_of(below) == row_of(above):
                found.append((importer, imported, "is a sibling of its row"))
            elif row_of(below) < row_of(above):
                found.append((importer, imported, "is above it"))
    return found


def cycles(edges: Mapping[str, set[str]]) -> list[str]:
    """List the modules that reach themselves again through imports."""
    return sorted(module for module in edges if module in _reach(edges, module))


def _reach(edges: Mapping[str, set[str]], start: str) -> set[str]:
    """Give every module that one imports, directly or not."""
    seen: set[str] = set()
    waiting = [start]
    while waiting:
        new = edges[waiting.pop()] - seen
        seen |= new
        waiting.extend(new)
    return seen
