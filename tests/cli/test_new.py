"""`advisor new`: the start file of the guide in models/README.md passes the check."""

import re
import shutil

import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.knowledge.reader import read_schematic
from advisor.knowledge.shipped import shipped


@pytest.fixture
def models(tmp_path):
    """A copy of the shipped model files."""
    return shutil.copytree(shipped("models"), tmp_path / "models")


def run(*arguments):
    """The command's result."""
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def test_the_guides_start_file_passes_the_check(models):
    """The command as the guide prints it, for the copied vehicle; the check finds nothing and grades it."""
    printed = re.search(r"`advisor (new [a-z-]+ --vehicle) (\S+)`", (models / "README.md").read_text("utf-8"))
    words, vehicle = printed[1].split(), models.parent / printed[2]
    made = run(*words, vehicle)
    assert made.exit_code == 0, made.output
    path = vehicle.parent / "circuits" / "step-light.yaml"
    assert set(read_schematic(path).symptoms) == {"dead", "always-on"}
    checked = run("check", path)
    assert checked.exit_code == 0, checked.output
    assert "step-light.yaml: good" in checked.output.replace("\n", "")


def test_nothing_is_written_over(models):
    """A file that is there stays as it is."""
    vehicle = models / "quellmar-p3/vehicle.yaml"
    before = (models / "quellmar-p3/circuits/horn.yaml").read_text("utf-8")
    assert run("new", "horn", "--vehicle", vehicle).exit_code == 2
    assert (models / "quellmar-p3/circuits/horn.yaml").read_text("utf-8") == before


def test_an_id_is_an_id(models):
    """A name with a slash is refused before anything is read."""
    found = run("new", "../horn", "--vehicle", models / "quellmar-p3/vehicle.yaml")
    assert found.exit_code == 2
    assert "letters, digits" in found.output
