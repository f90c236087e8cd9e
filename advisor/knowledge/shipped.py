"""Where the shipped knowledge files and data sets lie, in a wheel and in a checkout alike."""

from __future__ import annotations

from pathlib import Path

from advisor.errors import UnknownModelError

_PACKAGE = Path(__file__).resolve().parents[1]
# A wheel carries the folders inside the package; a checkout has them beside it.
_HOMES = (_PACKAGE / "shipped", _PACKAGE.parent)


def shipped(name: str) -> Path:
    """Return the folder of shipped files called `name`, such as models or datasets.

    Raises:
        UnknownModelError: This installation has no such folder.

    """
    for home in _HOMES:
        if (home / name).is_dir():
            return home / name
    raise UnknownModelError(f"this installation has no folder {name!r}; install the package again")


def shipped_circuits() -> dict[str, Path]:
    """Return the shipped circuits, id to file; a circuit's file is called by its id."""
    return {path.stem: path for path in sorted(shipped("models").glob("*/circuits/*.yaml"))}


def shipped_models() -> dict[str, Path]:
    """Return everything shipped that advice can be given on, circuits and tables, id to file."""
    found = shipped_circuits() | {path.stem: path for path in shipped("models").glob("*/tables/*.yaml")}
    return dict(sorted(found.items()))
