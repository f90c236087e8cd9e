"""A hand-built model and engine with round numbers, for tests of the edges.

The schematic is a shortened belt reminder of the invented van; the shares come from a table of what each
cause shows in each test, right nine times in ten.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from advisor.contract.engine import Engine
from advisor.decision.advice import (
    Advice,
    Asked,
    CauseReasons,
    CauseShare,
    Costs,
    Estimate,
    FindingReason,
    NextStep,
    NotProved,
    OddFinding,
    Reasons,
    RepairShare,
    Stopping,
    Supply,
    TestWorth,
)
from advisor.decision.estimate import Allowed
from advisor.errors import ImpossibleFindingsError, RequestProblem
from advisor.knowledge.catalogue import Outcome, Setup, Test, Withheld
from advisor.knowledge.documents import Address, Connector, Ground, Junction, Part, Place, Schematic, Symptom, Wire
from advisor.knowledge.learned import Learned
from advisor.knowledge.library import Cells, FaultMode, Hazard, Intake, Library, PartType, RepairTemplate
from advisor.knowledge.reader import read_library
from advisor.knowledge.shipped import shipped
from advisor.network.findings import DeclinedFinding, Finding, ReadingFinding, RepairFinding, SymptomFinding

AT = Address("fake.yaml", 1, 1)
INF = math.inf
RUN = {"ignition": "run", "belt": "unfastened", "timer": "reminding"}


@dataclass(frozen=True)
class FakeModel:
    """A model with the attributes that the contract asks for."""

    schematic: Schematic
    tests: Mapping[str, Test]
    withheld: tuple[Withheld, ...]
    knowledge: str
    priors: str
    cause_parts: tuple[str, ...]
    cause_ids: tuple[str, ...] = ()
    factors: Mapping[str, float] = field(default_factory=dict)
    learned: Learned = field(default_factory=Learned)

    def with_priors(self, name: str, factors: Mapping[str, float], learned: Learned | None = None) -> FakeModel:
        """The same under another name; its shares come from a table."""
        return replace(self, priors=name, learned=learned or self.learned)


def _type(name: str, *modes: str) -> PartType:
    hazard = Hazard(source="fake", share=0.1, of=1)
    faults = tuple(FaultMode(mode, 1 / len(modes), "open", "fake") for mode in modes)
    return PartType(name, name, hazard, faults, RepairTemplate("Replace {part}", 15, 20, "fake"))


LIBRARY = Library(
    cautions=read_library(shipped("models") / "library" / "parts.yaml").cautions,
    title="fake library",
    faults_per_year=0.02,
    typical_years=8,
    typical_source="fake",
    exposures={},
    place_events={},
    intake=Intake(0.05, 0.04, 0.08, 14, 180, "fake"),
    instruments={},
    limits={},
    milliohm_per_metre={0.5: 39.0},
    cells=Cells(0.3, 30000, 9, "fake"),
    leakage=Cells(10e3, 10e6, 3, "fake"),
    types={
        row.id: row
        for row in (
            _type("fuse", "open"),
            _type("switch", "stuck-open", "stuck-closed", "high-resistance"),
            _type("lamp", "open", "weak"),
            _type("control-unit", "dead", "output-open"),
            _type("wire", "open", "short-to-ground"),
            _type("ground", "open", "high-resistance"),
            _type("contact", "open", "high-resistance"),
        )
    },
)
SCHEMATIC = Schematic(
    id="belt-reminder",
    title="Belt reminder lamp",
    vehicle_id="quellmar-p3",
    vehicle_title="Quellmar P3 delivery van (invented)",
    controls={"ignition": ("run", "off"), "belt": ("unfastened", "fastened"), "timer": ("reminding", "prove-out")},
    places={
        "driver-seat": Place("driver-seat", "driver's seat", 0, 0, "dry-cabin"),
        "engine-bay": Place("engine-bay", "engine bay", 1, 1, "engine-bay"),
        "fuse-box": Place("fuse-box", "cabin fuse box", 2, 1, "dry-cabin"),
        "knee-panel": Place("knee-panel", "behind the knee panel", 6, 6, "dry-cabin"),
        "cluster-back": Place("cluster-back", "behind the instrument cluster", 15, 15, "dry-cabin"),
        "under-seat": Place("under-seat", "under the driver's seat", 5, 5, "footwell"),
        "buckle": Place("buckle", "belt buckle", 15, 15, "footwell", inside="under-seat", restraint=True),
    },
    reference="B-",
    chassis="body",
    live="bus-30",
    junctions={
        "B+": Junction("B+", "battery positive post", "engine-bay", probe=True),
        "B-": Junction("B-", "battery negative post", "engine-bay", probe=True),
    },
    connectors={
        "C12": Connector("C12", "belt unit plug C12", "knee-panel", tuple(map(str, range(1, 11))), 2, AT),
        "C20": Connector("C20", "cluster plug C20", "cluster-back", tuple(map(str, range(1, 13))), 2, AT),
        "X31": Connector("X31", "under-seat connector X31", "under-seat", ("1", "2"), 1, AT, inline=True),
    },
    parts={
        "F8": Part("F8", "fuse", "fuse F8 belt unit", "fuse-box", {"out": "C12/1"}, AT),
        "belt-unit": Part("belt-unit", "control-unit", "belt reminder unit", "knee-panel", {"lamp": "C12/9"}, AT),
        "belt-lamp": Part("belt-lamp", "lamp", "belt warning lamp", "cluster-back", {"return": "C20/11"}, AT),
        "buckle-switch": Part("buckle-switch", "switch", "belt buckle switch", "buckle", {"1": "X31/1"}, AT),
    },
    wires={
        "W101": Wire("W101", "F8", "C12/1", 0.5, 1.1, "GNRD", "knee-panel", AT),
        "W102": Wire("W102", "C12/4", "G4", 0.75, 0.5, "BN", "knee-panel", AT),
        "W103": Wire("W103", "C12/7", "X31/1/a", 0.5, 2.4, "GNWH", "under-seat", AT),
        "W109": Wire("W109", "C20/11", "C12/9", 0.35, 0.9, "GNBK", "knee-panel", AT),
    },
    splices={},
    grounds={"G4": Ground("G4", "ground point G4 under the driver's seat", "under-seat", AT)},
    normal={},
    symptoms={
        "lamp-stays-dark": Symptom(
            "lamp-stays-dark", "belt lamp stays dark with the belt unfastened", RUN, {"belt-lamp": "dark"}, AT
        ),
        "lamp-stays-on": Symptom(
            "lamp-stays-on", "belt lamp stays on with the belt fastened", RUN, {"belt-lamp": "lit"}, AT
        ),
    },
    repairs={},
    charts=(),
    library=LIBRARY,
    files=("fake.yaml",),
)


def volts(  # noqa: PLR0913 - a row of the table below
    name: str, title: str, place: str, probe: tuple[tuple[str, str], ...], *, normal: float = 12.6, minutes: float = 2
) -> Test:
    """Make a voltage test with three outcomes."""
    if normal > 6:
        outcomes = (
            Outcome("normal", "battery voltage", 12.0, INF),
            Outcome("low", "too low", 1.0, 12.0),
            Outcome("none", "nothing", -INF, 1.0),
        )
    else:
        outcomes = (Outcome("normal", "near zero", -INF, 0.3), Outcome("high", "a voltage stands here", 0.3, INF))
    return Test(
        id=name,
        kind="volts",
        title=title,
        place=place,
        probe=probe,
        instrument="voltmeter",
        setup=Setup(RUN),
        condition="reminding",
        condition_text="belt unfastened, key on for 6 to 60 seconds, cycle the key to start again",
        minutes=minutes,
        disturbing=False,
        unit="V",
        outcomes=outcomes,
        normal_value=normal,
        cautions=("live-circuit", "restraint") if place in ("buckle", "under-seat") else ("live-circuit",),
    )


LIT_OR_DARK = (Outcome("lit", "lit", 0.6, INF), Outcome("dim", "dim", 0.1, 0.6), Outcome("dark", "dark", -INF, 0.1))
LOOK = Test(
    id="look.belt-lamp.prove-out",
    kind="look",
    title="Look at the belt lamp at key-on",
    place="driver-seat",
    probe=(),
    instrument="eye",
    setup=Setup({**RUN, "timer": "prove-out"}),
    condition="prove-out",
    condition_text="belt fastened, key just turned on, first six seconds",
    minutes=1,
    disturbing=False,
    unit="",
    outcomes=LIT_OR_DARK,
    normal_value=1.0,
)
JUMPER = replace(
    LOOK,
    id="jumper.C12-9-to-ground.reminding",
    kind="jumper",
    title="Unit unplugged, bridge the lamp output to ground and look at the belt lamp",
    place="knee-panel",
    probe=(("C12", "9"),),
    instrument="jumper",
    setup=Setup(RUN, unplug=("C12",), jumper=("C12/9", "B-")),
    condition="reminding",
    condition_text="belt unfastened, key on",
    minutes=4,
    disturbing=True,
    cautions=("jumper", "unplug"),
)
TESTS = (
    volts("volts.battery.reminding", "Battery voltage, key on", "engine-bay", (("B+", ""), ("B-", ""))),
    LOOK,
    volts("volts.C12-1.reminding", "Supply of the belt unit", "knee-panel", (("C12", "1"),)),
    volts("volts.C12-4.reminding", "Ground of the belt unit", "knee-panel", (("C12", "4"),), normal=0.01),
    volts("volts.C12-7.reminding", "Switch input of the belt unit", "knee-panel", (("C12", "7"),), normal=0.01),
    volts("volts.X31-1.reminding", "Switch wire at the seat connector", "under-seat", (("X31", "1"),), normal=0.01),
    volts("volts.C20-11.reminding", "Return of the belt lamp", "cluster-back", (("C20", "11"),), normal=0.02),
    JUMPER,
)
# What each cause shows otherwise than normal: prior share, repair, on the chart, {test: outcome}.
CAUSES: Mapping[tuple[str, str], tuple[float, str, bool, Mapping[str, str]]] = {
    ("buckle-switch", "stuck-open"): (
        0.24,
        "buckle-side",
        False,
        {"volts.C12-7.reminding": "high", "volts.X31-1.reminding": "high"},
    ),
    ("X31/1", "open"): (0.10, "buckle-side", False, {"volts.C12-7.reminding": "high", "volts.X31-1.reminding": "high"}),
    ("G4", "open"): (0.06, "buckle-side", False, {"volts.C12-7.reminding": "high", "volts.X31-1.reminding": "high"}),
    ("W103", "open"): (0.05, "buckle-side", False, {"volts.C12-7.reminding": "high"}),
    ("belt-lamp", "open"): (
        0.18,
        "replace-belt-lamp",
        True,
        {LOOK.id: "dark", JUMPER.id: "dark", "volts.C20-11.reminding": "high"},
    ),
    ("F8", "open"): (0.08, "replace-f8", False, {LOOK.id: "dark", "volts.C12-1.reminding": "none"}),
    ("W101", "open"): (0.04, "repair-w101", True, {LOOK.id: "dark", "volts.C12-1.reminding": "none"}),
    ("belt-unit", "dead"): (0.08, "replace-belt-unit", True, {LOOK.id: "dark"}),
}
REPAIRS = {
    "buckle-side": ("Put the buckle switch side right", 30.0, 140.0),
    "replace-belt-lamp": ("Replace the belt warning lamp", 32.0, 2.0),
    "replace-f8": ("Replace fuse F8 and find why it opened", 8.0, 0.5),
    "repair-w101": ("Repair wire W101", 42.0, 5.0),
    "replace-belt-unit": ("Replace the belt reminder unit", 27.0, 110.0),
}
GROUPS = {"buckle-side": "buckle switch side", "replace-belt-lamp": "belt lamp", "replace-belt-unit": "belt unit"}
OTHERS = 0.17
MODEL = FakeModel(
    schematic=SCHEMATIC,
    tests={test.id: test for test in TESTS},
    withheld=(
        Withheld(
            "jumper.C12-1-to-ground.reminding",
            "Bridge the supply of the belt unit to ground",
            "under some faults still possible the jumper would carry 30 A, its fuse 5 A",
        ),
    ),
    knowledge="sha256:" + "0" * 64,
    priors="handbook-1",
    cause_parts=tuple(dict.fromkeys(part for part, _ in CAUSES)),
)


def _normal(test: Test) -> str:
    return next(item.id for item in test.outcomes if item.low <= test.normal_value < item.high)


def _likelihood(shows: Mapping[str, str], finding: Finding) -> float:
    if isinstance(finding, SymptomFinding):
        return 0.9 if finding.present == (finding.symptom == "lamp-stays-dark") else 0.05
    test = MODEL.tests[finding.test]
    seen = _bin(test, finding.value) if isinstance(finding, ReadingFinding) else finding.outcome
    return 0.9 if shows.get(test.id, _normal(test)) == seen else 0.1 / (len(test.outcomes) - 1)


def _bin(test: Test, value: float | None) -> str:
    volts_seen = 1e3 if value is None else value
    return next(item.id for item in test.outcomes if item.low <= volts_seen < item.high)


def _impossible(findings: Sequence[Finding]) -> None:
    absent = [place for place, item in enumerate(findings) if isinstance(item, ReadingFinding) and item.value == 999.0]
    if absent:
        raise ImpossibleFindingsError(
            [RequestProblem(f"#/findings/{place}", "no fault gives this") for place in absent]
        )


def decide(  # noqa: PLR0913 - the domain's own signature
    model: FakeModel,
    findings: Sequence[Finding],
    *,
    years: float,
    hours: float,
    opened: frozenset[str],
    costs: Costs,
    depth: int,
    reasons: bool = False,
    allowed: Allowed | None = None,
) -> Advice:
    """Give shares from the table; every reading of 999 V is impossible, and the customer is asked from 20 min on."""
    _impossible(findings)
    said = [item for item in findings if not isinstance(item, DeclinedFinding | RepairFinding)]
    weights = {cause: row[0] * math.prod(_likelihood(row[3], item) for item in said) for cause, row in CAUSES.items()}
    rest = OTHERS * 0.5 ** len(said) * 0.1
    total = sum(weights.values()) + rest
    shares = {cause: weight / total for cause, weight in weights.items()}
    answered = {item.test for item in findings if not isinstance(item, SymptomFinding | RepairFinding)}
    tests = sorted(
        (_worth(model, test, shares, opened, costs) for test in model.tests.values() if test.id not in answered),
        key=lambda row: (-row.worth, row.test),
    )
    repairs = _repairs(shares, costs)
    best = repairs[0]
    if tests and tests[0].worth > 0 and best.probability < 0.8:
        step = NextStep("test", tests[0].test, "it splits the likely causes best for its price")
    else:
        step = NextStep("repair", best.repair, "no test is worth its price any more")
    now = sum(row.cost for row in repairs) / 3
    asked = None
    if allowed and not allowed.covers(28.0, 20.0):
        asked = Asked(step.kind, step.id, 28.0, 20.0, Estimate(42.0, 151.0, 388.0))
        step = NextStep("ask_customer", None, "the next step exceeds what is left of what the customer authorised")
    return Advice(
        evidence_probability=total,
        omitted_mass=0.004,
        conflict_decibans=None if len(findings) < 2 else -1.5,
        no_fault=0.3 * rest / total,
        as_designed=0.2 * rest / total,
        unlisted=0.5 * rest / total,
        causes=tuple(
            _cause(cause, share) for cause, share in sorted(shares.items(), key=lambda row: (-row[1], row[0]))
        ),
        tests=tuple(tests),
        withheld=model.withheld,
        repairs=repairs,
        next=step,
        expected_cost_now=now,
        supply=Supply(12.5, 0.2, 0.02),
        expected_cost_after_next=now - max(0.0, tests[0].worth if tests and step.kind == "test" else 0.0),
        reasons=_reasons(findings, shares) if reasons else None,
        least_cost=0.5 * now,
        asked=asked,
        not_proved=(NotProved("belt-unit", "supply", "feed", "C12/1", 0.12, "volts.C12-1.reminding"),),
        stopping=Stopping(0.97, tuple(test.test for test in tests[:2]), 0.5 * now, no_test_pays=not tests),
    )


def _reasons(findings: Sequence[Finding], shares: Mapping[tuple[str, str], float]) -> Reasons:
    """Give the weight of each finding for the first two causes against the sound circuit, whose findings are alike."""
    ranked = sorted(shares, key=lambda cause: (-shares[cause], cause))[:2]
    said = [
        (place, item) for place, item in enumerate(findings) if not isinstance(item, DeclinedFinding | RepairFinding)
    ]
    causes = tuple(
        CauseReasons(*cause, tuple(_reason(place, item, CAUSES[cause][3]) for place, item in said)) for cause in ranked
    )
    return Reasons(causes, OddFinding(said[-1][0], 2.5, 0.6) if len(said) > 1 else None)


def _reason(place: int, finding: Finding, shows: Mapping[str, str]) -> FindingReason:
    weight = 10.0 * math.log10(_likelihood(shows, finding) / _likelihood({}, finding))
    if isinstance(finding, SymptomFinding):
        return FindingReason(place, weight, weight, 1.0, 0.0)
    test = MODEL.tests[finding.test]
    shown = next(item for item in test.outcomes if item.id == shows.get(test.id, _normal(test)))
    value = test.normal_value if shown.id == "normal" else 12.6 if math.isinf(shown.high) else shown.high / 2
    return FindingReason(place, weight, weight, value, test.normal_value)


def _cause(cause: tuple[str, str], share: float) -> CauseShare:
    _, repair, on_chart, _ = CAUSES[cause]
    group = GROUPS.get(repair, "")
    return CauseShare(*cause, share, share * 0.996, min(1.0, share * 0.996 + 0.004), repair, on_chart, group)


def _worth(
    model: FakeModel, test: Test, shares: Mapping[tuple[str, str], float], opened: frozenset[str], costs: Costs
) -> TestWorth:
    place = model.schematic.places[test.place]
    minutes = test.minutes + (0 if test.place in opened else place.open_minutes + place.close_minutes)
    seen = {item.id: 0.0 for item in test.outcomes}
    for cause, share in shares.items():
        seen[CAUSES[cause][3].get(test.id, _normal(test))] += share
    total = sum(seen.values())
    odds = tuple(value / total for value in seen.values())
    spread = 1 - sum(value * value for value in odds)
    return TestWorth(test.id, minutes, costs.labour(minutes), 160 * spread - costs.labour(minutes), odds)


def _repairs(shares: Mapping[tuple[str, str], float], costs: Costs) -> tuple[RepairShare, ...]:
    rows = []
    for repair, (title, minutes, price) in REPAIRS.items():
        probability = sum(share for cause, share in shares.items() if CAUSES[cause][1] == repair)
        rows.append(RepairShare(repair, title, minutes, price + costs.labour(minutes), probability))
    return tuple(sorted(rows, key=lambda row: (-row.probability / row.cost, row.repair)))


def engine(*, load: Callable[[str], FakeModel] | None = None, decide: object = decide) -> Engine:
    """Make an engine with two circuits: the belt reminder, and the same under another id."""
    models = {
        "belt-reminder": MODEL,
        "other-lamp": replace(MODEL, schematic=replace(SCHEMATIC, id="other-lamp", title="Other lamp")),
    }
    shelf = {name: Path(f"{name}.yaml") for name in models}
    return Engine(circuits=lambda: shelf, load=load or models.__getitem__, decide=decide)


GOOD_REQUEST = {
    "circuit": "belt-reminder",
    "vehicle": {"years": 9, "hours": 4200},
    "findings": [
        {"symptom": "lamp-stays-dark"},
        {"test": "look.belt-lamp.prove-out", "outcome": "lit"},
        {"test": "volts.C12-7.reminding", "reading": {"value": 11.8, "unit": "V"}},
        {"kind": "reading", "test": "volts.C12-1.reminding", "value": 12400, "unit": "mV"},
        {"kind": "symptom", "symptom": "lamp-stays-on", "present": False},
    ],
    "opened": ["knee-panel"],
    "costs": {"labour_per_hour": 85, "hand_over": 250, "currency": "EUR"},
}
