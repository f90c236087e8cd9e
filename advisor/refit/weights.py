"""What a repair order says of each hypothesis: likelihoods that do not depend on any rate.

A part that was replaced because of what was found says nothing more; whether the complaint went away does, and so does
whether the vehicle came back.  A confirmed cause leaves the hypotheses that hold it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import get_args

import numpy as np

from advisor.contract.evidence import Evidence as Checked
from advisor.contract.request import FINDING
from advisor.decision.history import History, history_of
from advisor.errors import RequestError, RequestProblem
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import Evidence, begun
from advisor.network.findings import Finding, RepairFinding, SymptomFinding
from advisor.network.priors import Prior
from advisor.network.proving import Result
from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED, Bools, Floats
from advisor.units import DAYS_PER_YEAR

RETURN_DAYS = 30.0
"""Mean days until a complaint that is still there brings a vehicle back [days]: judgement, no source."""
RETURNS_HERE = 0.8
"""Share of such customers that come back to the same shop: judgement, no source."""
ANEW_PER_YEAR = 0.02
"""Rate at which a mended vehicle comes back with the same complaint for another reason [1/year]: judgement."""
EARLY_DAYS = 15.0
"""A vehicle that came back in the first band of days was followed so long at least [days]: judgement."""
KEEP = 4096
"""Orders whose likelihoods are kept."""
_RESULTS: dict[str, Result] = {text: text for text in get_args(Result)}


@dataclass(frozen=True)
class Order:
    """What an order tells beside its count: the columns of a pattern that bear on what was wrong.

    `came_back` is "yes", "no" or "" for not known; `followed_days` [days] is for how long somebody would know.
    """

    symptom: str
    findings: str = "[]"
    repairs: str = ""
    came_back: str = ""
    followed_days: float = 0.0


@dataclass(frozen=True, eq=False)
class Weigher:
    """Weighs the orders of one circuit; an order that was weighed is kept."""

    model: Model

    @cached_property
    def root(self) -> Prior:
        """Prior of a typical vehicle; it cancels from the likelihoods."""
        return self.model.prior(Vehicle())

    @cached_property
    def _kept(self) -> dict[Order, Floats]:
        return {}

    def reported(self, symptom: str) -> Floats:
        """P(symptom reported | hypothesis) for a typical vehicle, shape (H,)."""
        return self.model.complaint(self.root, self.model.worlds.symptoms.index(symptom))

    def likelihood(self, order: Order) -> Floats:
        """P(all that the order tells | hypothesis in which the vehicle came, complaint), shape (H,).

        Raises:
            RequestError: the order names something that the circuit does not have, or its findings make no sense.
        """
        found = self._kept.get(order)
        if found is None:
            if len(self._kept) >= KEEP:
                self._kept.clear()
            found = self._kept[order] = self._weighed(order)
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

    def _weighed(self, order: Order) -> Floats:
        if order.symptom not in self.model.schematic.symptoms:
            raise _refused(f"unknown symptom {order.symptom}")
        findings = [SymptomFinding(order.symptom), *self._findings(order), *_repairs(order.repairs)]
        history = history_of(self.model, self.root, findings)
        told = [*history.evidence, *self._came_back(order, history)]
        joint = begun(self.model.worlds, self.root, told, self.model.axis.prior, history.paths)
        before = self.root.weights * self.reported(order.symptom)
        return np.divide(joint, before, out=np.zeros_like(joint), where=before > 0.0)

    def _findings(self, order: Order) -> list[Finding]:
        """Findings in their order, the complaint itself left out."""
        checked, found = Checked(self.model), []
        try:
            sent = [FINDING.validate_python(item) for item in json.loads(order.findings)]
        except ValueError as error:  # pydantic's error is one too
            raise _refused(f"the findings cannot be read: {error}") from error
        for place, finding in enumerate(sent):
            value = checked.add(place, finding)
            if value is not None and value != SymptomFinding(order.symptom):
                found.append(value)
        if checked.problems:
            raise RequestError(checked.problems)
        return found

    def _came_back(self, order: Order, history: History) -> list[Evidence]:
        """Whether the vehicle came back, where somebody repaired something."""
        if history.paths is None or order.came_back not in {"yes", "no"}:
            return []
        worlds = self.model.worlds
        shows: Floats = worlds.presence[:, worlds.symptoms.index(order.symptom)].copy()
        shows[[NONE, AS_DESIGNED, UNLISTED]] = 0.0, 0.0, 1.0
        back = comes_back(shows[history.paths.now], order.came_back, order.followed_days)
        return [Evidence(back, 1.0)]


def comes_back(shows: Floats, came_back: str, followed_days: float) -> Floats:
    """P(a vehicle came back, or did not, within the days that it was followed | what is left), shape of `shows`.

    Whoever still has the complaint comes back after an exponential time, or goes elsewhere; not coming back is no proof
    that it is gone.

    Args:
        shows: P(complaint shows | what is left).
        came_back: "yes" or "no".
        followed_days: Time in which a return would be known [days].
    """
    days = max(followed_days, EARLY_DAYS) if came_back == "yes" else followed_days
    still = RETURNS_HERE * -np.expm1(-days / RETURN_DAYS)
    anew = -np.expm1(-ANEW_PER_YEAR * days / DAYS_PER_YEAR)
    back: Floats = anew + (1.0 - anew) * still * shows
    return back if came_back == "yes" else 1.0 - back


def _repairs(text: str) -> list[RepairFinding]:
    """Repairs of "REPAIR result; REPAIR result", all of them after what was found."""
    done = []
    for item in filter(None, (part.strip() for part in text.split(";"))):
        name, _, result = item.partition(" ")
        done.append(RepairFinding(name, _RESULTS.get(result.strip())))
    return done


def _refused(message: str) -> RequestError:
    return RequestError([RequestProblem("#", message)])


def names(causes: str) -> Sequence[str]:
    """Give the causes of a cell, in their order."""
    return tuple(filter(None, (text.strip() for text in causes.split(";"))))
