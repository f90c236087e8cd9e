"""What the reader refuses in a table, each with its place, and what grading finds beyond that."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from advisor.errors import KnowledgeError
from advisor.knowledge.candidates import BESIDE_RESTRAINT, RESTRAINT
from advisor.knowledge.checking_tables import grade_tables
from advisor.knowledge.reader import read_any, read_model, read_tables
from advisor.knowledge.shipped import shipped, shipped_models
from advisor.knowledge.table_model import table_model
from advisor.knowledge.tables import Tables

HOT = "quellmar-p3/tables/engine-runs-hot.yaml"


@pytest.fixture
def models(tmp_path: Path) -> Path:
    """Copy the shipped models to a folder that a test may break."""
    return shutil.copytree(shipped("models"), tmp_path / "models")


def changed(models: Path, *changes: tuple[str, str]) -> Path:
    """Replace pieces of the table's text, each the first of its kind."""
    path = models / HOT
    text = path.read_text("utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    path.write_text(text, "utf-8")
    return path


def test_the_shipped_table_is_read() -> None:
    """It is told by its key, and brings the vehicle's places and its own."""
    tables = read_any(shipped("models") / HOT)
    assert isinstance(tables, Tables)
    assert {"engine-bay", "radiator-front"} <= set(tables.schematic.places)
    assert "battery" not in tables.schematic.parts
    assert tables.parts["fan-motor"].type.hazard.share == 0.1
    assert tables.parts["thermostat"].type.modes[0].source == "common practice, no source"
    assert tables.tests["fan"].given["fan-motor/drags"] == {"runs": 0.2, "slow": 0.75, "stands": 0.05}


def test_every_shipped_model_is_read_as_what_it_is() -> None:
    """Each shipped model is listed under the id that its file states."""
    documents = {id: read_model(path) for id, path in shipped_models().items()}
    ids = {id: d.schematic.id if isinstance(d, Tables) else d.id for id, d in documents.items()}
    assert ids == {id: id for id in documents}


REFUSALS = [
    ("leak: {between-marks: 0.95, low", "leak: {between-marks: 0.85, low", "level, leak: the chances sum to 0.9, exp"),
    (
        "coolant/low: {between-marks: 0.03, low: 0.57, empty: 0.4}",
        "coolant/low: {between-marks: 0.03, low: 0.97}",
        "level, given coolant/low: no chance is given for empty",
    ),
    ("low: 0.57, empty: 0.4}", "low: 0.57, emty: 0.4}", "unknown outcome 'emty', did you mean 'empty'?"),
    ("low: 0.57, empty: 0.4}", "low: 1.57, empty: 0.4}", "a number of at least 0 up to 1, found 1.57"),
    ("      head-gasket/leaks: {between", "      head-gasket/leak: {between", "did you mean 'head-gasket/leaks'?"),
    ("fan-motor/stands: 0.95, fan-motor/drags", "fan/stands: 0.95, fan-motor/drags", "unknown cause 'fan/stands'"),
    ("    condition: cold\n", "    condition: clod\n", "unknown condition 'clod', did you mean 'cold'?"),
    ("place: thermostat-housing", "place: thermostat-house", "unknown place 'thermostat-house'"),
    ("stuck-shut: {share: 0.7", "stuck-shut: {share: 0.6", "shares of the modes of 'thermostat' sum to 0.9"),
    ("{present: 0.0008, ", "{present: 0.0008, share: 0.1, of: 1, ", "expected one of: present; share and of"),
    ("{share: 0.10, of: 1, ", "{share: 0.10, ", "expected one of: present; share and of"),
    ("{present: 0.0008, ", "{present: 1, ", "present must be below 1"),
    ('{present: 0.0008, source: "common practice, no source"}', "{present: 0.0008}", "missing key 'source'"),
    ("  radiator-front: {title", "  gearbox: {title", "the vehicle has a place 'gearbox' already"),
    ('air duct off", inside: engine-bay', 'air duct off", inside: thermostat-housing', "inside of itself"),
    ("restores: [coolant/low]", "restores: [coolant/lower]", "unknown cause 'coolant/lower'"),
    ("when: {ignition: off}}\n", "when: {ignition: cold}}\n", "unknown value of ignition 'cold'"),
    ("    instrument: visual\n", "    tool: visual\n", "unknown key 'tool'"),
    ("outcomes: {soft: still soft, hard: hard already}", "outcomes: {soft: still soft}", "fewer than two outcomes"),
    ("format: table/1", "format: circuit/1", "unknown key 'table'"),
    ("  cap:\n", "  battery:\n", "'battery' stands for two things"),
]


@pytest.mark.parametrize(("old", "new", "said"), REFUSALS, ids=[said for *_, said in REFUSALS])
def test_what_is_wrong_is_told(models: Path, old: str, new: str, said: str) -> None:
    """Each mistake is told with its file."""
    path = changed(models, (old, new))
    with pytest.raises(KnowledgeError) as caught:
        read_any(path)
    assert [p for p in caught.value.problems if said in p.message and p.file == str(path)], str(caught.value)


def test_problems_come_all_at_once_each_at_its_place(models: Path) -> None:
    """Three mistakes of three sections are told together, with line and column."""
    breaks = {"stuck-shut: {share: 0.7": "stuck-shut: {share: 0.6", "stays: 0.98": "stays: 0.9", "s: 14": "s: -14"}
    path = changed(models, *breaks.items())
    lines = path.read_text("utf-8").splitlines()
    with pytest.raises(KnowledgeError) as caught:
        read_tables(path)
    found = {p.message: lines[p.line - 1][p.column - 1 :] for p in caught.value.problems}
    starts = {"sum to 0.9, expected 1": "stuck-shut", "sum to 0.92": "{stays: 0.9", "at least 0, found -14": "-14"}
    for said, start in starts.items():
        assert any(said in message and at.startswith(start) for message, at in found.items()), found


IDLE = "    title: nobody says this\n    given: {}\n    source: s\n"
HORN = """  horn:
    title: horn
    place: engine-bay
    hazard: {present: 0.0001, source: s}
    modes: {mute: {share: 1}}
    repair: {title: x, minutes: 1, price: 1, source: s}
"""
GRADES = [
    ("  hot-at-speed:\n", f"  idle:\n{IDLE}  hot-at-speed:\n", "no cause of this table gives the symptom idle"),
    ("belt/slips: {good: 0.07, bad: 0.93}", "belt/slips: {good: 1, bad: 0}", "no cause changes what belt-look shows"),
    (
        "gauge/reads-hot: {falls: 0.1, stays: 0.9}",
        "gauge/reads-hot: {falls: 0.8, stays: 0.2}",
        "nothing tells gauge/reads-hot from sender/reads-hot",
    ),
    ("  cap:\n", f"{HORN}  cap:\n", "no symptom and no test shows horn/mute"),
]


@pytest.mark.parametrize(("old", "new", "said"), GRADES, ids=[said for *_, said in GRADES])
def test_what_grading_finds(models: Path, old: str, new: str, said: str) -> None:
    """A symptom that nothing gives, a test that tells nothing, causes not told apart or shown by nothing."""
    path = changed(models, (old, new))
    tables = read_tables(path)
    [problem] = grade_tables(tables, table_model(tables)).problems
    assert problem.file == str(path)
    assert said in problem.message


def test_the_shipped_table_has_no_problem() -> None:
    """It is graded good, and each symptom names what starts it, the likeliest first."""
    tables = read_tables(shipped("models") / HOT)
    grade = grade_tables(tables, table_model(tables))
    assert grade.problems == ()
    assert grade.symptom_causes["gauge-hot-engine-not"][:2] == ("sender/reads-hot", "gauge/reads-hot")


def test_no_hand_goes_to_a_restraint(models: Path) -> None:
    """Tests at a belt buckle, and disturbing ones on the way to it, are withheld with the reason; a look is not."""
    moved = [
        ("engine-bay", "visual", "buckle"),
        ("under-engine", "jumper", "under-seat"),
        ("driver-seat", "eye", "buckle"),
        ("radiator-front", "visual", "under-seat"),
    ]
    place = "    place: {}\n    instrument: {}\n".format
    path = changed(models, *((place(here, tool), place(there, tool)) for here, tool, there in moved))
    model = table_model(read_tables(path))
    assert {held.test: held.reason for held in model.withheld} == {"level": RESTRAINT, "fan-bridged": BESIDE_RESTRAINT}
    assert {"level", "fan-bridged"}.isdisjoint(model.tests)
    assert {"heater", "fins"} <= set(model.tests)
    assert model.worlds.tests == tuple(model.tests)
