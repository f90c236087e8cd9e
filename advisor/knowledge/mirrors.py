"""What a test would touch if its connector was read from the other side: left and right changed in each row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from advisor.knowledge.catalogue import Observed, Test
from advisor.knowledge.documents import Connector
from advisor.knowledge.wiring import Wiring

_METERS = ("V", "ohm")


@dataclass(frozen=True)
class Mirror:
    """Where the leads of a test are while its connector is mirrored.

    `observed` is None where the mirrored cavity holds nothing that a probe could touch.
    """

    connector: str
    observed: Observed | None


def mirrored_cavity(connector: Connector, cavity: str) -> str:
    """Give the cavity that stands where this one seems to be from the other side."""
    columns = len(connector.cavities) // connector.rows
    row, column = divmod(connector.cavities.index(cavity), columns)
    return connector.cavities[row * columns + columns - 1 - column]


def mirror_of(test: Test, wiring: Wiring) -> Mirror | None:
    """Mirror a meter's test; None where it is not at a connector, or where the mirrored cavities are its own.

    The red lead names the connector; the black one goes with it where it is in the same.
    """
    at = {node: contact for contact, nodes in wiring.sides.items() for node in nodes}
    red, black = test.observed.red, test.observed.black
    connector = test.probe[0][0] if test.probe else ""  # a fuse's own pins may be nodes of a plug behind it
    if test.unit not in _METERS or test.setup.jumper or test.setup.lamp or connector not in wiring.schematic.connectors:
        return None
    beside = len(test.probe) > 1 and test.probe[1][0] == connector
    turned = (_turned(red, wiring, at[red]), _turned(black, wiring, at[black]) if beside else black)
    if turned == (red, black):
        return None
    found = Observed(red=turned[0], black=turned[1]) if turned[0] and turned[1] else None
    return Mirror(connector, found)


def _turned(node: str, wiring: Wiring, contact: str) -> str:
    """Give the node on the same side of the mirrored cavity, nothing where no wire and no pin comes to it."""
    connector, _, cavity = contact.partition("/")
    plug = wiring.schematic.connectors[connector]
    other = f"{connector}/{mirrored_cavity(plug, cavity)}"
    return wiring.sides[other][wiring.sides[contact].index(node)] if other in wiring.sides else ""


def mirrored_tests(tests: Sequence[Test], wiring: Wiring) -> list[Test]:
    """Give the tests that read something else while mirrored, with their leads where they are then."""
    found = [(test, mirror_of(test, wiring)) for test in tests]
    return [replace(test, observed=mirror.observed) for test, mirror in found if mirror and mirror.observed]
