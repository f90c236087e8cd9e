"""The technician's rules and orders from source to load of the rear window and the fuel gauge; forms as in `rules`.

Written before any policy was run on these circuits.  A plug is probed on its wires: a contact lies behind its reading
where a feed comes in, before it where a ground leaves.  Common practice, no source.
"""

from collections.abc import Mapping

from bench.rule_form import Rule, Way

RULES: Mapping[str, Mapping[str, Rule]] = {
    "heated-rear-window": {
        "stays-cold": {
            "sweep": (
                "look.window-lamp.heating",
                {"lit": "-> tail", "dim": "K9 F19 W712 X94/30 X94/87", "dark": "-> neighbour"},
            ),
            "neighbour": ("look.reverse-right.reversing-lamps-reverse", {"lit": "-> fuse", "dim dark": "-> shared"}),
            "shared": ("inspect.F12.key-off", {"damage": "F12", "sound": "X5/3 ignition-switch"}),
            "fuse": ("inspect.F19.key-off", {"damage": "F19", "sound": "-> coil"}),
            "coil": ("volts.X94-85.heating", {"normal": "-> feed", "raised full jumps": "-> unit"}),
            "feed": ("volts.X94-30.heating", {"normal": "-> supply", "low none jumps": "W712 F19"}),
            "supply": (
                "volts.X94-86.heating",
                {"normal": "K9 X94/30 X94/85 X94/86 X94/87", "low none jumps": "W713"},
            ),
            "unit": ("volts.C30-6.heating", {"normal": "W703", "raised full jumps": "-> call"}),
            "call": ("volts.C30-2.heating", {"normal": "-> pins", "raised full jumps": "-> button"}),
            "button": ("volts.X93-1.heating", {"normal": "W704", "raised full jumps": "-> return"}),
            "return": ("volts.X93-2.heating", {"normal": "window-button X93/1 X93/2", "raised full jumps": "W709 G10"}),
            "pins": ("volts.C30-1.heating", {"normal": "-> ground", "low none jumps": "W701"}),
            "ground": ("volts.C30-4.heating", {"normal": "-> engine", "raised full jumps": "W702 G10"}),
            "engine": (
                "volts.C30-3.heating",
                {"normal": "window-unit C30/1 C30/2 C30/4 C30/6", "low none jumps": "W710"},
            ),
            "tail": ("look.reverse-left.reversing-lamps-reverse", {"lit": "-> half", "dim dark": "-> point"}),
            "half": ("volts.X90-1-b.heating", {"normal": "-> glass", "low none jumps": "-> body"}),
            "body": ("volts.X90-1-a.heating", {"normal": "X90/1", "low none jumps": "W705"}),
            "glass": ("volts.X91-1.heating", {"normal": "-> bar", "low none jumps": "W706"}),
            "bar": ("volts.bar-feed.heating", {"normal": "-> drop", "low none jumps": "tab-feed X91/1"}),
            "drop": ("volts.bar-ground.heating", {"normal": "grid-upper grid-lower", "raised full jumps": "-> clip"}),
            "clip": ("volts.X92-1.heating", {"normal": "tab-ground X92/1", "raised full jumps": "-> boot"}),
            "boot": ("volts.X90-2-b.heating", {"normal": "W707", "raised full jumps": "-> point"}),
            "point": ("volts.G6.heating", {"normal": "X90/2 W711", "raised full jumps": "G6"}),
        },
        "half-cold": {
            "grid": ("inspect.grid-upper.key-off", {"damage": "grid-upper", "sound": "grid-upper"}),
        },
        "lukewarm": {
            "sweep": ("look.reverse-left.reversing-lamps-reverse", {"lit": "-> half", "dim dark": "-> point"}),
            "half": ("volts.X90-1-b.heating", {"normal": "-> glass", "low none jumps": "-> relay"}),
            "relay": ("volts.X94-87.heating", {"normal": "W705 X90/1", "low none jumps": "-> feed"}),
            "feed": ("volts.X94-30.heating", {"normal": "K9 X94/30 X94/87", "low none jumps": "F19 W712 main-fuse"}),
            "glass": ("volts.X91-1.heating", {"normal": "-> bar", "low none jumps": "W706"}),
            "bar": ("volts.bar-feed.heating", {"normal": "-> drop", "low none jumps": "tab-feed X91/1"}),
            "drop": ("volts.bar-ground.heating", {"normal": "grid-upper grid-lower", "raised full jumps": "-> clip"}),
            "clip": ("volts.X92-1.heating", {"normal": "tab-ground X92/1", "raised full jumps": "-> boot"}),
            "boot": ("volts.X90-2-b.heating", {"normal": "W707", "raised full jumps": "-> point"}),
            "point": ("volts.G6.heating", {"normal": "X90/2 W711", "raised full jumps": "G6"}),
        },
        "stays-on": {
            "half": ("volts.X94-85.over", {"normal": "K9 W705 W706", "low none jumps": "-> wire"}),
            "wire": ("inspect.W703.key-off", {"damage": "W703", "sound": "window-unit W703"}),
        },
    },
    "fuel-gauge": {
        "reads-empty": {
            "sweep": ("look.fuel-pump.full-running", {"full slow": "-> half", "stopped": "-> fuse"}),
            "fuse": ("inspect.F22.key-off", {"damage": "F22", "sound": "-> half"}),
            "half": (
                "volts.X95-1.full",
                {"normal": "gauge", "high": "-> drop", "low none jumps": "-> sill"},
            ),
            "sill": ("volts.X96-1-a.full", {"normal high": "X96/1 W804", "low none jumps": "-> gauge"}),
            "gauge": ("volts.X97-1.full", {"normal": "gauge X97/1 X97/2 W803", "low none jumps": "F22 W801"}),
            "drop": ("volts.X95-3.full", {"normal": "sender X95/1 X95/3", "raised full jumps": "-> point"}),
            "point": ("volts.G6.full", {"normal": "W806", "raised full jumps": "G6"}),
        },
        "reads-full": {
            "half": ("volts.X95-1.empty", {"normal high": "gauge", "low none jumps": "-> wire"}),
            "wire": ("inspect.W804.key-off", {"damage": "W804", "sound": "sender W803 W804"}),
        },
        "falls-with-pump": {
            "sweep": ("look.stop-left.rear-lighting-braking", {"lit": "-> drop", "dim dark": "-> point"}),
            "drop": (
                "volts.X95-3.full-running",
                {"normal": "X95/3 sender", "raised full jumps": "-> point"},
            ),
            "point": ("volts.G6.full-running", {"normal": "W806 X95/3", "raised full jumps": "G6"}),
        },
    },
}

