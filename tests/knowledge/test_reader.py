"""What the reader makes of the shipped files, and what it refuses with which words."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from advisor.errors import KnowledgeError
from advisor.knowledge.documents import Chart, Schematic, UnitInput, UnitOutput
from advisor.knowledge.library import Library
from advisor.knowledge.read_vehicle import VehicleFile
from advisor.knowledge.reader import read_any, read_chart, read_library, read_schematic, read_vehicle
from advisor.knowledge.shipped import shipped, shipped_circuits

LIBRARY, VEHICLE = "library/parts.yaml", "quellmar-p3/vehicle.yaml"
BELT, REVERSING = "quellmar-p3/circuits/belt-reminder.yaml", "quellmar-p3/circuits/reversing-lamps.yaml"
BLOWER = "quellmar-p3/circuits/blower.yaml"
BELT_CHART = "quellmar-p3/charts/belt-reminder.chart.yaml"


@pytest.fixture
def models(tmp_path: Path) -> Path:
    """Copy the shipped models to a folder that a test may break."""
    return shutil.copytree(shipped("models"), tmp_path / "models")


@pytest.fixture(scope="module")
def belt() -> Schematic:
    """Read the belt reminder."""
    return read_schematic(shipped_circuits()["belt-reminder"])


def broken(models: Path, file: str, old: str, new: str) -> list[str]:
    """Replace one piece of text and return the messages that this gives in the file itself."""
    path = models / file
    content = path.read_text("utf-8")
    assert content.count(old) >= 1, old
    path.write_text(content.replace(old, new, 1), "utf-8")
    with pytest.raises(KnowledgeError) as caught:
        read_any(path)
    return [problem.message for problem in caught.value.problems if problem.file == str(path)]


def test_controls_have_ignition_first(belt: Schematic) -> None:
    """The vehicle's controls stand before the circuit's own, neighbours' last, their values at rest first."""
    assert list(belt.controls.items()) == [
        ("ignition", ("run", "off")),
        ("engine", ("stopped", "running")),
        ("belt", ("unfastened", "fastened")),
        ("timer", ("reminding", "prove-out", "elapsed")),
        ("door", ("closed", "open")),
        ("glovebox", ("shut", "agape")),
        ("blower", ("off", "one", "two", "three", "four")),
    ]


def test_vehicle_items_are_merged(belt: Schematic) -> None:
    """Parts, wires, junctions and grounds of the vehicle stand among those of the circuit."""
    assert {"battery", "ignition-switch", "belt-unit"} <= set(belt.parts)
    assert {"feed-cable", "W101"} <= set(belt.wires)
    assert {"B+", "bus-15", "lamp-track"} <= set(belt.junctions)
    assert "G4" in belt.grounds
    assert (belt.reference, belt.chassis, belt.live) == ("B-", "body", "bus-30")


def test_numbers_as_names_stay_text(belt: Schematic) -> None:
    """Pins and cavities called by numbers are text."""
    assert belt.parts["ignition-switch"].pins == {"30": "bus-30", "15": "bus-15"}
    assert belt.connectors["X31"].cavities == ("1", "2")


def test_unit_has_inputs_and_outputs(belt: Schematic) -> None:
    """A control unit's inputs and outputs are values with their numbers."""
    unit = belt.parts["belt-unit"]
    assert unit.inputs == {"buckle": UnitInput(pull_up_ohms=1000.0, low_below_volts=4.0)}
    on_when = "timer == prove-out or timer == reminding and buckle == low"
    assert unit.outputs == {"lamp": UnitOutput(side="low", on_when=on_when, on_ohms=0.5)}


def test_symptom_watches_its_load_first() -> None:
    """The watched load stands first in what a symptom sees, other loads after it."""
    symptom = read_schematic(shipped_circuits()["reversing-lamps"]).symptoms["left-dark"]
    assert list(symptom.sees.items()) == [("reverse-left", "dark"), ("reverse-right", "lit")]
    assert symptom.noticed_days == 180


def test_repair_has_its_spare_parts(belt: Schematic) -> None:
    """A repair's causes and spare parts are those of the file."""
    repair = belt.repairs["replace-belt-lamp"]
    assert repair.restores == ("belt-lamp/open", "belt-lamp/weak")
    assert [(part.number, part.price) for part in repair.parts] == [("QP3-0412", 2.0)]


def test_only_the_circuits_own_charts_are_read(belt: Schematic) -> None:
    """A chart belongs to the circuit that it names, and names it by its id."""
    assert [(chart.id, chart.circuit) for chart in belt.charts] == [("belt-reminder", "belt-reminder")]
    assert belt.charts[0].blamed == {"belt-unit", "belt-lamp", "W101", "cluster", "W109"}


