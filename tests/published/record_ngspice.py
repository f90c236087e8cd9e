"""Record what ngspice finds on the shipped circuits; run by hand after the circuits or the deck's format change.

    cd tests && python -m published.record_ngspice

Every normal condition of the sound circuit, and a seeded sample of single faults over all setups of all tests.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from published.spice_judge import Bench, alone, bench, version
from shipped_models import SWEPT

from advisor.circuit.spice import deck
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.shipped import shipped_circuits
from advisor.network.worlds import SPECIALS

FOLDER = Path(__file__).parent / "ngspice"
SEED = 20_240_229
# A voltage is written to a nanovolt: far below the millivolt that is asked for.
DECIMALS = 9


def sample(circuit: str) -> int:
    """How many single faults of a circuit are recorded."""
    return 60 if circuit in SWEPT else 8


def cases(shelf: Bench) -> Iterator[tuple[Setup, int]]:
    """Yield the recorded cases of one circuit: a setup and the row of a fault; row 0 is the sound circuit."""
    wiring = shelf.run.wiring
    yield from ((Setup(wiring.usual(n.when)), 0) for n in shelf.run.schematic.normal.values())
    setups, rng = shelf.setups(), np.random.default_rng(SEED)
    rows = rng.choice(np.arange(SPECIALS, len(shelf.sets)), sample(shelf.id), replace=False)
    yield from ((setups[k % len(setups)], int(row)) for k, row in enumerate(rows))


def title(circuit: str, cause: str, severity: int) -> str:
    """Title of a recorded deck."""
    return f"{circuit} of an invented vehicle, fault: {f'{cause}, severity {severity}' if cause else 'none'}"


def record(shelf: Bench) -> dict[str, object]:
    """Run every case's deck and return the record of one circuit."""
    found = []
    for setup, row in cases(shelf):
        cause, severity = shelf.fault(row)
        solution, heading = shelf.solved(setup, [row]), title(shelf.id, cause, severity)
        found.append(
            {
                "deck": hashlib.sha256(deck(solution, 0, heading).encode("ascii")).hexdigest(),
                "fault": cause,
                "severity": severity,
                "set": dict(setup.settings),
                "unplug": list(setup.unplug),
                "jumper": list(setup.jumper or ()),
                "lamp": list(setup.lamp or ()),
                "swap": setup.swap,
                "volts": [round(float(v), DECIMALS) for v in alone(solution, 0, heading)],
            }
        )
    return {"ngspice": version(), "nodes": list(shelf.run.wiring.netlist.nodes), "cases": found}


def main() -> None:
    """Write one record per shipped circuit."""
    FOLDER.mkdir(exist_ok=True)
    for circuit in shipped_circuits():
        content = record(bench(circuit))
        cases_text = ",\n".join(json.dumps(case) for case in content.pop("cases"))
        head = json.dumps(content)[:-1]
        (FOLDER / f"{circuit}.json").write_text(f'{head}, "cases": [\n{cases_text}\n]}}\n', encoding="utf-8")


if __name__ == "__main__":
    main()
