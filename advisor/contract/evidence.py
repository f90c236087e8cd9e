"""Findings as sent against what the circuit knows: from names and units to values of the domain."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from advisor.contract.body import pointer
from advisor.contract.engine import KnownModel
from advisor.contract.nearest import shown, unknown
from advisor.contract.request import (
    AdviceRequest,
    AnyFindingIn,
    DeclinedIn,
    OutcomeIn,
    Reading,
    ReadingIn,
    RepairIn,
    SymptomIn,
)
from advisor.errors import RequestError, RequestProblem
from advisor.knowledge.catalogue import Test
from advisor.network.findings import (
    DeclinedFinding,
    Finding,
    OutcomeFinding,
    ReadingFinding,
    RepairFinding,
    SymptomFinding,
)
from advisor.units import READ_IN


def to_findings(request: AdviceRequest, model: KnownModel) -> tuple[Finding, ...]:
    """Give the findings in the order sent; raises RequestError with every problem of findings and places."""
    checked = Evidence(model)
    found = [checked.add(place, finding) for place, finding in enumerate(request.findings)]
    checked.places(request.opened)
    checked.worked(work.place for work in request.worked)
    if checked.problems:
        raise RequestError(checked.problems)
    told = [finding for finding in found if finding is not None]
    if any(isinstance(sent, DeclinedIn) and sent.started_working for sent in request.findings):
        told = _seen_to_go(told)
    return tuple(told)


def _seen_to_go(findings: Sequence[Finding]) -> list[Finding]:
    """The findings once it started working by itself: the first complaint comes and goes, whatever was told of it."""
    first = next((place for place, f in enumerate(findings) if isinstance(f, SymptomFinding) and f.present), None)
    return [
        replace(finding, comes_and_goes=True) if place == first and isinstance(finding, SymptomFinding) else finding
        for place, finding in enumerate(findings)
    ]


class Evidence:
    """A pass over the findings of one request that collects every problem on the way."""

    def __init__(self, model: KnownModel) -> None:
        self.model = model
        self.problems: list[RequestProblem] = []
        self._seen: dict[tuple[str, str], int] = {}

    def add(self, place: int, finding: AnyFindingIn) -> Finding | None:
        """Give the finding as a value of the domain, or None with the problem noted."""
        try:
            return self._finding(place, finding)
        except RequestError as error:
            self.problems += error.problems
            return None

    def places(self, opened: Iterable[object]) -> None:
        """Note every opened place that the vehicle does not have; what is no text is refused elsewhere."""
        known = self.model.schematic.places
        for index, name in enumerate(opened):
            if isinstance(name, str) and name not in known:
                self.problems.append(RequestProblem(pointer("opened", index), unknown("place", name, known)))

    def worked(self, places: Iterable[str]) -> None:
        """Note every place that was worked at and that the vehicle does not have."""
        known = self.model.schematic.places
        for index, name in enumerate(places):
            if name not in known:
                self.problems.append(RequestProblem(pointer("worked", index, "place"), unknown("place", name, known)))

    def _finding(self, place: int, finding: AnyFindingIn) -> Finding:
        if isinstance(finding, SymptomIn):
            return self._symptom(place, finding)
        if isinstance(finding, RepairIn):
            return self._repair(place, finding)
        test = self._test(place, finding.test)
        if isinstance(finding, DeclinedIn):
            return DeclinedFinding(test.id)
        if isinstance(finding, OutcomeIn):
            return _outcome(place, test, finding)
        if isinstance(finding, ReadingIn):
            return _reading((place, "reading"), test, finding.reading, finding.minute)
        return _reading((place,), test, finding, finding.minute)

    def _first(self, place: int, kind: str, name: str) -> None:
        earlier = self._seen.setdefault((kind, name), place)
        if earlier != place:
            raise _refusal(f"{name} is answered already at {pointer('findings', earlier)}", place, kind)

    def _symptom(self, place: int, finding: SymptomIn) -> Finding:
        known = self.model.schematic.symptoms
        if finding.symptom not in known:
            raise _refusal(unknown("symptom", finding.symptom, known), place, "symptom")
        self._first(place, "symptom", finding.symptom)
        return SymptomFinding(finding.symptom, finding.present, finding.comes_and_goes)

    def _repair(self, place: int, finding: RepairIn) -> Finding:
        """A repair starts anew what may be answered; whether there is such a repair the decision knows."""
        known = self.model.schematic.symptoms
        if finding.symptom is not None and finding.symptom not in known:
            raise _refusal(unknown("symptom", finding.symptom, known), place, "symptom")
        self._seen = {key: earlier for key, earlier in self._seen.items() if key[0] != "test"}
        return RepairFinding(finding.repair, finding.result, finding.symptom)

    def _test(self, place: int, name: str) -> Test:
        test = self.model.tests.get(name)
        if test is None:
            reason = next((held.reason for held in self.model.withheld if held.test == name), None)
            message = f"this test is withheld: {reason}" if reason else unknown("test", name, self.model.tests)
            raise _refusal(message, place, "test")
        self._first(place, "test", name)
        return test


def _refusal(message: str, *tokens: str | int) -> RequestError:
    return RequestError([RequestProblem(pointer("findings", *tokens), message)])


def _outcome(place: int, test: Test, finding: OutcomeIn) -> Finding:
    known = [item.id for item in test.outcomes]
    if finding.outcome not in known:
        raise _refusal(unknown(f"outcome of {test.id}", finding.outcome, known), place, "outcome")
    return OutcomeFinding(test.id, finding.outcome, finding.minute)


def _reading(where: tuple[str | int, ...], test: Test, reading: Reading, minute: float | None) -> Finding:
    factors = READ_IN.get(test.unit)
    if factors is None:
        names = ", ".join(item.id for item in test.outcomes)
        raise _refusal(f"{test.id} is answered with an outcome: {names}", *where)
    if reading.value is None:
        return ReadingFinding(test.id, None, minute)
    factor = factors.get(reading.unit or test.unit)  # a person at the meter types a bare number
    if factor is None:
        raise _refusal(f"expected {' or '.join(factors)}, not {shown(reading.unit)}", *where, "unit")
    return ReadingFinding(test.id, reading.value * factor, minute)