def test_files_are_those_that_it_was_made_from(models: Path) -> None:
    """Files lists circuit, vehicle, library, chart, neighbours and spare parts as absolute paths in order."""
    neighbours = [BELT.replace("belt-reminder", name) for name in ("battery-drain", "blower")]
    files = (LIBRARY, VEHICLE, BELT, BELT_CHART, *neighbours, VEHICLE.replace("vehicle", "spares"))
    expected = sorted(str((models / file).resolve()) for file in files)
    assert list(read_schematic(models / BELT).files) == expected


def test_library_numbers_are_those_of_the_file() -> None:
    """Spot checks of each section of the library."""
    library = read_library(shipped("models") / LIBRARY)
    assert library.milliohm_per_metre[0.75] == 26.0
    assert library.instruments["voltmeter"].ohms == 10e6
    assert library.limits["feed_volts"].value == 0.5
    assert library.types["lamp"].hazard.running_per_million_hours == 2.2
    assert library.types["contact"].hazard.grows_with == "years"
    assert [mode.id for mode in library.types["fuse"].modes] == ["open", "high-resistance"]
    assert library.cells.cells == 9


@pytest.mark.parametrize(
    ("file", "kind"),
    [(LIBRARY, Library), (VEHICLE, VehicleFile), (BELT, Schematic), (REVERSING, Schematic), (BELT_CHART, Chart)],
)
def test_any_format_is_told_by_its_key(file: str, kind: type) -> None:
    """A file of any format is read as what it says to be."""
    assert isinstance(read_any(shipped("models") / file), kind)