SOURCE_TO_LOAD: Mapping[str, Mapping[str, tuple[Way, str]]] = {
    "heated-rear-window": {
        "stays-cold": (
            (
                ("volts.F19-out.heating", "normal", "F19"),
                ("volts.X94-30.heating", "normal", "W712"),
                ("volts.X94-86.heating", "normal", "F12 X5/3 W713"),
                ("volts.C30-1.heating", "normal", "W701"),
                ("volts.C30-4.heating", "normal", "W702 G10"),
                ("volts.C30-2.heating", "normal", "W704 X93/1 window-button X93/2 W709"),
                ("volts.C30-3.heating", "normal", "W710"),
                ("volts.C30-6.heating", "normal", "window-unit C30/1 C30/2 C30/4 C30/6"),
                ("volts.X94-85.heating", "normal", "W703"),
                ("volts.X94-87.heating", "normal", "K9 X94/30 X94/85 X94/86 X94/87"),
                ("volts.X90-1-a.heating", "normal", "W705"),
                ("volts.X90-1-b.heating", "normal", "X90/1"),
                ("volts.X91-1.heating", "normal", "W706"),
                ("volts.X92-1.heating", "normal", "W707 X90/2 W711 G6"),
            ),
            "X91/1 tab-feed grid-upper grid-lower tab-ground X92/1",
        ),
        "half-cold": (
            (("volts.bar-feed.heating", "normal", "tab-feed"), ("volts.bar-ground.heating", "normal", "tab-ground")),
            "grid-upper",
        ),
        "lukewarm": (
            (
                ("volts.B+.heating", "normal", "battery"),
                ("volts.bus-30.heating", "normal", "main-fuse feed-cable"),
                ("volts.X94-30.heating", "normal", "F19 W712"),
                ("volts.X94-87.heating", "normal", "K9 X94/30 X94/87"),
                ("volts.X90-1-b.heating", "normal", "W705 X90/1"),
                ("volts.X91-1.heating", "normal", "W706"),
                ("volts.X92-1.heating", "normal", "W707 X90/2 W711 G6"),
            ),
            "X91/1 tab-feed grid-upper grid-lower tab-ground X92/1",
        ),
        "stays-on": (
            (("volts.X94-85.over", "normal", "W703 window-unit"), ("volts.X94-87.over", "normal", "K9")),
            "W705 W706",
        ),
    },
    "fuel-gauge": {
        "reads-empty": (
            (
                ("volts.F22-out.full", "normal", "F22"),
                ("volts.X97-1.full", "normal", "W801"),
                ("volts.X97-2.full", "normal high", "gauge X97/1 X97/2"),
                ("volts.X96-1-a.full", "normal high", "W803"),
                ("volts.X96-1-b.full", "normal high", "X96/1"),
                ("volts.X95-1.full", "normal high", "W804"),
                ("volts.X95-3.full", "normal", "W806 G6"),
            ),
            "sender X95/1 X95/3 gauge",
        ),
        "reads-full": ((("volts.X97-2.empty", "normal high", "W803 W804 sender"),), "gauge"),
        "falls-with-pump": (
            (
                ("volts.X97-1.full-running", "normal", "F22 W801"),
                ("volts.X95-3.full-running", "normal", "W806 G6"),
            ),
            "X95/3 sender",
        ),
    },
}
