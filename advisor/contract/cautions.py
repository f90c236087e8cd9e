"""Safety words by id, as tests and repairs of the knowledge files name them.

The sentences are the project's own; what they ask for is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from pydantic import BaseModel, ConfigDict

LEVELS = ("danger", "caution", "note")


class Caution(BaseModel):
    """A safety line: its id, how serious it is (danger, caution or note), and the sentence."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str
    level: str
    text: str


MAKER_PROCEDURE = "maker-procedure"
_TABLE: Mapping[str, tuple[str, str]] = {
    "moving-vehicle": (
        "danger",
        "The vehicle can move: chock the wheels, set the parking brake, keep the engine off, "
        "and let nobody stand in front of, behind or under it.",
    ),
    "restraint": (
        "danger",
        "Restraint parts are close by: with the key on unplug nothing here, "
        "and put no ohmmeter, lamp or jumper on a restraint wire.",
    ),
    "hot-coolant": (
        "danger",
        "Hot coolant is under pressure and scalds: no cap, bleed screw or hose is opened before the engine is "
        "hand-warm, and then with a cloth, slowly.",
    ),
    "moving-fan": (
        "danger",
        "The fan can start by itself, key off too: keep hands, sleeves and leads out of fan and belt.",
    ),
    "cranking": (
        "danger",
        "The engine turns: neutral, parking brake, wheels chocked, hands and hair off belts, fuel or ignition off, "
        "nobody under the vehicle; at most ten seconds at a time.",
    ),
    "fuel": (
        "danger",
        "Fuel and its vapour: no lamp, jumper or spark at an open tank or rail, no smoking, an extinguisher at hand.",
    ),
    "loud-horn": ("note", "The horns are loud: nobody in front of the grille, ears covered, short blows."),
    "exhaust-gas": ("danger", "The engine runs: outdoors or with the exhaust extraction on, parking brake set."),
    "live-circuit": (
        "caution",
        "The circuit is live: probe from the back of the plug and let the tip touch one cavity only.",
    ),
    "unpowered": (
        "caution",
        "Ohms only on a dead section: key off, this end unplugged, and look first that no voltage is left.",
    ),
    "jumper": (
        "caution",
        "Use a jumper with its own fuse, check the cavity twice before you bridge, and take it off afterwards.",
    ),
    "unplug": (
        "caution",
        "Key off before you part or join the plug; note it on the put-back list and look at the contacts.",
    ),
    "swap": (
        "caution",
        "Key off before you swap; the known-good part is of the same number and rating, and the old one goes back in "
        "afterwards. After a blown fuse swap nothing before the short is found: it can cost the good part.",
    ),
    "coding": (
        "note",
        "The new unit does nothing before it is coded with the vehicle maker's access: a visit, counted in the price.",
    ),
    "disturbing": (
        "note",
        "This step moves a contact and may heal the fault for a while: do the steps that disturb nothing first.",
    ),
    MAKER_PROCEDURE: ("note", "Follow the vehicle maker's procedure; it goes before anything said here."),
}


def cautions(ids: Iterable[str]) -> tuple[Caution, ...]:
    """Give the safety lines of the ids, the most serious first, the vehicle maker's procedure always last."""
    named = dict.fromkeys(name for name in ids if name != MAKER_PROCEDURE)
    lines = sorted((_caution(name) for name in named), key=lambda line: LEVELS.index(line.level))
    return (*lines, _caution(MAKER_PROCEDURE))


def _caution(name: str) -> Caution:
    # A caution that the table does not know is still shown, by its own name, rather than lost.
    level, text = _TABLE.get(name, ("caution", f"Take care: {name.replace('-', ' ')}."))
    return Caution(id=name, level=level, text=text)
