"""Invented repair shops: orders drawn from a model's own hypotheses and outcome tables, without an advice walk."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd
from scipy import optimize

from advisor.decision.bench import groundwork
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.worlds import NONE, SPECIALS
from advisor.refit.afterwards import comes_back
from advisor.refit.columns import PATTERN_COLUMNS
from advisor.refit.spoken import stated

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
        verified: Share of listed causes that are confirmed.
        innocent: Share of all replaced parts that were good; some are fitted before a cause is confirmed.
        followed: Days that a vehicle is followed where the cause is not confirmed; 0 for nobody asks.
        hides: Whether a fault that comes and goes may hide all visit long.
        asked: Of how many other symptoms each customer is asked.
        says_yes: Chance that he says yes whatever is the case.
        says_no: Chance that he says no whatever is the case.
        looked: Share of vehicles at which somebody looks at the complaint first, where there is a look at it.
        otherwise: Share of these looks that see something else than what the fault makes, whatever that is.
    """

    pool: int = 4
    tests: int = 2
    verified: float = 1.0
    innocent: float = 0.0
    followed: int = 0
    hides: bool = False
    asked: int = 0
    says_yes: float = 0.0
    says_no: float = 0.0
    looked: float = 0.0
    otherwise: float = 0.0


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

    @cached_property
    def wrong_first(self) -> float:
        """Chance that the next part that is fitted for a listed fault is good, so that `innocent` holds of all parts.

        Where nothing listed is wrong one good part is fitted; a cause that nobody confirms has one part fitted too.
        """
        none, sure = float(self.joint[:, :SPECIALS].sum() / self.joint.sum()), self.habits.verified

        def excess(wrong: float) -> float:
            """Good parts less those that there should be, by order."""
            good = none + (1.0 - none) * (sure * wrong / (1.0 - wrong) + (1.0 - sure) * wrong)
            parts = none + (1.0 - none) * (sure / (1.0 - wrong) + 1.0 - sure)
            return good - self.habits.innocent * parts

        return float(optimize.brentq(excess, 0.0, 0.99)) if excess(0.0) < 0.0 else 0.0

    def _order(self, symptom: int, hypothesis: int, rng: np.random.Generator) -> dict[str, object]:
        worlds, sure = self.model.worlds, hypothesis >= SPECIALS and rng.random() < self.habits.verified
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
        if not sure:
            return row | self._replaced(symptom, hypothesis, rng)
        mine = [int(c) for c in worlds.members[hypothesis] if c >= 0]
        good = [self._guess(symptom, mine, rng) for _ in range(rng.geometric(1.0 - self.wrong_first) - 1)]
        fitted = [*(f"{self.repair(cause)} stays" for cause in good), f"{self.repair(mine[0])} gone"]
        return row | {"causes": "; ".join(sorted(worlds.causes[c] for c in mine)), "repairs": "; ".join(fitted)}

    def _findings(self, symptom: int, hypothesis: int, rng: np.random.Generator) -> list[dict[str, object]]:
        worlds, found = self.model.worlds, self._said(symptom, hypothesis, rng)
        if self.habits.hides and rng.random() < worlds.quiet[hypothesis]:
            hypothesis = NONE
        found += self._looked(symptom, hypothesis, rng)
        done = {finding.get("test") for finding in found}
        for test in np.sort(rng.choice(self.pools[symptom], self.habits.tests, replace=False)):
            if worlds.tests[test] in done:
                continue
            outcome = rng.choice(len(worlds.outcomes[test]), p=worlds.likelihood[hypothesis, worlds.columns[test]])
            found.append({"kind": "outcome", "test": worlds.tests[test], "outcome": worlds.outcomes[test][outcome]})
        return found

    def _said(self, symptom: int, hypothesis: int, rng: np.random.Generator) -> list[dict[str, object]]:
        """What the customer says of other symptoms."""
        worlds, habits, found = self.model.worlds, self.habits, []
        others = [s for s in range(len(worlds.symptoms)) if s != symptom]
        for s in rng.permutation(others)[: habits.asked].tolist() if habits.asked else ():
            shows, drawn = rng.random() < worlds.presence[hypothesis, s], rng.random()
            says = drawn < habits.says_yes or (shows and drawn < 1.0 - habits.says_no)
            found.append({"kind": "symptom", "symptom": worlds.symptoms[s], "present": bool(says)})
        return found

    def _looked(self, symptom: int, hypothesis: int, rng: np.random.Generator) -> list[dict[str, object]]:
        """A look at the complaint, where somebody looks and there is one."""
        worlds = self.model.worlds
        watched = stated(self.model, worlds.symptoms[symptom]) if self.habits.looked else {}
        if not watched or rng.random() >= self.habits.looked:
            return []
        test, as_told = next(iter(watched.items()))
        index = worlds.tests.index(test)
        chances = worlds.likelihood[hypothesis, worlds.columns[index]].copy()
        if rng.random() < self.habits.otherwise:
            chances = np.array([float(outcome != as_told) for outcome in worlds.outcomes[index]])
        outcome = rng.choice(len(chances), p=chances / chances.sum())
        return [{"kind": "outcome", "test": test, "outcome": worlds.outcomes[index][outcome]}]

    def _replaced(self, symptom: int, hypothesis: int, rng: np.random.Generator) -> dict[str, object]:
        """Somebody replaces something and believes that it was that; whether it was shows later, if at all."""
        worlds, ground = self.model.worlds, groundwork(self.model)
        mine = [int(c) for c in worlds.members[hypothesis] if c >= 0]
        wrong = not mine or rng.random() < self.wrong_first
        cause = self._guess(symptom, mine, rng) if wrong else mine[0]
        left = ground.after[self._row(cause), hypothesis]
        shows = worlds.presence[left, symptom] if left >= SPECIALS else float(left == 2)
        back = rng.random() < comes_back(np.array([shows]), "yes", self.habits.followed)[0]
        told = {"causes": worlds.causes[cause], "cause_status": "believed", "repairs": self.repair(cause)}
        if self.habits.followed:
            told |= {"came_back": "yes" if back else "no", "followed_days": self.habits.followed}
        return told

    def _row(self, cause: int) -> int:
        """The repair of a cause."""
        plans = groundwork(self.model).plans
        return next(r for r, plan in enumerate(plans) if self.model.worlds.causes[cause] in plan.restores)

    def repair(self, cause: int) -> str:
        """Id of the repair of a cause."""
        return groundwork(self.model).plans[self._row(cause)].id

    def _guess(self, symptom: int, mine: list[int], rng: np.random.Generator) -> int:
        """A cause that is blamed though its part is good: none whose repair would cure what is wrong."""
        chance = self.blamed(symptom).copy()
        cured = {self._row(cause) for cause in mine}
        chance[[cause for cause in np.flatnonzero(chance) if self._row(int(cause)) in cured]] = 0.0
        return int(rng.choice(len(chance), p=chance / chance.sum()))

    def blamed(self, symptom: int) -> np.ndarray:
        """Chance of each cause to be blamed where a good part is replaced: all that shows the complaint, alike."""
        root = self.model.prior(Vehicle())
        handbook = self.model.worlds.with_cause(root.weights * self.model.worlds.presence[:, symptom])
        shown = (handbook > 1e-3 * handbook.max()).astype(float)
        return shown / shown.sum()
