"""Is what the model says as often right as it says: shares of the top cause against the truth of virtual vehicles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache, reduce

import numpy as np
from twin_readings import Technician
from twin_vehicles import Fleet, Riches, Twin

from advisor.decision.advise import decide
from advisor.knowledge.catalogue import Test
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import posterior
from advisor.network.findings import Finding, SymptomFinding
from advisor.network.worlds import SPECIALS, UNLISTED

FEWEST, MOST = 3, 10
REPEATED = 0.1
"""Share of steps at which an earlier test is done again: judgement, no source."""
KEPT = 64
"""Supplies at which what tests would show is kept, of all those that the vehicles' batteries have."""
WAYS = ("as it is", "without shared states")
"""Ways in which the model may be asked, each printed by the bench."""


def believed(model: Model, findings: Sequence[Finding], way: str = "as it is") -> np.ndarray:
    """P(cause | findings) of every cause, then of none, as designed and unlisted, shape (C + 3,).

    The one place that knows how a posterior is asked for: `way` is one of `WAYS`.
    """
    assert way in WAYS
    root = model.prior(Vehicle())
    states = model.axis.prior if way == WAYS[0] else None
    belief = posterior(model.worlds, root, model.evidence(findings, root), states)
    assert belief is not None, findings
    return np.append(model.worlds.with_cause(belief.weights), belief.weights[:SPECIALS])


def given_listed(shares: np.ndarray) -> np.ndarray:
    """The same shares given that the fault is none that the model lacks, shape (C + 3,)."""
    kept = shares.copy()
    kept[len(shares) - SPECIALS + UNLISTED] = 0.0
    return kept / (1.0 - shares[len(shares) - SPECIALS + UNLISTED])


@dataclass(frozen=True)
class Judged:
    """What became of N vehicles.

    Attributes:
        stated: Stated probability of each vehicle's top cause, shape (N,).
        right: Whether the vehicle has it, shape (N,).
        log_loss: -log of the stated probability of what the vehicle has, mean over several faults, shape (N,).
        faults: Number of faults of the model's causes, shape (N,).
        special: Index of the special hypothesis, -1 for faults, shape (N,).
        slipped: Whether any of its findings is a slip, shape (N,).
        bad_black: Whether its black lead sat on a bad ground, shape (N,).
    """

    stated: np.ndarray
    right: np.ndarray
    log_loss: np.ndarray
    faults: np.ndarray
    special: np.ndarray
    slipped: np.ndarray
    bad_black: np.ndarray

    def joined(self, other: Judged) -> Judged:
        """These vehicles and others."""
        pairs = ((getattr(self, name), getattr(other, name)) for name in self.__dataclass_fields__)
        return Judged(*(np.concatenate(pair) for pair in pairs))

    def where(self, mask: np.ndarray) -> Judged:
        """Some of the vehicles."""
        return Judged(*(getattr(self, name)[mask] for name in self.__dataclass_fields__))


def judged(
    model: Model,
    count: int,
    rng: np.random.Generator,
    *,
    riches: Riches = Riches(),  # noqa: B008  frozen
    by_advice: float = 0.5,
) -> dict[str, Judged]:
    """Draw vehicles evenly over the symptoms, test them, ask the model in every way.

    Each way comes twice: all vehicles, and, as "..., listed", those whose fault the model knows, by the shares given
    that it does.
    """
    symptoms, twin = list(model.schematic.symptoms), Twin(model, riches)
    vars(model)["_worlds_at"] = lru_cache(KEPT)(model._worlds_by_step)
    shares = np.diff(np.linspace(0, count, len(symptoms) + 1).astype(int)).tolist()
    fleet = reduce(Fleet.joined, [twin.fleet(s, n, rng) for s, n in zip(symptoms, shares, strict=True)])
    technician = Technician(twin, fleet, rng)
    findings = tested(technician, np.repeat(symptoms, shares).tolist(), rng, by_advice)
    listed, found = [f.special != UNLISTED for f in fleet.faults], {}
    for way in WAYS:
        stated = [believed(model, seen, way) for seen in findings]
        found[way] = _judged(technician, stated)
        found[f"{way}, listed"] = _judged(technician, [given_listed(s) for s in stated], listed)
    return found


