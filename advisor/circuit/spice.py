"""One operating point as an open SPICE deck, so that an outside simulator can judge the solver.

The switching state is written down as found: drivers and fuses are resistors or are left out.  Lamps and motors
keep their laws (`lamp`, `motor`) as current sources, so that the judge solves the non-linear part by itself.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

from advisor.circuit.lamp import COLD_RATIO, CURRENT_EXPONENT, FLOOR
from advisor.circuit.motor import CRAWL, FRICTION_SHARE
from advisor.circuit.netlist import Element, Netlist
from advisor.circuit.solve import LEAK_SIEMENS, Solution

FORMAT = "deck/1"
# Tighter than a simulator's usual 1e-3 and 1 uV: the bent currents decide the last millivolts.
OPTIONS = ".options reltol=1e-9 abstol=1e-13 vntol=1e-9 itl1=500"


def node_name(netlist: Netlist, node: str, prefix: str = "") -> str:
    """Name of a node in a deck: 0 for the reference, otherwise its number and its letters in lower case."""
    index = netlist.node_index[node]
    return "0" if index < 0 else f"{prefix}n{index}_{_slug(node)}"


def deck(solution: Solution, row: int, title: str) -> str:
    """Write one row of a solution as a deck that `ngspice -b` runs; `title` may have several lines."""
    netlist = solution.netlist
    first, *more = title.splitlines() or [""]
    lines = [f"* {_plain(first)}"]
    lines += [f"* {_plain(line)}" for line in [*more, *_state(solution, row)]]
    lines += [f"* node {node_name(netlist, node)} = {_plain(node)}" for node in (netlist.reference, *netlist.nodes)]
    return "\n".join([*lines, *cards(solution, row), OPTIONS, ".op", ".end", ""])


def cards(solution: Solution, row: int, prefix: str = "") -> Iterator[str]:
    """Yield the element lines of one row; `prefix` keeps several copies in one deck apart."""
    netlist = solution.netlist
    for index, (element, ohms) in enumerate(zip(netlist.elements, solution.ohms[row], strict=True)):
        yield from _card(netlist, element, f"{prefix}{index}_{_slug(element.id)}", float(ohms), prefix)
    for index, node in enumerate(netlist.nodes):
        yield f"R{prefix}leak{index} {node_name(netlist, node, prefix)} 0 {_number(1.0 / LEAK_SIEMENS)}"


def _card(netlist: Netlist, element: Element, name: str, ohms: float, prefix: str) -> Iterator[str]:
    a, b = (node_name(netlist, node, prefix) for node in (element.a, element.b))
    if math.isinf(ohms):
        yield f"* {element.kind} {_plain(element.id)} from {a} to {b} is open"
    elif element.kind == "lamp":
        across = _across(a, b)
        # I = V/R (|V|/V_rated)^(0.55 - 1), the ratio never below the cold floor
        ratio = f"max(abs({across})/{_number(element.volts)}, {_number(FLOOR)})"
        yield f"B{name} {a} {b} I={across}/{_number(ohms)}*{ratio}^({_number(CURRENT_EXPONENT - 1.0)})"
    elif element.kind == "motor":
        across = _across(a, b)
        # I = V/R (f + (1 - f) |V|/V_rated)
        rising = f"{_number(FRICTION_SHARE)}+{_number(1.0 - FRICTION_SHARE)}*abs({across})/{_number(element.volts)}"
        yield f"B{name} {a} {b} I={across}/{_number(ohms)}*({rising})"
    elif element.kind == "winch":
        across, steady = _across(a, b), (1.0 - FRICTION_SHARE) * math.sqrt(1.0 + CRAWL**2)
        # I = V/R (f + (1 - f) sqrt((1 + d^2) / ((V/V_rated)^2 + d^2)))
        spread = f"({across}/{_number(element.volts)})^2+{_number(CRAWL**2)}"
        yield f"B{name} {a} {b} I={across}/{_number(ohms)}*({_number(FRICTION_SHARE)}+{_number(steady)}/sqrt({spread}))"
    elif element.kind == "source":
        inner = f"{prefix}emf_{name}"
        yield f"V{name} {inner} {b} DC {_number(element.volts)}"
        yield f"R{name} {a} {inner} {_number(ohms)}"
    else:
        yield f"R{name} {a} {b} {_number(ohms)}"


def _across(a: str, b: str) -> str:
    """Voltage from a to b as an expression; the reference has no voltage of its own there."""
    if a == "0":
        return f"-v({b})"
    return f"v({a},{b})" if b != "0" else f"v({a})"


def _state(solution: Solution, row: int) -> Iterator[str]:
    netlist = solution.netlist
    yield f"format {FORMAT}; nodes to 0 leak {_number(LEAK_SIEMENS)} S each; a cold lamp has 1/{COLD_RATIO:g} of hot"
    yield "set: " + (", ".join(f"{name} = {value}" for name, value in netlist.settings.items()) or "nothing")
    for kind, flags, words in (("driver", solution.on, ("off", "on")), ("fuse", solution.blown, ("whole", "blown"))):
        for element, flag in zip(netlist.of_kind(kind), flags[row], strict=True):
            yield f"{kind} {netlist.elements[element].id}: {words[int(flag)]}"
    if solution.unsteady[row]:
        yield "unsteady: a unit keeps switching on and off; shown with its driver off"


def _slug(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")


def _plain(text: str) -> str:
    """One line of ASCII: some readers of decks know nothing else."""
    return re.sub(r"[\x00-\x1f]+", " ", text).encode("ascii", "replace").decode()


def _number(value: float) -> str:
    """Twelve digits: more than the tables hold, fewer than machines differ in."""
    return f"{value:.12g}"
