"""Model files opened and followed: what a file that names another finds there, each with its notes."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from advisor.knowledge.notes import Notes
from advisor.knowledge.read_chart import FORMAT as CHART_FORMAT
from advisor.knowledge.read_circuit import FORMAT as CIRCUIT_FORMAT
from advisor.knowledge.read_library import FORMAT as LIBRARY_FORMAT
from advisor.knowledge.read_roles import FORMAT as NETWORK_FORMAT
from advisor.knowledge.read_spares import FORMAT as SPARES_FORMAT
from advisor.knowledge.read_tables import FORMAT as TABLE_FORMAT
from advisor.knowledge.read_vehicle import FORMAT as VEHICLE_FORMAT
from advisor.knowledge.yaml_nodes import YamlMap, YamlNode, YamlScalar, load_yaml

FORMATS = (LIBRARY_FORMAT, VEHICLE_FORMAT, CIRCUIT_FORMAT, CHART_FORMAT, TABLE_FORMAT, NETWORK_FORMAT, SPARES_FORMAT)


@dataclass(frozen=True)
class Opened:
    """A model file that was opened: its root, None where it cannot be read, and what was noted."""

    path: Path
    root: YamlNode | None
    notes: Notes


def open_file(path: Path, expected: str) -> Opened:
    """Open a file that should have the `expected` format; one that says to be of another is not looked into."""
    opened = load_file(path)
    other = other_format(opened, expected)
    if other is None:
        return opened
    opened.notes.report(other.at, f"expected a file of format {expected}, found {other.text}")
    return replace(opened, root=None)


def load_file(path: Path) -> Opened:
    """Open a file of any format."""
    root, problems = load_yaml(path)
    return Opened(path, root, Notes(problems=problems))


def other_format(opened: Opened, expected: str) -> YamlScalar | None:
    """Return what the key `format` says if that is a known format, but not the expected one."""
    written = opened.root.find("format") if isinstance(opened.root, YamlMap) else None
    other = isinstance(written, YamlScalar) and written.text in FORMATS and written.text != expected
    return written if other and isinstance(written, YamlScalar) else None


def follow(opened: Opened, key: str, expected: str, usual: str | None = None) -> Opened | None:
    """Open the file that a key names, relative to its own file; without a good one, the usual file if it exists."""
    written = named(opened, key)
    if written is not None:
        target = beside(opened.path, written.text)
        followed = load_file(target) if is_file(target) else None
        other = other_format(followed, expected) if followed else None
        if followed and not other:
            return followed
        what = f"is of format {other.text}, expected {expected}" if other else "does not exist"
        opened.notes.report(written.at, f"{key}: the file {str(target)!r} {what}")
    fallback = beside(opened.path, usual) if usual else None
    return open_file(fallback, expected) if fallback and is_file(fallback) else None


def named(opened: Opened, key: str) -> YamlScalar | None:
    """What a key says if it says a text."""
    written = opened.root.find(key) if isinstance(opened.root, YamlMap) else None
    return written if isinstance(written, YamlScalar) and isinstance(written.value, str) else None


def beside(path: Path, relative: str) -> Path:
    """The path of a file that another one names."""
    return Path(os.path.normpath(path.parent / relative))


def is_file(path: Path) -> bool:
    """Tell whether a path can be read as a file; one that no system takes cannot."""
    try:
        return path.is_file()
    except OSError:
        return False


def paths_of(files: Sequence[Opened]) -> tuple[str, ...]:
    """Return where files are, each once, in order."""
    return tuple(sorted({str(opened.path.resolve()) for opened in files}))
