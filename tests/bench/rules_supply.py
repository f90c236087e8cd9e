"""The technician's rules and orders from source to load of charge lamp, starter and battery drain; forms as in `rules`.

Written before any policy was run on these circuits.  A plug is probed on its wires: a contact lies behind its reading
where a feed comes in, before it where a ground leaves.  Common practice, no source.
"""

from collections.abc import Mapping

from bench.rule_form import Rule, Way

_DRAIN: Rule = {
    "draw": ("draw.body-strap.parked", {"normal": "parked-battery", "high jumps": "-> lamps"}),
    "lamps": ("fuse-drop.F34.parked", {"normal": "-> seat", "high jumps": "-> glovebox"}),
    "glovebox": ("look.glovebox-lamp.parked", {"lit dim": "glovebox-switch", "dark": "-> believes"}),
    "seat": ("fuse-drop.F35.parked", {"normal": "-> unit", "high jumps": "K12"}),
    "unit": ("fuse-drop.F36.parked", {"normal": "parked-battery", "high jumps": "-> believes"}),
    "believes": ("look.door-lamp.key-on", {"lit dim": "door-link", "dark": "tracker body-unit"}),
}

RULES: Mapping[str, Mapping[str, Rule]] = {
    "charge-warning-lamp": {
        "stays-lit": {
            "belt": ("inspect.stator.key-off", {"damage": "stator", "sound": "-> half"}),
            "half": ("volts.B+.running", {"high": "limit", "normal": "-> exciter", "low none jumps": "-> post"}),
            "exciter": (
                "volts.X108-1.running",
                {"high": "limit", "normal": "W972 W973 X107/1", "low none jumps": "exciter-diodes field"},
            ),
            "post": (
                "volts.alternator-post.running",
                {"high": "limit", "normal": "charge-cable", "low none jumps": "-> field"},
            ),
            "field": (
                "volts.X108-1.key-on",
                {"normal": "stator rectifier field", "high": "field X108/1", "none low jumps": "W972 W973"},
            ),
        },
        "never-lights": {
            "fuse": ("inspect.F21.key-off", {"damage": "F21", "sound": "-> half"}),
            "half": (
                "volts.X108-1.key-on",
                {"high": "field X108/1", "normal": "charge-lamp X106/1 X106/2", "none low jumps": "-> cluster"},
            ),
            "cluster": ("volts.X106-2.key-on", {"high": "W972 W973 X107/1", "none low normal jumps": "-> lamp"}),
            "lamp": ("volts.X106-1.key-on", {"normal": "charge-lamp X106/1 X106/2", "low none jumps": "W971 F21"}),
        },
        "glows": {
            "half": ("volts.bus-15.loaded", {"high": "limit", "normal": "-> exciter", "low none jumps": "-> battery"}),
            "battery": (
                "volts.B+.loaded",
                {
                    "high": "limit",
                    "normal": "ignition-switch main-fuse feed-cable body-strap",
                    "low none jumps": "-> post",
                },
            ),
            "post": (
                "volts.alternator-post.loaded",
                {"high": "limit", "normal": "charge-cable", "low none jumps": "stator rectifier field"},
            ),
            "exciter": (
                "volts.X108-1.loaded",
                {"high": "limit", "normal": "F21 W971 X106/1", "low none jumps": "exciter-diodes X108/1"},
            ),
        },
        "flat-after-trips": {
            "belt": ("inspect.stator.key-off", {"damage": "stator", "sound": "-> strap"}),
            "strap": ("look.starter-motor.starter-cranking", {"full": "-> half", "slow stopped": "engine-strap"}),
            "half": (
                "volts.alternator-post.loaded",
                {
                    "high": "limit",
                    "normal": "charge-cable body-strap",
                    "low none jumps": "stator rectifier engine-strap",
                },
            ),
        },
        "overcharges": {"posts": ("volts.B+.running", {"high": "limit", "normal low none jumps": "cell"})},
        "lit-with-key-off": {
            "half": (
                "volts.X108-1.key-out",
                {"normal": "ignition-switch", "raised jumps": "-> key", "full": "rectifier exciter-diodes"},
            ),
            "key": (
                "volts.bus-15.key-out",
                {"normal raised jumps": "rectifier exciter-diodes", "full": "ignition-switch"},
            ),
        },
    },
    "starter": {
        "silent": {
            "fuse": ("inspect.F33.key-off", {"damage": "F33", "sound": "-> half"}),
            "half": ("volts.X113-1.cranking", {"normal high": "-> cable", "low none jumps": "-> coil"}),
            "cable": ("volts.post-30.cranking", {"normal high": "-> solenoid", "low none jumps": "starter-cable"}),
            "solenoid": ("volts.motor-post.cranking", {"normal high": "-> drop", "low none jumps": "solenoid X113/1"}),
            "drop": ("volts.engine-block.cranking", {"normal": "starter-motor", "raised full jumps": "engine-strap"}),
            "coil": ("volts.X110-86.cranking", {"normal high": "-> return", "low none jumps": "-> clutch"}),
            "return": ("volts.X110-85.cranking", {"normal": "-> feed", "raised full jumps": "G12 W983"}),
            "feed": (
                "volts.X110-30.cranking",
                {"normal high": "K11 X110/30 X110/85 X110/86 X110/87 W984", "low none jumps": "F33 W980"},
            ),
            "clutch": ("volts.X112-2.cranking", {"normal high": "W982", "low none jumps": "-> switch"}),
            "switch": (
                "volts.X112-1.cranking",
                {"normal high": "clutch-switch X112/1 X112/2", "low none jumps": "-> key"},
            ),
            "key": ("volts.X111-1.cranking", {"normal high": "W981", "low none jumps": "start-contact X111/1"}),
        },
        "slow": {
            "drop": ("volts.engine-block.cranking", {"normal": "-> half", "raised full jumps": "engine-strap"}),
            "half": ("volts.post-30.cranking", {"normal high": "-> solenoid", "low none jumps": "-> battery"}),
            "battery": ("volts.B+.cranking", {"normal high": "starter-cable", "low none jumps": "crank-battery"}),
            "solenoid": ("volts.motor-post.cranking", {"normal high": "starter-motor", "low none jumps": "solenoid"}),
        },
        "lamps-go-dim": {
            "rest": ("volts.B+.clutch-up", {"normal": "-> load", "low none jumps": "crank-battery"}),
            "load": (
                "volts.B+.cranking",
                {"normal high": "body-strap feed-cable main-fuse", "low none jumps": "crank-battery starter-motor"},
            ),
        },
        "slow-and-dim": {
            "battery": ("volts.B+.cranking", {"normal high": "-> drop", "low none jumps": "crank-battery"}),
            "drop": (
                "volts.engine-block.cranking",
                {"normal": "starter-motor starter-cable solenoid", "raised full jumps": "engine-strap"},
            ),
        },
        "runs-on": {
            "half": ("volts.X113-1.clutch-up", {"normal": "solenoid", "raised full jumps": "-> coil"}),
            "coil": (
                "volts.X110-86.clutch-up",
                {"normal": "K11 W984", "raised full jumps": "clutch-switch start-contact W982"},
            ),
        },
        "no-clutch-needed": {
            "switch": ("ohms.clutch-switch.key-off-up", {"closed leaks": "clutch-switch", "open": "W981 W982 K11"}),
        },
    },
    "battery-drain": {
        "flat-after-standing": _DRAIN,
        "weak-after-standing": _DRAIN,
        "dome-stays-lit": {
            "believes": ("look.door-lamp.key-on", {"lit dim": "door-link", "dark": "-> wire"}),
            "wire": ("inspect.W994.key-off", {"damage": "W994", "sound": "body-unit W994"}),
        },
        "dome-never-lights": {
            "sweep": ("look.glovebox-lamp.glovebox-open", {"lit": "-> lamp", "dim dark": "-> fuse"}),
            "fuse": ("inspect.F34.key-off", {"damage": "F34", "sound": "W991 S13"}),
            "lamp": ("inspect.dome-lamp.key-off", {"damage": "dome-lamp", "sound": "-> feed"}),
            "feed": ("volts.X116-1.door-open-key-on", {"normal": "-> half", "low none jumps": "W993"}),
            "half": (
                "volts.X116-2.door-open-key-on",
                {"normal": "dome-lamp X116/1 X116/2", "raised full jumps": "-> unit"},
            ),
            "unit": ("volts.C40-4.door-open-key-on", {"normal": "W994", "raised full jumps": "-> told"}),
            "told": (
                "look.door-lamp.door-open-key-on",
                {"lit": "body-unit C40/4", "dim dark": "door-link body-unit C40/1 C40/2 W995 W996 G13"},
            ),
        },
        "door-open-unseen": {
            "fuse": ("inspect.F36.key-off", {"damage": "F36", "sound": "-> feed"}),
            "feed": ("volts.C40-1.key-on", {"normal": "-> drop", "low none jumps": "W995"}),
            "drop": (
                "volts.C40-2.key-on",
                {"normal": "door-link body-unit C40/1 C40/2", "raised full jumps": "-> point"},
            ),
            "point": ("volts.G13.key-on", {"normal": "W996", "raised full jumps": "G13"}),
        },
    },
}

