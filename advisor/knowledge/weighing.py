"""Findings as evidence: what was reported, read or seen against what was predicted."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from advisor.errors import RequestError, RequestProblem
from advisor.knowledge.repeats import repeats
from advisor.knowledge.supply import Axis, drifted
from advisor.knowledge.tabulated import Prediction
from advisor.network.engine import Evidence
from advisor.network.findings import (
    DeclinedFinding,
    Finding,
    OutcomeFinding,
    ReadingFinding,
    RepairFinding,
    SymptomFinding,
)

Tested = OutcomeFinding | ReadingFinding


def weighed(findings: Sequence[Finding]) -> list[tuple[int, SymptomFinding | Tested, int]]:
    """The findings that are evidence by themselves, each with its place among all and how often it was found."""
    return [
        (position, finding, times)
        for position, (finding, times) in enumerate(repeats(findings))
        if times and not isinstance(finding, DeclinedFinding | RepairFinding)
    ]


@dataclass(frozen=True)
class Weighing:
    """What findings are held against.

    Attributes:
        predicted: Predictions of every test.
        reported: What is said of a symptom as evidence; KeyError for an unknown one.
        axis: The states that findings share.
        battery_tests: Tests that read the battery at its posts.
    """

    predicted: Mapping[str, Prediction]
    reported: Callable[[SymptomFinding], Evidence]
    axis: Axis
    battery_tests: frozenset[str]

    def evidence(self, findings: Sequence[Finding]) -> list[Evidence]:
        """Each finding as a likelihood over the hypotheses; a declined test is none, what is repeated is one.

        Raises:
            RequestError: a finding names a symptom, test or outcome that this circuit does not have.
        """
        problems, result, read_at = [], [], self._supply_read_at(findings)
        for position, finding, times in weighed(findings):
            try:
                if isinstance(finding, SymptomFinding):
                    result.append(self.reported(finding))
                else:
                    result.append(self._tested(finding, times, read_at))
            except KeyError as error:
                problems.append(RequestProblem(f"#/findings/{position}", f"unknown in this circuit: {error.args[0]}"))
        if problems:
            raise RequestError(problems)
        return result

    def _tested(self, finding: Tested, times: int, read_at: float | None) -> Evidence:
        extra = 0.0 if read_at is None or finding.minute is None else drifted(finding.minute - read_at)
        predicted = self.predicted[finding.test]
        if isinstance(finding, OutcomeFinding):
            return predicted.outcome(finding.outcome, self.axis, extra, times)
        return predicted.read(finding.value, self.axis, extra, times)

    def _supply_read_at(self, findings: Sequence[Finding]) -> float | None:
        """Minute of the last battery reading, or None."""
        minutes = [f.minute for f in findings if isinstance(f, ReadingFinding) and f.test in self.battery_tests]
        return max((m for m in minutes if m is not None), default=None)
