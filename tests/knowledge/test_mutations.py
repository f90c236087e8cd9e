"""Broken copies of the shipped files: every break is reported at its line, and none as a traceback."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import pytest

from advisor.errors import KnowledgeError
from advisor.knowledge.documents import Schematic
from advisor.knowledge.reader import read_model, read_schematic
from advisor.knowledge.shipped import shipped

VAN = "quellmar-p3"
BELT, REVERSING = f"{VAN}/circuits/belt-reminder.yaml", f"{VAN}/circuits/reversing-lamps.yaml"
BLOWER = f"{VAN}/circuits/blower.yaml"
HOT = f"{VAN}/tables/engine-runs-hot.yaml"
# Each shipped file and the model through which it is read.
READ_THROUGH = {
    "library/parts.yaml": BELT,
    f"{VAN}/vehicle.yaml": REVERSING,
    BELT: BELT,
    REVERSING: REVERSING,
    BLOWER: BLOWER,
    HOT: HOT,
    f"{VAN}/spares.yaml": BELT,
    f"{VAN}/charts/belt-reminder.chart.yaml": BELT,
    f"{VAN}/charts/reversing-lamps.chart.yaml": REVERSING,
    f"{VAN}/charts/blower.chart.yaml": BLOWER,
}
PER_FILE_AND_KIND = 4


@dataclass(frozen=True)
class Mutation:
    """A change of one line: `new` replaces line number `line`, counted from 1."""

    file: str
    kind: str
    line: int
    new: str

    @property
    def id(self) -> str:
        """Name the mutation in a test's id."""
        return f"{Path(self.file).stem}:{self.kind}:{self.line}"


def replaced(pattern: str, by: str, line: str) -> Iterator[str]:
    """Give the line with the first match replaced, if there is a match."""
    new = re.sub(pattern, by, line, count=1)
    if new != line:
        yield new


def unknown_keys(line: str) -> Iterator[str]:
    """Swap two letters of a key, or add a key that looks like no other."""
    yield from replaced(r"\b(title|source|minutes|place|text|test|effect|rating_amps|length_m|when): ", r"\1q: ", line)
    yield from replaced(r"(: \{)(?=title|type|from|share|value)", r"\1zzz-zzz: 1, ", line)


def wrong_types(line: str) -> Iterator[str]:
    """Put text for a number, a list for a text, text for a mapping."""
    numbers = "[a-z_]*(?:minutes|share|ohms|watts|length_m|price|multiplier|cells|contact_mm)"
    yield from replaced(rf"\b({numbers}): [0-9.]+", r"\1: much", line)
    yield from replaced(r'\b(title|text|test|source): ("[^"]*"|[^,}\["]+)', r"\1: [a, b]", line)
    yield from replaced(r"\b(pins|when|sees|answers|hazard): (\{[^{}]*\})", r"\1: 12", line)
    yield from replaced(r"\b(latch|key|drawn_from): [a-z]+", r"\1: [a, b]", line)
    yield from replaced(r"\b(cavities|blames|restores): (\[[^]]*\])", r"\1: {a: 1}", line)


def unknown_references(line: str) -> Iterator[str]:
    """Name something that does not exist."""
    if "level: " in line and "text: " in line:
        return  # a sentence, whatever words stand before a colon in it
    keys = "place|from|to|type|effect|kind|exposure|inside|watch|go|symptom|start|in|out|supply|feed|reference"
    keys += "|vehicle|circuit"
    if not re.match(r"(circuit|vehicle): [a-z0-9-]+$", line):
        yield from replaced(rf"\b({keys}): (?!low)[^,}}\[]+", r"\1: no-such-thing", line)
    yield from replaced(r"\b(blames|restores|replaced_by): \[[A-Za-z0-9/-]+", r"\1: [no-such/thing", line)
    yield from replaced(r"when: \{ignition", "when: {no-such-control", line)
    yield from replaced(r"when: \{ignition: run", "when: {ignition: sideways", line)


def missing_colons(line: str) -> Iterator[str]:
    """Leave out the colon behind a line's first key."""
    if not line.lstrip().startswith("#"):
        yield from replaced(r"^(\s*[A-Za-z0-9+_-]+):", r"\1", line)


