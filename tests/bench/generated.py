"""An invented circuit of any size: a fuse box that feeds branches of fuse, switch, lamp and the wiring between.

One branch has 32 parts: fuse, switch, lamp, ground point, five contacts, ten splices, thirteen wires; six branches
with what they share have 195.
"""

from __future__ import annotations

import re
from itertools import chain, pairwise
from pathlib import Path

from advisor.knowledge.shipped import shipped

_VEHICLE = """\
format: vehicle/1
vehicle: bench
title: Bench vehicle (invented)
invented: true
places:
  cabin: {title: cabin, open_minutes: 0, close_minutes: 0, exposure: dry-cabin}
  fuse-box: {title: fuse box, open_minutes: 2, close_minutes: 1, exposure: dry-cabin}
  engine-bay: {title: engine bay, open_minutes: 1, close_minutes: 1, exposure: engine-bay}
PLACES
controls:
  ignition: [run, off]
reference: B-
chassis: body
live: bus-30
junctions:
  B+: {title: battery positive post, place: engine-bay, probe: true}
  B-: {title: battery negative post, place: engine-bay, probe: true}
  body: {title: bare body metal, place: engine-bay}
  bus-30: {title: fuse box feed, place: fuse-box, probe: true}
parts:
  battery:
    {type: battery, title: battery, place: engine-bay, volts: 12.6, ohms: 0.008, pins: {positive: B+, negative: B-}}
wires:
  feed-cable: {from: B+, to: bus-30, gauge_mm2: 16.0, length_m: 1.8, colour: RD, place: engine-bay}
  body-strap: {from: body, to: B-, gauge_mm2: 16.0, length_m: 0.5, colour: BK, place: engine-bay}
grounds:
GROUNDS
"""

_CIRCUIT = """\
format: circuit/1
circuit: branches
title: Branches of a fuse box (invented)
vehicle: ../vehicle.yaml
invented: true
controls:
  lights: [lamps-on, lamps-off]
connectors:
  X1: {title: fuse box output plug X1, place: fuse-box, cavities: [CAVITIES], rows: 1}
CONNECTORS
parts:
PARTS
splices:
SPLICES
wires:
WIRES
normal:
  lamps-on:
    when: {ignition: run, lights: lamps-on}
    text: lights on
    sees: {SEES}
  lamps-off:
    when: {ignition: run, lights: lamps-off}
    text: lights off
    sees: {lamp1: dark}
symptoms:
SYMPTOMS
"""

# A branch's three runs of wire, joined by splices on the way.
_RUNS = (
    ("X1/#", "S#a/in", "S#b/in", "SW#/1"),
    ("SW#/2", "S#c/in", "S#d/in", "S#e/in", "S#f/in", "S#g/in", "LA#/1"),
    ("LA#/2", "S#h/in", "S#i/in", "S#j/in", "G#"),
)

_BRANCH = {
    "PLACES": """\
  loom#: {title: loom of branch #, open_minutes: 3, close_minutes: 3, exposure: underbody}
  lamp-place#: {title: lamp #, open_minutes: 4, close_minutes: 2, exposure: engine-bay}
""",
    "GROUNDS": "  G#: {title: ground point G#, place: lamp-place#}\n",
    "CONNECTORS": """\
  SW#: {title: switch plug SW#, place: cabin, cavities: [1, 2], rows: 1}
  LA#: {title: lamp plug LA#, place: lamp-place#, cavities: [1, 2], rows: 1}
""",
    "PARTS": """\
  F#: {type: fuse, title: fuse F#, place: fuse-box, rating_amps: 10, pins: {in: bus-30, out: X1/#}}
  switch#: {type: switch, title: switch #, place: cabin, pins: {1: SW#/1, 2: SW#/2}, closed_when: lights == lamps-on}
  lamp#: {type: lamp, title: lamp #, place: lamp-place#, watts: 21, volts: 13.5, pins: {feed: LA#/1, ground: LA#/2}}
""",
    "SPLICES": "".join(f"  S#{k}: {{title: splice S#{k}, place: loom#}}\n" for k in "abcdefghij"),
    "WIRES": "".join(
        f"  W#{k}: {{from: {a}, to: {b}, gauge_mm2: 0.75, length_m: 2.0, colour: BK, place: loom#}}\n"
        for k, (a, b) in enumerate(chain(*map(pairwise, _RUNS)), 1)
        for a, b in [(a.removesuffix("/in"), b)]
    ),
    "SYMPTOMS": """\
  dark#: {title: lamp # stays dark, when: {ignition: run, lights: lamps-on}, watch: lamp#, sees: dark}
""",
}


def write(folder: Path, branches: int) -> Path:
    """Write library, vehicle and circuit of so many branches; give the circuit's file."""
    numbers = range(1, branches + 1)
    filled = {key: "".join(text.replace("#", str(n)) for n in numbers).rstrip("\n") for key, text in _BRANCH.items()}
    filled["CAVITIES"] = ", ".join(map(str, numbers))
    filled["SEES"] = ", ".join(f"lamp{n}: lit" for n in numbers[:3])
    library = (shipped("models") / "library" / "parts.yaml").read_text(encoding="utf-8")
    # The loom is wrapped: a look finds nothing at wires, splices and plugs, so that most tests are measurements.
    hidden = re.sub(r"(?m)^(.*effect: (?!open, seen: 0\.9).*?), seen: [\d.]+", r"\1", library)
    files = {"library/parts.yaml": hidden, "bench/vehicle.yaml": _VEHICLE, "bench/circuits/branches.yaml": _CIRCUIT}
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        full = re.sub("|".join(filled), lambda match: filled[match.group()], text) if text is not hidden else text
        path.write_text(full, encoding="utf-8")
    return folder / "bench" / "circuits" / "branches.yaml"
