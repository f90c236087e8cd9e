"""The commands on repair orders: what they print, write and refuse, and that nothing of them is a traceback."""

import csv
import io
import json

import pytest
from architecture.sources import ROOT
from click.testing import CliRunner
from pyarrow import parquet
from shipped_models import small_model

import advisor.cli.orders
from advisor.cli import main

OTHER = str(ROOT / "datasets" / "other-system.csv")
MAPPING = str(ROOT / "datasets" / "mapping-example.yaml")
FEW = ("belt-reminder", "engine-runs-hot")


@pytest.fixture
def run(monkeypatch):
    """Run the command with small models."""
    monkeypatch.setattr(advisor.cli.orders, "load", lambda name, **_: small_model(name))
    return lambda *arguments: CliRunner().invoke(main, ["orders", *map(str, arguments)])


def test_a_file_of_another_system_is_checked(run, tmp_path):
    """Counts, reasons and places are printed; accepted rows and rejects are written; exit 1 as rows were rejected."""
    accepted, rejects = tmp_path / "a.parquet", tmp_path / "r.csv"
    done = run("check", OTHER, "--mapping", MAPPING, "--accepted", accepted, "--rejects", rejects)
    assert done.exit_code == 1
    assert "other-system.csv: 7 rows, 4 accepted, 3 rejected" in done.output
    assert "other-system.csv:8:6" in done.output and "units-mixed" in done.output
    assert parquet.read_table(accepted).num_rows == 4
    rows = list(csv.reader(io.StringIO(rejects.read_bytes().decode(), newline="")))
    assert [row[0] for row in rows] == ["line", "6", "7", "8"]
    again = run("check", accepted)
    assert (again.exit_code, "4 rows, 4 accepted, 0 rejected" in again.output) == (0, True)


def test_json_has_every_reason(run):
    """With --json a program gets counts and every reason with its place."""
    told = json.loads(run("check", OTHER, "--mapping", MAPPING, "--json").output)
    assert (told["rows"], told["accepted"], told["rejected"]) == (7, 4, 3)
    assert told["reasons"] == {"not-a-date": 1, "units-mixed": 1, "unknown-value": 1}
    assert [(e["line"], e["cell"], e["column"], e["reason"]) for e in told["errors"]] == [
        (6, 3, "Complaint", "unknown-value"),
        (7, 4, "Date in", "not-a-date"),
        (8, 6, "Mileage", "units-mixed"),
    ]


def test_without_its_mapping_no_row_is_taken(run):
    """The columns of another system are not guessed."""
    done = run("check", OTHER)
    assert done.exit_code == 1
    assert "7 rows, 0 accepted, 7 rejected" in done.output and "unknown-column" in done.output


def test_demo_patterns_and_check_go_together(run, monkeypatch, tmp_path):
    """Orders are made by seed, checked, counted; the same command again goes on from what is there."""
    from advisor.knowledge import shipped

    known = shipped.shipped_models()
    monkeypatch.setattr(shipped, "shipped_models", lambda: {name: known[name] for name in FEW})
    made, accepted, counted = tmp_path / "demo.csv", tmp_path / "a.parquet", tmp_path / "p.parquet"
    assert run("demo", "--seed", 1, "--orders", 60, "-o", made).exit_code == 0
    truth = json.loads((tmp_path / "demo-truth.json").read_text())
    assert (truth["orders"], len(truth["planted"]), sorted(truth["factors"])) == (60, 2, sorted(FEW))
    told = json.loads(run("check", made, "--accepted", accepted, "--json").output)
    assert sorted({error["line"] for error in told["errors"]}) == sorted(map(int, truth["planted"]))
    for _ in range(2):
        done = run("patterns", accepted, "-o", counted)
        assert done.exit_code == 0, done.output
        assert f"of {told['accepted']} orders" in done.output
    assert sum(parquet.read_table(counted)["count"].to_pylist()) == told["accepted"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("check", "nowhere.csv"), "nowhere.csv:1:1: cannot be read"),
        (("check", OTHER, "--mapping", OTHER), "other-system.csv:1:"),
        (("check", OTHER, "--rejects", "no/such/folder/r.csv"), "cannot write"),
        (("patterns", "nowhere", "-o", "p.parquet"), "no Parquet file"),
        (("demo", "--seed", "-1"), "--seed"),
        (("demo", "--seed", "1", "-o", "no/such/folder/d.csv"), "no folder"),
    ],
)
def test_what_cannot_be_done_is_said(run, arguments, said, tmp_path, monkeypatch):
    """A wrong file, mapping, folder or seed ends with exit code 2 and a line that says what to mend."""
    monkeypatch.chdir(tmp_path)
    done = run(*arguments)
    assert done.exit_code == 2
    assert said in done.output and "Traceback" not in done.output


def test_a_missing_extra_is_said_in_words(run, monkeypatch):
    """Where the analyst's libraries are not installed, the command says which extra has them."""
    monkeypatch.setattr(advisor.cli.orders, "find_spec", lambda name: None if name == "pandera" else object())
    done = run("check", OTHER)
    assert (done.exit_code, "pandera needs the extra analyst" in done.output) == (2, True)
