"""What a step's card and a case's page draw: connectors with the probed cavities marked, and the circuit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from advisor.contract.answer import CauseOut, TestOut
from advisor.drawing.circuit import circuit_svg
from advisor.drawing.face import SIDES, face, face_svg
from advisor.knowledge.documents import Schematic


@dataclass(frozen=True)
class Drawn:
    """A drawing as SVG that may stand in a page as it is, and its title."""

    title: str
    svg: str


def faces(test: TestOut, schematic: Schematic, *, mirrored: bool) -> tuple[Drawn, ...]:
    """Draw the connectors that a test probes or bridges, looking at their wires, or mirrored at their contacts."""
    marks: dict[tuple[str, str], dict[str, str]] = {}
    for role, connector, cavity in _points(test):
        if connector in schematic.connectors:
            name, _, half = cavity.partition("/")
            marks.setdefault((connector, half), {})[name] = role
    side = SIDES[mirrored]
    seen = [face(schematic, connector, side, marked, half) for (connector, half), marked in marks.items()]
    return tuple(Drawn(each.title, face_svg(each)) for each in seen)


def circuit(schematic: Schematic, causes: Iterable[CauseOut], test: TestOut | None) -> Drawn | None:
    """Draw a circuit tinted by suspicion, with the probes of a test; None where the model is drawn nowhere."""
    if not schematic.wires:
        return None
    shares: dict[str, float] = {}
    for cause in causes:
        shares[cause.part] = shares.get(cause.part, 0.0) + cause.probability
    points = _points(test) if test else []
    marks = {f"{connector}/{cavity.partition('/')[0]}".rstrip("/"): role for role, connector, cavity in points}
    marks |= {connector: role for role, connector, _ in points if connector in schematic.parts}
    return Drawn(f"Circuit of {schematic.title}", circuit_svg(schematic, shares, marks))


def _points(test: TestOut) -> list[tuple[str, str, str]]:
    """Give role, connector and cavity of each place that a test touches."""
    if test.condition.jumper:
        return [("bridge", *node.partition("/")[::2]) for node in test.condition.jumper]
    if test.instrument == "clamp":
        return []
    return [(role, p.connector, p.cavity) for role, p in zip(("red", "black"), test.probe, strict=False)]
