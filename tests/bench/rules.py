"""A technician's rule for each symptom, and the order from source to load: written before any policy was run.

The rule: function sweep from the seat, then lamp or fuse, then half-split between source and load, then the ground's
drop; what jumps about is taken as bad.  Source to load: voltages from the battery onwards, the first bad one blames
what lies before it.  Common practice, no source.  A step is a test with its answers; an answer is the name of a step,
or the parts that it blames.
"""

from __future__ import annotations

from collections.abc import Mapping

from bench import rules_front, rules_rear, rules_rest, rules_supply
from bench.rule_form import Rule, Way

RULES: Mapping[str, Mapping[str, Rule]] = {
    "belt-reminder": {
        "lamp-stays-dark": {
            "sweep": ("look.belt-lamp.prove-out", {"lit": "-> half", "dim": "belt-lamp G2", "dark": "-> neighbour"}),
            "neighbour": ("look.cluster-lighting.prove-out", {"lit": "-> lamp", "dim dark": "-> fuse"}),
            "fuse": ("inspect.F9.key-off", {"damage": "F9", "sound": "-> feed"}),
            "feed": ("volts.X6-2.reminding", {"normal": "W107 C20/2", "low none jumps": "X6/2 F9"}),
            "lamp": (
                "volts.C12-9.prove-out",
                {"normal": "belt-lamp cluster W109 C20/11 C12/9", "raised full jumps": "-> unit"},
            ),
            "unit": ("volts.C12-1.reminding", {"normal": "-> drop", "low none jumps": "F8 X6/1 W101 C12/1"}),
            "drop": ("volts.C12-4.reminding", {"normal": "belt-unit", "raised full jumps": "G2 W102 C12/4"}),
            "half": (
                "volts.X31-1-b.reminding",
                {"normal": "X31/1 W103 C12/7 belt-unit", "raised full jumps": "-> seat"},
            ),
            "seat": (
                "volts.X31-2-b.reminding",
                {"normal": "buckle-switch W104 W105 X33/1 X33/2", "raised full jumps": "X31/2 W106 G4"},
            ),
        },
        "lamp-stays-on": {
            "sweep": ("look.belt-lamp.elapsed", {"lit dim": "belt-unit W109", "dark": "-> input"}),
            "input": ("ohms.C12-7.key-off-fastened", {"closed leaks": "-> chafed", "open": "belt-unit"}),
            "chafed": ("inspect.W104.key-off", {"damage": "W104", "sound": "buckle-switch W104 W103"}),
        },
        "lamp-never-goes-out": {
            "sweep": ("look.belt-lamp.fastened", {"lit dim": "belt-unit W109", "dark": "belt-unit"}),
        },
        "lamp-dim": {
            "sweep": ("look.cluster-lighting.prove-out", {"lit": "-> drop", "dim dark": "-> key"}),
            "drop": (
                "volts.C12-4.reminding",
                {"normal": "belt-lamp C20/11 C12/9 W109", "raised full jumps": "G2 C12/4 W102"},
            ),
            "key": ("look.heater-light.prove-out", {"lit": "F9 X6/2 W107 C20/2", "dim dark": "-> battery"}),
            "battery": (
                "volts.B+.reminding",
                {"normal": "ignition-switch main-fuse feed-cable body-strap", "low none jumps": "battery"},
            ),
        },
    },
    "reversing-lamps": {
        "both-dark": {
            "fuse": ("volts.X5-3.reverse", {"normal": "-> half", "low none jumps": "F12 X5/3"}),
            "half": ("volts.X22-2.reverse", {"normal": "-> sill", "low none jumps": "-> switch"}),
            "switch": ("volts.X22-1.reverse", {"normal": "reverse-switch X22/2", "low none jumps": "W301 X22/1"}),
            "sill": ("volts.X30-1-b.reverse", {"normal": "-> rear", "low none jumps": "W302 X30/1"}),
            "rear": (
                "volts.X41-4.reverse",
                {"normal high": "reverse-left reverse-right G6 G8", "low none jumps": "S7 W303"},
            ),
        },
        "left-dark": {
            "sweep": (
                "look.stop-left.rear-lighting-braking",
                {"lit": "-> lamp", "dim dark": "G6 X41/1 W306 carrier-ground"},
            ),
            "lamp": ("inspect.reverse-left.key-off", {"damage": "reverse-left", "sound": "-> feed"}),
            "feed": (
                "volts.X41-4.reverse",
                {"normal high": "holder-left reverse-left X41/4", "low none jumps": "X41/4 W304"},
            ),
        },
        "right-dark": {
            "lamp": ("inspect.reverse-right.key-off", {"damage": "reverse-right", "sound": "-> feed"}),
            "feed": ("volts.X42-4.reverse", {"normal high": "-> drop", "low none jumps": "W305 X42/4"}),
            "drop": (
                "volts.X42-5.reverse",
                {"normal": "holder-right reverse-right X42/4", "raised full jumps": "-> point"},
            ),
            "point": ("volts.G8.reverse", {"normal": "X42/5 W307", "raised full jumps": "G8"}),
        },
        "dim": {
            "sweep": ("look.reverse-right.reverse", {"lit": "-> tail", "dim dark": "-> battery"}),
            "tail": ("look.stop-left.rear-lighting-braking", {"lit": "-> drop", "dim dark": "-> point"}),
            "drop": (
                "volts.X41-1.reverse",
                {"normal": "reverse-left holder-left X41/4 W304", "raised full jumps": "-> point"},
            ),
            "point": ("volts.G6.reverse", {"normal": "X41/1 W306 carrier-ground", "raised full jumps": "G6"}),
            "battery": ("volts.B+.reverse", {"normal": "-> fuse", "low none jumps": "battery"}),
            "fuse": (
                "volts.X5-3.reverse",
                {"normal": "reverse-switch X22/1 X22/2 S7", "low none jumps": "F12 ignition-switch main-fuse"},
            ),
        },
        "always-on": {
            "switch": (
                "ohms.reverse-switch.key-off-neutral",
                {"closed leaks": "reverse-switch", "open": "W302 W304 W305 W303"},
            ),
        },
    },
    "blower": {
        "all-dead": {
            "fuse": ("inspect.F16.key-off", {"damage": "F16", "sound": "-> other"}),
            "other": ("inspect.F17.key-off", {"damage": "F17", "sound": "-> half"}),
            "half": ("volts.X8-87.four", {"normal": "-> drop", "low none jumps": "-> coil"}),
            "coil": ("volts.X8-86.four", {"normal": "-> return", "low none jumps": "W402 X8/86 F17"}),
            "return": ("volts.X8-85.four", {"normal": "-> relay", "raised full jumps": "W403 X8/85 G2"}),
            "relay": ("volts.X8-30.four", {"normal": "K5 X8/87", "low none jumps": "W401 F16 X8/30"}),
            "drop": ("volts.X51-5.four", {"normal": "-> switch", "raised full jumps": "G2 W411"}),
            "switch": (
                "volts.X51-4.four",
                {"normal": "blower-motor X52/1 X52/2 W404 W405", "raised full jumps": "switch-four X51/4 X51/5"},
            ),
        },
        "only-full-works": {
            "half": ("volts.X50-4.three", {"normal high": "-> plug", "low none jumps": "W406 S9 X50/4"}),
            "plug": ("inspect.X50.key-off", {"damage": "X50/4", "sound": "-> pack"}),
            "pack": (
                "volts.X50-3.three",
                {"normal": "thermal-fuse resistor-high X50/4", "raised full jumps": "W408 switch-three X51/3 X50/3"},
            ),
        },
        "speed-one-dead": {
            "half": ("volts.X50-1.one", {"normal": "resistor-low X50/1", "raised full jumps": "-> switch"}),
            "switch": ("volts.X51-1.one", {"normal": "W410 X50/1", "raised full jumps": "switch-one X51/1"}),
        },
        "full-dead": {
            "sweep": ("look.heater-light.four", {"lit": "-> drop", "dim dark": "-> feed"}),
            "feed": (
                "volts.bus-30.four",
                {"normal": "ignition-switch", "low none jumps": "main-fuse battery feed-cable body-strap"},
            ),
            "drop": ("volts.X51-5.four", {"normal": "-> switch", "raised full jumps": "G2 W411 X51/5"}),
            "switch": ("volts.X51-4.four", {"normal": "W407 S9", "raised full jumps": "switch-four X51/4"}),
        },
        "slow": {
            "battery": ("volts.B+.four", {"normal": "-> half", "low none jumps": "battery"}),
            "half": (
                "volts.X8-87.four",
                {"normal": "-> drop", "low none jumps": "F16 main-fuse K5 W401 X8/30 X8/87"},
            ),
            "drop": (
                "volts.X51-5.four",
                {"normal": "blower-motor switch-four W404 W405", "raised full jumps": "G2 W411"},
            ),
        },
        "always-on": {
            "switch": ("ohms.switch-four.key-off", {"closed leaks": "switch-four", "open": "W407 W405 W406 S9"}),
        },
        "always-slow": {
            "one": ("ohms.switch-one.key-off", {"closed leaks": "switch-one", "open": "-> two"}),
            "two": ("ohms.switch-two.key-off", {"closed leaks": "switch-two", "open": "-> three"}),
            "three": ("ohms.switch-three.key-off", {"closed leaks": "switch-three", "open": "W408 W409 W410"}),
        },
        "runs-with-key-off": {
            "half": ("volts.bus-15.key-out", {"normal": "K5 W404 W402", "raised full jumps": "ignition-switch"}),
        },
    },
    **rules_front.RULES,
    **rules_rear.RULES,
    **rules_rest.RULES,
    **rules_supply.RULES,
}

