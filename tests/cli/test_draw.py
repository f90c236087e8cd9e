"""The commands that draw."""

from xml.etree import ElementTree

import fakes
import pytest
from click.testing import CliRunner

from advisor.cli import main


def run(*arguments):
    """Run a command over the hand-built engine."""
    return CliRunner().invoke(main, list(arguments), obj=fakes.engine())


def test_a_face_is_a_grid_in_the_terminal():
    """Without a file a face is printed as numbers, mirrored when one looks at the contacts."""
    wires, contacts = (run("face", "C12", "--side", side, "--mark", "7").stdout for side in ("wires", "contacts"))
    assert wires.splitlines()[3].split() == [".6", "[7]", ".8", "9", ".10"]
    assert contacts.splitlines()[3].split() == [".10", "9", ".8", "[7]", ".6"]


def test_a_face_is_written_as_svg(tmp_path):
    """With -o the face is an SVG file, with the marked cavity as the place to probe."""
    done = run("face", "C12", "--circuit", "belt-reminder", "--mark", "7", "-o", str(tmp_path / "face.svg"))
    assert done.exit_code == 0
    assert "probe here at cavity 7" in (tmp_path / "face.svg").read_text("utf-8")
    assert ElementTree.parse(tmp_path / "face.svg").getroot().tag.endswith("svg")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("face", "X99"), "there is no connector 'X99'; there is C12"),
        (("face", "C12", "--mark", "77"), "C12 has no cavity '77'"),
        (("face", "C12", "--half", "b"), "C12 has no halves"),
        (("face", "C12", "-o", "no-such-folder/face.svg"), "cannot write"),
        (("draw", "no-such-circuit"), "no-such-circuit"),
    ],
)
def test_what_does_not_exist_is_said(arguments, said):
    """A wrong name is a usage error in plain words."""
    done = run(*arguments)
    assert done.exit_code == 2
    assert said in done.output


def test_a_circuit_is_drawn(tmp_path):
    """The circuit goes to standard output or to a file, tinted after a complaint."""
    plain = run("draw", "belt-reminder")
    assert ElementTree.fromstring(plain.stdout).tag.endswith("svg")
    done = run("draw", "belt-reminder", "--symptom", "lamp-stays-dark", "-o", str(tmp_path / "x.svg"))
    assert done.exit_code == 0
    assert "suspect-3" in (tmp_path / "x.svg").read_text("utf-8")