REFUSALS = [
    (LIBRARY, "share: 0.65", "share: 0.66", "modes of 'switch' sum to 1.01"),
    (LIBRARY, "share: 0.65", "share: 1.65", "a number of at least 0 up to 1"),
    (LIBRARY, "resolution: 0.01", "resolution: 0", "a number above 0"),
    (LIBRARY, "resolution: 0.01", "resolution: true", "a number above 0, found true"),
    (LIBRARY, "resolution: 0.01", "resolution: '0.01'", "a number above 0, found the text '0.01'"),
    (LIBRARY, "cells: 9", "cells: 9.5", "a whole number from 2 to 100"),
    (LIBRARY, "to_ohms: 30000", "to_ohms: 0.2", "to_ohms must be above from_ohms"),
    (LIBRARY, "to_ohms: 3.0, seen: 0.6", "seen: 0.6", "expected both from_ohms and to_ohms, or neither"),
    (LIBRARY, "to_ohms: 3.0, seen: 0.6", "to_ohms: 0.005, seen: 0.6", "to_ohms must be above from_ohms"),
    (LIBRARY, "unlisted_share: 0.08", "unlisted_share: 0.95", "expected below 1"),
    (LIBRARY, "effect: series, ohms: 0.5, ", "effect: series, ", "missing key 'ohms' of 'weak'"),
    (LIBRARY, "effect: scale, factor: 2.5, ", "effect: scale, ", "missing key 'factor' of 'weak'"),
    (LIBRARY, "effect: open, seen: 0.98", "effect: dead, seen: 0.98", "is for kind 'unit'"),
    (LIBRARY, "{share: 0.02, of: 1, source", "{share: 0.02, source", "either share and of, or per_million_hours"),
    (LIBRARY, "{share: 0.02, of: 1, source", "{source", "either share and of, or per_million_hours"),
    (LIBRARY, "grows_with: years", "grows_with: yaers", "did you mean 'years'"),
    (LIBRARY, "  splice:\n", "  joint:\n", "missing part type 'splice'"),
    (LIBRARY, "0.5: 39.0", "0.350: 39.0", "'0.350' stands in this mapping twice"),
    (LIBRARY, "limits:", "limit:", "unknown key 'limit', did you mean 'limits'?"),
    (LIBRARY, "format: parts/1", "format: parts/2", "unknown format 'parts/2', did you mean 'parts/1'"),
    (LIBRARY, "format: parts/1", "format: vehicle/1", "unknown key"),
    (
        VEHICLE,
        "inside: under-seat, open_minutes: 15",
        "inside: underseat, open_minutes: 15",
        "did you mean 'under-seat'",
    ),
    (
        VEHICLE,
        "under-seat: {title: under the driver's seat,",
        "under-seat: {title: x, inside: buckle,",
        "inside of itself",
    ),
    (VEHICLE, "exposure: engine-bay", "exposure: engin-bay", "unknown exposure 'engin-bay', did you mean 'engine-bay'"),
    (VEHICLE, "reference: B-", "reference: C-", "unknown junction 'C-'"),
    (VEHICLE, "  ignition: [run, off]", "  key: [run, off]", "missing control 'ignition'"),
    (VEHICLE, "[run, off]", "[run, run]", "'run' stands in this list twice"),
    (VEHICLE, "[run, off]", "[true, off]", "a name of letters, digits, + and -, found true"),
    (VEHICLE, "volts: 12.6, ", "", "missing key 'volts' of 'battery'"),
    (VEHICLE, "{positive: B+, negative: B-}", "{plus: B+, negative: B-}", "unknown pin 'plus' of 'battery'"),
    (VEHICLE, "{positive: B+, negative: B-}", "{positive: B+}", "missing pin 'negative' of 'battery'"),
    (VEHICLE, "rating_amps: 60, ", "rating_amps: 60, watts: 5, ", "unknown key 'watts'"),
    (VEHICLE, "from: feed-30, to: bus-30", "from: feed-30, to: feed-30", "starts and ends at 'feed-30'"),
    (VEHICLE, "gauge_mm2: 16.0", "gauge_mm2: 15.0", "unknown wire gauge '15'"),
    (VEHICLE, "colour: RD", "colour: RDX", "one or two of the codes"),
    (VEHICLE, "colour: RD", "colour: red", "one or two of the codes"),
    (VEHICLE, "B+: {title", "B+/x: {title", "a name of letters, digits, + and -"),
    (
        BELT,
        "type: printed-track",
        "type: printedtrack",
        "unknown part type 'printedtrack', did you mean 'printed-track'",
    ),
    (BELT, "place: dash-loom", "place: dash", "unknown place 'dash'"),
    (BELT, "from: X6/1,", "from: X6/9,", "unknown cavity '9' of connector 'X6', expected one of: 1, 2, 3, 4"),
    (BELT, "from: X6/1,", "from: X66/1,", "unknown node 'X66/1', did you mean"),
    (BELT, "to: X31/1/a", "to: X31/1", "does not say which half of inline connector 'X31'"),
    (BELT, "to: X31/1/a", "to: X31/1/c", "does not say which half of inline connector 'X31'"),
    (BELT, "from: X6/1,", "from: X6/1/a,", "connector 'X6' is not inline and has no half 'a'"),
    (BELT, "to: G4", "to: G44", "unknown node 'G44', did you mean 'G4'?"),
    (BELT, "in: C20/2, out: lamp-track}", "in: C20/2}", "has exactly two pins, 'cluster' has 1"),
    (BELT, "buckle: C12/7, ", "", "missing pin 'buckle' of 'belt-unit', a unit"),
    (BELT, "draws_amps: 0.02", "draws_amp: 0.02", "unknown key 'draws_amp', did you mean 'draws_amps'?"),
    (BELT, "side: low", "side: left", "expected one of: low, high"),
    (BELT, "belt == unfastened, price", f"{'x' * 201}, price", "at most 200 characters, found 201"),
    (
        BELT,
        "cavities: [1, 2, 3, 4], rows: 1",
        "cavities: [1, 2, 3, 4], rows: 3",
        "4 cavities do not stand in 3 equal rows",
    ),
    (BELT, "latch: top", "latch: up", "expected one of: top, bottom, left, right"),
    (BELT, "key: left", "kee: left", "unknown key 'kee', did you mean 'key'?"),
    (BELT, "contact_mm: 2.8", "contact_mm: 0", "a number above 0, found 0"),
    (BLOWER, "drawn_from: contacts", "drawn_from: front", "expected one of: wires, contacts"),
    (BELT, "cavities: [1, 2, 3, 4]", "cavities: [1, 2, 3, 3]", "'3' stands in this list twice"),
    (BELT, "cavities: [1, 2, 3, 4]", "cavities: []", "a list of at least 1"),
    (BELT, "belt: fastened, timer: prove-out", "belt: closed, timer: prove-out", "unknown value of belt 'closed'"),
    (
        BELT,
        "belt: fastened, timer: prove-out",
        "bolt: fastened, timer: prove-out",
        "unknown control 'bolt', did you mean 'belt'",
    ),
    (BELT, "watch: belt-lamp", "watch: belt-unit", "unknown load 'belt-unit', expected one of:"),
    (BELT, "watch: belt-lamp", "watch: X6", "unknown load 'X6'"),
    (BELT, "sees: dark", "sees: bright", "expected one of: lit, dim, dark"),
    (BELT, "sees: {belt-lamp: lit}", "sees: {buckle-switch: lit}", "unknown load 'buckle-switch'"),
    (BELT, "belt-lamp/weak", "belt-lamp/wek", "unknown cause 'belt-lamp/wek', did you mean 'belt-lamp/weak'?"),
    (BELT, "belt-lamp/weak", "X31/3/open", "unknown cause 'X31/3/open'"),
    (BELT, "number: QP3-0412, ", "", "missing key 'number'"),
    (BELT, "minutes: 2, parts", "minutes: -2, parts", "a number of at least 0, found -2"),
    (BELT, "  F8: {type", "  G4: {type", "'G4' stands for two things, also under grounds at"),
    (BELT, "  lamp-track: {title", "  W109: {title", "'W109' stands for two things, also under wires at"),
    (
        BELT,
        "  belt: [unfastened",
        "  ignition: [unfastened",
        "'ignition' stands for two things, also under controls at",
    ),
    (BELT, "vehicle: ../vehicle.yaml", "vehicle: ../van.yaml", "does not exist"),
    (BELT, "vehicle: ../vehicle.yaml", "vehicle: ../../library/parts.yaml", "of format parts/1, expected vehicle/1"),
    (BELT, "normal:\n", "normal: {}\nabnormal:\n", "at least 1"),
    (REVERSING, "also: {reverse-right: dark,", "also: {reverse-left: dark,", "'reverse-left' is watched already"),
    (REVERSING, "to: S7/in", "to: S7/out", "unknown node 'S7/out', expected one of: S7/in"),
    (BELT, "sees: dark", "sees: stopped", "unknown look of belt-lamp 'stopped', expected one of: lit, dim, dark"),
    (BLOWER, "{blower-motor: full, heater-light: lit}", "{blower-motor: lit}", "unknown look of blower-motor 'lit'"),
    (BLOWER, "besides: [{when: {ignition: run, blower: two}", "besides: [{when: {ignition: run, blower: ten}", "'ten'"),
    (BLOWER, "{ignition: run, blower: two}, sees: {blower-motor: stopped}", "{}", "missing key 'sees'"),
    (BLOWER, "85: X8/85, ", "", "missing pin '85' of 'K5', a relay"),
    (BLOWER, "87: X8/87}", "87: X8/87, 88: X8/87}", "unknown pin '88' of 'K5', expected one of: 85, 86, 30, 87"),
    (BLOWER, "works_above_volts: 8.0, ", "", "missing key 'works_above_volts'"),
    (BLOWER, "volts: 12.5, ohms: 0.11", "volts: 12.5, ohms: 0.7", "a winding of 0.7 ohm leaves 'blower-motor' nothing"),
    (BLOWER, "watts: 250, volts: 12.5, ohms: 0.11", "watts: 250, volts: 12.5", "missing key 'ohms'"),
    (LIBRARY, "effect: drag, factor: 1.8", "effect: drag", "missing key 'factor'"),
    (
        LIBRARY,
        "seized: {share: 0.18, effect: seized",
        "seized: {share: 0.18, effect: dead",
        "effect 'dead' is for kind 'unit' or 'relay', 'motor' is a 'motor'",
    ),
    (BELT_CHART, "go: step-2", "go: step-9", "unknown step 'step-9'"),
    (BELT_CHART, "go: step-2", "go: step-1", "leads back to itself"),
    (BELT_CHART, "lit: {go: step-3}", "lit: {blames: [W101]}", "step 'step-3' is never reached"),
    (BELT_CHART, "start: step-1", "start: step-0", "unknown step 'step-0'"),
    (BELT_CHART, "{go: step-2}", "{go: step-2, blames: [W101]}", "either go or blames"),
    (BELT_CHART, "{go: step-2}", "{}", "either go or blames"),
    (BELT_CHART, "blames: [belt-unit]", "blames: [belt-units]", "unknown part 'belt-units', did you mean 'belt-unit'?"),
    (BELT_CHART, "symptom: lamp-stays-dark", "symptom: lamp-stay-dark", "did you mean 'lamp-stays-dark'?"),
    (BELT_CHART, "circuit: ../circuits/belt", "circuit: ../circuits/bell", "does not exist"),
]


