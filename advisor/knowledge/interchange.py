"""Networks in open formats, BIF and XMLBIF, by the readers of pgmpy, into a form of our own.

This runs as a program of its own, `python -m advisor.knowledge.interchange SOURCE TARGET`, so that whatever answers
requests never loads pgmpy.  Those readers neither check sums nor say where a mistake stands; both are done here.
"""

from __future__ import annotations

import gzip
import json
import re
import sys
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from advisor.errors import KnowledgeError, Problem
from advisor.network.tree.families import Family, problems

ROUNDED = 0.01
"""By how much a row of chances may miss 1 before it is made to sum to 1: files have few digits."""
_XML = (".xml", ".xmlbif")


def read_network(path: Path) -> tuple[Family, ...]:
    """Read a network's file, `.bif` or `.xmlbif` (`.xml`), `.gz` behind it where packed.

    Chances are divided by their sum, which may miss 1 by `ROUNDED`; after that rows sum to 1 within 1e-9.

    Raises:
        KnowledgeError: it cannot be read, or is no network; every problem has the line of its variable.
    """
    text = _text(path)
    try:
        families = _families(text, xml=path.name.removesuffix(".gz").endswith(_XML))
    except Exception as error:  # the reader has no errors of its own: whatever a broken text makes it raise
        what = f"the reader cannot make a network of this file: {type(error).__name__}: {error}"
        raise KnowledgeError([Problem(str(path), 1, 1, what)]) from error
    found = list(_off(families))
    if not found:
        families = [replace(f, table=f.table / f.table.sum(axis=-1, keepdims=True)) for f in families]
        found = list(problems(families)) if families else [("", "the file has no variables")]
    if found:
        raise KnowledgeError([Problem(str(path), _line(text, name), 1, what) for name, what in found])
    return tuple(families)


def _text(path: Path) -> str:
    try:
        data = path.read_bytes()
        return (gzip.decompress(data) if path.name.endswith(".gz") else data).decode("utf-8")
    except (OSError, EOFError, ValueError) as error:
        raise KnowledgeError([Problem(str(path), 1, 1, f"the file cannot be read: {error}")]) from error


def _families(text: str, *, xml: bool) -> list[Family]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of its own modules' future names
        from pgmpy.readwrite import BIFReader, XMLBIFReader  # noqa: PLC0415

        model: Any = (XMLBIFReader if xml else BIFReader)(string=text).get_model()  # pgmpy has no types
    return [_family(cpd) for cpd in model.get_cpds()]


def _family(cpd: Any) -> Family:  # noqa: ANN401  pgmpy ships no types
    parents = tuple(str(name) for name in cpd.variables[1:])
    table = np.moveaxis(np.asarray(cpd.values, dtype=np.float64), 0, -1)
    return Family(str(cpd.variable), tuple(str(state) for state in cpd.state_names[cpd.variable]), parents, table)


def _off(families: Sequence[Family]) -> Iterator[tuple[str, str]]:
    """Rows that miss 1 by more than rounding."""
    for family in families:
        sums = family.table.sum(axis=-1)
        missed = ~(np.abs(sums - 1.0) <= ROUNDED)
        if missed.any():
            row = tuple(int(i) for i in np.argwhere(missed)[0])
            yield family.name, f"{family.name}: the chances of row {row} sum to {sums[row]:.6g}, expected 1"


def _line(text: str, name: str) -> int:
    """The line of a variable's chances, or of the variable, or the first."""
    quoted = re.escape(name)
    for pattern in (rf"probability\s*\(\s*{quoted}[\s|)]", rf"<FOR>\s*{quoted}\s*<", rf"\b{quoted}\b"):
        if name and (found := re.search(pattern, text)):
            return text.count("\n", 0, found.start()) + 1
    return 1


def as_json(families: Sequence[Family]) -> str:
    """Families as JSON, every number with all its digits."""
    return json.dumps(
        [[f.name, f.states, f.parents, f.table.shape, f.table.ravel().tolist()] for f in families], allow_nan=False
    )


def from_json(text: str) -> tuple[Family, ...]:
    """Families from what `as_json` has written."""
    return tuple(
        Family(name, tuple(states), tuple(parents), np.array(numbers, dtype=np.float64).reshape(shape))
        for name, states, parents, shape, numbers in json.loads(text)
    )


def main(source: str, target: str) -> int:
    """Read one file into another; problems are written there as JSON, and the status is 1."""
    try:
        written = as_json(read_network(Path(source)))
    except KnowledgeError as error:
        Path(target).write_text(json.dumps([[p.line, p.column, p.message] for p in error.problems]), encoding="utf-8")
        return 1
    Path(target).write_text(written, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
