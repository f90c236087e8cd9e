"""What policies cost on drawn vehicles: the advisor's, printed charts, rules, and the best tree on a chart's own tests.

    cd tests && PYTHONPATH=..:. python -m bench.bench_policies --vehicles 5000

For every symptom vehicles are drawn from the model given the complaint, and each policy is led through the same ones
with the same luck.  Who has no more to say goes on by probability over cost, without tests.  Printed: cost with its
standard error, paired differences with upper 95 % limits, and what the cost is made of.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from bench.agreement import agreement
from bench.policies_known import policies
from bench.policy_walk import Came, Chooser, Described, draw, lead
from bench.setting import show
from bench.small_instances import GAP, NODES, REPAIRS, rows

import advisor
from advisor.decision.advice import Costs
from advisor.decision.complaint import complaint_of
from advisor.decision.plan import value_of
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.knowledge.shipped import shipped_circuits

SEED = 20_240_229
HAND_OVERS = (250.0, 500.0, 1000.0, 10_000.0)
"""Prices of handing over [money]; the last is as good as never."""
CHEAPER, DEARER = 0.90, 1.02
"""At least a tenth cheaper than the printed chart; nowhere more than 2 % dearer than others: targets."""
OTHERS = ("filled chart", "static tree", "rule")
UPPER = 1.645
"""One-sided 95 % limit of a mean in standard errors: the normal quantile."""
NAMES = (
    "one step",
    "two steps",
    "plan",
    "chart",
    "filled chart",
    "static tree",
    "rule",
    "likeliest first",
    "probability/cost",
    "source to load",
)


@dataclass(frozen=True, eq=False)
class Compared:
    """One complaint under every policy.

    Attributes:
        circuit: Its circuit.
        symptom: Its symptom.
        came: What the same vehicles came to under each policy.
        exact: Expected cost over all hypotheses, of the policies that are plans [money].
        lower: What somebody who knows the fault would spend [money]; no policy can cost less.
    """

    circuit: str
    symptom: str
    came: Mapping[str, Came]
    exact: Mapping[str, float]
    lower: float


def compared(model: Model, symptom: str, vehicles: int, hand_over: float = 250.0, deep: float = 0.001) -> Compared:
    """Lead the vehicles of one complaint through every policy."""
    complaint = complaint_of(model, symptom, Vehicle(), Costs(hand_over=hand_over))
    problem, every = complaint.problem, policies(complaint, symptom, deep)
    drawn = draw(problem, vehicles, np.random.default_rng([SEED, list(model.schematic.symptoms).index(symptom)]))
    came = {name: lead(problem, policy, Described(problem, drawn)) for name, policy in every.items()}
    exact = {name: value_of(problem, p).cost for name, p in every.items() if not isinstance(p, Chooser)}
    lower = complaint.outlook.known.bound(problem.stage, problem.belief)
    return Compared(model.schematic.id, symptom, came, exact, lower)


def difference(found: Compared, policy: str, other: str, times: float = 1.0) -> tuple[float, float]:
    """Cost of a policy less so many times another's on the same vehicles: mean and upper 95 % limit [money]."""
    gap = found.came[policy].values["cost"] - times * found.came[other].values["cost"]
    return float(gap.mean()), float(gap.mean() + UPPER * gap.std(ddof=1) / np.sqrt(len(gap)))


def in_total(every: Sequence[Compared], policy: str, other: str, times: float) -> tuple[float, float]:
    """The same summed over the complaints that have the other policy, each weighing the same."""
    gaps = [found.came[policy].values["cost"] - times * found.came[other].values["cost"] for found in every]
    error = np.sqrt(sum(float(gap.var(ddof=1)) / len(gap) for gap in gaps))
    mean = sum(float(gap.mean()) for gap in gaps)
    return mean, mean + UPPER * error


def cost_row(found: Compared) -> list[object]:
    """Circuit, symptom, cost of each policy with its standard error, lower bound."""
    cells = [
        f"{found.came[name].mean('cost'):.0f} ± {found.came[name].error('cost'):.1f}" if name in found.came else "-"
        for name in NAMES
    ]
    return [found.circuit, found.symptom, *cells, f"{found.lower:.0f}"]


def made_of(found: Compared) -> Iterator[list[object]]:
    """A row for each policy: cost, what it is made of, and the exact cost of plans."""
    for name, came in found.came.items():
        parts = [
            f"{came.mean(field):.{digits}f} ± {came.error(field):.{digits + 1}f}"
            for field, digits in (("cost", 1), ("minutes", 1), ("tests", 2), ("wrong_parts", 2), ("fixed", 3))
        ]
        exact = f"{found.exact[name]:.1f}" if name in found.exact else "-"
        yield [found.symptom, name, *parts, f"{came.mean('handed_over'):.3f}", exact, came.histories]


def against(found: Compared, policy: str) -> Iterator[list[object]]:
    """A row for each other policy of the target: paired difference, its upper limit, and whether the line is held."""
    lines = {"chart": CHEAPER} | dict.fromkeys(OTHERS, DEARER)
    for other, times in lines.items():
        if other in found.came:
            plain, scaled = difference(found, policy, other), difference(found, policy, other, times)
            share = found.came[policy].mean("cost") / found.came[other].mean("cost") - 1.0
            held = "yes" if scaled[1] <= 0.0 else "no"
            yield [found.symptom, policy, other, *(f"{x:+.1f}" for x in plain), f"{100 * share:+.1f} %", times, held]


