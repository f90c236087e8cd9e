"""A network with roles on the command line: a whole diagnosis, as with any circuit."""

import json

import examples
import numpy as np
from click.testing import CliRunner

from advisor.cli import main
from advisor.cli.check import check_file


def advise(*args):
    """The answer of the command."""
    done = CliRunner().invoke(main, ["advise", "win95pts", *args, "--depth", "1", "--json"], obj=examples.engine())
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def test_a_whole_diagnosis():
    """From the complaint, test after test as the advice says, to the repair and its proof.

    The printer is off; every test comes out as is likeliest then.
    """
    model = examples.win95()
    row = next(
        h
        for h in range(3, len(model.compiled.members))
        if model.compiled.causes[model.compiled.members[h, 0]] == "printer/off"
    )
    said, tried = ["--symptom", "no-output"], []
    for _ in range(12):
        step = advise(*said)["next"]
        if step["kind"] != "test":
            break
        tried.append(step["id"])
        outcomes = [outcome.id for outcome in model.tests[step["id"]].outcomes]
        said += ["--finding", f"{step['id']}={outcomes[int(np.argmax(model.chances[step['id']][row]))]}"]
    assert (step["kind"], step["id"]) == ("repair", "repair-printer")
    assert "status-power" in tried
    done = advise(*said, "--repair", "repair-printer=gone")
    assert done["no_fault"] > 0.5 or done["next"]["kind"] != "test"


def test_tables_for_a_person():
    """Without --json the causes, the next tests and the repairs are printed."""
    done = CliRunner().invoke(
        main, ["advise", "win95pts", "--symptom", "garbled", "--depth", "1"], obj=examples.engine()
    )
    assert done.exit_code == 0
    assert "printer memory: less than 2 MB" in done.output
    assert "next tests" in done.output


def test_the_example_is_good(monkeypatch):
    """The example that comes along has no problem, and each of its symptoms has causes."""
    monkeypatch.setenv("ADVISOR_CACHE", str(examples.folder()))
    checked = check_file(examples.WIN95)
    assert checked.grade.problems == ()
    assert all(checked.grade.symptom_causes.values())


def test_a_network_is_no_circuit():
    """There is nothing to solve in it, and the command says so."""
    done = CliRunner().invoke(main, ["simulate", str(examples.WIN95), "--set", "ignition=run"])
    assert done.exit_code == 2
    assert "a model of a network" in done.output


def test_a_network_is_a_file_already(monkeypatch, tmp_path):
    """There is nothing to export, and the command says where the network stands."""
    monkeypatch.setenv("ADVISOR_CACHE", str(examples.folder()))
    output = tmp_path / "out.bif"
    done = CliRunner().invoke(main, ["export", str(examples.WIN95), "--format", "bif", "-o", str(output)])
    assert done.exit_code == 2
    assert "pgmpy:win95pts" in done.output
    assert not output.exists()
