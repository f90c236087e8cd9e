"""`advisor simulate` at the terminal: tables, JSON, a deck, and refusals."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.knowledge.shipped import shipped_circuits

ASKED = ("belt-reminder", "--set", "ignition=run", "--set", "belt=unfastened", "--fault", "W106/high-resistance@100")


def run(*args: str):
    """Run the command as a person does."""
    return CliRunner().invoke(main, ["simulate", *args])


def test_json_says_everything():
    """Nodes, currents, loads, drivers, fuses and the test's reading are in the JSON, numbers as numbers."""
    result = run(*ASKED, "--test", "volts.C12-7.reminding", "--json")
    assert result.exit_code == 0
    document = json.loads(result.stdout)
    assert document["circuit"] == "belt-reminder"
    assert document["settings"]["belt"] == "unfastened"
    assert document["faults"] == ["W106/high-resistance@94.9"]
    # 12.6 V over 1 kohm of pull-up and 94.9 ohm of bad ground wire.
    assert document["nodes"]["C12/7"] == pytest.approx(12.6 * 94.9 / 1094.9, abs=0.02)
    assert document["currents"]["buckle-switch"] == pytest.approx(12.6 / 1094.9, rel=0.01)
    assert set(document["loads"]["belt-lamp"]) == {"volts", "amps", "share", "look"}
    assert document["drivers"]["belt-unit/lamp"] is True
    assert document["blown_fuses"] == []
    assert document["unsteady"] is False
    assert document["test"]["value"] == pytest.approx(document["nodes"]["C12/7"], abs=0.01)
    assert document["test"]["outcome"] == "raised"
    assert json.loads(run("belt-reminder", "--json").stdout)["test"] is None


def test_tables_for_a_person():
    """Without --json the same is told in tables and lines."""
    output = run(*ASKED, "--unplug", "X31", "--test", "volts.C12-7.reminding").output
    for text in ("C12/7", "belt-lamp", "output belt-unit/lamp: off", "blown fuses: none", "unplugged: X31", " V ("):
        assert text in output


def test_a_deck_is_written(tmp_path):
    """--spice writes the state as a deck that names vehicle, faults and setup."""
    path = tmp_path / "state.cir"
    assert run(*ASKED, "--jumper", "C12/9:B-", "--spice", str(path)).exit_code == 0
    text = path.read_text(encoding="ascii")
    for line in ("invented", "* faults: W106/high-resistance@94.9", "jumper: C12/9 to B-", ".op\n.end"):
        assert line in text


def test_a_file_instead_of_an_id():
    """A circuit may be named by its file."""
    path = shipped_circuits()["reversing-lamps"]
    assert json.loads(run(str(path), "--json").stdout)["circuit"] == "reversing-lamps"


@pytest.mark.parametrize(
    ("args", "message"),
    [
        (("belt-remainder",), "did you mean 'belt-reminder'"),
        (("belt-reminder", "--set", "belt"), "--set takes CONTROL=VALUE, not 'belt'"),
        (("belt-reminder", "--set", "belt=fastened", "--set", "belt=unfastened"), "gives 'belt' two values"),
        (("belt-reminder", "--jumper", "C12/9"), "--jumper takes two nodes A:B, not 'C12/9'"),
        (("belt-reminder", "--fault", "G4/opn"), "did you mean 'G4/open'"),
        (("engine-runs-hot",), "engine-runs-hot is a model of tables: there is no circuit to solve"),
        (("engine-runs-hot", "--spice", "x.cir"), "no circuit to solve or to write as a SPICE deck"),
        (("belt-reminder", "--spice", "/nowhere/at/all.cir"), "cannot write '/nowhere/at/all.cir'"),
    ],
)
def test_refusals_end_with_two(args, message):
    """What cannot be met is told in one line, with the way out, and ends with 2; with --json as JSON on stdout."""
    result = run(*args)
    assert result.exit_code == 2
    assert message in result.output
    assert "Traceback" not in result.output
    told = run(*args, "--json")
    assert told.exit_code == 2
    assert json.loads(told.stdout)
