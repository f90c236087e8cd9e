"""Findings as sent against what the circuit knows: from names and units to values of the domain."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from advisor.contract.body import pointer
from advisor.contract.engine import KnownModel
from advisor.contract.nearest import shown, unknown
from advisor.contract.request import AdviceRequest, FlatReadingIn, OutcomeIn, Reading, ReadingIn, SymptomIn
from advisor.errors import RequestError, RequestProblem
from advisor.knowledge.catalogue import Test
from advisor.network.findings import Finding, OutcomeFinding, ReadingFinding, SymptomFinding

AnyFindingIn = SymptomIn | OutcomeIn | FlatReadingIn | ReadingIn
# What a unit of the caller is worth in the unit of the test.
FACTORS: Mapping[str, Mapping[str, float]] = {"V": {"V": 1.0, "mV": 0.001}}


def to_findings(request: AdviceRequest, model: KnownModel) -> tuple[Finding, ...]:
    """Give the findings in the order sent; raises RequestError with every problem of findings and places."""
    checked = Evidence(model)
    found = [checked.add(place, finding) for place, finding in enumerate(request.findings)]
    checked.places(request.opened)
    if checked.problems:
        raise RequestError(checked.problems)
    return tuple(finding for finding in found if finding is not None)


class Evidence:
    """A pass over the findings of one request that collects every problem on the way."""

    def __init__(self, model: KnownModel) -> None:
        self.model = model
        self.problems: list[RequestProblem] = []
        self._seen: dict[tuple[str, str], int] = {}

    def add(self, place: int, finding: AnyFindingIn) -> Finding | None:
        """Give the finding as a value of the domain, or None with the problem noted."""
        if isinstance(finding, SymptomIn):
            return self._symptom(place, finding)
        test = self._test(place, finding.test)
        if test is None:
            return None
        if isinstance(finding, OutcomeIn):
            return self._outcome(place, test, finding.outcome)
        if isinstance(finding, ReadingIn):
            return self._reading((place, "reading"), test, finding.reading)
        return self._reading((place,), test, finding)

    def places(self, opened: Iterable[str]) -> None:
        """Note every opened place that the vehicle does not have."""
        known = self.model.schematic.places
        for index, name in enumerate(opened):
            if name not in known:
                self._refuse(unknown("place", name, known), "opened", index)

    def _refuse(self, message: str, *tokens: str | int) -> None:
        self.problems.append(RequestProblem(pointer(*tokens), message))

    def _first(self, place: int, kind: str, name: str) -> bool:
        earlier = self._seen.setdefault((kind, name), place)
        if earlier != place:
            self._refuse(f"{name} is answered already at {pointer('findings', earlier)}", "findings", place, kind)
        return earlier == place

    def _symptom(self, place: int, finding: SymptomIn) -> Finding | None:
        known = self.model.schematic.symptoms
        if finding.symptom not in known:
            return self._refuse(unknown("symptom", finding.symptom, known), "findings", place, "symptom")
        if not self._first(place, "symptom", finding.symptom):
            return None
        return SymptomFinding(finding.symptom, finding.present)

    def _test(self, place: int, name: str) -> Test | None:
        test = self.model.tests.get(name)
        if test is None:
            reason = next((held.reason for held in self.model.withheld if held.test == name), None)
            message = f"this test is withheld: {reason}" if reason else unknown("test", name, self.model.tests)
            return self._refuse(message, "findings", place, "test")
        return test if self._first(place, "test", name) else None

    def _outcome(self, place: int, test: Test, outcome: str) -> Finding | None:
        known = [item.id for item in test.outcomes]
        if outcome not in known:
            return self._refuse(unknown(f"outcome of {test.id}", outcome, known), "findings", place, "outcome")
        return OutcomeFinding(test.id, outcome)

    def _reading(self, where: tuple[str | int, ...], test: Test, reading: Reading) -> Finding | None:
        factors = FACTORS.get(test.unit)
        if factors is None:
            names = ", ".join(item.id for item in test.outcomes)
            return self._refuse(f"{test.id} is answered with an outcome: {names}", "findings", *where)
        if reading.value is None:
            return ReadingFinding(test.id, None)
        if reading.unit not in factors:
            listed = " or ".join(factors)
            return self._refuse(f"expected {listed}, not {shown(reading.unit)}", "findings", *where, "unit")
        return ReadingFinding(test.id, reading.value * factors[reading.unit])
