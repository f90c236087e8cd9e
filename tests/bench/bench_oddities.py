"""The same policies on vehicles that the model does not describe, and how far its shares can be believed there.

    cd tests && PYTHONPATH=..:. python -m bench.bench_oddities --vehicles 300

Vehicles are those of `twin_oddities.py`: rates off by up to 3 (contacts and grounds 10), taps, wrong lamps, strand
breaks, weak batteries, 8 % faults that no file lists.  Stated is the share of the leading cause by the readings of the
policy of two steps, when it first repairs or hands over.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from bench.bench_policies import SEED, UPPER, against, in_total
from bench.bench_policies import Compared as Costed
from bench.policies_known import policies
from bench.policy_walk import lead
from bench.setting import show
from bench.undescribed import Shop, Undescribed
from calibration import believed, calibration_error, floor

import advisor
from advisor.decision.complaint import complaint_of
from advisor.knowledge.model import Model
from advisor.knowledge.shipped import shipped_circuits
from advisor.network.worlds import SPECIALS

SURE, RIGHT, ERROR = 0.9, 0.8, 0.08
"""Targets: of what is stated above the first, the second is right; calibration error at most the third."""


COMPARED = ("two steps", "plan", "chart", "filled chart", "static tree", "rule", "probability/cost")
"""Policies that are led over these vehicles, each reading of which is solved."""


@dataclass(frozen=True, eq=False)
class Odd:
    """One complaint on odd vehicles.

    Attributes:
        costed: What they came to under each policy.
        stated: Share of each vehicle's leading cause, shape (N,).
        right: Whether it has it, shape (N,).
    """

    costed: Costed
    stated: np.ndarray
    right: np.ndarray


def odd(model: Model, symptom: str, vehicles: int, deep: float = 0.005) -> Odd:
    """Lead odd vehicles of one complaint through every policy."""
    complaint = complaint_of(model, symptom)
    rng = np.random.default_rng([SEED, list(model.schematic.symptoms).index(symptom), 1])
    shop = Shop.of(complaint, symptom, vehicles, rng)
    came, worlds = {}, {}
    every = policies(complaint, symptom, deep)
    for name, policy in ((name, every[name]) for name in COMPARED if name in every):
        worlds[name] = Undescribed(shop)
        came[name] = lead(complaint.problem, policy, worlds[name])
    stated, right = told(model, shop, worlds["two steps"])
    found = Odd(Costed(model.schematic.id, symptom, came, {}, 0.0), stated, right)
    print(*cost_row(found), *belief_row("", [found])[1:], sep=" | ", flush=True)  # a run takes long
    return found


def told(model: Model, shop: Shop, world: Undescribed) -> tuple[np.ndarray, np.ndarray]:
    """Share of the leading cause of each vehicle by its readings, and whether it has it."""
    stated, right = [], []
    for fault, findings in zip(shop.fleet.faults, world.findings, strict=True):
        shares = believed(model, findings)
        top = int(np.argmax(shares))
        truth = fault.causes if fault.special is None else (len(shares) - SPECIALS + fault.special,)
        stated.append(shares[top])
        right.append(top in truth)
    return np.array(stated), np.array(right)


def belief_row(name: str, found: Sequence[Odd]) -> list[object]:
    """Right, stated, calibration error and what is stated for sure, over some complaints."""
    stated, right = np.concatenate([f.stated for f in found]), np.concatenate([f.right for f in found])
    sure = stated > SURE
    of_sure = f"{right[sure].mean():.3f} ± {np.sqrt(right[sure].var() / max(sure.sum(), 1)):.3f}" if sure.any() else "-"
    error = calibration_error(stated, right)
    by_chance, _ = floor(Odd(found[0].costed, stated, right), np.random.default_rng(SEED))
    return [name, len(stated), float(right.mean()), float(stated.mean()), error, by_chance, int(sure.sum()), of_sure]


def cost_row(found: Odd) -> list[object]:
    """Circuit, symptom, cost of each policy with its standard error."""
    came = found.costed.came
    cells = [f"{came[n].mean('cost'):.0f} ± {came[n].error('cost'):.0f}" if n in came else "-" for n in COMPARED]
    return [found.costed.circuit, found.costed.symptom, *cells]


def report(by_circuit: Mapping[str, Sequence[Odd]], seconds: float) -> None:
    """Print all tables."""
    every = [found for group in by_circuit.values() for found in group]
    show("Cost on odd vehicles", ("circuit", "symptom", *COMPARED), [cost_row(f) for f in every])
    paired = [row for f in every for policy in ("plan", "two steps") for row in against(f.costed, policy)]
    names = ("symptom", "policy", "other", "difference", "upper 95 %", "share", "line", "held")
    show("Paired differences on odd vehicles", names, paired)
    totals = []
    for policy in ("plan", "two steps"):
        mean, upper = in_total([f.costed for f in every], policy, "rule", 1.0)
        totals.append([policy, "rule", len(every), f"{mean / len(every):+.1f}", f"{upper / len(every):+.1f}"])
    show("Mean over symptoms less the rule", ("", "other", "symptoms", "mean", f"upper, {UPPER} s.e."), totals)
    columns = ("circuit", "vehicles", "right", "stated", "ECE", "floor", f"stated > {SURE}", "of these right")
    rows = [belief_row(circuit, group) for circuit, group in by_circuit.items()] + [belief_row("all", every)]
    show("What is stated of odd vehicles", columns, rows, f"targets {RIGHT} and {ERROR}", f"{seconds:.0f} s")


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--vehicles", type=int, default=300)
    parser.add_argument("--circuits", nargs="*", default=list(shipped_circuits()))
    parser.add_argument("--deep", type=float, default=0.005)
    asked, began = parser.parse_args(), time.perf_counter()
    found = {
        circuit: [odd(model, symptom, asked.vehicles, asked.deep) for symptom in model.schematic.symptoms]
        for circuit in asked.circuits
        for model in (advisor.load(circuit),)
    }
    report(found, time.perf_counter() - began)


if __name__ == "__main__":
    main()