SOURCE_TO_LOAD: Mapping[str, Mapping[str, tuple[Way, str]]] = {
    "belt-reminder": {
        "lamp-stays-dark": (
            (
                ("volts.X6-2.reminding", "normal", "F9 X6/2"),
                ("volts.C20-2.reminding", "normal", "W107 C20/2"),
                ("volts.C20-11.prove-out", "normal", "W109 C20/11 C12/9"),
                ("volts.C12-1.reminding", "normal", "F8 X6/1 W101 C12/1"),
                ("volts.C12-4.reminding", "normal", "W102 G2 C12/4"),
                ("volts.X31-1-b.reminding", "normal", "W104 X33/1 buckle-switch X33/2 W105 X31/2 W106 G4"),
            ),
            "belt-lamp cluster W103 X31/1 belt-unit",
        ),
        "lamp-stays-on": (
            (
                ("volts.C12-9.fastened", "normal", "belt-unit W109"),
                ("ohms.C12-7.key-off-fastened", "open", "W103 W104"),
            ),
            "buckle-switch belt-unit",
        ),
        "lamp-never-goes-out": ((("volts.C12-9.fastened", "normal", "W109 belt-unit"),), "belt-unit"),
        "lamp-dim": (
            (
                ("volts.B+.reminding", "normal", "battery"),
                ("volts.bus-15.reminding", "normal", "main-fuse feed-cable ignition-switch"),
                ("volts.X6-2.reminding", "normal", "F9 X6/2"),
                ("volts.C20-2.reminding", "normal", "W107 C20/2"),
                ("volts.C12-4.reminding", "normal", "G2 W102 C12/4"),
            ),
            "belt-lamp C20/11 W109 C12/9",
        ),
    },
    "reversing-lamps": {
        "both-dark": (
            (
                ("volts.X5-3.reverse", "normal", "F12 X5/3"),
                ("volts.X22-1.reverse", "normal", "W301 X22/1"),
                ("volts.X22-2.reverse", "normal", "reverse-switch X22/2"),
                ("volts.X30-1-a.reverse", "normal", "W302"),
                ("volts.X30-1-b.reverse", "normal", "X30/1"),
                ("volts.X41-4.reverse", "normal high", "W303 S7 W304"),
            ),
            "reverse-left reverse-right G6 G8",
        ),
        "left-dark": (
            (("volts.X41-4.reverse", "normal high", "W304"), ("volts.X41-1.reverse", "normal", "X41/1 W306 G6")),
            "X41/4 holder-left reverse-left carrier-ground",
        ),
        "right-dark": (
            (("volts.X42-4.reverse", "normal high", "W305"), ("volts.X42-5.reverse", "normal", "X42/5 W307 G8")),
            "X42/4 holder-right reverse-right",
        ),
        "dim": (
            (
                ("volts.B+.reverse", "normal", "battery"),
                ("volts.bus-15.reverse", "normal", "main-fuse feed-cable ignition-switch"),
                ("volts.X5-3.reverse", "normal", "F12 X5/3"),
                ("volts.X22-2.reverse", "normal", "W301 X22/1 X22/2 reverse-switch"),
                ("volts.X41-4.reverse", "normal high", "W302 X30/1 W303 S7 W304"),
                ("volts.X41-1.reverse", "normal", "X41/1 W306 G6"),
            ),
            "X41/4 holder-left carrier-ground reverse-left",
        ),
        "always-on": (
            (
                ("volts.X22-2.neutral", "normal", "reverse-switch W302"),
                ("volts.X41-4.neutral", "normal", "W304 W305 W303"),
            ),
            "reverse-switch",
        ),
    },
    "blower": {
        "all-dead": (
            (
                ("volts.F16-out.four", "normal", "F16"),
                ("volts.X8-30.four", "normal", "W401 X8/30"),
                ("volts.X8-86.four", "normal", "F17 W402 X8/86"),
                ("volts.X8-85.four", "normal", "W403 X8/85 G2"),
                ("volts.X8-87.four", "normal", "K5 X8/87"),
                ("volts.X52-1.four", "normal", "W404 X52/1"),
                ("volts.X52-2.four", "normal", "W405 W407 switch-four X51/4 X51/5 W411 G2 X52/2"),
            ),
            "blower-motor",
        ),
        "only-full-works": (
            (("volts.X50-4.three", "normal high", "W406 S9"), ("volts.X50-3.three", "normal", "switch-three W408")),
            "X50/4 thermal-fuse resistor-high",
        ),
        "speed-one-dead": (
            (("volts.X50-1.one", "normal", "W410 switch-one X51/1"),),
            "X50/1 resistor-low",
        ),
        "full-dead": (
            (("volts.X51-4.four", "normal", "switch-four X51/4 X51/5 W411 G2"),),
            "W407 S9",
        ),
        "slow": (
            (
                ("volts.B+.four", "normal", "battery"),
                ("volts.bus-30.four", "normal", "main-fuse feed-cable"),
                ("volts.X8-30.four", "normal", "F16 W401 X8/30"),
                ("volts.X8-87.four", "normal", "K5 X8/87"),
                ("volts.X51-4.four", "normal", "switch-four X51/4 X51/5 W411 G2"),
            ),
            "blower-motor W404 W405 W407",
        ),
        "always-on": (
            (("volts.X51-4.standby", "normal", "switch-four W407"),),
            "W405 W406",
        ),
        "always-slow": (
            (
                ("volts.X51-3.standby", "normal", "switch-three W408"),
                ("volts.X51-2.standby", "normal", "switch-two W409"),
                ("volts.X51-1.standby", "normal", "switch-one W410"),
            ),
            "switch-one",
        ),
        "runs-with-key-off": (
            (("volts.bus-15.key-out", "normal", "ignition-switch"), ("volts.X8-86.key-out", "normal", "W402")),
            "K5 W404",
        ),
    },
    **rules_front.SOURCE_TO_LOAD,
    **rules_rear.SOURCE_TO_LOAD,
    **rules_rest.SOURCE_TO_LOAD,
    **rules_supply.SOURCE_TO_LOAD,
}
