"""Every test that the schematic offers, before physics says which of them tell anything.

Voltage at each place that can be back-probed, loaded drops along feed and ground sides and across each switch, fuse and
connector, fused jumpers that stand in for a switch or an output, known-good parts in the place of those that are easily
swapped, and looks; each under each condition of the normal behaviour.  Ohmmeter, test lamp and clamp: `instruments`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from advisor.circuit.solve import solve
from advisor.errors import OscillationError
from advisor.knowledge.catalogue import Observed, Setup, Test, Withheld
from advisor.knowledge.documents import Normal, Part
from advisor.knowledge.instruments import KEY_OFF, Instruments
from advisor.knowledge.looking import WORDS
from advisor.knowledge.places import cautions_at, path
from advisor.knowledge.points import Point, Where, ends, points
from advisor.knowledge.wiring import TEST_LAMP, Wiring

_TOOL = {
    "look": "eye",
    "jumper": "jumper",
    "lamp": "test-lamp",
    "inspect": "visual",
    "ohms": "ohmmeter",
    "clamp": "clamp",
    "swap": "spare",
    "draw": "ammeter",
    "fuse-drop": "fuse-drop",
}
_UNIT = {"voltmeter": "V", "ohmmeter": "ohm", "clamp": "A", "ammeter": "A", "fuse-drop": "A"}
_CAUTIONS = {
    "look": (),
    "inspect": (),
    "jumper": ("jumper", "live-circuit"),
    "lamp": ("live-circuit",),
    "ohms": ("unpowered",),
    "clamp": (),
    "swap": ("swap",),
    "draw": ("battery-order", "key-off-draw"),
    "fuse-drop": ("key-off-draw",),
    "volts": ("live-circuit",),
    "drop": ("live-circuit",),
}
BESIDE_RESTRAINT = "beside a restraint: no unplugging, ohms, lamp, clamp or jumper here, only a voltmeter from behind"
RESTRAINT = "at a restraint place: no live test and no unplugging here, use the next connector away from the seat"


CHATTERS = "a relay or unit behind this fuse would switch on and off without end with a lamp in its place"

_LOSSY = ("switch", "relay", "fuse")
"""Kinds of parts across which a loaded drop is measured."""


class Candidates:
    """Writes the candidate tests of one wiring; those at restraint places go to `withheld`."""

    def __init__(self, wiring: Wiring) -> None:
        self.wiring, self.schematic = wiring, wiring.schematic
        self.points = points(wiring)
        self.reference = self.schematic.reference
        self.supply = wiring.supply
        self.withheld: list[Withheld] = []

    def tests(self) -> list[Test]:
        """All candidate tests in a stable order; outcomes and normal values are still empty."""
        every = [(test, "") for normal in self.schematic.normal.values() for test in self._under(normal)]
        allowed = list(self._inspections())
        for test, refused in [*every, *Instruments(self.wiring, self.points, self._make).offers()]:
            reason = refused or self._restraint(test) or self._chatter(test)
            if reason:
                self.withheld.append(Withheld(test.id, test.title, reason))
            elif test.kind != "look" and test.place in self._beside_restraint():
                allowed.append(replace(test, cautions=("restraint", *test.cautions)))
            else:
                allowed.append(test)
        return [*allowed, *self._next_door()]

    def _restraint(self, test: Test) -> str:
        """Why a test is refused for the sake of a restraint, or nothing."""
        if test.kind == "look":
            return ""
        touches = {test.place, *(self.place_of(id) for id in test.setup.unplug)}
        if any(self.schematic.places[place].restraint for place in touches):
            return RESTRAINT
        passive = test.kind in {"volts", "drop"} and not test.setup.unplug
        return "" if passive or not touches & self._beside_restraint() else BESIDE_RESTRAINT

    def _chatter(self, test: Test) -> str:
        """Why a test lamp in place of a fuse is refused, or nothing: relays behind it may starve their own coils."""
        if test.setup.lamp and test.setup.unplug:
            try:
                solve(self.wiring.under(test.setup), [()])
            except OscillationError:
                return CHATTERS
        return ""

    def _beside_restraint(self) -> set[str]:
        """Places through which a restraint place is reached: the seat that a buckle sits on."""
        places = self.schematic.places
        return {step for place in places.values() if place.restraint for step in path(places, place.id)[1:]}

    def place_of(self, id: str) -> str:
        """Where a connector or a fuse sits."""
        owner = self.schematic.connectors.get(id) or self.schematic.parts[id]
        return owner.place

    def _inspections(self) -> Iterator[Test]:
        """A look, key off, at each connector and each other part that shows its damage."""
        groups: dict[str, list[str]] = {}
        for item in self.wiring.items.values():
            if any(mode.seen for mode in item.type.modes):
                groups.setdefault(item.id.split("/")[0], []).append(item.id)
        key_off = Setup(self.wiring.usual({"ignition": "off"}))
        for group, parts in groups.items():
            item = self.wiring.items[parts[0]]
            plug = self.schematic.connectors.get(group)
            where = Where(item.place, (), Observed(parts=tuple(parts)))
            title = f"Inspect {plug.title if plug else item.title}: green, burnt, chafed, broken, backed out?"
            test = self._make(KEY_OFF, "inspect", group, title, where, key_off)
            own = [id for part in parts for id in self.wiring.items[part].type.cautions]
            yield replace(test, cautions=tuple(dict.fromkeys((*test.cautions, *own))))

    def _next_door(self) -> Iterator[Test]:
        """A look at each load of a neighbour that hangs on something shared, and at what runs along with it."""
        for door in self.schematic.next_door:
            shared = ", ".join(self.wiring.items[id].title for id in door.shares if id in self.wiring.items)
            for load in door.normal.sees:
                look = self._look(door.normal, load)
                beside = self.schematic.parts[load].id in self.schematic.beside
                yield replace(look, title=f"{look.title} next door: it shares {shared}") if beside else look

    def _under(self, normal: Normal) -> Iterator[Test]:
        for load in normal.sees:
            yield self._look(normal, load)
        for point in self.points.values():
            if point.node != self.reference:
                yield self._volts(normal, point)
        yield from self._across(normal)
        yield from self._feeds(normal)
        yield from self._jumpers(normal)
        yield from self._lamps_for_fuses(normal)
        yield from self._swaps(normal)

    def _make(  # noqa: PLR0913, PLR0917  the test's own fields
        self, normal: Normal, kind: str, name: str, title: str, where: Where, setup: Setup | None = None
    ) -> Test:
        tool = _TOOL.get(kind, "voltmeter")
        setup = setup or Setup(self.wiring.usual(normal.when))
        cautions = [*normal.cautions, *_CAUTIONS[kind], *(["unplug"] if setup.unplug else [])]
        cautions += [] if kind == "look" else cautions_at(self.schematic.places, where.place)
        return Test(
            id=f"{kind}.{name}.{normal.id}",
            kind=kind,
            title=title,
            place=where.place,
            probe=where.probe,
            instrument=tool,
            setup=setup,
            condition=normal.id,
            condition_text=normal.text
            + "".join(f", {id} {'unplugged' if id in self.schematic.connectors else 'pulled'}" for id in setup.unplug),
            minutes=self.schematic.library.instruments[tool].minutes * (2 if kind == "drop" else 1),
            disturbing=bool(setup.unplug),
            unit=_UNIT.get(tool, ""),
            outcomes=(),
            normal_value=0.0,
            observed=where.observed,
            cautions=tuple(dict.fromkeys(cautions)),
        )

    def _look(self, normal: Normal, load: str) -> Test:
        part = self.schematic.parts[load]
        title = f"{WORDS[self.wiring.load_kind(load)].verb} the {part.title}"
        return self._make(normal, "look", load, title, Where(part.place, (), self._observed(load)))

    def _observed(self, load: str) -> Observed:
        return replace(Observed(), **{self.wiring.load_kind(load): load})  # type: ignore[arg-type]  # a load's kind is a field of text

    def _volts(self, normal: Normal, point: Point) -> Test:
        title = f"Voltage at {point.title}, black on battery negative"
        if point.node == self.supply:
            title = "Battery voltage at the posts"
        where = Where(point.place, (point.label, (self.reference, "")), Observed(point.node, self.reference))
        return self._make(normal, "volts", point.slug, title, where)

    def _drop(self, normal: Normal, name: str, title: str, red: Point, black: Point) -> Test:
        place = black.place if red.node == self.supply else red.place
        return self._make(
            normal, "drop", name, title, Where(place, (red.label, black.label), Observed(red.node, black.node))
        )

    def _across(self, normal: Normal) -> Iterator[Test]:
        """Loaded drop across each switch, relay, fuse and inline contact whose two sides can both be reached."""
        for part in self.schematic.parts.values():
            if part.id in self.wiring.items and self.wiring.items[part.id].type.kind in _LOSSY:
                sides = [self._probed(pin) or self.points.get(end) for pin, end in self._pins(part)]
                if sides[0] and sides[1]:
                    yield self._drop(normal, part.id, f"Loaded drop across the {part.title}", sides[0], sides[1])
        for contact, (a, b) in self.wiring.sides.items():
            if a in self.points and b in self.points:
                title = f"Loaded drop across cavity {contact.split('/')[1]} of {contact.split('/')[0]}"
                yield self._drop(normal, contact.replace("/", "-"), title, self.points[a], self.points[b])

    def _pins(self, part: Part) -> list[tuple[str, str]]:
        if self.schematic.library.types[part.type].kind == "relay":
            return [(part.pins[pin], "") for pin in ("30", "87")]
        return list(zip(part.pins.values(), ends(self.wiring, part), strict=True))

    def _probed(self, pin: str) -> Point | None:
        """The probe point of a pin as written in the file: its cavity's wire side."""
        return self.points.get(pin)

    def _feeds(self, normal: Normal) -> Iterator[Test]:
        """Loaded drop from battery positive to the feed of each lamp, motor and unit."""
        for part in self.schematic.parts.values():
            if self.schematic.library.types[part.type].kind in {"lamp", "motor", "unit", "conductor"}:
                pins = [p for name, p in part.pins.items() if name in {"feed", "supply"}]
                for point in filter(None, map(self._probed, pins)):
                    if part.id in self.wiring.items:
                        title = f"Loaded drop from battery positive to {point.title}"
                        yield self._drop(normal, f"feed-{point.slug}", title, self.points[self.supply], point)

    def _lamps_for_fuses(self, normal: Normal) -> Iterator[Test]:
        """A test lamp in place of each fuse: bright on a short, dim in series with a load, dark on an open."""
        for part in self.schematic.parts.values():
            if part.id in self.wiring.items and self.wiring.items[part.id].type.kind == "fuse":
                sides = [self.points.get(end) for end in ends(self.wiring, part)]
                if sides[0] and sides[1] and self.supply not in ends(self.wiring, part):
                    setup = Setup(self.wiring.usual(normal.when), (part.id,), lamp=(sides[0].node, sides[1].node))
                    where = Where(part.place, (sides[0].label, sides[1].label), Observed(lamp=TEST_LAMP))
                    title = f"Test lamp in place of {part.title}: does the test lamp light?"
                    yield self._make(normal, "lamp", part.id, title, where, setup)

    def _swaps(self, normal: Normal) -> Iterator[Test]:
        """A known-good part in the place of each that is easily swapped, and what each load does then."""
        for part in self.schematic.parts.values():
            minutes = self.schematic.library.types[part.type].swap_minutes
            if part.id not in self.wiring.items or minutes is None:
                continue
            setup = Setup(self.wiring.usual(normal.when), swap=part.id)
            for load in normal.sees:
                watched = self.schematic.parts[load].title
                does = WORDS[self.wiring.load_kind(load)].does
                title = f"Known-good part in place of the {part.title}: does the {watched} {does}?"
                name = part.id + (f".{load}" if len(normal.sees) > 1 else "")
                test = self._make(normal, "swap", name, title, Where(part.place, (), self._observed(load)), setup)
                yield replace(test, minutes=minutes, disturbing=True)

    def _jumpers(self, normal: Normal) -> Iterator[Test]:
        """Fused jumpers that stand in for a switch, for a unit's low-side output, or pull a unit's input to ground."""
        for part in self.schematic.parts.values():
            kind = self.schematic.library.types[part.type].kind
            if part.id not in self.wiring.items:
                continue
            sides = [self._probed(pin) for pin in part.pins.values()]
            if kind == "switch" and sides[0] and sides[1] and sides[0].label[0] == sides[1].label[0]:
                yield from self._bridge(normal, sides[0], sides[1], unplug=sides[0].label[0])
            for name in part.outputs:
                point = self._probed(part.pins[name])
                if part.outputs[name].side == "low" and point:
                    yield from self._bridge(normal, point, None, unplug=point.label[0])
            for name in part.inputs:
                point = self._probed(part.pins[name])
                if point:
                    yield from self._bridge(normal, point, None, unplug=None)

    def _bridge(self, normal: Normal, red: Point, black: Point | None, unplug: str | None) -> Iterator[Test]:
        """One test per load that is watched in this condition."""
        end, other = (black.node, black.slug) if black else (self.reference, "ground")
        setup = Setup(self.wiring.usual(normal.when), (unplug,) if unplug else (), (red.node, end))
        between = f"{red.title} to {black.title if black else 'a known good ground'}"
        probe = (red.label, black.label if black else (self.reference, ""))
        for load in normal.sees:
            name = f"{red.slug}-to-{other}" + (f".{load}" if len(normal.sees) > 1 else "")
            does = WORDS[self.wiring.load_kind(load)].does
            title = f"Fused jumper from {between}: does the {self.schematic.parts[load].title} {does}?"
            yield self._make(normal, "jumper", name, title, Where(red.place, probe, self._observed(load)), setup)
