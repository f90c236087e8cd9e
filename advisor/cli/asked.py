"""What several commands ask alike: the vehicle's age and use, and prices."""

from __future__ import annotations

import math
from collections.abc import Callable

import click

from advisor.contract.request import CostsIn, Vehicle

# Without options, the vehicle and the prices that a request stands for when it says nothing of them.
_USUAL, _PRICES = Vehicle(), CostsIn()
Command = Callable[..., None]


def number(_: click.Context, option: click.Parameter, value: float) -> float:
    """Refuse what is no number, which no range refuses."""
    if math.isnan(value):
        raise click.BadParameter("expected a number", param=option)
    return value


def aged(command: Command) -> Command:
    """Give a command the options of the vehicle."""
    command = _option("--hours", 100_000, _USUAL.hours, "Time in use [hours].")(command)
    return _option("--years", 60, _USUAL.years, "Age of the vehicle [years].")(command)


def priced(command: Command) -> Command:
    """Give a command the options of vehicle and prices."""
    hand_over = "Price of handing the vehicle over [money]."
    command = _option("--hand-over", 1e9, _PRICES.hand_over, hand_over, min_open=True)(command)
    return aged(_option("--labour", 1e6, _PRICES.labour_per_hour, "Labour per hour [money].")(command))


def _option(name: str, most: float, usual: float, text: str, *, min_open: bool = False) -> Callable[[Command], Command]:
    low = click.FloatRange(0, most, min_open=min_open)
    return click.option(name, type=low, default=usual, show_default=True, callback=number, help=text)
