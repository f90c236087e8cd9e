"""What refits are worth: planted rates, few orders, messy orders, undescribed vehicles, and how honest intervals are.

    cd tests && PYTHONPATH=..:. python -m bench.bench_refit fleet planted few messy undescribed coverage --circuits horn

Orders are drawn from the model's own hypotheses and outcome tables at planted rates (`repair_shops`), those of vehicles
that the model does not describe from solved circuits.

Whether a refit saves money is asked of a fleet (`fleet`), since on one circuit most decisions stay what they are:

- A fleet is one seed of `demo_orders`: 5,000 orders of the circuits and tables of `FLEET`, whose plans are quickly
  made, with 30 % unverified, good parts fitted, findings missing; factors on all rates are log-normal (spread .7) and
  drawn first.
- One refit learns from all but the last months; these orders' confirmed ones are scored, and it has not seen them.
- Plans two steps ahead, as advice is given, are made with the handbook's priors and with the refit's, for a typical
  vehicle.  Each scored vehicle is followed through both over all outcomes of all tests and all severities of its cause:
  nothing is drawn.  (One step ahead will not do: such plans may cost more with the true rates than with others.)
- A seed counts as better where the mean over all scored orders is lower with the new priors; equal is not better.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
from architecture.sources import ROOT
from bench.setting import show
from fit_problems import coverage
from oracles_refit import plain_sweeps
from repair_shops import Habits, Repairshop, folded
from scipy import stats
from twin_oddities import OddTwin
from twin_readings import Technician

import advisor
from advisor.decision.bench import groundwork
from advisor.drawing.svg import image, line, text
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.findings import OutcomeFinding
from advisor.refit.counted import Shelf, counted
from advisor.refit.demo import demo_orders
from advisor.refit.evaluating import scorable
from advisor.refit.fitting import ENOUGH, SWEEPS, Gamma, fit
from advisor.refit.intake import intake
from advisor.refit.learning import Learned, Learning, unseen_orders
from advisor.refit.patterns import patterns
from advisor.refit.predicting import log_chances
from advisor.refit.rates import Scale
from advisor.refit.splitting import split

SPREAD = 0.7
"""Log-normal spread of the planted factors."""
SEED = 33
MESSY = Habits(verified=0.7, innocent=0.4, followed=90)


def planted(model: Model, seed: int, spread: float = SPREAD) -> dict[str, float]:
    """Factors of one shop's vehicles, fixed by the seed."""
    rng = np.random.default_rng([SEED, seed])
    return {cause: float(np.exp(spread * rng.standard_normal())) for cause in model.compiled.causes}


def orders(models: Mapping[str, Model], seed: int, count: int, habits: Habits, spread: float = SPREAD) -> pd.DataFrame:
    """Orders of one shop, as many of each circuit."""
    rng = np.random.default_rng([SEED + 1, seed])
    tables = [Repairshop(m, planted(m, seed, spread), habits).orders(count, rng) for m in models.values()]
    return folded(pd.concat(tables, ignore_index=True))


def share_better(gains: np.ndarray) -> str:
    """Share of gains above zero with its exact one-sided lower 95 % limit."""
    won, n = int((gains > 0).sum()), len(gains)
    low = float(stats.beta.ppf(0.05, won, n - won + 1)) if won else 0.0
    return f"{won}/{n} (at least {low:.2f})"


FLEET = ("belt-reminder", "charge-warning-lamp", "cranks-but-does-not-start", "engine-runs-hot", "fuel-gauge")


def report_fleet(circuits: Sequence[str], seeds: range, count: int, depth: int) -> None:
    """Held-out log loss and replayed cost of whole fleets, old priors against new."""
    learning = Learning({circuit: advisor.load(circuit) for circuit in circuits}, depth=depth)
    gains: dict[str, list[float]] = {"loss": [], "cost": [], "tests": []}
    said, errors = [], []
    for seed in seeds:
        rows = demo_orders(learning.models, seed, count).rows
        found = learning.learn(patterns(pd.DataFrame(rows)))
        assert found.evaluation is not None
        each = {name: found.evaluation.gain(name) for name in gains}
        for name, gain in each.items():
            gains[name].append(gain.mean)
        said.append(found.verdict)
        errors.append((each["cost"].mean - each["cost"].low) / 1.645)
        print(seed, *(f"{name} {g.mean:.4f}" for name, g in each.items()), f"{errors[-1]:.3f}", said[-1], flush=True)
    rows_shown = [[f"{n} better", share_better(np.array(g)), f"mean {np.mean(g):.4f}"] for n, g in gains.items()]
    rows_shown.append(["verdicts", ", ".join(f"{v} {said.count(v)}" for v in sorted(set(said))), ""])
    note = f"{', '.join(circuits)}; standard error of a fleet's mean saving {np.mean(errors):.2f}"
    show(f"Fleets of {count} orders, {len(seeds)} seeds", ("what", "share", ""), rows_shown, note)


