"""Where shipped files are found."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.errors import UnknownModelError
from advisor.knowledge import shipped as module
from advisor.knowledge.reader import read_schematic
from advisor.knowledge.shipped import shipped, shipped_circuits, shipped_models


def test_circuits_are_found_by_their_id() -> None:
    """Each shipped circuit is listed under the id that its file states."""
    circuits = shipped_circuits()
    assert {"belt-reminder", "blower", "reversing-lamps", "horn", "cooling-fan", "heated-rear-window"} <= set(circuits)
    assert {name: read_schematic(path).id for name, path in circuits.items()} == {name: name for name in circuits}


def test_models_are_circuits_and_tables() -> None:
    """What advice can be given on is listed by id, circuits and tables alike."""
    assert list(shipped_models()) == sorted([*shipped_circuits(), "cranks-but-does-not-start", "engine-runs-hot"])


def test_data_sets_are_found() -> None:
    """The folder of data sets is found like the models."""
    assert (shipped("datasets") / "README.md").is_file()


def test_unknown_folder_is_refused() -> None:
    """A folder that is not shipped gives an error of the project."""
    with pytest.raises(UnknownModelError, match="no-such-folder"):
        shipped("no-such-folder")


def test_a_wheel_has_its_folders_inside_the_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of two homes the first that has the folder is taken: inside the package, then beside it."""
    monkeypatch.setattr(module, "_HOMES", (tmp_path / "advisor/shipped", tmp_path))
    (tmp_path / "models").mkdir()
    assert shipped("models") == tmp_path / "models"
    (tmp_path / "advisor/shipped/models").mkdir(parents=True)
    assert shipped("models") == tmp_path / "advisor/shipped/models"
