"""The commands about releases of priors."""

import json

import pytest
from click.testing import CliRunner

from advisor.cli import main

FILE = {
    "format": "priors/1",
    "name": "north-1",
    "verdict": "no worse",
    "factors": {"belt-reminder": {"belt-lamp/open": {"factor": 40.0}, "battery/weak": {"factor": 0.5}}},
}


@pytest.fixture
def run(tmp_path, monkeypatch):
    """Give a runner of commands on a store of its own."""
    monkeypatch.setenv("ADVISOR_STORE", str(tmp_path / "cases.sqlite"))
    return lambda *words: CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture
def file(tmp_path):
    """A release as a file."""
    path = tmp_path / "north.json"
    path.write_text(json.dumps(FILE))
    return path


def test_a_release_goes_its_way(run, file):
    """Added, shown, compared, put in force for one shop, taken back."""
    name = run("release", "add", file).stdout.strip()
    assert name.startswith("north-1@")
    shown = run("release", "show", name).output
    assert "no worse" in shown and "x 40.00" in shown and shown.index("belt-lamp/open") < shown.index("battery/weak")
    assert json.loads(run("release", "show", name, "--json").stdout)["content"] == FILE
    compared = json.loads(run("release", "compare", "handbook-1", name, "--json").stdout)
    assert [row["cause"] for row in compared["moved"]] == ["belt-lamp/open", "battery/weak"]
    assert run("release", "compare", name, name).output.endswith("no difference\n")
    assert run("release", "activate", name, "--shop", "north").output == f"in force: {name}\n"
    assert "in force: handbook-1" in run("release", "list").output
    assert f"in force: {name}" in run("release", "list", "--shop", "north").output
    assert run("release", "rollback", "--shop", "north").output == "in force: handbook-1\n"
    assert run("release", "rollback", "--shop", "north").exit_code == 2
    assert run("release", "activate", name).output == f"in force: {name}\n"
    assert run("release", "rollback").output == "in force: handbook-1\n"


def test_advice_under_a_file_says_so(run, file):
    """An analyst tries a release before it is anywhere."""
    words = ("advise", "belt-reminder", "--symptom", "lamp-stays-dark", "--depth", "1", "--json")
    plain, under = (json.loads(run(*words, *more).stdout) for more in ((), ("--priors", file)))
    assert under["release"]["priors"].startswith("north-1@")
    first = {c["cause"]: c["probability"] for c in plain["causes"]}
    assert next(c["probability"] for c in under["causes"] if c["cause"] == "belt-lamp/open") > first["belt-lamp/open"]


def test_what_is_no_release_is_refused(run, tmp_path):
    """A file that is none, and a name that nobody has."""
    (tmp_path / "no.json").write_text("{}")
    refused = run("release", "add", tmp_path / "no.json")
    assert refused.exit_code == 2 and "#/factors" in refused.output
    assert run("release", "activate", "north-1@0123456789ab").exit_code == 2