def report_planted(models: Mapping[str, Model], seeds: int, count: int) -> None:
    """Held-out log loss and replayed cost, old against new, and whether intervals hold planted contrasts."""
    learning, loss, cost, held, said = Learning(models), [], [], [], []
    for seed in range(seeds):
        found = learning.learn(orders(models, seed, count, MESSY))
        assert found.evaluation is not None
        loss.append(found.evaluation.gain("loss").mean)
        cost.append(found.evaluation.gain("cost").mean)
        said.append(found.verdict)
        if seed < 10:
            held.append(contrasts(found, models, seed))
        print(seed, f"{loss[-1]:.4f} nat", f"{cost[-1]:.2f}", said[-1], found.firmer, flush=True)
    inside = np.array(held).sum(axis=0)
    rows = [
        ["log loss better", share_better(np.array(loss)), f"mean {np.mean(loss):.4f} nat"],
        ["replayed cost better", share_better(np.array(cost)), f"mean {np.mean(cost):.2f}"],
        ["verdicts", ", ".join(f"{v} {said.count(v)}" for v in sorted(set(said))), ""],
        ["planted contrasts inside 90 %", f"{inside[0]}/{inside[1]}", f"rank correlation {inside[2] / len(held):.2f}"],
    ]
    show(f"Planted rates, {count} orders a circuit, {seeds} seeds", ("what", "share", ""), rows, ", ".join(models))


def contrasts(found: Learned, models: Mapping[str, Model], seed: int) -> list[float]:
    """Of factors with 20 events or more, how many hold the planted one up to a scale; how many; rank correlation."""
    inside, number, rank = 0, 0, []
    for circuit, rates in found.rates.items():
        true = np.array([planted(models[circuit], seed)[c] for c in models[circuit].compiled.causes])
        kept = (rates.events >= 20.0) & ~rates.known.from_handbook
        shift = np.exp(np.average(np.log(true / rates.known.middle)[kept], weights=rates.events[kept]))
        inside += int(((rates.known.low * shift <= true) & (true <= rates.known.high * shift))[kept].sum())
        number += int(kept.sum())
        rank.append(float(stats.spearmanr(rates.factors[kept], true[kept]).statistic))
    return [inside, number, float(np.mean(rank))]


@dataclass(frozen=True, eq=False)
class Judge:
    """Many confirmed orders of one truth, against which fits of few are judged."""

    learning: Learning
    table: pd.DataFrame

    def loss(self, found: Learned, factors: np.ndarray) -> float:
        """Mean -log P(confirmed cause) [nat]."""
        kept = self.table[scorable(self.table, self.learning.shelf)].reset_index(drop=True)
        unseen = unseen_orders(kept, self.learning.shelf.only(found.coordinates.terms), found.coordinates)
        each = log_chances(unseen.blind, factors) - log_chances(unseen.known, factors)
        return float(np.average(each, weights=unseen.blind.count))


def report_few(models: Mapping[str, Model], replicates: int) -> None:
    """Shops with few orders a year whose vehicles fail as the handbook says, and as planted."""
    learning, rows = Learning(models, depth=1), []
    for spread in (0.0, SPREAD):
        for count in (20, 50, 100):
            worse, said = [], []
            for seed in range(replicates):
                judge = Judge(learning, orders(models, 0 if spread == 0 else seed, 1500, Habits(), spread))
                found = learning.learn(orders(models, 1000 + seed if spread == 0 else seed, count, MESSY, spread))
                worse.append(judge.loss(found, found.fit.factors) - judge.loss(found, np.ones(len(found.fit.factors))))
                said.append(found.verdict)
            names = ", ".join(f"{v} {said.count(v)}" for v in sorted(set(said)))
            error = np.std(worse, ddof=1) / np.sqrt(len(worse))
            rows.append([spread, count, f"{np.mean(worse):+.4f} ± {error:.4f}", f"{np.max(worse):+.4f}", names])
            print(*rows[-1], flush=True)
    columns = ("spread", "orders a circuit", "log loss new - old [nat]", "worst", "verdicts")
    show(f"Few orders, {replicates} shops", columns, rows, ", ".join(models))


