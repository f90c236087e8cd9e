"""The technician's rules and orders from source to load of rear lighting and power window; forms as in `rules`.

Written before any policy was run on these circuits.  A plug is probed on its wires: a contact lies behind its reading
where a feed comes in, before it where a ground leaves.  Common practice, no source.
"""

from collections.abc import Mapping

from bench.rule_form import Rule, Way

RULES: Mapping[str, Mapping[str, Rule]] = {
    "rear-lighting": {
        "stop-dead": {
            "fuse": ("inspect.F15.key-off", {"damage": "F15", "sound": "-> half"}),
            "half": ("volts.X48-2.braking", {"normal": "-> sill", "low none jumps": "-> switch"}),
            "switch": ("volts.X48-1.braking", {"normal": "brake-switch X48/1 X48/2", "low none jumps": "F15 W901"}),
            "sill": ("volts.X45-1-b.braking", {"normal": "-> rear", "low none jumps": "-> front"}),
            "front": ("volts.X45-1-a.braking", {"normal": "X45/1", "low none jumps": "W902"}),
            "rear": ("volts.X41-3.braking", {"normal": "stop-left stop-right G6 G7", "low none jumps": "W903 S10"}),
        },
        "stop-left-dark": {
            "sweep": ("look.tail-left.lights-on", {"lit": "-> lamp", "dim dark": "-> drop"}),
            "lamp": ("inspect.stop-left.key-off", {"damage": "stop-left", "sound": "-> feed"}),
            "feed": ("volts.X41-3.braking", {"normal": "holder-dual-left stop-left X41/3", "low none jumps": "W904"}),
            "drop": ("volts.X41-1.braking", {"normal": "carrier-ground X41/1", "raised full jumps": "-> point"}),
            "point": ("volts.G6.braking", {"normal": "W306", "raised full jumps": "G6"}),
        },
        "tail-dead": {
            "fuse": ("inspect.F20.key-off", {"damage": "-> why", "sound": "-> half"}),
            "why": ("inspect.W911.key-off", {"damage": "W911 F20", "sound": "F20 holder-dual-left holder-dual-right"}),
            "half": ("volts.X49-2.lights-on", {"normal": "-> sill", "low none jumps": "-> switch"}),
            "switch": ("volts.X49-1.braking", {"normal": "light-switch X49/1 X49/2", "low none jumps": "F20 W906"}),
            "sill": ("volts.X45-2-b.lights-on", {"normal": "-> rear", "low none jumps": "-> front"}),
            "front": ("volts.X45-2-a.lights-on", {"normal": "X45/2", "low none jumps": "W907"}),
            "rear": ("volts.X41-2.lights-on", {"normal": "tail-left tail-right G6 G7", "low none jumps": "W908 S11"}),
        },
        "tails-light": {
            "left": ("inspect.holder-dual-left.key-off", {"damage": "holder-dual-left", "sound": "-> right"}),
            "right": ("inspect.holder-dual-right.key-off", {"damage": "holder-dual-right", "sound": "-> socket"}),
            "socket": (
                "inspect.socket-pins.key-off",
                {"damage": "socket-pins", "sound": "socket-pins holder-dual-left holder-dual-right"},
            ),
        },
        "right-tail-glows": {
            "drop": ("volts.X42-1.braking", {"normal": "carrier-ground-right X42/1", "raised full jumps": "-> point"}),
            "point": ("volts.G7.braking", {"normal": "W308", "raised full jumps": "G7"}),
        },
        "stop-always-on": {
            "switch": (
                "ohms.brake-switch.key-off",
                {"closed leaks": "brake-switch", "open": "W902 W903 W904 W905 W913"},
            ),
        },
        "trailer-dark": {
            "drop": ("ohms.X47-31.key-off", {"normal": "X47/31 socket-pins", "high open": "W915 G7"}),
        },
    },
    "power-window": {
        "dead": {
            "fuse": ("inspect.F24.key-off", {"damage": "F24", "sound": "-> half"}),
            "half": ("volts.X104-3-b.up", {"normal": "-> feed", "raised full jumps": "-> driver"}),
            "driver": ("volts.X105-4-a.up", {"normal": "X104/3 W960", "raised full jumps": "-> rest"}),
            "rest": (
                "volts.X105-2-b.up",
                {"normal": "driver-rest-down X101/2 X101/4 X105/4 W959 W961", "raised full jumps": "-> drop"},
            ),
            "drop": ("volts.X105-2-a.up", {"normal": "X105/2", "raised full jumps": "-> point"}),
            "point": ("volts.G11.up", {"normal": "W962", "raised full jumps": "G11"}),
            "feed": ("volts.X102-1.up", {"normal": "-> motor", "low none jumps": "-> pillar"}),
            "pillar": ("volts.X104-1-a.up", {"normal": "X104/1 W955", "low none jumps": "F24 S12 W951 W953"}),
            "motor": ("volts.X103-1.up", {"normal": "-> return", "low none jumps": "own-up X102/1 X102/4 W963"}),
            "return": (
                "volts.X103-2.up",
                {
                    "normal": "window-motor window-cut-out X103/1 X103/2",
                    "raised full jumps": "own-rest-down X102/3 X102/5 W964 W965",
                },
            ),
        },
        "own-dead": {
            "half": ("volts.X102-1.up", {"normal": "own-up own-down X102/1", "low none jumps": "-> boot"}),
            "boot": ("volts.X104-1-b.up", {"normal": "W955", "low none jumps": "-> pillar"}),
            "pillar": ("volts.X104-1-a.up", {"normal": "X104/1", "low none jumps": "W953"}),
        },
        "driver-dead": {
            "half": ("volts.X101-1.driver-up", {"normal": "driver-up driver-down X101/1", "low none jumps": "-> boot"}),
            "boot": ("volts.X105-1-b.driver-up", {"normal": "W954", "low none jumps": "-> pillar"}),
            "pillar": ("volts.X105-1-a.driver-up", {"normal": "X105/1", "low none jumps": "W952"}),
        },
        "own-up-dead": {
            "sweep": ("look.window-motor.driver-down", {"full": "-> switch", "slow stopped": "-> half"}),
            "switch": ("volts.X103-1.up", {"normal": "driver-rest-down", "low none jumps": "own-up"}),
            "half": ("volts.X104-3-b.up", {"normal": "own-rest-down X102/3 W965", "raised full jumps": "-> driver"}),
            "driver": ("volts.X105-4-a.up", {"normal": "X104/3 W960", "raised full jumps": "X105/4 W959 X101/4"}),
        },
        "slow": {
            "half": ("volts.X103-1.up", {"normal": "-> drop", "low none jumps": "-> feed"}),
            "feed": ("volts.X102-1.up", {"normal": "own-up X102/1 X102/4 W963", "low none jumps": "-> pillar"}),
            "pillar": (
                "volts.X104-1-a.up",
                {"normal": "X104/1 W955", "low none jumps": "F24 S12 W951 W953 ignition-switch main-fuse"},
            ),
            "drop": ("volts.X103-2.up", {"normal": "window-motor window-cut-out", "raised full jumps": "-> return"}),
            "return": (
                "volts.X105-2-b.up",
                {
                    "normal": "own-rest-down driver-rest-down X102/3 X104/3 X105/4 X101/4 X101/2 W961",
                    "raised full jumps": "-> point",
                },
            ),
            "point": ("volts.G11.up", {"normal": "X105/2 W962", "raised full jumps": "G11"}),
        },
    },
}

