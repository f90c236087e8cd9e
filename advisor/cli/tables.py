"""An answer as tables for a person at a terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from rich.console import Console, Group
from rich.panel import Panel
from rich.table import Table

from advisor.contract.answer import AdviceAnswer, CauseOut, OutcomeOut, TestOut
from advisor.contract.cautions import Caution
from advisor.contract.reasons import ReasonsOut
from advisor.contract.repairs import spare_line
from advisor.contract.saying import of_asking, of_testing_on, of_what_is_learned, of_what_is_not_proved

SHOWN_CAUSES = 15
SHOWN_TESTS = 10
SHOWN_REPAIRS = 8


def show_advice(answer: AdviceAnswer, console: Console | None = None) -> None:
    """Print the next step, then causes, tests and repairs."""
    # Ids and titles come from files: brackets in them are no markup.
    out = console or Console(markup=False, highlight=False)
    out.print(_next(answer))
    out.print(_causes(answer))
    out.print(_beside(answer))
    for said in (of_testing_on(answer), of_what_is_learned(answer), *of_what_is_not_proved(answer)):
        if said:
            out.print(said)
    if answer.reasons:
        out.print(_why(answer, answer.reasons))
    if answer.tests:
        out.print(_tests(answer))
    if answer.repairs:
        out.print(_repairs(answer))
    for reason, count in Counter(held.reason for held in answer.withheld).items():
        out.print(f"not proposed: {count} {'test' if count == 1 else 'tests'}, {reason}")


def _next(answer: AdviceAnswer) -> Panel:
    step = answer.next
    test = next((item for item in answer.tests if step.kind == "test" and item.test == step.id), None)
    repair = next((item for item in answer.repairs if step.kind == "repair" and item.repair == step.id), None)
    title = test.title if test else repair.title if repair else step.kind.replace("_", " ")
    asking = [said] if (said := of_asking(answer)) else []
    finding = [step.bearings.text] if step.bearings else []
    lines = [
        title,
        step.reason,
        *asking,
        *finding,
        *(_how(test) if test else ()),
        *(_mind(repair.cautions) if repair else ()),
    ]
    return Panel(Group(*lines), title=f"next: {step.kind.replace('_', ' ')}", title_align="left")


def _how(test: TestOut) -> Iterable[str]:
    yield f"set up: {test.condition.text}"
    if test.condition.unplug:
        yield f"unplug: {', '.join(test.condition.unplug)}"
    if test.condition.jumper:
        yield f"bridge: {' to '.join(test.condition.jumper)}"
    yield f"at: {test.place.title}, {test.instrument}" if test.opens else f"with: {test.instrument}, nothing opened"
    if test.probe:
        yield "probe: " + ", ".join(f"{point.connector} {point.cavity}".strip() for point in test.probe)
    yield from _mind(test.cautions)
    yield "answer with one of:"
    yield from (f"  --finding {test.test}={item.outcome}   {item.label}{_range(item)}" for item in test.outcomes)
    if test.outcomes and test.outcomes[0].unit:
        yield f"  --reading {test.test}=11.8V"


def _mind(cautions: Iterable[Caution]) -> Iterable[str]:
    return (f"{item.level}: {item.text}" for item in cautions)


def _range(outcome: OutcomeOut) -> str:
    named = any(letter.isdigit() for letter in outcome.label)
    if named or not outcome.unit or (outcome.low is None and outcome.high is None):
        return ""
    low = "" if outcome.low is None else f"from {outcome.low:.4g} {outcome.unit} "
    high = "" if outcome.high is None else f"below {outcome.high:.4g} {outcome.unit}"
    return f" ({(low + high).strip()})"


def _causes(answer: AdviceAnswer) -> Table:
    chart = any(cause.on_chart is not None for cause in answer.causes)
    table = _table("causes", ("share", "right"), ("bounds", "right"), "cause, section", *([("chart", "right")] * chart))
    for cause in answer.causes[:SHOWN_CAUSES]:
        row = (_percent(cause.probability), _bounds(cause), _named(cause.title, cause.cause) + _cure(cause))
        table.add_row(*row, *([_mark(cause)] * chart))
    left = answer.causes[SHOWN_CAUSES:]
    if left:
        table.caption = f"and {len(left)} more, together {_percent(sum(cause.probability for cause in left))}"
    return table


def _beside(answer: AdviceAnswer) -> str:
    shares = (
        ("no fault", answer.no_fault),
        ("works as designed", answer.as_designed),
        ("not in this circuit's file", answer.unlisted),
    )
    return "beside them: " + ", ".join(f"{name} {_percent(share)}" for name, share in shares)


def _why(answer: AdviceAnswer, reasons: ReasonsOut) -> Table:
    titles = {cause.cause: cause.title for cause in answer.causes}
    table = _table("why, in decibans for (+) and against (-)", ("in turn", "right"), ("left out", "right"), "finding")
    for cause in reasons.causes:
        table.add_section()
        table.add_row("", "", _named(titles[cause.cause], cause.cause))
        for reason in cause.findings:
            table.add_row(_decibans(reason.decibans_in_turn), _decibans(reason.decibans_left_out), reason.text)
    if reasons.odd_finding:
        table.caption = f"{reasons.odd_finding.text} (a slip: {_percent(reasons.odd_finding.slip)})"
    return table


def _decibans(weight: float | None) -> str:
    return "no end" if weight is None else f"{weight:+.1f}"


def _tests(answer: AdviceAnswer) -> Table:
    currency = answer.expected_cost.currency
    table = _table("next tests", (f"worth {currency}", "right"), ("min", "right"), "test")
    for test in answer.tests[:SHOWN_TESTS]:
        place = f"{test.place.title}; " if test.opens else ""
        where = f"{test.title} ({place}{test.condition.text})"
        table.add_row(f"{test.worth:.0f}", f"{test.minutes:.0f}", _named(where, test.test))
    if len(answer.tests) > SHOWN_TESTS:
        table.caption = f"and {len(answer.tests) - SHOWN_TESTS} more"
    return table


def _repairs(answer: AdviceAnswer) -> Table:
    cost = answer.expected_cost
    table = _table(
        "repairs, in the order to try them",
        ("cures", "right"),
        ("min", "right"),
        (cost.currency, "right"),
        "repair",
    )
    for repair in answer.repairs[:SHOWN_REPAIRS]:
        share, minutes, price = _percent(repair.probability), f"{repair.minutes:.0f}", f"{repair.cost:.0f}"
        parts = "".join(f"\n  part: {spare_line(spare)}" for spare in repair.spares)
        table.add_row(share, minutes, price, _named(repair.title, repair.repair) + parts)
    table.caption = (
        f"expected cost: {cost.now:.0f} {cost.currency} now, {cost.after_next:.0f} {cost.currency} with the next step"
    )
    return table


def _table(title: str, *columns: str | tuple[str, str]) -> Table:
    table = Table(title=title, title_justify="left", caption_justify="left")
    for column in columns:
        name, justify = column if isinstance(column, tuple) else (column, "left")
        table.add_column(
            name, overflow="fold", justify="right" if justify == "right" else "left", no_wrap=justify == "right"
        )
    return table


def _named(title: str, name: str) -> str:
    """Give a title with the id that commands take on a line of its own, so that it can be copied."""
    return f"{title}\n{name}"


def _cure(cause: CauseOut) -> str:
    cure = cause.repair_group or cause.repair
    return f" → {cure}" if cure else ""


def _mark(cause: CauseOut) -> str:
    return "named" if cause.on_chart else "NOT NAMED"


def _percent(share: float) -> str:
    return "<1 %" if 0 < share < 0.005 else f"{100 * share:.0f} %"


def _bounds(cause: CauseOut) -> str:
    return f"{100 * cause.low:.1f}–{100 * cause.high:.1f} %"
