"""The technician's rules and orders from source to load of the horns and the radiator fan; forms as in `rules`.

Written before any policy was run on these circuits.  A plug is probed on its wires: a contact lies behind its reading
where a feed comes in, before it where a ground leaves.  Common practice, no source.
"""

from collections.abc import Mapping

from bench.rule_form import Rule, Way

RULES: Mapping[str, Mapping[str, Rule]] = {
    "horn": {
        "dead": {
            "sweep": ("look.fan-motor.cooling-fan-hot", {"full": "-> fuse", "slow stopped": "-> point"}),
            "fuse": ("inspect.F14.key-off", {"damage": "F14", "sound": "-> half"}),
            "half": ("volts.X13-87.pressed", {"normal": "-> front", "low none jumps": "-> coil"}),
            "coil": ("volts.X13-85.pressed", {"normal": "-> feed", "raised full jumps": "-> column"}),
            "feed": ("volts.X13-30.pressed", {"normal": "-> supply", "low none jumps": "F14 W501"}),
            "supply": (
                "volts.X13-86.pressed",
                {"normal": "K3 X13/30 X13/85 X13/86 X13/87", "low none jumps": "W502"},
            ),
            "column": ("volts.X61-1-a.pressed", {"normal": "W503", "raised full jumps": "-> wheel"}),
            "wheel": (
                "volts.X61-2-b.pressed",
                {"normal": "horn-button spiral X61/1 X62/1 X62/2 W504 W505", "raised full jumps": "G9 X61/2 W506"},
            ),
            "front": ("volts.X71-1.pressed", {"normal": "-> drop", "low none jumps": "W507 S3"}),
            "drop": ("volts.X71-2.pressed", {"normal": "horn-low horn-high", "raised full jumps": "-> point"}),
            "point": ("volts.G1.pressed", {"normal": "W510 S4", "raised full jumps": "G1"}),
        },
        "one-silent": {
            "half": ("volts.X71-1.pressed", {"normal": "-> drop", "low none jumps": "W508 S3"}),
            "drop": ("volts.X71-2.pressed", {"normal": "horn-low X71/1 X71/2", "raised full jumps": "W511 S4"}),
        },
        "faint": {
            "sweep": ("look.fan-motor.cooling-fan-hot", {"full": "-> half", "slow stopped": "-> point"}),
            "half": ("volts.X13-87.pressed", {"normal": "-> drop", "low none jumps": "-> feed"}),
            "feed": ("volts.X13-30.pressed", {"normal": "K3 X13/30 X13/87", "low none jumps": "-> fuse"}),
            "fuse": ("volts.F14-out.pressed", {"normal": "W501", "low none jumps": "F14 main-fuse feed-cable"}),
            "drop": ("volts.X71-2.pressed", {"normal": "W507 S3 horn-low horn-high", "raised full jumps": "-> point"}),
            "point": ("volts.G1.pressed", {"normal": "W510 S4", "raised full jumps": "G1"}),
        },
        "always-on": {
            "half": ("volts.X13-85.released", {"normal": "K3 W507 W508 W509 S3", "low none jumps": "-> button"}),
            "button": (
                "ohms.X61-1-b-to-X61-2-b.key-off-released",
                {"closed leaks": "horn-button spiral", "open": "W503 W504"},
            ),
        },
    },
    "cooling-fan": {
        "never-runs": {
            "sweep": ("look.horn-low.horn-pressed", {"loud": "-> fuse", "faint silent": "-> point"}),
            "fuse": ("inspect.F31.key-off", {"damage": "F31", "sound": "-> other"}),
            "other": ("inspect.F13.key-off", {"damage": "F13", "sound": "-> half"}),
            "half": ("volts.X15-87.hot", {"normal": "-> motor", "low none jumps": "-> coil"}),
            "coil": ("volts.X15-85.hot", {"normal": "-> feed", "raised full jumps": "-> switch"}),
            "feed": ("volts.X15-30.hot", {"normal": "-> supply", "low none jumps": "F31 W601 W602"}),
            "supply": (
                "volts.X15-86.hot",
                {"normal": "K7 K8 X15/30 X15/85 X15/86 X15/87", "low none jumps": "F13 W603 W613"},
            ),
            "switch": (
                "jumper.X81-3-to-X81-2.fan-motor.hot",
                {"full slow": "thermo-low thermo-high X81/1 X81/3", "stopped": "W604 W605 W606 X81/2 S6"},
            ),
            "motor": ("volts.X80-1.hot", {"normal": "-> drop", "low none jumps": "W611 S5 W610"}),
            "drop": ("volts.X80-2.hot", {"normal": "fan-motor X80/1 X80/2", "raised full jumps": "-> point"}),
            "point": ("volts.G1.hot", {"normal": "W609 W612 S6", "raised full jumps": "G1"}),
        },
        "low-dead": {
            "half": ("volts.X14-87.warm", {"normal": "-> resistor", "low none jumps": "-> coil"}),
            "coil": ("volts.X14-85.warm", {"normal": "-> feed", "raised full jumps": "-> switch"}),
            "feed": (
                "volts.X14-30.warm",
                {"normal": "K7 X14/30 X14/85 X14/86 X14/87 W603", "low none jumps": "W601"},
            ),
            "switch": ("volts.X81-1.warm", {"normal": "W604", "raised full jumps": "thermo-low X81/1"}),
            "resistor": ("volts.X82-1.warm", {"normal": "fan-resistor X82/1 X82/2 W608", "low none jumps": "W607"}),
        },
        "high-dead": {
            "sweep": ("look.fan-motor.pressure", {"full": "thermo-high", "slow stopped": "-> half"}),
            "half": ("volts.X15-87.hot", {"normal": "-> motor", "low none jumps": "-> coil"}),
            "coil": ("volts.X15-85.hot", {"normal": "-> feed", "raised full jumps": "-> switch"}),
            "feed": (
                "volts.X15-30.hot",
                {"normal": "K8 X15/30 X15/85 X15/86 X15/87 W613", "low none jumps": "W602 F31"},
            ),
            "switch": ("volts.X81-3.hot", {"normal": "W605", "raised full jumps": "thermo-high X81/3"}),
            "motor": ("volts.X80-1.hot", {"normal": "-> drop", "low none jumps": "W610 S5 W611"}),
            "drop": ("volts.X80-2.hot", {"normal": "fan-motor X80/1 X80/2", "raised full jumps": "-> point"}),
            "point": ("volts.G1.hot", {"normal": "W609 W612 S6", "raised full jumps": "G1"}),
        },
        "runs-cold": {
            "half": ("volts.X14-85.cold", {"normal": "K7 W607 W608", "low none jumps": "-> switch"}),
            "switch": ("ohms.thermo-low.key-off-cold", {"closed leaks": "thermo-low", "open": "W604"}),
        },
    },
}

