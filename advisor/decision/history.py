"""Findings before and after repairs as evidence: what each says of every path that the vehicle may have gone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.decision.bench import groundwork
from advisor.errors import RequestError, RequestProblem
from advisor.knowledge.model import Model
from advisor.knowledge.weighing import weighed
from advisor.network.engine import Evidence, Posterior, posterior
from advisor.network.findings import Finding, RepairFinding, SymptomFinding
from advisor.network.paths import Paths
from advisor.network.priors import Prior
from advisor.network.proving import Proof, proved
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED, Floats, Ints

BAD_REPAIR = 0.02
"""Chance that a repair or a new part is bad: common practice, no source."""


@dataclass(frozen=True)
class Told:
    """A finding that says something, its place among all, and what it says of every path."""

    position: int
    finding: Finding
    evidence: Evidence


@dataclass(frozen=True)
class History:
    """What a case has learned and gone through; no paths where nothing was repaired."""

    told: tuple[Told, ...]
    paths: Paths | None

    @property
    def evidence(self) -> list[Evidence]:
        """What every finding says."""
        return [told.evidence for told in self.told]

    def posterior(self, model: Model, root: Prior) -> Posterior | None:
        """What the findings leave of a prior; None where they are impossible."""
        return posterior(model.worlds, root, self.evidence, model.axis.prior, self.paths)


def history_of(model: Model, root: Prior, findings: Sequence[Finding]) -> History:
    """Weigh the findings of a case.

    Raises:
        RequestError: a finding names something that this circuit does not have, or a repair's result says nothing as
            no symptom was reported.
    """
    told = [
        Told(position, finding, evidence)
        for (position, finding, _), evidence in zip(weighed(findings), model.evidence(findings, root), strict=True)
    ]
    done = [(i, f) for i, f in enumerate(findings) if isinstance(f, RepairFinding)]
    if not done:
        return History(tuple(told), None)
    paths = _paths(model, done)
    along = [Told(t.position, t.finding, t.evidence.along(_stood(paths, t, done))) for t in told]
    along += _results(model, root, findings, dict(done), paths)
    return History(tuple(sorted(along, key=lambda t: t.position)), paths)


def _stood(paths: Paths, told: Told, done: Sequence[tuple[int, RepairFinding]]) -> Ints:
    """Where the paths stood when something was found; the customer reports what the vehicle came with."""
    if isinstance(told.finding, SymptomFinding):
        return paths.start
    return paths.stands[sum(position < told.position for position, _ in done)]


def _paths(model: Model, done: Sequence[tuple[int, RepairFinding]]) -> Paths:
    ground = groundwork(model)
    rows = {plan.id: row for row, plan in enumerate(ground.plans)}
    unknown = [
        RequestProblem(
            f"#/findings/{i}/repair", f"unknown in this circuit: repair {f.repair}; known: {', '.join(rows)}"
        )
        for i, f in done
        if f.repair not in rows
    ]
    if unknown:
        raise RequestError(unknown)
    paths = Paths.untouched(len(model.compiled.members))
    for _, finding in done:
        row = rows[finding.repair]
        paths = paths.repaired(ground.exactly.after[row], ground.exactly.solved[row], BAD_REPAIR, model.quiet)
    return paths


def _results(
    model: Model, root: Prior, findings: Sequence[Finding], done: Mapping[int, RepairFinding], paths: Paths
) -> list[Told]:
    """What the complaint's own test said after each repair after which it was done."""
    stretch = {position: number for number, position in enumerate(done, 1)}
    seen: dict[str, list[int]] = {}
    for position, finding in done.items():
        if finding.result is not None:
            seen.setdefault(_complaint(model, findings, position, finding), []).append(position)
    told = []
    for symptom, positions in seen.items():
        column = model.worlds.symptoms.index(symptom)
        reported = any(isinstance(f, SymptomFinding) and f.symptom == symptom and f.present for f in findings)
        base = model.complaint(root, column) if reported else np.ones(len(root.weights))
        base[SPECIALS:] = base[NONE]
        before = model.worlds.presence[:, column] * reported
        before[:SPECIALS] = 0.0
        shows, hides = (
            proved(
                before[paths.start],
                base[paths.start],
                [_proof(model, column, done[p], paths, stretch[p], hiding) for p in positions],
            )
            for hiding in (0.0, 1.0)
        )
        told += [
            Told(p, done[p], _either(model, paths, *pair)) for p, *pair in zip(positions, shows, hides, strict=True)
        ]
    return told


def _either(model: Model, paths: Paths, shows: Floats, hides: Floats) -> Evidence:
    """A result while a fault that no repair has touched shows, and while it hides."""
    quiet = model.quiet[paths.now] * paths.whole
    return Evidence((1.0 - quiet) * shows + quiet * hides, 1.0, either=(shows, hides))


def _proof(  # noqa: PLR0913, PLR0917  a result, where the paths stood then, and whether what is whole hides
    model: Model, column: int, finding: RepairFinding, paths: Paths, stretch: int, hiding: float
) -> Proof:
    """How the complaint's test came out: what is whole has shown or hidden all along, the rest is drawn anew.

    What is not listed shows in the complaint wherever it lies.
    """
    shows: Floats = model.worlds.presence[:, column].copy()
    shows[[NONE, AS_DESIGNED, UNLISTED]] = 0.0, 1.0, 1.0
    stands = paths.stands[stretch]
    assert finding.result is not None
    quiet = model.quiet.copy()
    quiet[UNLISTED] = 0.0
    hides = np.where(paths.whole & (quiet[stands] > 0.0), hiding, quiet[stands])
    return Proof(finding.result, shows[stands], hides)


def _complaint(model: Model, findings: Sequence[Finding], position: int, finding: RepairFinding) -> str:
    reported = [f.symptom for f in findings if isinstance(f, SymptomFinding) and f.present]
    symptom = finding.symptom or next(iter(reported), None)
    if symptom in model.worlds.symptoms:
        return str(symptom)
    problem = f"unknown in this circuit: symptom {symptom}" if symptom else "no symptom is reported that could stay"
    raise RequestError([RequestProblem(f"#/findings/{position}/symptom", problem)])
