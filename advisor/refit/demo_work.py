"""What an invented shop does about an invented fault: tests, repairs, sometimes the wrong part, and what it writes."""

from __future__ import annotations

import json
from dataclasses import dataclass

import numpy as np

from advisor.decision.repairs import VERIFY_MINUTES, RepairPlan
from advisor.network.worlds import SPECIALS, UNLISTED
from advisor.refit.demo_faults import Circuit

# How messy the work is; shares of the orders, chosen by what the refit has to stand.
UNVERIFIED = 0.3
INNOCENT = 0.4
"""Share of unverified replacements that fit a part which was good."""
WRONG_FIRST = 0.1
"""Share of verified orders in which another part was fitted first."""
NO_FINDINGS = 0.15
COMPLAINT_ONLY = 0.1
BAD_REPAIR = 0.02
MISTYPED = 0.05
LABOUR_PER_HOUR = 85.0


@dataclass(frozen=True)
class Work:
    """What was done and written: cells of the order, working time [min], whether the complaint will be back."""

    cells: dict[str, object]
    minutes: float
    comes_back: bool


def done_work(circuit: Circuit, symptom: str, hypothesis: int, rng: np.random.Generator) -> Work:
    """Draw the work on a vehicle with a complaint."""
    worlds = circuit.true.worlds
    causes = [worlds.causes[cause] for cause in worlds.members[hypothesis].tolist() if cause >= 0]
    tests = circuit.findings(hypothesis, symptom, rng)
    verified = rng.random() >= UNVERIFIED
    innocent = not verified and rng.random() < INNOCENT
    if hypothesis < SPECIALS:
        # Nothing that is listed is wrong; who does not know fits a part all the same, and what is wrong stays.
        fitted = [] if verified else [_guess(circuit, symptom, causes, rng)]
        repairs, named = [(plan, "") for plan, _ in fitted], [cause for _, cause in fitted]
        status, back = ("believed" if fitted else "unknown"), hypothesis == UNLISTED and not verified
    elif innocent:
        plan, cause = _guess(circuit, symptom, causes, rng)
        repairs, named, status, back = [(plan, "")], [cause], _status(rng), True
    else:
        repairs, named = _mended(circuit, causes, verified), causes
        status, back = ("confirmed" if verified else _status(rng)), rng.random() < BAD_REPAIR
        if verified and rng.random() < WRONG_FIRST:
            repairs = [(_guess(circuit, symptom, causes, rng)[0], "stays"), *repairs]
    return _written(circuit, symptom, tests, repairs, named if status != "unknown" else [], status, back, rng)


def _status(rng: np.random.Generator) -> str:
    return "believed" if rng.random() < 0.7 else "unknown"


def _guess(circuit: Circuit, symptom: str, causes: list[str], rng: np.random.Generator) -> tuple[RepairPlan, str]:
    """Draw a cause that is none, as likely as the handbook makes it, and what mends it."""
    belief = circuit.believed(symptom).copy()
    names = circuit.handbook.compiled.causes
    cured = {cured for cause in causes for cured in circuit.cures(cause).restores}
    belief[[name in cured for name in names]] = 0.0
    cause = names[int(rng.choice(len(names), p=belief / belief.sum()))]
    return circuit.cures(cause), cause


def _mended(circuit: Circuit, causes: list[str], verified: bool) -> list[tuple[RepairPlan, str]]:
    """Mend all causes; only who verifies looks for the complaint after each repair."""
    plans = list({plan.id: plan for plan in (circuit.cures(cause) for cause in causes)}.values())
    return [(plan, "" if not verified else "gone" if plan is plans[-1] else "stays") for plan in plans]


def _written(  # noqa: PLR0913, PLR0917  the parts of one order
    circuit: Circuit,
    symptom: str,
    tests: list[dict[str, object]],
    repairs: list[tuple[RepairPlan, str]],
    causes: list[str],
    status: str,
    comes_back: bool,
    rng: np.random.Generator,
) -> Work:
    usual = circuit.minutes_of(tests) + sum(plan.minutes for plan, _ in repairs) + VERIFY_MINUTES
    minutes = round(max(usual * float(np.exp(rng.normal(0.0, 0.25))), VERIFY_MINUTES))
    price = sum(plan.price for plan, _ in repairs)
    complaint: dict[str, object] = {"kind": "symptom", "symptom": symptom, "present": True}
    drawn = rng.random()
    kept = [] if drawn < NO_FINDINGS else [complaint] if drawn < NO_FINDINGS + COMPLAINT_ONLY else [complaint, *tests]
    titles = "; ".join(plan.title for plan, _ in repairs)
    cells: dict[str, object] = {
        "findings": json.dumps(kept, separators=(",", ":")) if kept else "",
        "repairs": "; ".join(f"{plan.id} {result}".strip() for plan, result in repairs),
        "causes": "; ".join(causes),
        "cause_status": status,
        "correction": _typed(titles, rng) if titles else "nothing replaced",
        "parts_price": f"{price:.2f}" if repairs else "",
        "minutes": minutes,
        "cost": f"{minutes / 60.0 * LABOUR_PER_HOUR + price:.2f}",
    }
    return Work(cells, float(minutes), comes_back)


def _typed(text: str, rng: np.random.Generator) -> str:
    """Swap two letters now and then, as hands do."""
    if len(text) < 4 or rng.random() >= MISTYPED:
        return text
    place = int(rng.integers(1, len(text) - 2))
    return text[:place] + text[place + 1] + text[place] + text[place + 2 :]