SOURCE_TO_LOAD: Mapping[str, Mapping[str, tuple[Way, str]]] = {
    "horn": {
        "dead": (
            (
                ("volts.F14-out.pressed", "normal", "F14 main-fuse"),
                ("volts.X13-30.pressed", "normal", "W501"),
                ("volts.X13-86.pressed", "normal", "W502"),
                ("volts.X13-85.pressed", "normal", "W503 X61/1 W504 X62/1 spiral horn-button X62/2 W505 X61/2 W506 G9"),
                ("volts.X13-87.pressed", "normal", "K3 X13/30 X13/85 X13/86 X13/87"),
                ("volts.X71-1.pressed", "normal", "W507 S3 W508"),
                ("volts.X71-2.pressed", "normal", "W511 S4 W510 G1"),
            ),
            "horn-low horn-high X71/1 X71/2 X72/1 X72/2",
        ),
        "one-silent": (
            (("volts.X71-1.pressed", "normal", "S3 W508"), ("volts.X71-2.pressed", "normal", "W511 S4")),
            "horn-low X71/1 X71/2",
        ),
        "faint": (
            (
                ("volts.B+.pressed", "normal", "battery"),
                ("volts.bus-30.pressed", "normal", "main-fuse feed-cable"),
                ("volts.X13-30.pressed", "normal", "F14 W501"),
                ("volts.X13-87.pressed", "normal", "K3 X13/30 X13/87"),
                ("volts.X71-1.pressed", "normal", "W507 S3"),
                ("volts.X71-2.pressed", "normal", "S4 W510 G1"),
            ),
            "horn-low horn-high",
        ),
        "always-on": (
            (
                ("volts.X13-85.released", "normal", "W503 W504 horn-button spiral"),
                ("volts.X13-87.released", "normal", "K3"),
            ),
            "W507 W508 W509",
        ),
    },
    "cooling-fan": {
        "never-runs": (
            (
                ("volts.F31-out.hot", "normal", "F31"),
                ("volts.X15-30.hot", "normal", "W602"),
                ("volts.X15-86.hot", "normal", "F13 W613"),
                ("volts.X15-85.hot", "normal", "W605 X81/3 thermo-high thermo-low X81/2 W606"),
                ("volts.X15-87.hot", "normal", "K8 X15/30 X15/85 X15/86 X15/87"),
                ("volts.X80-1.hot", "normal", "W610 S5 W611"),
                ("volts.X80-2.hot", "normal", "W612 S6 W609 G1"),
            ),
            "fan-motor X80/1 X80/2",
        ),
        "low-dead": (
            (
                ("volts.X14-30.warm", "normal", "W601"),
                ("volts.X14-86.hot", "normal", "W603"),
                ("volts.X14-85.warm", "normal", "W604 X81/1 thermo-low"),
                ("volts.X14-87.warm", "normal", "K7 X14/30 X14/85 X14/86 X14/87"),
                ("volts.X82-1.warm", "normal", "W607"),
            ),
            "fan-resistor X82/1 X82/2 W608",
        ),
        "high-dead": (
            (
                ("volts.X15-30.hot", "normal", "F31 W602"),
                ("volts.X15-86.hot", "normal", "W613"),
                ("volts.X15-85.hot", "normal", "W605 X81/3 thermo-high"),
                ("volts.X15-87.hot", "normal", "K8 X15/30 X15/85 X15/86 X15/87"),
                ("volts.X80-1.hot", "normal", "W610 S5 W611"),
                ("volts.X80-2.hot", "normal", "W612 S6 W609 G1"),
            ),
            "fan-motor X80/1 X80/2",
        ),
        "runs-cold": (
            (
                ("volts.X14-85.cold", "normal", "thermo-low W604"),
                ("volts.X14-87.cold", "normal", "K7"),
            ),
            "W607 W608",
        ),
    },
}