def report_nothing(models: Mapping[str, Model], first: int, shops: int, count: int) -> None:
    """Whole refits of shops whose vehicles fail just as the handbook says, with orders enough for a verdict."""
    learning, said, gains = Learning(models, depth=1), [], []
    for seed in range(shops):
        found = learning.learn(orders(models, 5000 + first + seed, count, MESSY, spread=0.0))
        assert found.evaluation is not None
        said.append(found.verdict)
        gains.append(found.evaluation.gain("loss").mean)
        print(seed, f"{gains[-1]:+.5f} nat", said[-1], found.firmer, flush=True)
    better = said.count("better")
    high = float(stats.beta.ppf(0.95, better + 1, shops - better)) if better < shops else 1.0
    names = ", ".join(f"{v} {said.count(v)}" for v in sorted(set(said)))
    rows = [[count, f"{better}/{shops} (at most {high:.3f})", f"{np.mean(gains):+.5f}", names]]
    show(f"Nothing differs, {shops} shops", ("orders a circuit", "better", "log loss gained", "verdicts"), rows)


def report_messy(models: Mapping[str, Model], seeds: int, count: int, picture: Path | None) -> None:
    """P(cause | complaint) of the fit, of counting what orders name, and of counting what was replaced."""
    learning, far = Learning(models), []
    for seed in range(seeds):
        table = orders(models, seed, count, MESSY)
        far.append([np.mean(each) for each in zip(*(distances(learning, c, table, seed) for c in models), strict=True)])
        print(seed, *(f"{x:.4f}" for x in far[-1]), flush=True)
    every = np.array(far)
    rows = [
        [name, f"{mean:.4f}", f"{np.mean(every[:, 0] <= 0.5 * every[:, i]):.2f}"]
        for i, (name, mean) in enumerate(zip(WAYS, every.mean(axis=0), strict=True))
    ]
    note = f"mean ratio to the count of what orders name {np.mean(every[:, 0] / every[:, 2]):.2f}"
    show(f"Unverified orders, {seeds} seeds", ("way", "total variation", "fit at most half"), rows, note)
    if picture is not None:
        picture.write_text(drawn(every), encoding="utf-8")


WAYS = ("fit", "handbook", "count of named causes", "count of replaced parts")


def distances(learning: Learning, circuit: str, table: pd.DataFrame, seed: int) -> list[float]:
    """Total variation from the true P(cause | complaint) of each of `WAYS`, complaints weighted by their orders."""
    model = learning.models[circuit]
    mine = folded(table[table["circuit"] == circuit])
    shelf = learning.shelf.only([circuit])
    coordinates = shelf.coordinates(mine)
    every = counted(mine, shelf, coordinates).counted
    found = fit(every, Gamma.around_one(coordinates.shape()))
    factors = Scale.of(coordinates, every).relative(circuit, found.factors[None])[0]
    names, far, weight = list(model.compiled.causes), [], []
    shop = Repairshop(model, planted(model, seed))
    fitted = Repairshop(model, dict(zip(names, factors.tolist(), strict=True)))
    handbook = Repairshop(model)
    for s, symptom in enumerate(model.worlds.symptoms):
        rows = mine[mine["symptom"] == symptom]
        if not len(rows):
            continue
        named, replaced = count_of(rows, names), replaced_of(rows, shop)
        guesses = [fitted.chance(s), handbook.chance(s), named, replaced]
        true = shop.chance(s) / shop.chance(s).sum()
        far.append([0.5 * np.abs(g / max(g.sum(), 1e-12) - true).sum() for g in guesses])
        weight.append(int(rows["count"].sum()))
    return np.average(far, axis=0, weights=weight).tolist()


def count_of(rows: pd.DataFrame, names: list[str]) -> np.ndarray:
    """Orders by the causes that they name, confirmed or believed."""
    found = np.zeros(len(names))
    for causes, count in zip(rows["causes"], rows["count"], strict=True):
        for name in filter(None, causes.split("; ")):
            found[names.index(name)] += count
    return found


def replaced_of(rows: pd.DataFrame, shop: Repairshop) -> np.ndarray:
    """Parts that were replaced, good ones among them, by the causes that this cures in the shares of the handbook."""
    model, found = shop.model, np.zeros(len(shop.model.compiled.causes))
    root = model.prior(Vehicle())
    usual = {
        s: model.worlds.with_cause(root.weights * model.worlds.presence[:, i])
        for i, s in enumerate(model.worlds.symptoms)
    }
    cures = {plan.id: [c in plan.restores for c in model.compiled.causes] for plan in groundwork(model).plans}
    for symptom, repairs, count in zip(rows["symptom"], rows["repairs"], rows["count"], strict=True):
        for repair in filter(None, (told.strip().partition(" ")[0] for told in repairs.split(";"))):
            share = usual[symptom] * cures[repair]
            found += count * share / share.sum()
    return found