@pytest.mark.parametrize(("file", "old", "new", "said"), REFUSALS)
def test_refusal_says_what_was_expected(file: str, old: str, new: str, said: str, models: Path) -> None:
    """Each wrong content is refused in words that name it and what was expected."""
    messages = broken(models, file, old, new)
    assert [message for message in messages if said in message], messages


def test_contacts_wires_and_grounds_have_causes(models: Path) -> None:
    """A repair may restore the modes of a contact, a wire and a ground point."""
    path = models / BELT
    causes = "[X31/1/open, W103/short-to-ground, G4/high-resistance, belt-lamp/open]"
    path.write_text(path.read_text("utf-8").replace("[belt-lamp/open, belt-lamp/weak]", causes), "utf-8")
    assert read_schematic(path).repairs["replace-belt-lamp"].restores[0] == "X31/1/open"


def test_ids_used_twice_are_reported_at_both_places(models: Path) -> None:
    """An id that vehicle and circuit both use is reported in each, naming the other."""
    path = models / BELT
    path.write_text(path.read_text("utf-8").replace("  F8: {", "  main-fuse: {"), "utf-8")
    with pytest.raises(KnowledgeError) as caught:
        read_schematic(path)
    places = {Path(p.file).name: p.message for p in caught.value.problems}
    assert "vehicle.yaml" in places["belt-reminder.yaml"]
    assert "belt-reminder.yaml" in places["vehicle.yaml"]