_RETURN = (
    "W964 X102/5 own-rest-down X102/3 W965 X104/3 W960 X105/4 W959 X101/4 driver-rest-down X101/2 W961 X105/2 W962 G11"
)

SOURCE_TO_LOAD: Mapping[str, Mapping[str, tuple[Way, str]]] = {
    "rear-lighting": {
        "stop-dead": (
            (
                ("volts.F15-out.braking", "normal", "F15"),
                ("volts.X48-1.braking", "normal", "W901"),
                ("volts.X48-2.braking", "normal", "brake-switch X48/1 X48/2"),
                ("volts.X45-1-a.braking", "normal", "W902"),
                ("volts.X45-1-b.braking", "normal", "X45/1"),
                ("volts.X41-3.braking", "normal", "W903 S10 W904"),
            ),
            "stop-left stop-right G6 G7",
        ),
        "stop-left-dark": (
            (("volts.X41-3.braking", "normal", "W904"), ("volts.X41-1.braking", "normal", "W306 G6")),
            "X41/1 X41/3 holder-dual-left stop-left carrier-ground",
        ),
        "tail-dead": (
            (
                ("volts.F20-out.braking", "normal", "F20 W911"),
                ("volts.X49-1.braking", "normal", "W906"),
                ("volts.X49-2.lights-on", "normal", "light-switch X49/1 X49/2"),
                ("volts.X45-2-a.lights-on", "normal", "W907"),
                ("volts.X45-2-b.lights-on", "normal", "X45/2"),
                ("volts.X41-2.lights-on", "normal", "W908 S11 W909"),
            ),
            "tail-left tail-right G6 G7",
        ),
        "tails-light": (
            (("volts.X47-58.braking", "normal", "socket-pins holder-dual-left holder-dual-right"),),
            "light-switch W907",
        ),
        "right-tail-glows": ((("volts.X42-1.braking", "normal", "W308 G7"),), "carrier-ground-right X42/1"),
        "stop-always-on": (
            (("volts.X48-2.at-rest", "normal", "brake-switch W902"),),
            "W903 W904 W905 W913",
        ),
        "trailer-dark": (
            (("volts.X47-54.hitched", "normal high", "W913"), ("ohms.X47-31.key-off", "normal", "W915 G7")),
            "X47/31 X47/54 X47/58 socket-pins",
        ),
    },
    "power-window": {
        "dead": (
            (
                ("volts.F24-out.up", "normal", "F24"),
                ("volts.X104-1-a.up", "normal", "W951 S12 W953"),
                ("volts.X104-1-b.up", "normal", "X104/1"),
                ("volts.X102-1.up", "normal", "W955"),
                ("volts.X103-1.up", "normal", "own-up X102/1 X102/4 W963"),
                ("volts.X103-2.up", "normal", _RETURN),
            ),
            "window-motor window-cut-out X103/1 X103/2",
        ),
        "own-dead": (
            (
                ("volts.X104-1-a.up", "normal", "W953"),
                ("volts.X104-1-b.up", "normal", "X104/1"),
                ("volts.X102-1.up", "normal", "W955"),
            ),
            "own-up own-down X102/1",
        ),
        "driver-dead": (
            (
                ("volts.X105-1-a.driver-up", "normal", "W952"),
                ("volts.X105-1-b.driver-up", "normal", "X105/1"),
                ("volts.X101-1.driver-up", "normal", "W954"),
            ),
            "driver-up driver-down X101/1",
        ),
        "own-up-dead": (
            (
                ("volts.X103-1.up", "normal", "own-up"),
                ("volts.X102-3.up", "normal", "W965 X104/3 W960 X105/4 W959 X101/4 driver-rest-down"),
            ),
            "own-rest-down X102/3",
        ),
        "slow": (
            (
                ("volts.B+.up", "normal", "battery"),
                ("volts.F24-out.up", "normal", "F24 main-fuse feed-cable ignition-switch"),
                ("volts.X102-1.up", "normal", "W951 S12 W953 X104/1 W955"),
                ("volts.X103-1.up", "normal", "own-up X102/1 X102/4 W963"),
                ("volts.X103-2.up", "normal", _RETURN),
            ),
            "window-motor window-cut-out",
        ),
    },
}