def drawn(every: np.ndarray) -> str:
    """One picture: a row of dots for each way, one dot a seed, on one scale."""
    wide, left, high = 720.0, 210.0, 44.0
    most = float(every.max()) * 1.05
    inside = []
    for row, name in enumerate(WAYS):
        y = 30.0 + high * row
        inside.append(text(name, left - 12, y + 4, text_anchor="end"))
        inside.append(line(left, y, wide, y, stroke="#999"))
        for value in every[:, row]:
            x = left + (wide - left) * float(value) / most
            inside.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="#1f5a92" fill-opacity=".35"/>')
        x = left + (wide - left) * float(every[:, row].mean()) / most
        inside.append(line(x, y - 12, x, y + 12, stroke="#000", stroke_width=2))
        inside.append(text(f"{every[:, row].mean():.3f}", x + 5, y - 8))
    inside.append(text("total variation from the true chances of causes; a dot is a shop, the bar the mean", left, 210))
    title = "How far chances of causes are from the truth with unverified orders and good parts replaced"
    return image(wide + 40, 225, title, title, *inside, class_="picture")


def report_undescribed(models: Mapping[str, Model], fleets: int, count: int) -> None:
    """Orders of vehicles that the model does not describe: what the verdict says, and whether it is right."""
    rows = []
    for circuit, model in models.items():
        learning = Learning({circuit: model})
        for fleet in range(fleets):
            found = learning.learn(odd_orders(model, count, np.random.default_rng([SEED + 2, fleet])))
            proof = found.evaluation
            assert proof is not None
            gains = [f"{g.mean:+.3f} ({g.low:+.3f} to {g.high:+.3f})" for g in map(proof.gain, ("loss", "cost"))]
            refused = sum(r.count for r in found.refused)
            rows.append([circuit, fleet, int(proof.weight.sum()), *gains, found.verdict, refused])
            print(*rows[-1], flush=True)
    columns = ("circuit", "fleet", "scored", "log loss gained [nat]", "cost saved", "verdict", "refused")
    show(f"Vehicles that the model does not describe, {count} orders", columns, rows)


def odd_orders(model: Model, count: int, rng: np.random.Generator) -> pd.DataFrame:
    """Orders of one odd fleet, read by a technician on solved circuits; listed causes are confirmed in seven of ten."""
    twin, shop, rows = OddTwin(model, rng), Repairshop(model), []
    chance = shop.joint.sum(axis=1) / shop.joint.sum()
    for s, number in enumerate(rng.multinomial(count, chance).tolist()):
        fleet = twin.fleet(model.worlds.symptoms[s], number, rng) if number else None
        if fleet is None:
            continue
        technician = Technician(twin, fleet, rng)
        asked = [
            (v, model.compiled.tests[t])
            for v in range(number)
            for t in np.sort(rng.choice(shop.pools[s], shop.habits.tests, replace=False))
        ]
        read = technician.read(asked)
        for vehicle, fault in enumerate(fleet.faults):
            sure = bool(fault.causes) and rng.random() < 0.7
            causes = "; ".join(sorted(model.compiled.causes[c] for c in fault.causes)) if sure else ""
            told = [told_of(*pair) for pair in zip(asked, read, strict=True) if pair[0][0] == vehicle]
            rows.append((model.worlds.symptoms[s], json.dumps(told, sort_keys=True), causes))
    table = pd.DataFrame(rows, columns=["symptom", "findings", "causes"]).sample(
        frac=1.0, random_state=int(rng.integers(2**31))
    )
    months = [f"2025-{m + 1:02d}" for m in np.sort(rng.integers(0, 12, len(table)))]
    blank = dict.fromkeys(("repairs", "came_back", "vehicle_group", "climate", "shop"), "")
    status = np.where(table["causes"] != "", "confirmed", "unknown")
    numbers = {"followed_days": 0, "years": np.nan, "hours": np.nan, "count": 1}
    return folded(table.assign(circuit=model.schematic.id, cause_status=status, period=months, **blank, **numbers))


