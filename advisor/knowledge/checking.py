"""Grade a circuit file by physics.

Does it behave as its `normal` section says, can its symptoms happen, do its charts name tests and outcomes that exist?
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from advisor.circuit.solve import solve
from advisor.errors import Problem
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.compiled import Compiled, supply_volts
from advisor.knowledge.documents import Address, Chart, Schematic
from advisor.knowledge.looking import WORDS
from advisor.knowledge.notes import suggestion
from advisor.knowledge.wiring import Wiring, severity_cause
from advisor.network.worlds import SPECIALS

REACHED_ABOVE = 0.5
"""A cause counts as able to start a symptom if some severity of it shows the symptom with this probability."""


@dataclass(frozen=True)
class Grade:
    """What checking a circuit found: problems with addresses, and the causes that start each symptom."""

    problems: tuple[Problem, ...]
    symptom_causes: Mapping[str, tuple[str, ...]]


def grade(wiring: Wiring, compiled: Compiled) -> Grade:
    """Check one circuit against its own statements."""
    causes = symptom_causes(wiring, compiled)
    problems = [
        *_abnormal(wiring),
        *_unreachable(wiring.schematic, causes),
        *(problem for chart in wiring.schematic.charts for problem in chart_problems(chart, compiled)),
    ]
    return Grade(tuple(problems), causes)


def _problem(at: Address, message: str) -> Problem:
    return Problem(at.file, at.line, at.column, message)


def look_at(wiring: Wiring, load: str, share: float) -> str:
    """What a person says of a load that does a share of what it usually does."""
    return next(o.id for o in wiring.scale(load) if share < o.high)


def _abnormal(wiring: Wiring) -> Iterator[Problem]:
    """The sound circuit, in every stated condition, against what the file says it does."""
    for normal in wiring.schematic.normal.values():
        solution = solve(wiring.under(Setup(wiring.usual(normal.when))), [()])
        for load, look in normal.sees.items():
            share = float(solution.shown(load, supply_volts(wiring.schematic))[0])
            found, of = look_at(wiring, load, share), WORDS[wiring.load_kind(load)].share
            if found != look:
                message = f"{load} should be {look} under {normal.id}, the sound circuit leaves it {found}"
                yield _problem(normal.at, f"{message} ({100.0 * share:.0f} % of its {of}): check the wiring or `sees`")


def symptom_causes(wiring: Wiring, compiled: Compiled) -> dict[str, tuple[str, ...]]:
    """Causes that start each symptom on their own, by the symptom's id."""
    count = len(severity_cause(wiring))
    shown = compiled.presence[SPECIALS : SPECIALS + count] > REACHED_ABOVE
    causes = np.array(compiled.causes)[severity_cause(wiring)]
    return {
        symptom: tuple(dict.fromkeys(causes[shown[:, i]].tolist()))
        for i, symptom in enumerate(wiring.schematic.symptoms)
    }


def _unreachable(schematic: Schematic, causes: Mapping[str, tuple[str, ...]]) -> Iterator[Problem]:
    for symptom in schematic.symptoms.values():
        if not causes[symptom.id]:
            yield _problem(
                symptom.at, f"no single fault of this circuit starts the symptom {symptom.id}: check `when` and `sees`"
            )


def chart_problems(chart: Chart, compiled: Compiled) -> Iterator[Problem]:
    """Tests of a printed chart that do not exist, outcomes that they never have, and outcomes without an answer."""
    tests = {test.id: test for test in compiled.tests}
    for step in chart.steps:
        if step.test not in tests:
            yield _problem(step.at, f"unknown test {step.test!r}, {suggestion(step.test, tests)}")
            continue
        outcomes = {o.id: o for o in tests[step.test].outcomes}
        for answer in step.answers:
            if answer.outcome not in outcomes:
                expected = ", ".join(outcomes)
                yield _problem(answer.at, f"{step.test} never comes out {answer.outcome!r}, expected one of {expected}")
        missing = [o for o in outcomes if outcomes[o].settles and o not in {answer.outcome for answer in step.answers}]
        if missing:
            yield _problem(step.at, f"step {step.id} has no answer for: {', '.join(missing)}")
