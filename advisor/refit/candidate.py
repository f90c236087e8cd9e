"""A candidate for a release of priors as a file: what to multiply rates by, from which orders, and how good it is."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd

from advisor.knowledge.model import PRIORS, Model
from advisor.refit.columns import PATTERN_COLUMNS
from advisor.refit.evaluating import Evaluation, summary
from advisor.refit.exposure import Absolute, Rate
from advisor.refit.learning import Learned
from advisor.refit.minutes import Took
from advisor.refit.predicting import every_cause
from advisor.refit.rates import Rates
from advisor.refit.slips import Slip
from advisor.refit.statements import Trust
from advisor.refit.verdict import Gain

FORMAT = "priors/1"
_DIGITS = 6
Json = dict[str, object]


@dataclass(frozen=True)
class Made:
    """How a candidate came about: its name, what it was fitted from, when, the seed, how many rows were rejected."""

    name: str
    at: datetime
    seed: int
    rejected: int = 0
    base: str = PRIORS


def candidate(learned: Learned, patterns: pd.DataFrame, models: Mapping[str, Model], made: Made) -> Json:
    """Give a candidate as values of JSON, format priors/1.

    Args:
        learned: What was learned.
        patterns: From which patterns.
        models: Circuits by id, with the priors that it began from.
        made: How it came about.
    """
    periods = sorted(set(patterns["period"]) - {""})
    return {
        "format": FORMAT,
        "name": made.name,
        "base": made.base,
        "made_at": made.at.isoformat(),
        "seed": made.seed,
        "orders": {
            "accepted": int(patterns["count"].sum()),
            "rejected": made.rejected,
            "from": periods[0] if periods else None,
            "to": periods[-1] if periods else None,
            "digest": digest(patterns),
        },
        "knowledge": {circuit: models[circuit].knowledge for circuit in learned.rates},
        "factors": {circuit: _factors(models[circuit], rates) for circuit, rates in learned.rates.items()},
        "evaluation": evaluation(learned, made.seed),
        "verdict": learned.verdict,
    }


def work(
    slips: Sequence[Slip], took: Sequence[Took], trusts: Sequence[Trust] = (), in_force: Sequence[str] = ()
) -> Json:
    """What was learned of instruments, minutes and statements, told along; a release puts in force what it lists."""
    return {
        "in_force": list(in_force),
        "statements": [_numbers(each, "from_handbook") | {"from": each.source} for each in trusts],
        "slips": {each.instrument: _numbers(each, "instrument") for each in slips},
        "minutes": {each.work: _numbers(each, "work") for each in took},
    }


def exposed(rates: Absolute) -> Json:
    """Rates of orders in 1,000 vehicle-years, where the exposure is known."""
    causes = {c: {cause: _numbers(rate) for cause, rate in own.items()} for c, own in rates.causes.items()}
    return {"exposure": {"groups": {g: _numbers(rate) for g, rate in rates.groups.items()}, "causes": causes}}


def _numbers(each: Slip | Took | Rate | Trust, name: str = "") -> Json:
    told = {key: value for key, value in vars(each).items() if key != name}
    return {key: value if isinstance(value, str) else _rounded(value) for key, value in told.items()}


def digest(patterns: pd.DataFrame) -> str:
    """Content hash of a table of patterns, whatever the order of its rows."""
    table = patterns[list(PATTERN_COLUMNS)].sort_values(list(PATTERN_COLUMNS), ignore_index=True)
    text = table.to_csv(index=False, lineterminator="\n", float_format="%.12g")
    return "sha256:" + hashlib.sha256(text.encode()).hexdigest()


def _factors(model: Model, rates: Rates) -> dict[str, Json]:
    """Factors on the library's rates; those of the base are multiplied in."""
    base = np.array([model.factors.get(cause, 1.0) for cause in model.compiled.causes])
    columns = [base * row for row in (rates.factors, rates.known.low, rates.known.high)]
    rows = zip(model.compiled.causes, *columns, rates.events, rates.known.from_handbook, strict=True)
    return {
        cause: {
            "factor": _rounded(factor),
            "low": _rounded(low),
            "high": _rounded(high),
            "events": _rounded(events),
            "from": "handbook" if handbook else "orders",
        }
        for cause, factor, low, high, events, handbook in rows
    }


def evaluation(learned: Learned, seed: int) -> Json:
    """Give the proof: scores with old and new priors, paired gains with one-sided 95 % limits, drift."""
    proof, every = learned.evaluation, every_cause(learned.coordinates.terms)
    told: Json = {
        "relative": learned.taken.counted.exposure is None,
        "firmness": learned.firmer,
        "refused": sum(refused.count for refused in learned.refused),
        "drift": [
            {
                "circuit": every[found.place][0],
                "cause": every[found.place][1],
                "share_before": _rounded(found.share_before),
                "share_after": _rounded(found.share_after),
                "p": _rounded(found.p),
            }
            for found in learned.drifts
        ],
    }
    return told if proof is None else told | _proof(proof, learned.parted.first, seed)


def _proof(proof: Evaluation, since: str, seed: int) -> Json:
    sides = {name: summary(found, proof.weight, np.random.default_rng(seed)) for name, found in proof.sides}
    gains = {name: gain_of(proof.gain(name)) for name in ("loss", "cost", "tests")}
    return {
        "since": since,
        "scored": int(proof.weight.sum()),
        "by": "confirmed cause, given complaint and findings",
        **{name: {key: _rounded(value) for key, value in found.items()} for name, found in sides.items()},
        "gain": gains,
    }


def gain_of(gain: Gain) -> Json:
    """A gain with its limits."""
    return {name: _rounded(getattr(gain, name)) for name in ("mean", "low", "high")}


def _rounded(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")
