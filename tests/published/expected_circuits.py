"""What an experienced technician expects of each complaint before any test: shares of causes, and where to look first.

Source: common practice, no source: one technician's estimates, from the trade's usual shares (contacts 18 %, worn
switch 15, the load itself 18, wire in a flexing place 12, ground 12, relay 5, fixed loom 4, control unit 4, fuse 2),
its location multipliers and its list of traps.  Written down before the models were first run, and frozen.  Where a
model departs, the departure and its reason stand beside it: numbers are not bent.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass


@dataclass(frozen=True)
class Share:
    """Share of a group of causes, named by part, plug or PART/MODE, right after a complaint.

    `departs` is the frozen range of a model that departs from `expected`, with the reason.
    """

    circuit: str
    symptom: str
    name: str
    group: Collection[str]
    expected: tuple[float, float]
    departs: tuple[float, float] | None = None
    reason: str = ""


@dataclass(frozen=True)
class First:
    """Beginnings of test ids of which one has to be among the first three tests."""

    circuit: str
    symptom: str
    expected: tuple[str, ...]
    departs: tuple[str, ...] = ()
    reason: str = ""


HORN_BUTTON = {"horn-button", "spiral", "X61", "X62", "W503", "W504", "W505", "W506"}
HORN_GROUND = {"G1", "W510"}
HORN_FEED = {"F14", "W501", "W502"}
HORN_RELAY = {"K3", "X13"}
HORNS = {"horn-low", "horn-high", "X71", "X72"}
FAN_SWITCH = {"thermo-low", "thermo-high", "X81", "W604", "W605", "W606"}
GRID = {"grid-upper", "grid-lower", "tab-feed", "tab-ground", "X91"}
WINDOW_BOOT = {"X90", "W705", "W706", "W707", "W708"}
WINDOW_CONTROL = {"window-unit", "window-button", "K9", "C30", "X93", "W701", "W702", "W703", "W704", "W709", "W710"}
SENDER = {"sender", "X95"}
GAUGE_WIRES = {"W803", "W804", "W805", "X96", "X97"}

STOP_SWITCH = {"brake-switch", "X48"}
STOP_FEED = {"F15", "W901", "W902", "W903", "X45/1", "S10"}
RIGHT_GROUND = {"G7", "W308", "X42/1", "carrier-ground-right"}
LEFT_LAMP = {"stop-left", "X41/3", "W904"}
LEFT_GROUND = {"G6", "W306", "X41/1", "carrier-ground"}
TAIL_FEED = {"F20", "W906", "W907", "W908", "X45/2", "S11"}
TAIL_SWITCH = {"light-switch", "X49"}
TAIL_SHORTS = {f"{wire}/short-to-ground" for wire in ("W906", "W907", "W908", "W909", "W910", "W911", "W914")}
BOOTS = {"X104", "X105", "W953", "W952", "W956", "W959", "W954", "W955", "W957", "W958", "W960", "W961", "W962"}
WINDOW_MOTOR = {"window-motor", "window-cut-out", "X103", "W963", "W964"}
OWN_SWITCH = {"own-up", "own-down", "own-rest-up", "own-rest-down", "X102"}
DRIVER_SWITCH = {"driver-up", "driver-down", "driver-rest-up", "driver-rest-down", "X101"}
CHARGE_WIRE = {"W972", "W973", "X107", "X108", "X106"}
CHARGE_LAMP = {"charge-lamp", "X106", "W971", "F21"}
CHARGE_PATH = {"rectifier", "charge-cable"}
START_CONTROL = {"start-contact", "clutch-switch", "X111", "X112", "K11", "X110", "G12", "W981", "W982", "W983", "W984"}
STARTER = {"starter-motor", "solenoid", "X113"}
CABLES = {"starter-cable", "engine-strap"}
GLOVE_LAMP = {"glovebox-switch", "X115", "W992"}
AWAKE = {"door-link", "body-unit", "C40"}

NO_START = "cranks-but-does-not-start"
FUEL_FEED = {"fuel-pump", "pump-feed"}

SHARES = [
    Share("horn", "dead", "button, spiral and their wires", HORN_BUTTON, (0.30, 0.50)),
    Share("horn", "dead", "ground on the bracket", HORN_GROUND, (0.12, 0.25)),
    Share("horn", "dead", "relay and socket", HORN_RELAY, (0.08, 0.20)),
    Share(
        "horn",
        "dead",
        "both horns",
        HORNS,
        (0.03, 0.12),
        (0.005, 0.03),
        "two latent faults within two months at the rate of a load; shops see first horns that died "
        "years ago, as with lamps",
    ),
    Share(
        "horn",
        "dead",
        "fuse or its feed",
        HORN_FEED,
        (0.04, 0.15),
        (0.02, 0.05),
        "the fuse box sits in the dry and its wires are short; most of a range of high resistances still works a relay",
    ),
    Share(
        "horn",
        "one-silent",
        "the horn and its plug",
        {"horn-low", "X71", "W508"},
        (0.80, 1.00),
        (0.7, 0.83),
        "a sixth goes to no fault, works as designed and faults that are not listed, which the estimate had left out",
    ),
    Share("horn", "faint", "ground on the bracket", HORN_GROUND, (0.35, 0.65)),
    Share("horn", "always-on", "relay welded", {"K3/welded"}, (0.15, 0.45)),
    Share("horn", "always-on", "button and spiral chafed to ground", HORN_BUTTON, (0.45, 0.80)),
    Share("cooling-fan", "never-runs", "motor and its plug", {"fan-motor", "X80"}, (0.15, 0.35)),
    Share(
        "cooling-fan",
        "never-runs",
        "ground",
        {"G1", "W609"},
        (0.12, 0.30),
        (0.28, 0.36),
        "a hair above: both speeds need the ground alone, the relays, switches and the resistor are doubled",
    ),
    Share(
        "cooling-fan",
        "never-runs",
        "fuses and their feeds",
        {"F31", "F13", "W601", "W602"},
        (0.05, 0.20),
        (0.03, 0.07),
        "a hair below: short wires in the fuse box, and shorts behind it are counted with their wires",
    ),
    Share(
        "cooling-fan",
        "low-dead",
        "resistor and its plug",
        {"fan-resistor", "X82"},
        (0.25, 0.50),
        (0.15, 0.25),
        "the library counts a resistor as a third of three; an open resistor is .03 of a circuit's "
        "faults, its plug's contacts weigh more",
    ),
    Share("cooling-fan", "low-dead", "thermo switch, airlock, its wires", FAN_SWITCH, (0.25, 0.50)),
    Share("cooling-fan", "low-dead", "low relay", {"K7", "X14"}, (0.10, 0.25)),
    Share(
        "cooling-fan",
        "high-dead",
        "thermo switch and its wires",
        FAN_SWITCH,
        (0.40, 0.70),
        (0.18, 0.32),
        "ground, plugs and worn brushes that only slow the fan take the other half; the estimate had "
        "thought of a dead high relay path alone",
    ),
    Share("cooling-fan", "runs-cold", "relay welded", {"K7/welded"}, (0.20, 0.50)),
    Share(
        "cooling-fan",
        "runs-cold",
        "thermo switch stuck or its wire to ground",
        FAN_SWITCH,
        (0.45, 0.80),
        (0.36, 0.46),
        "a hair below, with a sixth for no fault and faults that are not listed",
    ),
    Share(
        "heated-rear-window",
        "stays-cold",
        "glass and tabs",
        GRID,
        (0.20, 0.40),
        (0.06, 0.13),
        "one half's grid alone does not chill both; tabs count a third of a load's share, and a ground "
        "under the van eight times",
    ),
    Share(
        "heated-rear-window",
        "stays-cold",
        "tailgate boot",
        WINDOW_BOOT,
        (0.15, 0.40),
        (0.08, 0.16),
        "two wires that flex at .04 of 8 times 15; the ground of the underbody outweighs them as its share is .12 of 2",
    ),
    Share("heated-rear-window", "stays-cold", "switch, unit and relay", WINDOW_CONTROL, (0.15, 0.40)),
    Share(
        "heated-rear-window",
        "stays-cold",
        "ground",
        {"G6", "W711"},
        (0.05, 0.20),
        (0.28, 0.42),
        "15 A make a tenth of an ohm felt: most of a range of high resistances leaves the glass cold; "
        "location multiplier 8",
    ),
    Share("heated-rear-window", "stays-cold", "shared fuse", {"F12", "X5"}, (0.01, 0.08)),
    Share(
        "heated-rear-window",
        "half-cold",
        "grid lines of that half",
        {"grid-upper"},
        (0.85, 1.00),
        (0.78, 0.83),
        "nothing else does it; a sixth goes to no fault, works as designed and faults that are not listed",
    ),
    Share("heated-rear-window", "stays-on", "relay or unit", {"K9", "window-unit"}, (0.60, 0.95)),
    Share("fuel-gauge", "reads-empty", "sender and its plug", SENDER, (0.25, 0.55)),
    Share(
        "fuel-gauge",
        "reads-empty",
        "wires and contacts",
        GAUGE_WIRES,
        (0.20, 0.45),
        (0.12, 0.22),
        "the plug at the tank is counted with the sender; what is left sits in sill and cabin",
    ),
    Share("fuel-gauge", "reads-empty", "ground at the rear", {"G6", "W806"}, (0.05, 0.25)),
    Share("fuel-gauge", "reads-full", "sender", SENDER, (0.30, 0.65)),
    Share("fuel-gauge", "reads-full", "wire to ground", {"W803", "W804", "W805"}, (0.30, 0.65)),
    Share("fuel-gauge", "falls-with-pump", "ground shared with the pump", {"G6", "W806", "X95"}, (0.60, 0.98)),
    Share(
        "rear-lighting",
        "stop-dead",
        "brake lamp switch and its plug",
        STOP_SWITCH,
        (0.40, 0.70),
        (0.3, 0.4),
        "a hair below: the switch's plug is dry, the splice at the rear is not",
    ),
    Share("rear-lighting", "stop-dead", "fuse, loom and sill connector", STOP_FEED, (0.20, 0.45)),
    Share(
        "rear-lighting",
        "stop-left-dark",
        "lamp, its contact and wire",
        LEFT_LAMP,
        (0.45, 0.75),
        (0.75, 0.85),
        "the other side of the row below",
    ),
    Share(
        "rear-lighting",
        "stop-left-dark",
        "ground of the left carrier",
        LEFT_GROUND,
        (0.10, 0.30),
        (0.06, 0.1),
        "with its ground lost the filament glows through the reversing lamps beside it: dim, not dark",
    ),
    Share("rear-lighting", "tail-dead", "light switch and its plug", TAIL_SWITCH, (0.25, 0.50)),
    Share("rear-lighting", "tail-dead", "chafed wires that blow the fuse", TAIL_SHORTS, (0.10, 0.30)),
    Share(
        "rear-lighting",
        "tail-dead",
        "plate lamp's wire in the boot",
        {"W911"},
        (0.05, 0.20),
        (0.03, 0.05),
        "a hair below: one wire of seven",
    ),
    Share(
        "rear-lighting",
        "tails-light",
        "a lamp of the wrong kind",
        {"holder-dual-left", "holder-dual-right"},
        (0.40, 0.80),
    ),
    Share("rear-lighting", "right-tail-glows", "ground of the right carrier", RIGHT_GROUND, (0.70, 0.98)),
    Share("rear-lighting", "stop-always-on", "pedal switch", STOP_SWITCH, (0.70, 0.98)),
    Share(
        "rear-lighting",
        "trailer-dark",
        "ground of the socket",
        {"X47/31", "W915", "G7"},
        (0.45, 0.75),
        (0.72, 0.85),
        "a hair above: a ground point under the van has three times the share of all else here",
    ),
    Share(
        "power-window",
        "dead",
        "motor, cut-out and their plug",
        WINDOW_MOTOR,
        (0.35, 0.65),
        (0.1, 0.2),
        "one motor against the twelve wires and plugs that two boots put in its way, all at their location multipliers",
    ),
    Share("power-window", "dead", "wires and plugs of the two door boots", BOOTS, (0.15, 0.40)),
    Share(
        "power-window",
        "dead",
        "fuse or ground",
        {"F24", "W951", "G11"},
        (0.05, 0.20),
        (0.2, 0.28),
        "a hair above: one ground alone serves both directions, at a wet kick panel",
    ),
    Share(
        "power-window", "own-dead", "feed of the passenger's switch", {"W953", "W955", "X104/1", "X102/1"}, (0.60, 0.95)
    ),
    Share(
        "power-window",
        "driver-dead",
        "feed of the driver's station",
        {"W952", "W954", "X105/1", "X101/1"},
        (0.60, 0.95),
        (0.22, 0.35),
        "the estimate forgot the way up from the driver, which leads through three plugs to a contact at rest",
    ),
    Share(
        "power-window",
        "own-up-dead",
        "contacts of the passenger's switch",
        OWN_SWITCH,
        (0.50, 0.85),
        (0.1, 0.2),
        "up alone fails at four wires and three plugs of the return as well; contacts are an eighth of two switches",
    ),
    Share(
        "power-window",
        "own-up-dead",
        "rest contacts of the driver's station",
        DRIVER_SWITCH,
        (0.00, 0.10),
        (0.08, 0.14),
        "a hair above: the driver's rest contact wears as the passenger's contact does",
    ),
    Share("power-window", "slow", "guide or brushes", {"window-motor"}, (0.35, 0.70)),
    Share("power-window", "slow", "ground and its wires", {"G11", "W961", "W962", "X105/2", "X101/2"}, (0.10, 0.35)),
    Share(
        "charge-warning-lamp",
        "stays-lit",
        "stator and belt",
        {"stator"},
        (0.15, 0.40),
        (0.5, 0.65),
        "regulator and brushes, which the estimate had put first, cannot do it: see the next row",
    ),
    Share(
        "charge-warning-lamp",
        "stays-lit",
        "regulator and brushes",
        {"field"},
        (0.30, 0.60),
        (0.0, 0.01),
        "the lamp returns through field and regulator: with either open it is dark, key on and running alike",
    ),
    Share(
        "charge-warning-lamp",
        "stays-lit",
        "wire chafed to ground",
        {"W972", "W973"},
        (0.05, 0.20),
        (0.02, 0.05),
        "a hair below: two wires at a fifth of a wire each",
    ),
    Share("charge-warning-lamp", "flat-after-trips", "slipping belt", {"stator/slipping-belt"}, (0.22, 0.40)),
    Share("charge-warning-lamp", "flat-after-trips", "a phase less", {"stator/lost-phase"}, (0.18, 0.36)),
    Share("charge-warning-lamp", "flat-after-trips", "engine's ground strap", {"engine-strap"}, (0.10, 0.28)),
    Share("charge-warning-lamp", "flat-after-trips", "rectifier and charge cable", CHARGE_PATH, (0.00, 0.12)),
    Share(
        "charge-warning-lamp",
        "flat-after-trips",
        "battery that takes no charge",
        {"cell"},
        (0.10, 0.30),
        (0.0, 0.01),
        "the drawing has no lost capacity: half an ohm in the battery leaves the loads to a sound alternator",
    ),
    Share("charge-warning-lamp", "overcharges", "regulator without limit", {"limit"}, (0.60, 0.90)),
    Share(
        "charge-warning-lamp",
        "overcharges",
        "battery with a dead cell",
        {"cell"},
        (0.05, 0.25),
        (0.0, 0.01),
        "the drawing's battery has no single cells, so that none of them can be dead",
    ),
    Share("charge-warning-lamp", "never-lights", "lamp, its fuse and plug", CHARGE_LAMP, (0.20, 0.45)),
    Share(
        "charge-warning-lamp",
        "never-lights",
        "wire to the alternator",
        CHARGE_WIRE,
        (0.25, 0.55),
        (0.12, 0.22),
        "field and regulator, which open the lamp's way as well, take more",
    ),
    Share(
        "charge-warning-lamp",
        "never-lights",
        "regulator and brushes",
        {"field"},
        (0.15, 0.40),
        (0.35, 0.45),
        "a hair above: all of its faults show here",
    ),
    Share(
        "charge-warning-lamp",
        "glows",
        "feed that sags",
        {"ignition-switch"},
        (0.40, 0.90),
        (0.28, 0.40),
        "main fuse and feed cable sag as the ignition switch does; the estimate had named the switch alone",
    ),
    Share(
        "charge-warning-lamp",
        "lit-with-key-off",
        "rectifier shorted",
        {"rectifier/shorted"},
        (0.60, 0.95),
        (0.42, 0.55),
        "nothing else of weight does it; the rest is no fault, what is not listed, and what does not start it",
    ),
    Share(
        "starter",
        "silent",
        "starter and solenoid",
        STARTER,
        (0.25, 0.50),
        (0.08, 0.15),
        "battery and cable ends take a third: a battery fails by a handbook's rate, five times a starter's by share",
    ),
    Share(
        "starter",
        "silent",
        "start contact, clutch switch, relay and their wires",
        START_CONTROL,
        (0.35, 0.65),
        (0.2, 0.28),
        "as above",
    ),
    Share("starter", "silent", "clutch switch", {"clutch-switch"}, (0.08, 0.25), (0.04, 0.07), "as above"),
    Share(
        "starter",
        "slow",
        "cable and engine strap",
        CABLES,
        (0.35, 0.65),
        (0.26, 0.35),
        "a hair below: the battery again, which is not what starts it but as common unnoticed",
    ),
    Share("starter", "slow", "starter and solenoid", STARTER, (0.25, 0.55), (0.18, 0.25), "a hair below, as above"),
    Share("starter", "lamps-go-dim", "battery, its strap", {"crank-battery", "body-strap"}, (0.40, 0.80)),
    Share(
        "starter",
        "lamps-go-dim",
        "seized",
        {"starter-motor/seized"},
        (0.10, 0.40),
        (0.04, 0.09),
        "the battery takes what the estimate had left for it at the very most",
    ),
    Share("starter", "runs-on", "relay or solenoid welded", {"K11", "solenoid"}, (0.60, 0.95)),
    Share("battery-drain", "flat-after-standing", "glovebox lamp that stays on", GLOVE_LAMP, (0.15, 0.40)),
    Share(
        "battery-drain",
        "flat-after-standing",
        "relay welded",
        {"K12/welded"},
        (0.10, 0.30),
        (0.04, 0.08),
        "a quarter of a relay, .05 of a circuit, against a lid switch at .45 of .15 and added equipment at .10",
    ),
    Share("battery-drain", "flat-after-standing", "unit kept awake", AWAKE, (0.10, 0.35)),
    Share("battery-drain", "flat-after-standing", "added tracker", {"tracker"}, (0.10, 0.35)),
    Share("battery-drain", "dome-stays-lit", "message or unit", AWAKE, (0.40, 0.85)),
    Share(
        "battery-drain",
        "dome-never-lights",
        "lamp, its feed and its wire",
        {"dome-lamp", "X116", "W993", "W994", "C40/4"},
        (0.30, 0.60),
    ),
    Share(
        "battery-drain",
        "door-open-unseen",
        "message stuck",
        {"door-link/stuck"},
        (0.30, 0.80),
        (0.07, 0.14),
        "the unit, its fuse and its ground show the same; the estimate had thought of a unit that works otherwise",
    ),
    Share(
        NO_START,
        "never-fires",
        "fuel pump and its feed",
        FUEL_FEED,
        (0.25, 0.50),
        (0.2, 0.28),
        "a hair below: an empty tank and drowned plugs are counted per day, pump and feed by the part library's rates",
    ),
    Share(
        NO_START,
        "never-fires",
        "crankshaft sensor and its plug",
        {"crank-sensor"},
        (0.12, 0.30),
        (0.03, 0.08),
        "a fifth of one circuit's faults; the estimate knows engines that eat these sensors, the rates do not",
    ),
    Share(NO_START, "never-fires", "ignition", {"coil", "plugs-and-leads"}, (0.05, 0.22)),
    Share(NO_START, "never-fires", "immobiliser", {"immobiliser"}, (0.03, 0.15)),
    Share(NO_START, "never-fires", "tank empty, whatever the gauge says", {"tank"}, (0.03, 0.15)),
    Share(NO_START, "fires-and-dies", "immobiliser", {"immobiliser"}, (0.35, 0.75)),
    Share(
        NO_START,
        "not-when-hot",
        "crankshaft sensor",
        {"crank-sensor"},
        (0.40, 0.75),
        (0.13, 0.25),
        "a weak pump shows no complaint for sure and so counts as half a year in the van; and the rate as above",
    ),
    Share(
        NO_START, "starts-late", "pressure lost while parked", {"pressure-valve", "pressure-regulator"}, (0.30, 0.65)
    ),
]

FIRST = [
    First("horn", "dead", ("look.", "volts.X13", "inspect.F14")),
    First("horn", "one-silent", ("volts.X71", "volts.X72", "inspect.X71", "look.")),
    First("horn", "faint", ("volts.G1", "volts.X71", "volts.X72", "look.fan-motor", "drop.")),
    First("horn", "always-on", ("look.", "volts.X13")),
    First("cooling-fan", "never-runs", ("look.", "volts.X80", "volts.X15", "volts.X14")),
    First("cooling-fan", "low-dead", ("look.", "volts.X82", "volts.X14")),
    First("cooling-fan", "high-dead", ("look.", "volts.X15", "volts.X81")),
    First("cooling-fan", "runs-cold", ("look.", "volts.X14", "volts.X81")),
    First(
        "heated-rear-window",
        "stays-cold",
        ("look.", "volts.X91", "volts.X94"),
        ("volts.X92", "lamp.X92"),
        "the ground clip splits the way in two at the first step, as half of all causes lie behind it",
    ),
    First("heated-rear-window", "half-cold", ("look.", "inspect.grid", "volts.X91")),
    First("heated-rear-window", "stays-on", ("look.", "volts.X94")),
    First("fuel-gauge", "reads-empty", ("look.", "volts.X95", "volts.X96", "volts.X97")),
    First("fuel-gauge", "reads-full", ("look.", "volts.X95", "volts.X96", "ohms.")),
    First("fuel-gauge", "falls-with-pump", ("look.reverse-left", "look.grid", "volts.G6", "volts.X95")),
    First("rear-lighting", "stop-dead", ("look.", "volts.X48", "inspect.F15")),
    First("rear-lighting", "stop-left-dark", ("look.", "inspect.stop-left", "swap.stop-left", "volts.X41")),
    First(
        "rear-lighting",
        "tail-dead",
        ("look.", "volts.X49", "inspect.F20"),
        ("lamp.F20",),
        "the lamp in the fuse's place tells its short and all that is open behind it at once",
    ),
    First("rear-lighting", "tails-light", ("look.", "inspect.holder", "swap.")),
    First("rear-lighting", "right-tail-glows", ("look.", "volts.G7", "volts.X42", "drop.")),
    First("rear-lighting", "stop-always-on", ("look.", "volts.X48", "inspect.brake-switch", "ohms.brake-switch")),
    First("rear-lighting", "trailer-dark", ("look.", "volts.X47", "inspect.X47")),
    First("power-window", "dead", ("look.", "volts.X105", "volts.X104", "volts.X102", "inspect.F24")),
    First("power-window", "own-dead", ("look.", "volts.X104", "volts.X102")),
    First("power-window", "driver-dead", ("look.", "volts.X105", "volts.X101")),
    First("power-window", "own-up-dead", ("look.", "volts.X102", "volts.X104")),
    First("power-window", "slow", ("look.", "clamp.", "volts.X105", "volts.G11", "volts.X104")),
    First("charge-warning-lamp", "stays-lit", ("look.", "volts.B+", "volts.X108", "inspect.stator")),
    First("charge-warning-lamp", "never-lights", ("look.", "volts.X108", "volts.X106", "lamp.X108")),
    First("charge-warning-lamp", "glows", ("look.", "volts.bus-15", "volts.B+", "drop.")),
    First("charge-warning-lamp", "flat-after-trips", ("volts.B+", "inspect.stator", "drop.")),
    First("charge-warning-lamp", "overcharges", ("volts.B+", "look.charging")),
    First("charge-warning-lamp", "lit-with-key-off", ("look.", "volts.X108", "volts.alternator-post", "clamp.")),
    First("starter", "silent", ("look.", "volts.X113", "volts.X110", "volts.X112")),
    First("starter", "slow", ("look.", "volts.B+", "drop.", "volts.engine-block", "volts.post-30")),
    First("starter", "lamps-go-dim", ("look.", "volts.B+", "drop.")),
    First(
        "starter",
        "runs-on",
        ("look.", "volts.X113", "volts.X110", "inspect.K11"),
        ("swap.K11",),
        "trying another relay tells relay from solenoid at once and costs two minutes",
    ),
    First("battery-drain", "flat-after-standing", ("look.", "draw.", "fuse-drop.")),
    First("battery-drain", "dome-stays-lit", ("look.", "volts.C40", "volts.X116")),
    First("battery-drain", "dome-never-lights", ("look.", "volts.X116", "inspect.dome-lamp", "swap.dome-lamp")),
    First("battery-drain", "door-open-unseen", ("look.",)),
    First(NO_START, "never-fires", ("pump-heard", "immobiliser-lamp", "revs-while-cranking")),
    First(NO_START, "fires-and-dies", ("immobiliser-lamp",)),
    First(
        NO_START,
        "not-when-hot",
        ("revs-while-cranking", "spark"),
        ("immobiliser-lamp", "crank-sound"),
        "what shows less than half of the time ends a case as well as none, so that only glances pay",
    ),
    First(
        NO_START,
        "starts-late",
        ("rail-pressure", "prime-twice"),
        ("regulator-pinched", "immobiliser-lamp"),
        "the same one step ahead; two steps ahead priming twice comes first, as expected",
    ),
]