def told_of(asked: tuple[int, object], finding: object) -> dict[str, object]:
    """A finding as an order writes it."""
    test = asked[1]
    if isinstance(finding, OutcomeFinding):
        return {"kind": "outcome", "test": finding.test, "outcome": finding.outcome}
    if finding.value is None:
        return {"kind": "reading", "test": finding.test, "reading": {"over_range": True}}
    return {"kind": "reading", "test": finding.test, "reading": {"value": round(finding.value, 3), "unit": test.unit}}


def report_coverage(fleets: int) -> None:
    """Fleets whose rates are drawn from the prior in use: how often 90 % intervals hold them, ranks of the truth."""
    found = coverage(fleets, SEED)
    rows = [
        [name, f"{rate:.3f}", f"{error:.3f}", "yes" if abs(rate - 0.9) <= 2.0 * error else "no"]
        for name, (rate, error) in found.covered.items()
    ]
    chi = stats.chisquare(np.histogram(found.ranks, bins=10, range=(0.0, 1.0))[0])
    note = f"ranks of the truth uniform: chi-square p = {chi.pvalue:.3f}"
    show(f"Coverage, {fleets} fleets", ("interval", "covered", "s.e. by fleet", "within 2 s.e."), rows, note)


def report_sweeps(count: int) -> None:
    """Many orders of the demo fitted by plain sweeps and by sweeps with leaps, in one run."""
    now = datetime.now(UTC)
    table = intake(ROOT / "datasets" / "demo-orders.csv", advisor.load, now).patterns
    drawn = np.random.default_rng(SEED).multinomial(count, table["count"] / table["count"].sum())
    shelf = Shelf.of({name: advisor.load(name) for name in sorted(set(table["circuit"]))})
    parted = split(table.assign(count=drawn))
    coordinates = shelf.coordinates(parted.patterns)
    every, before = counted(parted.patterns, shelf, coordinates).counted, Gamma.around_one(coordinates.shape(1.0))
    rows = []
    for sweeps in (25, 100, SWEEPS):
        began, (_, heights) = time.process_time(), plain_sweeps(every, before, sweeps, ENOUGH)
        rows.append([f"plain, {len(heights) - 1}", f"{time.process_time() - began:.1f}", f"{heights[-1]:.1f}"])
        began, found = time.process_time(), fit(every, before, sweeps=sweeps)
        rows.append([f"leaps, {found.sweeps}", f"{time.process_time() - began:.1f}", f"{found.objective[-1]:.1f}"])
    best = fit(every, before, sweeps=20 * SWEEPS, enough=1e-12)
    rows.append([f"best known, {best.sweeps}", "", f"{best.objective[-1]:.1f}"])
    show(f"{count:,} orders, {len(every.count):,} patterns", ("sweeps", "processor s", "objective [nat]"), rows)


def main() -> None:
    """Print the tables that are asked for."""
    parser = argparse.ArgumentParser()
    every: dict[str, Callable[[argparse.Namespace, dict[str, Model]], None]] = {
        "fleet": lambda a, m: report_fleet(a.fleet, range(a.first, a.first + a.seeds), 2 * a.orders, a.depth),
        "planted": lambda a, m: report_planted(m, a.seeds, a.orders),
        "few": lambda a, m: report_few(m, a.replicates),
        "nothing": lambda a, m: report_nothing(m, a.first, a.replicates, a.orders),
        "messy": lambda a, m: report_messy(m, a.seeds, a.orders, a.picture),
        "undescribed": lambda a, m: report_undescribed(m, a.fleets, a.orders),
        "coverage": lambda a, m: report_coverage(2 * a.replicates),
        "sweeps": lambda a, _: report_sweeps(a.orders),
    }
    parser.add_argument("what", nargs="+", choices=list(every))
    parser.add_argument("--circuits", nargs="*", default=["horn"])
    parser.add_argument("--seeds", type=int, default=50)
    parser.add_argument("--fleet", nargs="*", default=FLEET, help="circuits and tables of fleets")
    parser.add_argument("--depth", type=int, choices=(1, 2), default=2, help="how far plans of fleets look")
    parser.add_argument("--first", type=int, default=0, help="the first seed of fleets and shops")
    parser.add_argument("--orders", type=int, default=2500, help="orders of each circuit")
    parser.add_argument("--replicates", type=int, default=100)
    parser.add_argument("--fleets", type=int, default=3)
    parser.add_argument("--picture", type=Path)
    asked = parser.parse_args()
    models = {circuit: advisor.load(circuit) for circuit in asked.circuits}
    for what in asked.what:
        began = time.perf_counter()
        every[what](asked, models)
        print(f"{what}: {time.perf_counter() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