@pytest.mark.parametrize("file", [LIBRARY, VEHICLE])
def test_unreadable_file_hides_no_problem_and_invents_none(file: str, models: Path) -> None:
    """With one file unreadable, the circuit's own problem is listed and nothing is called unknown."""
    (models / file).write_text("format: [\n", "utf-8")
    path = models / BELT
    path.write_text(path.read_text("utf-8").replace("length_m: 1.1", "length_m: long"), "utf-8")
    with pytest.raises(KnowledgeError) as caught:
        read_schematic(path)
    assert sorted(Path(p.file).name for p in caught.value.problems) == sorted([Path(file).name, path.name])


def test_misspelt_section_gives_one_problem(models: Path) -> None:
    """A misspelt section is reported once and still read, so that nothing else is called unknown."""
    messages = broken(models, BELT, "connectors:", "conectors:")
    assert messages == ["unknown key 'conectors', did you mean 'connectors'?"]


def test_library_may_stand_elsewhere(models: Path) -> None:
    """A vehicle may name its part library."""
    shutil.move(models / "library", models / "quellmar-p3/own")
    path = models / VEHICLE
    with pytest.raises(KnowledgeError, match="there is no part library"):
        read_vehicle(path)
    path.write_text(path.read_text("utf-8") + "library: own/parts.yaml\n", "utf-8")
    assert read_schematic(models / BELT).library.title == "Part types of a 12 V vehicle"


def test_chart_that_names_no_circuit_is_not_lost(models: Path) -> None:
    """A chart whose circuit cannot be told is reported for every circuit beside it."""
    (models / "quellmar-p3/charts/stray.chart.yaml").write_text("format: chart/1\ncircuit: ../circuits/none.yaml\n")
    with pytest.raises(KnowledgeError, match=r"stray\.chart\.yaml:2:10: circuit: the file .* does not exist"):
        read_schematic(models / BELT)


def test_file_of_another_format_is_named(models: Path) -> None:
    """A file read as what it is not is refused by its format alone."""
    with pytest.raises(KnowledgeError) as caught:
        read_library(models / VEHICLE)
    assert [p.message for p in caught.value.problems] == ["expected a file of format parts/1, found vehicle/1"]


def test_chart_is_read_with_its_circuit() -> None:
    """A chart read alone names its circuit by id."""
    assert read_chart(shipped("models") / BELT_CHART).circuit == "belt-reminder"


def test_too_many_problems_are_cut_short(models: Path) -> None:
    """A file with thousands of problems lists some hundreds and says that there are more."""
    path = models / BELT
    wires = "".join(f"  Z{number}: {{form: nowhere}}\n" for number in range(2000))
    path.write_text(path.read_text("utf-8").replace("wires:\n", f"wires:\n{wires}"), "utf-8")
    with pytest.raises(KnowledgeError) as caught:
        read_schematic(path)
    assert 500 <= len(caught.value.problems) <= 502
    assert "further problems are not listed" in str(caught.value)


def test_a_window_begins_before_it_ends(models: Path) -> None:
    """A condition that ends by itself is read; one that would end first is refused."""
    timed = read_schematic(models / BELT).normal["reminding"].timed
    assert timed is not None
    assert (timed.start, timed.after_s, timed.until_s) == ("cycle the key", 6.0, 60.0)
    assert broken(models, BELT, "after_s: 6,", "after_s: 60,") == [
        "the condition ends at 60 s, before it begins at 60 s"
    ]