_DRAWN: tuple[Way, str] = (
    (
        ("fuse-drop.F34.parked", "normal", "glovebox-switch door-link body-unit W994"),
        ("fuse-drop.F35.parked", "normal", "K12"),
        ("fuse-drop.F36.parked", "normal", "tracker door-link body-unit"),
    ),
    "parked-battery",
)

SOURCE_TO_LOAD: Mapping[str, Mapping[str, tuple[Way, str]]] = {
    "charge-warning-lamp": {
        "stays-lit": (
            (
                ("volts.alternator-post.running", "normal", "stator field rectifier"),
                ("volts.B+.running", "normal", "charge-cable"),
                ("volts.X108-1.running", "normal", "exciter-diodes W973 X108/1"),
            ),
            "W972 W973 X107/1",
        ),
        "never-lights": (
            (
                ("volts.F21-out.key-on", "normal", "F21"),
                ("volts.X106-1.key-on", "normal", "W971"),
                ("volts.X106-2.key-on", "normal high", "charge-lamp X106/1 X106/2"),
                ("volts.X108-1.key-on", "normal high", "W972 X107/1 W973"),
            ),
            "field X108/1",
        ),
        "glows": (
            (
                ("volts.alternator-post.loaded", "normal", "stator rectifier field"),
                ("volts.B+.loaded", "normal", "charge-cable"),
                ("volts.bus-15.loaded", "normal", "main-fuse feed-cable ignition-switch"),
                ("volts.X106-1.loaded", "normal", "F21 W971"),
            ),
            "exciter-diodes X106/1 X108/1",
        ),
        "flat-after-trips": (
            (
                ("volts.alternator-post.loaded", "normal", "stator rectifier engine-strap"),
                ("volts.B+.loaded", "normal", "charge-cable"),
            ),
            "body-strap",
        ),
        "overcharges": ((("volts.B+.running", "normal", "limit"),), "cell"),
        "lit-with-key-off": (
            (
                ("volts.bus-15.key-out", "normal raised", "ignition-switch"),
                ("volts.X108-1.key-out", "normal", "rectifier exciter-diodes"),
            ),
            "W972 W973",
        ),
    },
    "starter": {
        "silent": (
            (
                ("volts.X111-1.cranking", "normal high", "start-contact"),
                ("volts.X112-1.cranking", "normal high", "X111/1 W981"),
                ("volts.X112-2.cranking", "normal high", "clutch-switch X112/1 X112/2"),
                ("volts.X110-86.cranking", "normal high", "W982"),
                ("volts.X110-85.cranking", "normal", "W983 G12"),
                ("volts.X110-30.cranking", "normal high", "F33 W980"),
                ("volts.X113-1.cranking", "normal high", "K11 X110/30 X110/85 X110/86 X110/87 W984"),
                ("volts.post-30.cranking", "normal high", "starter-cable"),
                ("volts.motor-post.cranking", "normal high", "solenoid X113/1"),
            ),
            "starter-motor engine-strap",
        ),
        "slow": (
            (
                ("volts.B+.cranking", "normal high", "crank-battery"),
                ("volts.post-30.cranking", "normal high", "starter-cable"),
                ("volts.motor-post.cranking", "normal high", "solenoid"),
                ("volts.engine-block.cranking", "normal", "engine-strap"),
            ),
            "starter-motor",
        ),
        "lamps-go-dim": (
            (
                ("volts.B+.clutch-up", "normal", "crank-battery"),
                ("volts.post-30.cranking", "normal high", "crank-battery starter-cable"),
            ),
            "starter-motor body-strap",
        ),
        "slow-and-dim": (
            (
                ("volts.B+.cranking", "normal high", "crank-battery"),
                ("volts.post-30.cranking", "normal high", "starter-cable"),
                ("volts.motor-post.cranking", "normal high", "solenoid"),
                ("volts.engine-block.cranking", "normal", "engine-strap"),
            ),
            "starter-motor body-strap",
        ),
        "runs-on": (
            (
                ("volts.X112-2.clutch-up", "normal", "clutch-switch"),
                ("volts.X110-86.clutch-up", "normal", "W982"),
                ("volts.X113-1.clutch-up", "normal", "K11 W984"),
            ),
            "solenoid",
        ),
        "no-clutch-needed": (
            (("volts.X112-2.clutch-up", "normal", "clutch-switch"), ("volts.X110-86.clutch-up", "normal", "W982")),
            "K11",
        ),
    },
    "battery-drain": {
        "flat-after-standing": _DRAWN,
        "weak-after-standing": _DRAWN,
        "dome-stays-lit": (
            (("look.door-lamp.key-on", "dark", "door-link"), ("inspect.W994.key-off", "sound", "W994")),
            "body-unit W994",
        ),
        "dome-never-lights": (
            (
                ("volts.F34-out.key-on", "normal", "F34"),
                ("volts.X116-1.door-open-key-on", "normal", "W991 S13 W993"),
                ("volts.C40-4.door-open-key-on", "normal", "body-unit C40/4 door-link"),
                ("volts.X116-2.door-open-key-on", "normal", "W994"),
            ),
            "dome-lamp X116/1 X116/2",
        ),
        "door-open-unseen": (
            (
                ("volts.F36-out.key-on", "normal", "F36"),
                ("volts.C40-1.key-on", "normal", "W995"),
                ("volts.C40-2.key-on", "normal", "W996 G13"),
            ),
            "door-link body-unit C40/1 C40/2",
        ),
    },
}