def tested(
    technician: Technician, symptoms: Sequence[str], rng: np.random.Generator, by_advice: float
) -> list[list[Finding]]:
    """Do three to ten tests on each vehicle, one after another: by the advice, at random, or one once more."""
    findings: list[list[Finding]] = [[SymptomFinding(symptom)] for symptom in symptoms]
    wanted = rng.integers(FEWEST, MOST + 1, len(findings))
    for done in range(MOST):
        rows = np.flatnonzero(wanted > done).tolist()
        asked = [(row, _next_test(technician.twin.model, findings[row], rng, by_advice)) for row in rows]
        for (row, _), finding in zip(asked, technician.read(asked), strict=True):
            findings[row].append(finding)
    return findings


def _next_test(model: Model, findings: Sequence[Finding], rng: np.random.Generator, by_advice: float) -> Test:
    done = [f.test for f in findings[1:]]
    if done and rng.random() < REPEATED:
        return model.tests[str(rng.choice(done))]
    if rng.random() < by_advice:
        step = decide(model, findings, depth=1).next
        if step.kind == "test":
            return model.tests[step.id]
    return model.tests[str(rng.choice([id for id in model.tests if id not in done]))]


def _judged(technician: Technician, shares: Sequence[np.ndarray], kept: Sequence[bool] | None = None) -> Judged:
    rows = []
    for vehicle, (fault, stated) in enumerate(zip(technician.fleet.faults, shares, strict=True)):
        if kept is None or kept[vehicle]:
            special = -1 if fault.special is None else fault.special
            truth = list(fault.causes) if special < 0 else [len(stated) - SPECIALS + special]
            top, loss = int(np.argmax(stated)), -float(np.mean(np.log(stated[truth])))
            slipped, black = vehicle in technician.slipped, technician.black[vehicle] != ""
            rows.append((stated[top], top in truth, loss, len(fault.causes), special, slipped, black))
    return Judged(*(np.array(column) for column in zip(*rows, strict=True)))


def gap(found: Judged) -> tuple[float, float]:
    """How much oftener the top cause is right than stated, and the standard error of that."""
    error = np.sqrt((found.stated * (1.0 - found.stated)).sum()) / len(found.stated)
    return float(found.right.mean() - found.stated.mean()), float(error)


def calibration_error(stated: np.ndarray, right: np.ndarray, bins: int = 15) -> float:
    """Expected calibration error in bins of equal mass: sum over bins of n_b/N |right - stated|."""
    order = np.argsort(stated, kind="stable")
    parts = np.array_split(order, bins)
    return sum(abs(float(right[p].sum() - stated[p].sum())) for p in parts if len(p)) / len(stated)


def bootstrap(found: Judged, rng: np.random.Generator, times: int = 400) -> tuple[float, float]:
    """95 % interval of the calibration error, vehicles drawn again."""
    count = len(found.stated)
    drawn = (rng.integers(count, size=count) for _ in range(times))
    errors = [calibration_error(found.stated[rows], found.right[rows]) for rows in drawn]
    return float(np.quantile(errors, 0.025)), float(np.quantile(errors, 0.975))


def floor(found: Judged, rng: np.random.Generator, times: int = 400) -> tuple[float, float]:
    """What the calibration error comes to by chance, labels drawn from the stated shares: mean, 95 % quantile."""
    draws = (rng.random(len(found.stated)) < found.stated for _ in range(times))
    errors = [calibration_error(found.stated, right) for right in draws]
    return float(np.mean(errors)), float(np.quantile(errors, 0.95))
