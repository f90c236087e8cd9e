"""The advice as a value: what every front end presents."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from advisor.knowledge.catalogue import Withheld
from advisor.knowledge.spares import Bought
from advisor.knowledge.supply import Supply


@dataclass(frozen=True)
class Costs:
    """What time and parts cost: labour [money per hour], hand-over price [money], currency."""

    labour_per_hour: float = 85.0
    hand_over: float = 250.0
    currency: str = "EUR"

    def labour(self, minutes: float) -> float:
        """Price of working time [money]."""
        return minutes / 60.0 * self.labour_per_hour


@dataclass(frozen=True)
class CauseShare:
    """A cause in the ranking: posterior share with its truncation bounds.

    `group` names the section of the circuit that it lies in; `on_chart` is None where the reported symptom has
    no printed chart.
    """

    part: str
    mode: str
    probability: float
    low: float
    high: float
    repair: str | None
    on_chart: bool | None
    group: str = ""


@dataclass(frozen=True)
class TestWorth:
    """A proposable test: its price now, its expected net saving, its predicted outcomes."""

    __test__ = False  # not a pytest class

    test: str
    minutes: float
    cost: float
    worth: float
    outcome_probabilities: tuple[float, ...]


@dataclass(frozen=True)
class RepairShare:
    """A repair in the order in which it would be tried; probability that it touches a present cause."""

    repair: str
    title: str
    minutes: float
    cost: float
    probability: float
    cautions: tuple[str, ...] = ()
    spares: tuple[Bought, ...] = ()


@dataclass(frozen=True)
class NextStep:
    """The next step: kind is test, repair, no_fault, as_designed, unlisted, hand_over or ask_customer."""

    kind: str
    id: str | None
    reason: str


@dataclass(frozen=True)
class Bearings:
    """A test that tells from which side a connector is read: its likeliest outcome read rightly, and mirrored.

    `bits` is what it tells of the side, 1 at most.
    """

    test: str
    connector: str
    right: str
    mirrored: str
    bits: float


@dataclass(frozen=True)
class Estimate:
    """What getting the vehicle fixed comes to [money]: by the cheapest cure, on average, for 9 of 10 cases."""

    low: float
    expected: float
    high: float


@dataclass(frozen=True)
class Asked:
    """The step for which the customer has to be asked: what it costs [money] and takes [min], and what all comes to."""

    kind: str
    id: str | None
    cost: float
    minutes: float
    estimate: Estimate


@dataclass(frozen=True)
class FindingReason:
    """What one finding says of one cause; `finding` is its place among all.

    Weights in decibans, plus for the cause, None where one side of the odds is nothing.  `predicted` is what the test
    shows with this fault alone, in its likeliest severity, `sound` in the sound circuit, both at the supply of the
    case: [V, A, ohm], infinite for over range, a share of full light or speed, the chance of seeing damage or of
    showing the symptom; None for what never settles.
    """

    finding: int
    in_turn: float | None
    left_out: float | None
    predicted: float | None
    sound: float | None


@dataclass(frozen=True)
class CauseReasons:
    """All findings' reasons for and against one cause, in their order."""

    part: str
    mode: str
    findings: tuple[FindingReason, ...]


@dataclass(frozen=True)
class OddFinding:
    """The finding that fits the others worst.

    `surprise` is by how much the conflict falls without it [decibans], None where it falls by nothing; `slip` is the
    probability that it is a wrong place or a misread value.
    """

    finding: int
    surprise: float | None
    slip: float


@dataclass(frozen=True)
class Reasons:
    """Why the first causes of the ranking stand where they do."""

    causes: tuple[CauseReasons, ...]
    odd: OddFinding | None


@dataclass(frozen=True)
class NotProved:
    """A pin of a suspect control unit that is not proved good yet.

    Attributes:
        part: The unit.
        pin: Its pin.
        role: Feed, ground, input or load.
        node: What the pin is joined to.
        share: Probability of a fault on the pin's way with the unit itself good.
        test: What would prove it for the least price, else what tells most of it; None where no test is left that does.
    """

    part: str
    pin: str
    role: str
    node: str
    share: float
    test: str | None


@dataclass(frozen=True)
class Stopping:
    """Whether testing further can still pay.

    Attributes:
        same_decision: Probability that the next repair, or handing over, stays what it is once `tests` are all done.
        tests: The best tests, as many as can be judged together.
        perfect_information: What knowing the fault would save against repairing without tests; no test can save more
            [money].
        no_test_pays: Whether the cheapest test that is left costs more than that.
    """

    same_decision: float
    tests: tuple[str, ...]
    perfect_information: float
    no_test_pays: bool


@dataclass(frozen=True)
class Advice:
    """Ranked causes, worth of tests, repairs and the next step for one set of findings.

    Probabilities are normalised over the enumerated hypotheses; money in the currency of
    the costs; `conflict_decibans` is None below two findings; `hiding` is the probability
    of a fault that has not shown in any test; `expected_slips` is how many of the findings are
    probably a wrong cavity or a misread value; `least_cost` is what no plan can cost less than, by who knows the fault,
    and `stopping` are None one step ahead; `supply` is None where no reading stands on one; `reasons` are there where
    they were asked for; `not_proved` is what is to be proved before units are replaced that are suspect; `asked` is
    the step that exceeds what the customer authorised; `mirrored` is how likely each connector that was probed is read
    from the other side, `bearings` what tells so.
    """

    evidence_probability: float
    omitted_mass: float
    conflict_decibans: float | None
    no_fault: float
    as_designed: float
    unlisted: float
    causes: tuple[CauseShare, ...]
    tests: tuple[TestWorth, ...]
    withheld: tuple[Withheld, ...]
    repairs: tuple[RepairShare, ...]
    next: NextStep
    expected_cost_now: float
    expected_cost_after_next: float
    supply: Supply | None
    least_cost: float | None = None
    stopping: Stopping | None = None
    not_proved: tuple[NotProved, ...] = ()
    asked: Asked | None = None
    expected_slips: float = 0.0
    hiding: float = 0.0
    reasons: Reasons | None = None
    mirrored: Mapping[str, float] = field(default_factory=dict)
    bearings: Bearings | None = None

    @property
    def gap(self) -> float | None:
        """By what share of the least cost the expected cost with the next step exceeds it; None one step ahead."""
        return (self.expected_cost_after_next - self.least_cost) / self.least_cost if self.least_cost else None