def report(every: Sequence[Compared], hand_over: float, seconds: float) -> None:
    """Print all tables of one hand-over price."""
    title = f"hand-over {hand_over:.0f}"
    show(f"Cost by policy, {title}", ("circuit", "symptom", *NAMES, "lower"), [cost_row(f) for f in every])
    columns = ("symptom", "policy", "cost", "minutes", "tests", "wrong parts", "fixed", "handed over", "exact", "asked")
    show(f"What it is made of, {title}", columns, [row for f in every for row in made_of(f)])
    paired = [row for f in every for policy in ("plan", "two steps") for row in against(f, policy)]
    names = ("symptom", "policy", "other", "difference", "upper 95 %", "share", "line", "held")
    show(f"Paired differences, {title}", names, paired, f"{seconds:.0f} s")
    with_chart = [f for f in every if "chart" in f.came]
    totals = [
        [policy, "chart", len(with_chart), *(f"{x:+.1f}" for x in in_total(with_chart, policy, "chart", CHEAPER))]
        for policy in ("plan", "two steps")
        if with_chart
    ]
    show(f"In total less {CHEAPER} times the chart, {title}", ("", "other", "symptoms", "mean", "upper 95 %"), totals)


def report_optimum(models: Sequence[Model], sizes: Sequence[int], drawn: int, nodes: int) -> None:
    """Print what the advisor's steps cost over the optimum of small instances."""
    for size in sizes:
        found = []
        for model in models:
            for symptom in model.schematic.symptoms:
                name = f"{model.schematic.id} {symptom}"
                found += rows(complaint_of(model, symptom), name, drawn, size, nodes)
                print(size, *found[-1 - drawn :], sep="\n", flush=True)  # a run takes long
        columns = ("instance", "classes", "best", "lower", "advisor", "ratio", "at most", "certified")
        each = [(r.instance, r.classes, r.best, r.lower, r.advisor, r.ratio, r.at_most, r.certified) for r in found]
        certified = np.array([r.ratio for r in found if r.certified])
        most = np.array([r.at_most for r in found if not r.certified])
        notes = [f"certified to {GAP:.1%}: {len(certified)} of {len(found)}"]
        if len(certified):
            notes.append(f"ratio of these: mean {certified.mean():.4f}, largest {certified.max():.4f}")
        if len(most):
            notes.append(f"proved bound of the others: mean {most.mean():.4f}, largest {most.max():.4f}")
        show(f"Advisor over optimum, {size} tests, {REPAIRS} repairs", columns, each, *notes)


def report_exact(models: Sequence[Model], hand_overs: Sequence[float]) -> None:
    """Print what plans cost over all hypotheses, exactly, at each price, and what share they fix."""
    lines = []
    for model in models:
        for symptom in model.schematic.symptoms:
            for hand_over in hand_overs:
                complaint = complaint_of(model, symptom, Vehicle(), Costs(hand_over=hand_over))
                plans = {n: p for n, p in policies(complaint, symptom).items() if not isinstance(p, Chooser)}
                value = {name: value_of(complaint.problem, plan) for name, plan in plans.items()}
                cells = [f"{value[n].cost:.0f} {value[n].fixed:.2f}" if n in value else "-" for n in NAMES[2:]]
                lines.append([symptom, f"{hand_over:.0f}", *cells])
    show("Exact cost and share fixed", ("symptom", "hand-over", *NAMES[2:]), lines)


def report_agreement(models: Sequence[Model], vehicles: int) -> None:
    """Print how often the bench's step is the one that advice names."""
    lines = []
    for model in models:
        for depth in (1, 2):
            same: list[bool] = []
            for symptom in model.schematic.symptoms:
                rng = np.random.default_rng(SEED)
                same += agreement(complaint_of(model, symptom), symptom, vehicles, depth, rng)
            lines.append([model.schematic.id, depth, len(same), float(np.mean(same))])
    show("Steps of the bench that advice names too", ("circuit", "steps ahead", "histories", "same"), lines)


def main() -> None:
    """Print the tables for each hand-over price."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--vehicles", type=int, default=5000)
    parser.add_argument("--hand-overs", type=float, nargs="*", default=list(HAND_OVERS))
    parser.add_argument("--circuits", nargs="*", default=list(shipped_circuits()))
    parser.add_argument("--symptoms", nargs="*", default=[])
    parser.add_argument("--deep", type=float, default=0.001)
    parser.add_argument("--optimum", type=int, nargs="*", default=[], help="numbers of tests of small instances")
    parser.add_argument("--exact", action="store_true", help="no vehicles: expected costs of plans at each price")
    parser.add_argument("--agreement", type=int, default=0, help="vehicles a symptom on which steps are compared")
    parser.add_argument("--drawn", type=int, default=20)
    parser.add_argument("--nodes", type=int, default=NODES)
    asked = parser.parse_args()
    models = [advisor.load(circuit) for circuit in asked.circuits]
    if asked.optimum:
        report_optimum(models, asked.optimum, asked.drawn, asked.nodes)
        return
    if asked.exact:
        report_exact(models, asked.hand_overs)
        return
    if asked.agreement:
        report_agreement(models, asked.agreement)
        return
    for hand_over in asked.hand_overs:
        began, every = time.perf_counter(), []
        for model in models:
            for symptom in asked.symptoms or model.schematic.symptoms:
                every.append(compared(model, symptom, asked.vehicles, hand_over, asked.deep))
        report(every, hand_over, time.perf_counter() - began)


if __name__ == "__main__":
    main()