def duplicate_ids(line: str) -> Iterator[str]:
    """Write an entry twice."""
    if re.match(r"\s*[A-Za-z0-9+_-]+: \S", line):
        yield f"{line}\n{line}"


KINDS = {
    "unknown-key": unknown_keys,
    "wrong-type": wrong_types,
    "unknown-reference": unknown_references,
    "missing-colon": missing_colons,
    "duplicate-id": duplicate_ids,
}


def every_mutation() -> list[Mutation]:
    """Make all mutations of all shipped files."""
    return [
        Mutation(file, kind, number, new)
        for file in READ_THROUGH
        for number, line in enumerate((shipped("models") / file).read_text("utf-8").splitlines(), start=1)
        for kind, mutate in KINDS.items()
        for new in mutate(line)
    ]


def spread(mutations: list[Mutation]) -> list[Mutation]:
    """Choose a few of each kind in each file, evenly over the file."""
    chosen: list[Mutation] = []
    for file in READ_THROUGH:
        for kind in KINDS:
            found = [mutation for mutation in mutations if (mutation.file, mutation.kind) == (file, kind)]
            step = max(1, len(found) // PER_FILE_AND_KIND)
            chosen += found[::step][:PER_FILE_AND_KIND]
    return chosen


SWEEP = spread(every_mutation())


@pytest.fixture
def models(tmp_path: Path) -> Path:
    """Copy the shipped models to a folder that a test may break."""
    return shutil.copytree(shipped("models"), tmp_path / "models")


def apply(mutation: Mutation, models: Path) -> None:
    """Make the change in the copy."""
    path = models / mutation.file
    lines = path.read_text("utf-8").splitlines()
    lines[mutation.line - 1] = mutation.new
    path.write_text("\n".join(lines) + "\n", "utf-8")


def problems_near(mutation: Mutation, error: KnowledgeError, models: Path) -> list[str]:
    """Return the messages reported in the mutation's file within a line of it."""
    file = str(models / mutation.file)
    return [p.message for p in error.problems if p.file == file and abs(p.line - mutation.line) <= 1]


def test_sweep_is_large_and_covers_every_kind_in_every_file() -> None:
    """At least 60 mutations run, of every kind in every file."""
    assert len(SWEEP) >= 60
    assert {(m.file, m.kind) for m in SWEEP} == {(file, kind) for file in READ_THROUGH for kind in KINDS}


@pytest.mark.parametrize("circuit", [BELT, REVERSING, BLOWER])
def test_unbroken_copy_passes(circuit: str, models: Path) -> None:
    """The copy without a mutation is read."""
    assert isinstance(read_schematic(models / circuit), Schematic)


@pytest.mark.parametrize("mutation", SWEEP, ids=lambda mutation: mutation.id)
def test_mutation_is_reported_at_its_line(mutation: Mutation, models: Path) -> None:
    """A broken line is reported within a line of where it stands."""
    apply(mutation, models)
    with pytest.raises(KnowledgeError) as caught:
        read_model(models / READ_THROUGH[mutation.file])
    assert problems_near(mutation, caught.value, models), str(caught.value)


def pairs() -> list[tuple[Mutation, Mutation]]:
    """Pair one mutation of each kind (syntax apart) of one file with each of another file of the same circuit."""
    firsts = {(m.file, m.kind): m for m in reversed(SWEEP) if m.kind not in ("missing-colon", "duplicate-id")}
    belts = [m for m in firsts.values() if READ_THROUGH[m.file] == BELT or m.file.endswith("vehicle.yaml")]
    return [(one, two) for one, two in combinations(belts, 2) if one.file != two.file]


@pytest.mark.parametrize("pair", pairs(), ids=lambda pair: f"{pair[0].id}+{pair[1].id}")
def test_two_mutations_are_both_reported(pair: tuple[Mutation, Mutation], models: Path) -> None:
    """Two files broken at once give the problems of both."""
    for mutation in pair:
        apply(mutation, models)
    with pytest.raises(KnowledgeError) as caught:
        read_schematic(models / BELT)
    assert all(problems_near(mutation, caught.value, models) for mutation in pair), str(caught.value)
