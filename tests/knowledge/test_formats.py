"""The tables of the file formats agree with the documents that they fill and with their description."""

from __future__ import annotations

import re

import pytest

from advisor.knowledge.fields import Entries, Record, Variant, known_keys
from advisor.knowledge.kinds import ListOf, MappingOf
from advisor.knowledge.read_chart import CHART
from advisor.knowledge.read_circuit import CIRCUIT
from advisor.knowledge.read_library import LIBRARY
from advisor.knowledge.read_roles import ROLES
from advisor.knowledge.read_spares import SPARES
from advisor.knowledge.read_tables import TABLE
from advisor.knowledge.read_vehicle import VEHICLE
from advisor.knowledge.shipped import shipped

FORMATS = {
    "parts/1": LIBRARY,
    "vehicle/1": VEHICLE,
    "circuit/1": CIRCUIT,
    "chart/1": CHART,
    "table/1": TABLE,
    "network/1": ROLES,
    "spares/1": SPARES,
}


def described() -> dict[str, set[str]]:
    """Return the keys that the description's tables name, by the headings of their sections."""
    sections = re.split(r"^## ", (shipped("models") / "README.md").read_text("utf-8"), flags=re.MULTILINE)
    return {
        section.splitlines()[0]: set(
            re.findall(r"`([a-z_0-9]+)`", " ".join(re.findall(r"^\|([^|]*)\|", section, re.M)))
        )
        for section in sections
    }


def records(kind: object) -> list[Record[object]]:
    """List a record and the records inside it."""
    if isinstance(kind, Record):
        return [kind, *(inner for row in kind.rows.values() for inner in records(row.kind))]
    if isinstance(kind, Variant):
        return [inner for record in kind.records.values() for inner in records(record)]
    if isinstance(kind, Entries):
        return records(kind.record)
    if isinstance(kind, ListOf):
        return records(kind.item)
    return records(kind.values) if isinstance(kind, MappingOf) else []


@pytest.mark.parametrize("name", FORMATS)
def test_every_key_is_described(name: str) -> None:
    """Each key that a format knows stands in the description, in a section of that format."""
    keys = set().union(*(named for heading, named in described().items() if name.split("/", maxsplit=1)[0] in heading))
    # described beside `instruments`
    instruments = {"voltmeter", "ohmmeter", "clamp", "eye", "jumper", "test-lamp", "spare", "visual"} | {
        "ammeter",
        "fuse-drop",
    }
    assert set(known_keys(FORMATS[name])) - keys - instruments == set()


def test_every_described_key_exists() -> None:
    """The description names no key that no format knows."""
    known = {key for record in FORMATS.values() for key in known_keys(record)}
    effects = {"open", "across", "series", "scale", "dead", "drag", "seized", "stuck", "discharged"}
    assert set().union(*(v for h, v in described().items() if "/1" in h)) - known - effects == set()


@pytest.mark.parametrize("name", FORMATS)
def test_every_row_fills_a_field(name: str) -> None:
    """Each row of a record goes to an argument that the record's maker takes."""
    for record in records(FORMATS[name]):
        if not record.takes & {"values", "milliohm_per_metre"}:
            fills = {key if row.into is None else row.into for key, row in record.rows.items()}
            assert fills - record.takes <= {""}, record.make
