"""The command that grades model files."""

import json
import shutil

import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.knowledge.shipped import shipped


@pytest.fixture
def models(tmp_path):
    """A copy of the shipped model files."""
    return shutil.copytree(shipped("models"), tmp_path / "models")


def run(*arguments):
    """Run the command."""
    return CliRunner().invoke(main, ["check", *map(str, arguments)])


def test_shipped_models_are_good():
    """Every shipped file is good: read, solved in every condition, each symptom reached, charts understood."""
    result = run("--json")
    assert result.exit_code == 0, result.output
    checked = json.loads(result.output)
    assert len(checked) >= 6
    assert [one["problems"] for one in checked if one["problems"]] == []
    reached = [causes for one in checked for causes in one["symptom_causes"].values()]
    assert len(reached) >= 9
    assert all(reached)
    graded = [one for one in checked if one["symptom_causes"]]
    assert all(sum(one["compile_seconds"].values()) > 0.0 for one in graded)
    ours = [one["testability"] for one in graded if "examples" not in one["path"]]
    assert all(found["detected"] > 0.9 for found in ours)
    assert all(found["isolated"][1] >= 0.9 for found in ours)


def test_text_says_what_tests_find(models):
    """Shares seen and told apart, faults that no test sees, and groups with the probe point that would split them."""
    result = run(models / "quellmar-p3" / "circuits" / "belt-reminder.yaml")
    assert result.exit_code == 0
    for words in ("faults seen by some test", "not seen: ", "not told apart", "a probe point at "):
        assert words in result.output


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("circuits/belt-reminder.yaml", "sees: {belt-lamp: dark}", "sees: {belt-lamp: lit}", "should be lit"),
        (
            "circuits/belt-reminder.yaml",
            "when: {ignition: run, belt: unfastened}, watch: belt-lamp, sees: dim",
            "when: {ignition: off, belt: unfastened}, watch: belt-lamp, sees: dim",
            "no single fault of this circuit starts the symptom lamp-dim",
        ),
        ("charts/belt-reminder.chart.yaml", "test: volts.C12-1.", "test: volts.C12-11.", "unknown test"),
        ("charts/belt-reminder.chart.yaml", "      dim: {blames: [belt-lamp]}\n", "", "has no answer for: dim"),
    ],
    ids=["normal behaviour", "unreachable symptom", "unknown test", "missing answer"],
)
def test_what_only_physics_finds(models, file, old, new, said):
    """A wrong normal behaviour, a symptom that cannot happen, a chart off the tests: each with its address."""
    path = models / "quellmar-p3" / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    result = run(models / "quellmar-p3" / "circuits" / "belt-reminder.yaml")
    assert result.exit_code == 1
    assert said in result.output
    assert f"{path.name}:" in result.output


def test_a_floating_node_lists_its_reasons(models):
    """A lamp whose two wires are missing hangs in the air; the nodes and the likely reason are told."""
    path = models / "quellmar-p3" / "circuits" / "reversing-lamps.yaml"
    text = path.read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith(("  W305:", "  W307:"))]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    result = run(path)
    assert result.exit_code == 1
    assert "no path to the battery from" in result.output
    assert "Traceback" not in result.output


def test_a_table_is_graded(models):
    """Causes that nothing tells apart are told with their address; chances that do not sum as well."""
    path = models / "quellmar-p3" / "tables" / "engine-runs-hot.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(
        text.replace("gauge/reads-hot: {falls: 0.1, stays: 0.9}", "gauge/reads-hot: {falls: 0.8, stays: 0.2}")
    )
    result = run(path)
    assert result.exit_code == 1
    line = text[: text.index("\n  gauge:\n")].count("\n") + 2
    assert f"{path}:{line}:3: nothing tells gauge/reads-hot from sender/reads-hot" in result.output
    path.write_text(text.replace("stays: 0.98", "stays: 0.9"))
    assert "burning-gas, leak: the chances sum to 0.92, expected 1" in run(path).output


def test_a_missing_path_is_bad_usage():
    """A file that does not exist ends with 2."""
    assert run("nowhere.yaml").exit_code == 2
