"""Pictures of a refit as SVG text: intervals on a ratio scale, calibration, cost to fix; tables have the numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from advisor.drawing.svg import element, image, line, text, text_width
from advisor.refit.movers import Mover
from advisor.refit.scoring import Curve

WIDE = 680.0
ROW = 24.0
SIDES = {"old": "old rates", "new": "new rates"}
_TICKS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
_SQUARE = 300.0


def moved(movers: Sequence[Mover]) -> str:
    """Each mover's factor as a dot on its interval; the line at 1 is the rate before."""
    low = min(0.5, *(m.low for m in movers)) if movers else 0.5
    high = max(2.0, *(m.high for m in movers)) if movers else 2.0
    start, width = math.log(low) - 0.05, math.log(high) - math.log(low) + 0.1
    bottom, names = ROW * len(movers) + 14.0, [f"{m.cause} ({m.circuit})" for m in movers]
    left = _room(names)

    def across(value: float) -> float:
        """Where a factor stands [px]."""
        return left + (WIDE - left - 10.0) * (math.log(value) - start) / width

    inside = []
    for tick in (t for t in _TICKS if low <= t <= high):
        inside.append(line(across(tick), 6, across(tick), bottom, class_="rule strong" if tick == 1.0 else "rule"))
        inside.append(text(f"×{tick:g}", across(tick), bottom + 16, text_anchor="middle"))
    for place, mover in enumerate(movers):
        y = 20.0 + ROW * place
        inside.append(text(names[place], left - 12, y + 4, text_anchor="end"))
        inside.append(line(across(mover.low), y, across(mover.high), y, class_="span"))
        inside.append(element("circle", cx=across(mover.factor), cy=y, r=5, class_="new"))
    told = "; ".join(f"{m.cause}: {m.factor:.2f}, {m.low:.2f} to {m.high:.2f}" for m in movers)
    return image(
        WIDE, bottom + 24, "By what rates are multiplied, with 90 % intervals", told, *inside, class_="picture"
    )


def calibrated(curves: Mapping[str, Curve]) -> str:
    """What was said of the likeliest cause against how often it was it; on the slanting line both agree."""
    left, top = 46.0, 10.0

    def at(said: float, happened: float) -> tuple[float, float]:
        """Where a pair of shares stands [px]."""
        return left + _SQUARE * said, top + _SQUARE * (1.0 - happened)

    inside = [line(*at(0.0, 0.0), *at(1.0, 1.0), class_="rule strong")]
    for tick in (0.0, 0.25, 0.5, 0.75, 1.0):
        inside.append(line(*at(tick, 0.0), *at(tick, 1.0), class_="rule"))
        inside.append(line(*at(0.0, tick), *at(1.0, tick), class_="rule"))
        inside.append(text(f"{tick:.0%}", at(tick, 0)[0], top + _SQUARE + 18, text_anchor="middle"))
        inside.append(text(f"{tick:.0%}", left - 6, at(0, tick)[1] + 4, text_anchor="end"))
    for name, curve in curves.items():
        points = [at(float(a), float(b)) for a, b in zip(curve.said, curve.happened, strict=True)]
        inside.append(
            element("polyline", points=" ".join(f"{x:.1f},{y:.1f}" for x, y in points), class_=f"path {name}")
        )
        inside += [_dot(name, *point) for point in points]
    inside.append(text("probability that was said of the likeliest cause", left, top + _SQUARE + 38))
    inside += _key(left + _SQUARE + 24, top + 20)
    title = "How often the likeliest cause was confirmed, by the probability that was said"
    told = "; ".join(f"{SIDES[name]}: calibration error {curve.ece:.3f}" for name, curve in curves.items())
    return image(left + _SQUARE + 150, top + _SQUARE + 46, title, told, *inside, class_="picture")


def costs(rows: Sequence[tuple[str, str, int, float, float]]) -> str:
    """Cost to fix of each complaint by the old and the new rates, joined by a line."""
    most = max((max(old, new) for *_, old, new in rows), default=1.0) * 1.05
    bottom, names = ROW * len(rows) + 14.0, [f"{c}, {s} ({n})" for c, s, n, *_ in rows]
    left = _room(names)

    def across(value: float) -> float:
        """Where an amount of money stands [px]."""
        return left + (WIDE - left - 10.0) * value / most

    inside = []
    step = _step(most)
    for tick in (step * n for n in range(int(most / step) + 1)):
        inside.append(line(across(tick), 6, across(tick), bottom, class_="rule"))
        inside.append(text(f"{tick:g}", across(tick), bottom + 16, text_anchor="middle"))
    for place, (*_, old, new) in enumerate(rows):
        y = 20.0 + ROW * place
        inside.append(text(names[place], left - 12, y + 4, text_anchor="end"))
        inside.append(line(across(old), y, across(new), y, class_="span"))
        inside += [_dot("old", across(old), y), _dot("new", across(new), y)]
    inside += _key(left, bottom + 36, beside=120.0)
    told = "; ".join(f"{c}, {s}: {old:.0f} before, {new:.0f} after" for c, s, _, old, new in rows)
    return image(WIDE, bottom + 46, "Expected cost to fix by complaint", told, *inside, class_="picture")


def _room(names: Sequence[str]) -> float:
    """How much room labels take at the left [px]."""
    return max((text_width(name) for name in names), default=100.0) + 16.0


def _dot(name: str, x: float, y: float) -> str:
    """A square is old, a disc new, so that colour is not needed."""
    if name == "old":
        return element("rect", x=x - 4.5, y=y - 4.5, width=9, height=9, class_="old")
    return element("circle", cx=x, cy=y, r=5, class_="new")


def _key(x: float, y: float, beside: float = 0.0) -> list[str]:
    found = []
    for place, (name, words) in enumerate(SIDES.items()):
        here = (x + 6 + beside * place, y + (0.0 if beside else 22.0 * place))
        found += [_dot(name, *here), text(words, here[0] + 12, here[1] + 4)]
    return found


def _step(most: float) -> float:
    """A round step that gives four to ten ticks."""
    power = 10.0 ** math.floor(math.log10(most))
    return next(power * part for part in (0.1, 0.2, 0.25, 0.5, 1.0) if most / (power * part) <= 10.0)
