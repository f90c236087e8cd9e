"""What a repair order says of each hypothesis: likelihoods that do not depend on any rate.

A part that was replaced because of what was found says nothing more; whether the complaint went away does, and so does
whether the vehicle came back.  A confirmed cause leaves the hypotheses that hold it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache

import numpy as np

from advisor.contract.evidence import Evidence as Checked
from advisor.contract.request import FINDING, AnyFindingIn
from advisor.decision.history import History, history_of
from advisor.errors import RequestError, RequestProblem
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.batches import Batch
from advisor.network.engine import Evidence, begun
from advisor.network.findings import Finding, OutcomeFinding, ReadingFinding, RepairFinding, SymptomFinding
from advisor.network.priors import Prior
from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED, Bools, Floats
from advisor.refit.afterwards import Afterwards, comes_back
from advisor.refit.order import Order, in_stretches, repairs_of

KEEP = 4096
"""Orders that are kept as they were read."""
FEW = 256
"""Repairs that are kept with what they leave, by whether the vehicle came back."""
FEWER = 32
"""Repairs whose paths are kept: some megabytes each."""
TESTED = OutcomeFinding | ReadingFinding


@dataclass(frozen=True, eq=False)
class Weigher:
    """Weighs the orders of one circuit."""

    model: Model

    @cached_property
    def root(self) -> Prior:
        """Prior of a typical vehicle; it cancels from the likelihoods."""
        return self.model.prior(Vehicle())

    @cached_property
    def reported(self) -> Callable[[str], Floats]:
        """P(symptom reported | hypothesis) for a typical vehicle, shape (H,), by symptom."""
        return cache(lambda symptom: self.model.complaint(self.root, self.model.worlds.symptoms.index(symptom)))

    @cached_property
    def read(self) -> Callable[[Order], tuple[Finding, ...]]:
        """Give what an order tells, the complaint first and repairs where they were done; the last ones are kept.

        Raises:
            RequestError: the order names something that the circuit does not have, or its findings make no sense.
        """
        return lru_cache(maxsize=KEEP)(self._read)

    def likelihood(self, order: Order) -> Floats:
        """P(all that the order tells | hypothesis in which the vehicle came, complaint), shape (H,).

        Raises:
            RequestError: as `read`.
        """
        complaint, *findings = self.read(order)
        before = [f for f in findings if isinstance(f, SymptomFinding | OutcomeFinding | ReadingFinding)]
        repairs = tuple(finding for finding in findings if isinstance(finding, RepairFinding))
        assert isinstance(complaint, SymptomFinding)
        if self._in_turn(findings):
            return self._walked(order, (complaint, *findings))
        after = self._afterwards(order.symptom, repairs, order.came_back, order.followed_days)
        told = self._batch.told([replace(f, minute=None) if isinstance(f, TESTED) else f for f in before])
        found: Floats = told.shows * after.shows + told.hides * after.hides + told.shows[NONE] * after.silent
        found *= told.said * self._said(complaint)
        return found

    def confirmed(self, causes: str) -> Bools:
        """Hypotheses that hold all of some causes (PART/MODE, or PART for any of its modes), shape (H,).

        Raises:
            RequestError: the circuit has no such cause.
        """
        worlds = self.model.worlds
        held = np.ones(len(worlds.members), dtype=bool)
        for name in filter(None, (text.strip() for text in causes.split(";"))):
            mine = [cause == name or cause.rpartition("/")[0] == name for cause in worlds.causes]
            if not any(mine):
                raise _refused(f"unknown cause {name}")
            held &= worlds.holds[:, mine].any(axis=1)
        return held

    def evidence(self, finding: OutcomeFinding | ReadingFinding) -> Evidence:
        """What a test says by itself; the last ones are kept."""
        return self._batch.evidence(replace(finding, minute=None))

    @cached_property
    def _batch(self) -> Batch:
        model = self.model
        return Batch(
            lambda finding: model.evidence([finding], self.root)[0], model.axis.prior, len(model.worlds.members)
        )

    def _said(self, complaint: SymptomFinding) -> Floats:
        """What the complaint says beyond that it was reported, shape (H,): whether it comes and goes."""
        if complaint.comes_and_goes is None:
            return np.ones(len(self.model.worlds.members))
        reported = self.reported(complaint.symptom)
        said = self._batch.evidence(complaint).likelihood
        return np.divide(said, reported, out=np.zeros_like(said), where=reported > 0.0)

    @cached_property
    def _mended(self) -> Callable[[str, tuple[RepairFinding, ...]], History]:
        """The paths of some repairs after a complaint, the last ones kept."""
        return lru_cache(maxsize=FEWER)(
            lambda symptom, repairs: history_of(self.model, self.root, [SymptomFinding(symptom), *repairs])
        )

    @cached_property
    def _afterwards(self) -> Callable[[str, tuple[RepairFinding, ...], str, float], Afterwards]:
        """What repairs leave of what was found before, by complaint, repairs, and whether the vehicle came back."""

        def after(symptom: str, repairs: tuple[RepairFinding, ...], came_back: str, days: float) -> Afterwards:
            """Walk all paths once."""
            history = self._mended(symptom, repairs)
            return Afterwards.of(self.model.worlds.quiet, history, self._came_back(symptom, history, came_back, days))

        return lru_cache(maxsize=FEW)(after)

    def _in_turn(self, findings: Sequence[Finding]) -> bool:
        """Whether findings must be weighed one after the other: some follow a repair, or a supply that was read."""
        mended = [isinstance(finding, RepairFinding) for finding in findings]
        later = mended != sorted(mended)
        timed = [f for f in findings if isinstance(f, TESTED) and f.minute is not None]
        return later or (len(timed) > 1 and any(f.test in self.model.battery_tests for f in timed))

    def _walked(self, order: Order, findings: Sequence[Finding]) -> Floats:
        """The likelihood along all paths of repairs, finding by finding."""
        history = history_of(self.model, self.root, findings)
        back = self._came_back(order.symptom, history, order.came_back, order.followed_days)
        told = [*history.evidence, *([] if back is None else [Evidence(back, 1.0)])]
        joint = begun(self.model.worlds, self.root, told, self.model.axis.prior, history.paths)
        before = self.root.weights * self.reported(order.symptom)
        return np.divide(joint, before, out=np.zeros_like(joint), where=before > 0.0)

    def _read(self, order: Order) -> tuple[Finding, ...]:
        if order.symptom not in self.model.schematic.symptoms:
            raise _refused(f"unknown symptom {order.symptom}")
        try:
            sent = [FINDING.validate_python(item) for item in json.loads(order.findings)]
        except ValueError as error:  # pydantic's error is one too
            raise _refused(f"the findings cannot be read: {error}") from error
        found = self._checked(in_stretches(sent, repairs_of(order.repairs), first=order.first))
        complaint = next((f for f in found if _is_complaint(f, order.symptom)), SymptomFinding(order.symptom))
        told = (complaint, *(f for f in found if not _is_complaint(f, order.symptom)))
        repairs = tuple(finding for finding in told if isinstance(finding, RepairFinding))
        if repairs:
            self._mended(order.symptom, repairs)  # refuses what the circuit does not have
        return told

    def _checked(self, sent: Sequence[AnyFindingIn]) -> list[Finding]:
        checked = Checked(self.model)
        found = [checked.add(place, finding) for place, finding in enumerate(sent)]
        if checked.problems:
            raise RequestError(checked.problems)
        return [finding for finding in found if finding is not None]

    def _came_back(self, symptom: str, history: History, came_back: str, days: float) -> Floats | None:
        """P(the vehicle came back, or did not | path), shape (P,), where somebody repaired something."""
        if history.paths is None or came_back not in {"yes", "no"}:
            return None
        worlds = self.model.worlds
        shows: Floats = worlds.presence[:, worlds.symptoms.index(symptom)].copy()
        shows[[NONE, AS_DESIGNED, UNLISTED]] = 0.0, 0.0, 1.0
        return comes_back(shows[history.paths.now], came_back, days)


def _is_complaint(finding: Finding, symptom: str) -> bool:
    return isinstance(finding, SymptomFinding) and finding.symptom == symptom and finding.present


def _refused(message: str) -> RequestError:
    return RequestError([RequestProblem("#", message)])


def names(causes: str) -> Sequence[str]:
    """Give the causes of a cell, in their order."""
    return tuple(filter(None, (text.strip() for text in causes.split(";"))))
