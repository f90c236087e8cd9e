"""Numbers as a technician says them: shares in ten, whole minutes, money in fives, volts with their range."""

from __future__ import annotations

from advisor.drawing.suspicion import odds

LEAST_SAVING = 2.5
"""What rounds to the smallest sum that is told [money]; less is called the same."""

LEAST_WEIGHT = 1.0
"""The smallest weight of evidence that a person notices [decibans]: I. J. Good, "Studies in the history of probability
and statistics XXXVII", Biometrika 66, 1979, from memory."""


def share(probability: float) -> str:
    """Say a share of one in words.

    >>> share(0.43), share(0.034), share(0.0004)
    ('about 4 in 10', 'about 3 in 100', 'less than 1 in 100')
    """
    if probability >= 0.95:
        return "more than 9 in 10"
    return f"about {odds(probability)}" if probability >= 0.01 else "less than 1 in 100"


def minutes(value: float) -> str:
    """Say a time [minutes] to the whole minute."""
    return f"{max(1, round(value))} min"


def window(start: str, after: float, until: float) -> str:
    """Say how long a condition holds that ends by itself, from its start [s].

    >>> window("cycle the key", 6, 60), window("push the button", 0, 600)
    ('Cycle the key, wait 6 s: then you have 54 s.', 'Push the button: then you have 10 min.')
    """
    wait, long = f", wait {after:g} s" if after else "", until - after
    return f"{start[:1].upper()}{start[1:]}{wait}: then you have {f'{long:g} s' if long < 120 else minutes(long / 60)}."


def fives(value: float) -> int:
    """Round a sum to five."""
    return 5 * round(value / 5)


def money(value: float, currency: str) -> str:
    """Say a sum rounded to five."""
    rounded = 5 * round(value / 5)
    return f"{rounded} {currency}" if rounded >= 5 else f"under 5 {currency}"


def saving(worth: float, labour_per_hour: float, currency: str) -> str:
    """Say what doing a test next saves on average, as money and as working time."""
    if worth >= LEAST_SAVING:
        time = f", {minutes(worth / labour_per_hour * 60)} of labour" if labour_per_hour > 0 else ""
        return f"saves about {money(worth, currency)} on average{time}"
    if worth > -LEAST_SAVING:
        return "costs about the same as leaving it out"
    return f"costs about {money(-worth, currency)} more than it saves"


def reason(decibans: float | None, text: str) -> str:
    """Say whether a finding speaks for or against a cause, and what it is.

    >>> reason(4.0, "it reads 5 V"), reason(-4.0, "it reads 5 V"), reason(0.2, "it reads 5 V")
    ('Speaks for it: it reads 5 V', 'Speaks against it: it reads 5 V', 'Says little: it reads 5 V')
    """
    if decibans is None:
        return f"Decides it: {text}"
    if abs(decibans) < LEAST_WEIGHT:
        return f"Says little: {text}"
    return f"Speaks {'for' if decibans > 0.0 else 'against'} it: {text}"


def number(value: float) -> str:
    """Give a reading with at most two decimals and no idle zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text.replace("-", "−")


def span(low: float | None, high: float | None, unit: str) -> str:
    """Say a range of readings; an open end is None; a test without a unit has no range to say.

    >>> span(1.0, 12.0, "V"), span(None, 1.0, "V"), span(12.0, None, "V")
    ('1 to 12 V', 'below 1 V', '12 V or more')
    """
    if not unit or (low is None and high is None):
        return ""
    if low is None and high is not None:
        return f"below {number(high)} {unit}"
    if high is None and low is not None:
        return f"{number(low)} {unit} or more"
    return f"{number(low or 0.0)} to {number(high or 0.0)} {unit}"
