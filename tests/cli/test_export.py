"""The command that writes the network."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from outside_engines import pyagrum
from shipped_models import TABLES, drawn, small_model

import advisor
from advisor.cli.export import export
from advisor.errors import UsageError
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import posterior
from advisor.network.findings import SymptomFinding

MODELS = (*drawn("export"), *TABLES)


@pytest.fixture(autouse=True)
def small(monkeypatch):
    """Load circuits compiled small."""
    monkeypatch.setattr(advisor, "load", small_model)


def run(tmp_path, *args):
    """Write a network and give its text, its names and what was printed."""
    path = tmp_path / "out.bif"
    result = CliRunner().invoke(export, [*args, "-o", str(path)], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return path, json.loads((tmp_path / "out.bif.names.json").read_text(encoding="utf-8"))["nodes"], result.output


@pytest.mark.parametrize("circuit", MODELS)
def test_names_lead_back_to_the_model(tmp_path, circuit):
    """Every test, part and symptom is in the map once, every node of the map in the text."""
    path, nodes, printed = run(tmp_path, circuit, "--format", "bif")
    worlds, text = small_model(circuit).worlds, path.read_text(encoding="utf-8")
    assert [node["test"] for node in nodes.values() if "test" in node] == list(worlds.tests)
    assert [node["symptom"] for node in nodes.values() if "symptom" in node] == list(worlds.symptoms)
    assert {
        f"{node['part']}/{mode}"
        for node in nodes.values()
        if "part" in node
        for mode in node["states"].values()
        if mode
    } == set(worlds.causes)
    assert [outcome for node in nodes.values() if "test" in node for outcome in node["states"].values()] == [
        outcome for outcomes in worlds.outcomes for outcome in outcomes
    ]
    assert len(nodes["fault"]["states"]) == len(worlds.members)
    assert all(f"variable {name} {{" in text for name in nodes)
    assert f"{len(worlds.members)} hypotheses" in printed


def test_another_program_reads_the_same_answer(tmp_path):
    """A complaint asked of the file by pyAgrum gives the causes that the engine gives, to single precision."""
    path, nodes, _ = run(tmp_path, "reversing-lamps", "--years", "12", "--hours", "6000")
    model = small_model("reversing-lamps")
    root = model.prior(Vehicle(12.0, 6000.0))
    belief = posterior(model.worlds, root, model.evidence([SymptomFinding("left-dark")], root))
    inference = pyagrum.LazyPropagation(pyagrum.loadBN(str(path)))
    symptom = next(name for name, node in nodes.items() if node.get("symptom") == "left-dark")
    inference.setEvidence({symptom: "present"})
    inference.makeInference()
    states = list(nodes["fault"]["states"].values())
    theirs = inference.posterior("fault").toarray()
    held = np.array([[cause in (held or []) for cause in model.worlds.causes] for held in states])
    assert theirs @ held == pytest.approx(belief.weights @ model.worlds.holds, abs=1e-6)
    assert theirs[states.index(None)] == pytest.approx(model.intake.unlisted, abs=1e-6)


def test_a_smaller_network_says_so(tmp_path):
    """With a limit, all singles and the likeliest sets are written, and the head of the file says how many of all."""
    singles = int((small_model("belt-reminder").worlds.members[:, 1] < 0).sum())
    path, nodes, _ = run(tmp_path, "belt-reminder", "--max-hypotheses", str(singles + 5))
    states = nodes["fault"]["states"]
    assert len(states) == singles + 5
    assert sum(len(causes or []) >= 2 for causes in states.values()) == 5
    assert f"// the likeliest {singles + 5} of " in path.read_text(encoding="utf-8")


def test_a_limit_that_loses_causes_is_refused(tmp_path):
    """A limit below the single causes is refused with the least that is possible."""
    with pytest.raises(UsageError, match="at least"):
        run(tmp_path, "belt-reminder", "--max-hypotheses", "10")


def test_a_folder_that_does_not_exist_is_named(tmp_path):
    """A file that cannot be written is a clear error."""
    with pytest.raises(UsageError, match="cannot write"):
        CliRunner().invoke(export, ["belt-reminder", "-o", str(tmp_path / "no" / "x.bif")], catch_exceptions=False)


@pytest.mark.parametrize("bad", [["--years", "nan"], ["--hours", "-1"], ["--format", "xml"], ["--max-hypotheses", "x"]])
def test_bad_options_are_refused(tmp_path, bad):
    """Numbers that are none, out of range, or an unknown form end with a usage error."""
    result = CliRunner().invoke(export, ["belt-reminder", "-o", str(tmp_path / "x.bif"), *bad])
    assert result.exit_code == 2
    assert "Error" in result.output
    assert not (tmp_path / "x.bif").exists()
