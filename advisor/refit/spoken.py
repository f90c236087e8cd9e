"""What a confirmed order tells of statements: other symptoms that were spoken of, and the look at the complaint."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property

from advisor.decision.case import looks
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.model import Model
from advisor.network.findings import Finding, OutcomeFinding, SymptomFinding
from advisor.network.worlds import Floats, Worlds
from advisor.refit.order import Order
from advisor.refit.weights import Weigher

HIDES = 0.1
"""A confirmed cause that hides from a look more often than this comes and goes."""


@dataclass(frozen=True, eq=False)
class Case:
    """What a confirmed order tells.

    Attributes:
        worlds: The hypotheses.
        complaint: As it was told.
        findings: All others before the first repair.
        belief: What cause and tests leave, looks at the complaint left out, shape (H,).
        seen: Of the first look at the complaint P(as told | cause, tests), and whether it was; None without one.
    """

    worlds: Worlds
    complaint: SymptomFinding
    findings: tuple[Finding, ...]
    belief: Floats
    seen: tuple[float, bool] | None

    @property
    def comes_and_goes(self) -> bool:
        """Whether the complaint does, or its cause."""
        return self.complaint.comes_and_goes is True or float(self.belief @ self.worlds.quiet) > HIDES

    def told(self) -> Iterator[tuple[str, float, bool]]:
        """Other symptoms that were spoken of: id, P(it shows | cause), whether it was said to be there."""
        for finding in self.findings:
            if isinstance(finding, SymptomFinding) and finding.symptom != self.complaint.symptom:
                shows = self.worlds.presence[:, self.worlds.symptoms.index(finding.symptom)]
                yield finding.symptom, min(float(self.belief @ shows), 1.0), finding.present


@dataclass(frozen=True, eq=False)
class Reader:
    """Reads the confirmed orders of one circuit."""

    weigher: Weigher

    @cached_property
    def stated(self) -> Callable[[str], dict[str, str]]:
        """Looks at a complaint, and the outcome of each that is as the customer tells it."""
        return cache(lambda symptom: stated(self.weigher.model, symptom))

    def case(self, symptom: str, findings: str, causes: str) -> Case | None:
        """An order that speaks of more than tests; None where there is nothing to learn from it."""
        sent, watched = json.loads(findings or "[]"), self.stated(symptom)
        others = [item for item in sent if item.get("kind") == "symptom" and item.get("symptom") != symptom]
        looked = [item for item in sent if item.get("test") in watched]
        if not others and not looked:
            return None
        complaint, *told = self.weigher.read(Order(symptom, findings, first=True))
        assert isinstance(complaint, SymptomFinding)
        rest = [item for item in sent if item not in others and item not in looked]
        joint = self._joint(symptom, rest, causes)
        total, seen = float(joint.sum()), None
        if not total > 0.0:
            return None
        first = next((f for f in told if isinstance(f, OutcomeFinding) and f.test in watched), None)
        if first is not None:
            as_told = {"kind": "outcome", "test": first.test, "outcome": watched[first.test]}
            chance = float(self._joint(symptom, [*rest, as_told], causes).sum()) / total
            seen = min(chance, 1.0), first.outcome == watched[first.test]
        return Case(self.weigher.model.worlds, complaint, tuple(told), joint / total, seen)

    def _joint(self, symptom: str, findings: Sequence[Mapping[str, object]], causes: str) -> Floats:
        """P(hypothesis, complaint, what was found, confirmed causes), shape (H,)."""
        weigher = self.weigher
        joint = weigher.likelihood(Order(symptom, json.dumps(findings), first=True)) * weigher.confirmed(causes)
        joint *= weigher.root.weights * weigher.reported(symptom)
        return joint


def stated(model: Model, symptom: str) -> dict[str, str]:
    """Looks at a complaint, and the outcome of each that is as the customer tells it."""
    glances, found = model.schematic.symptoms[symptom].glances, {}
    for number in sorted(looks(model, (symptom,))):
        test = model.compiled.tests[number]
        at = [g.sees for g in glances if Setup(model.wiring.usual(g.when)) == test.setup]
        found[test.id] = next(sees[test.observed.load] for sees in at if test.observed.load in sees)
    return found
