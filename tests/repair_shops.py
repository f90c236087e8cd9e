"""Invented repair shops: orders drawn from a model's own hypotheses and outcome tables, without an advice walk."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd

from advisor.decision.bench import groundwork
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.worlds import SPECIALS
from advisor.refit.columns import PATTERN_COLUMNS
from advisor.refit.weights import comes_back

MONTHS = 24


def folded(rows: pd.DataFrame) -> pd.DataFrame:
    """Add up equal patterns."""
    keys = list(PATTERN_COLUMNS[:-1])
    sums = rows.groupby(keys, dropna=False, sort=True, as_index=False)["count"].sum()
    return sums[list(PATTERN_COLUMNS)]


@dataclass(frozen=True)
class Habits:
    """How a shop works and writes.

    Attributes:
        pool: For each complaint, how many tests anybody there ever does.
        tests: How many of them on each vehicle.
        verified: Share of orders whose cause is confirmed.
        innocent: Share of the replaced parts of the others that were good.
        followed: Days that a vehicle is followed where the cause is not confirmed; 0 for nobody asks.
    """

    pool: int = 4
    tests: int = 2
    verified: float = 1.0
    innocent: float = 0.0
    followed: int = 0


@dataclass(frozen=True, eq=False)
class Repairshop:
    """A shop whose vehicles fail at the model's rates times some factors, by cause."""

    model: Model
    factors: dict[str, float] = field(default_factory=dict)
    habits: Habits = Habits()

    @cached_property
    def truth(self) -> Model:
        """The model with the rates of the shop's vehicles."""
        return self.model.with_priors("truth", self.factors)

    @cached_property
    def joint(self) -> np.ndarray:
        """P(hypothesis, complaint) up to a factor, shape (S, H)."""
        root = self.truth.prior(Vehicle())
        return np.array([root.weights * self.truth.complaint(root, s) for s in range(len(self.model.worlds.symptoms))])

    @cached_property
    def pools(self) -> list[np.ndarray]:
        """The tests done for each complaint: those that tell most of its likeliest causes apart, the same for all."""
        worlds, pools = self.model.worlds, []
        root = self.model.prior(Vehicle())
        for s in range(len(worlds.symptoms)):
            belief = root.weights * self.model.complaint(root, s)
            belief /= belief.sum()
            chances = np.maximum(worlds.likelihood, 1e-12)
            gain = belief @ (chances * np.log(chances)) - (m := belief @ chances) * np.log(m)
            each = np.array([gain[columns].sum() for columns in worlds.columns])
            pools.append(np.argsort(-each, kind="stable")[:: max(len(each) // 60, 1)][: self.habits.pool])
        return pools

    def chance(self, symptom: int) -> np.ndarray:
        """P(cause | complaint), shape (C,)."""
        return self.model.worlds.with_cause(self.joint[symptom]) / self.joint[symptom].sum()

    def orders(self, count: int, rng: np.random.Generator, months: int = MONTHS) -> pd.DataFrame:
        """Draw orders and count them as patterns."""
        flat = self.joint.ravel() / self.joint.sum()
        drawn = rng.choice(len(flat), count, p=flat)
        rows = [self._order(*divmod(int(one), self.joint.shape[1]), rng) for one in drawn]
        period = [f"{2024 + m // 12}-{m % 12 + 1:02d}" for m in np.sort(rng.integers(0, months, count)).tolist()]
        return folded(pd.DataFrame(rows).assign(period=period, count=1))

    def _order(self, symptom: int, hypothesis: int, rng: np.random.Generator) -> dict[str, object]:
        worlds, sure = self.model.worlds, rng.random() < self.habits.verified and hypothesis >= SPECIALS
        row = {
            "circuit": self.model.schematic.id,
            "symptom": worlds.symptoms[symptom],
            "findings": json.dumps(self._findings(symptom, hypothesis, rng), sort_keys=True, separators=(",", ":")),
            "repairs": "",
            "causes": "",
            "cause_status": "confirmed" if sure else "unknown",
            "came_back": "",
            "followed_days": 0,
            "years": np.nan,
            "hours": np.nan,
            "vehicle_group": "",
            "climate": "",
            "shop": "",
        }
        if sure:
            row["causes"] = "; ".join(sorted(worlds.causes[c] for c in worlds.members[hypothesis] if c >= 0))
            return row
        return row | self._replaced(symptom, hypothesis, rng)

    def _findings(self, symptom: int, hypothesis: int, rng: np.random.Generator) -> list[dict[str, str]]:
        worlds, found = self.model.worlds, []
        for test in np.sort(rng.choice(self.pools[symptom], self.habits.tests, replace=False)):
            outcome = rng.choice(len(worlds.outcomes[test]), p=worlds.likelihood[hypothesis, worlds.columns[test]])
            found.append({"kind": "outcome", "test": worlds.tests[test], "outcome": worlds.outcomes[test][outcome]})
        return found

    def _replaced(self, symptom: int, hypothesis: int, rng: np.random.Generator) -> dict[str, object]:
        """Somebody replaces something and believes that it was that; whether it was shows later, if at all."""
        worlds, ground = self.model.worlds, groundwork(self.model)
        mine = [int(c) for c in worlds.members[hypothesis] if c >= 0]
        if not mine or rng.random() < self.habits.innocent:
            cause = int(rng.choice(len(worlds.causes), p=self.blamed(symptom)))
        else:
            cause = mine[0]
        repair = next(r for r, plan in enumerate(ground.plans) if worlds.causes[cause] in plan.restores)
        left = ground.after[repair, hypothesis]
        shows = worlds.presence[left, symptom] if left >= SPECIALS else float(left == 2)
        back = rng.random() < comes_back(np.array([shows]), "yes", self.habits.followed)[0]
        told = {"causes": worlds.causes[cause], "cause_status": "believed", "repairs": ground.plans[repair].id}
        if self.habits.followed:
            told |= {"came_back": "yes" if back else "no", "followed_days": self.habits.followed}
        return told

    def blamed(self, symptom: int) -> np.ndarray:
        """Chance of each cause to be blamed where a good part is replaced: all that shows the complaint, alike."""
        root = self.model.prior(Vehicle())
        handbook = self.model.worlds.with_cause(root.weights * self.model.worlds.presence[:, symptom])
        shown = (handbook > 1e-3 * handbook.max()).astype(float)
        return shown / shown.sum()
