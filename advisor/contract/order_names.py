"""What a row of orders names, against what its circuit has."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from advisor.contract.body import parse_json
from advisor.contract.case_requests import wrong_with_finding
from advisor.contract.engine import KnownModel
from advisor.contract.nearest import unknown
from advisor.contract.order_rows import OrderRow
from advisor.errors import AdvisorError, UnknownModelError


@dataclass(frozen=True)
class Stranger:
    """A name in a cell that the circuit does not have: the reason's short name, and what is wrong."""

    reason: str
    detail: str


def strangers(order: OrderRow, models: Callable[[str], KnownModel]) -> list[tuple[str, str]]:
    """List what a row names that its circuit does not have, by column."""
    try:
        model = models(order.circuit)
    except UnknownModelError as error:
        return [("circuit", str(error))]
    told = {"symptom": order.symptom, "causes": order.causes, "findings": order.findings}
    return [
        (column, stranger.detail)
        for column, text in told.items()
        if text is not None
        for stranger in STRANGERS[column](text, model)
    ]


def strange_symptom(symptom: str, model: KnownModel) -> Iterator[Stranger]:
    """Say whether a circuit lacks a symptom."""
    known = model.schematic.symptoms
    if symptom not in known:
        yield Stranger("unknown-symptom", unknown("symptom", symptom, known))


def strange_parts(causes: str, model: KnownModel) -> Iterator[Stranger]:
    """Name the parts of causes, PART/MODE parted by semicolons, that a circuit lacks."""
    for part in (cause.strip().rpartition("/")[0] or cause.strip() for cause in causes.split(";") if cause):
        if part not in model.cause_parts:
            yield Stranger("unknown-part", unknown("part of a cause PART/MODE", part, model.cause_parts))


def strange_findings(text: str, model: KnownModel) -> Iterator[Stranger]:
    """Say what is wrong with a JSON list of findings: its form, or what they name."""
    try:
        listed = parse_json(text.encode("utf-8", "surrogatepass"))
    except AdvisorError as error:
        yield Stranger("unreadable-findings", str(error))
        return
    if not isinstance(listed, list):
        yield Stranger("unreadable-findings", "expected a JSON list of findings")
        return
    for place, sent in enumerate(listed, 1):
        reason = "wrong-finding"
        if isinstance(sent, dict) and isinstance(sent.get("test"), str) and sent["test"] not in model.tests:
            reason = "unknown-test"
        yield from (Stranger(reason, f"finding {place}: {wrong}") for wrong in wrong_with_finding(sent, model))


STRANGERS: dict[str, Callable[[str, KnownModel], Iterator[Stranger]]] = {
    "symptom": strange_symptom,
    "causes": strange_parts,
    "findings": strange_findings,
}
"""What names something, by column."""
