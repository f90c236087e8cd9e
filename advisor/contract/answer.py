"""The answer as types, and how an advice is worded as one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from advisor.contract.bearings import BearingsOut, bearings_out
from advisor.contract.cautions import Caution, Told, teller
from advisor.contract.engine import KnownModel
from advisor.contract.frozen import Answered
from advisor.contract.learned import LearnedOut, learned_out
from advisor.contract.reasons import ReasonsOut, reasons_out
from advisor.contract.repairs import RepairOut, repair_out
from advisor.contract.request import AdviceRequest
from advisor.contract.version import ENGINE_VERSION
from advisor.contract.wording import cause_title, end, node_title, part_title, place_title
from advisor.decision.advice import Advice, Asked, CauseShare, NotProved, Stopping, TestWorth
from advisor.knowledge.catalogue import Outcome, Test, Withheld
from advisor.knowledge.documents import Schematic
from advisor.network.findings import Finding


class Release(Answered):
    """What the answer was computed with."""

    knowledge: str
    priors: str
    engine: str


class EvidenceOut(Answered):
    """How well the findings fit: their probability, the prior mass left out, their conflict, the slips among them.

    Readings are judged at the supply named here [V], give or take its spread; `black_lead_astray` is the probability
    that the black lead of the case is not on the battery's post. All three are null where no reading stands on a
    supply.  `mirrored` is how likely each connector that was probed has been read from the other side.
    """

    probability: float
    omitted_mass: float
    conflict_decibans: float | None
    expected_slips: float
    not_showing: float
    supply_volts: float | None
    supply_spread_volts: float | None
    black_lead_astray: float | None
    mirrored: dict[str, float]


class CauseOut(Answered):
    """A cause in the ranking with its bounds; `repair_group` names the section of the circuit that it lies in."""

    cause: str
    part: str
    mode: str
    title: str
    probability: float
    low: float
    high: float
    repair: str | None
    repair_group: str | None
    on_chart: bool | None


class PlaceOut(Answered):
    """A place on the vehicle."""

    id: str
    title: str


class ProbeOut(Answered):
    """A point to probe."""

    connector: str
    cavity: str


class TimedOut(Answered):
    """When a condition holds that ends by itself: from so long to so long after its start [s]."""

    start: str
    after_s: float
    until_s: float


class ConditionOut(Answered):
    """How the vehicle stands: controls set, connectors apart, the points of a fused jumper, a part that is swapped.

    `timed` tells how long it holds where it ends by itself.
    """

    set: dict[str, str]
    unplug: tuple[str, ...]
    jumper: tuple[str, str] | None
    swap: str | None
    text: str
    timed: TimedOut | None = None


class OutcomeOut(Answered):
    """A range of a test's reading, open ends null; `probability` is what is expected now.

    One that never `settles` has no range.
    """

    outcome: str
    label: str
    low: float | None
    high: float | None
    unit: str
    settles: bool
    probability: float


class TestOut(Answered):
    """A test that may be done now: where, how, its price now, its expected net saving."""

    __test__ = False  # not a pytest class

    test: str
    kind: str
    title: str
    place: PlaceOut
    probe: tuple[ProbeOut, ...]
    instrument: str
    condition: ConditionOut
    disturbing: bool
    opens: bool
    normal: float | None
    minutes: float
    cost: float
    worth: float
    outcomes: tuple[OutcomeOut, ...]
    cautions: tuple[Caution, ...]


class WithheldOut(Answered):
    """A test that is never proposed, and why."""

    test: str
    title: str
    reason: str


class EstimateOut(Answered):
    """What getting the vehicle fixed comes to [money]: by the cheapest cure, on average, for 9 of 10 cases."""

    low: float
    expected: float
    high: float


class AskedOut(Answered):
    """The step for which the customer has to be asked, its price [money, minutes], and an estimate of the whole."""

    kind: str
    id: str | None
    cost: float
    minutes: float
    estimate: EstimateOut


class NextOut(Answered):
    """The next step: test, repair, no_fault, as_designed, unlisted, hand_over or ask_customer.

    `asks_for` is null but where the customer has to be asked; `bearings` but where a reading would tell from which side
    a connector is read.
    """

    kind: str
    id: str | None
    reason: str
    asks_for: AskedOut | None = None
    bearings: BearingsOut | None = None


class ExpectedCost(Answered):
    """Expected cost until the vehicle is fixed [money]: without further tests, and with the next step.

    `lower_bound` is what it would cost somebody who knows the fault: no plan can cost less.
    `gap` is by what share of it the cost with the next step exceeds it: mostly what nobody can know beforehand.  Both
    are null one step ahead.
    """

    now: float
    after_next: float
    lower_bound: float | None
    gap: float | None
    currency: str


class StoppingOut(Answered):
    """Whether testing further can still pay.

    `same_decision` is the probability that the next repair, or handing over, stays what it is once the best `tests`
    are all done; `perfect_information` is what knowing the fault would save [money]: no test can save more, and
    where `no_test_pays` the cheapest one costs more.
    """

    same_decision: float
    tests: tuple[str, ...]
    perfect_information: float
    no_test_pays: bool


class NotProvedOut(Answered):
    """A pin of a suspect control unit that is not proved good yet; `role` is feed, ground, input or load.

    `probability` is that of a fault on the pin's way with the unit itself good; `test` would prove it, null where none
    is left that could.
    """

    part: str
    pin: str
    role: str
    title: str
    probability: float
    test: str | None


class AdviceAnswer(Answered):
    """Ranked causes, tests by falling worth, repairs and the next step.

    `reasons` are null unless asked for, `stopping` is null one step ahead, `learned` under a release of rates alone.
    """

    circuit: str
    release: Release
    evidence: EvidenceOut
    no_fault: float
    as_designed: float
    unlisted: float
    causes: tuple[CauseOut, ...]
    tests: tuple[TestOut, ...]
    withheld: tuple[WithheldOut, ...]
    repairs: tuple[RepairOut, ...]
    next: NextOut
    expected_cost: ExpectedCost
    stopping: StoppingOut | None
    not_proved: tuple[NotProvedOut, ...]
    reasons: ReasonsOut | None
    learned: LearnedOut | None = None


def present(model: KnownModel, request: AdviceRequest, findings: Sequence[Finding], advice: Advice) -> AdviceAnswer:
    """Word an advice on findings; every number keeps its full precision."""
    schematic, told = model.schematic, teller(model.schematic.library)
    return AdviceAnswer(
        circuit=schematic.id,
        release=Release(knowledge=model.knowledge, priors=model.priors, engine=ENGINE_VERSION),
        evidence=_evidence(advice),
        no_fault=advice.no_fault,
        as_designed=advice.as_designed,
        unlisted=advice.unlisted,
        causes=tuple(_cause(schematic, advice, share) for share in advice.causes),
        tests=tuple(_test(schematic, model.tests[worth.test], worth, told) for worth in advice.tests),
        withheld=withheld(advice.withheld),
        repairs=tuple(repair_out(schematic, share) for share in advice.repairs),
        next=_next(advice, model.tests),
        expected_cost=ExpectedCost(
            now=advice.expected_cost_now,
            after_next=advice.expected_cost_after_next,
            lower_bound=advice.least_cost,
            gap=advice.gap,
            currency=request.costs.currency,
        ),
        stopping=_stopping(advice.stopping) if advice.stopping else None,
        not_proved=tuple(_not_proved(schematic, pin) for pin in advice.not_proved),
        reasons=reasons_out(model, findings, advice.reasons) if advice.reasons else None,
        learned=learned_out(model),
    )


def _next(advice: Advice, tests: Mapping[str, Test]) -> NextOut:
    step, asked, found = advice.next, advice.asked, advice.bearings
    return NextOut(
        kind=step.kind,
        id=step.id,
        reason=step.reason,
        asks_for=_asked(asked) if asked else None,
        bearings=bearings_out(found, tests) if found else None,
    )


def _asked(asked: Asked) -> AskedOut:
    low, expected, high = asked.estimate.low, asked.estimate.expected, asked.estimate.high
    return AskedOut(
        kind=asked.kind,
        id=asked.id,
        cost=asked.cost,
        minutes=asked.minutes,
        estimate=EstimateOut(low=low, expected=expected, high=high),
    )


def _evidence(advice: Advice) -> EvidenceOut:
    supply = advice.supply
    return EvidenceOut(
        probability=advice.evidence_probability,
        omitted_mass=advice.omitted_mass,
        conflict_decibans=advice.conflict_decibans,
        expected_slips=advice.expected_slips,
        not_showing=advice.hiding,
        supply_volts=supply.volts if supply else None,
        supply_spread_volts=supply.spread_volts if supply else None,
        black_lead_astray=supply.black_lead_astray if supply else None,
        mirrored=dict(advice.mirrored),
    )


def _stopping(stopping: Stopping) -> StoppingOut:
    return StoppingOut(
        same_decision=stopping.same_decision,
        tests=stopping.tests,
        perfect_information=stopping.perfect_information,
        no_test_pays=stopping.no_test_pays,
    )


def _not_proved(schematic: Schematic, pin: NotProved) -> NotProvedOut:
    return NotProvedOut(
        part=pin.part,
        pin=pin.pin,
        role=pin.role,
        title=f"{part_title(schematic, pin.part)}: {pin.role} at {node_title(schematic, pin.node)}",
        probability=pin.share,
        test=pin.test,
    )


def withheld(tests: Iterable[Withheld]) -> tuple[WithheldOut, ...]:
    """Word the tests that are not proposed."""
    return tuple(WithheldOut(test=held.test, title=held.title, reason=held.reason) for held in tests)


def condition(test: Test, schematic: Schematic) -> ConditionOut:
    """Word how the vehicle stands during a test, and how long."""
    setup, normal = test.setup, schematic.normal.get(test.condition)
    timed = normal.timed if normal else None
    return ConditionOut(
        set=dict(setup.settings),
        unplug=setup.unplug,
        jumper=setup.jumper,
        swap=setup.swap or None,
        text=test.condition_text,
        timed=TimedOut(start=timed.start, after_s=timed.after_s, until_s=timed.until_s) if timed else None,
    )


def _cause(schematic: Schematic, advice: Advice, share: CauseShare) -> CauseOut:
    return CauseOut(
        cause=f"{share.part}/{share.mode}",
        part=share.part,
        mode=share.mode,
        title=cause_title(schematic, share.part, share.mode),
        probability=share.probability,
        low=share.low,
        high=share.high,
        repair=share.repair,
        repair_group=share.group or None,
        on_chart=share.on_chart,
    )


def _test(schematic: Schematic, test: Test, worth: TestWorth, told: Told) -> TestOut:
    expected = zip(test.outcomes, worth.outcome_probabilities, strict=True)
    return TestOut(
        test=test.id,
        kind=test.kind,
        title=test.title,
        place=PlaceOut(id=test.place, title=place_title(schematic, test.place)),
        probe=tuple(ProbeOut(connector=connector, cavity=cavity) for connector, cavity in test.probe),
        instrument=test.instrument,
        condition=condition(test, schematic),
        disturbing=test.disturbing,
        opens=test.opens,
        normal=end(test.normal_value),
        minutes=worth.minutes,
        cost=worth.cost,
        worth=worth.worth,
        outcomes=tuple(_outcome(test.unit, outcome, probability) for outcome, probability in expected),
        cautions=told((*test.cautions, *(["disturbing"] if test.disturbing else []))),
    )


def _outcome(unit: str, outcome: Outcome, probability: float) -> OutcomeOut:
    return OutcomeOut(
        outcome=outcome.id,
        label=outcome.label,
        low=end(outcome.low),
        high=end(outcome.high),
        unit=unit,
        settles=outcome.settles,
        probability=probability,
    )
