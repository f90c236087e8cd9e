"""What an answer says beside its numbers, in plain words, for the terminal and the page alike."""

from __future__ import annotations

from advisor.contract.answer import AdviceAnswer


def of_what_is_learned(answer: AdviceAnswer) -> str:
    """Say whose minutes and slips these are where a release has learned some; nothing where they are the library's."""
    if answer.learned is None:
        return ""
    minutes = [f"{work} × {factor:.2f}" for work, factor in sorted(answer.learned.minutes.items())]
    slips = [f"{tool} {100 * slip:.1f} %" for tool, slip in sorted(answer.learned.slips.items())]
    said = [f"minutes: {', '.join(minutes)}"] * bool(minutes) + [f"slips: {', '.join(slips)}"] * bool(slips)
    return f"From {answer.learned.priors}: {'; '.join(said)}."


def of_testing_on(answer: AdviceAnswer) -> str:
    """Say whether testing further can still pay; nothing where that was not asked."""
    stopping, currency = answer.stopping, answer.expected_cost.currency
    if stopping is None:
        return ""
    if stopping.no_test_pays:
        return "No test that is left can save what it costs."
    change = of_hundred(1.0 - stopping.same_decision)
    return (
        f"Testing further would change what is repaired first in {change} cases. "
        f"No test can save more than {round_money(stopping.perfect_information)} {currency} on average."
    )


def of_asking(answer: AdviceAnswer) -> str:
    """Say what the customer has to be asked for; nothing where nobody has to be asked."""
    asked, currency = answer.next.asks_for, answer.expected_cost.currency
    if asked is None:
        return ""
    titles = {test.test: test.title for test in answer.tests} | {row.repair: row.title for row in answer.repairs}
    step = titles.get(asked.id or "", asked.kind.replace("_", " "))
    low, middle, high = (
        round_money(each) for each in (asked.estimate.low, asked.estimate.expected, asked.estimate.high)
    )
    return (
        f"Next would be: {step}; {round(asked.minutes)} min, {round_money(asked.cost)} {currency}. "
        f"Getting it fixed comes to {low} to {high} {currency}, about {middle} on average."
    )


def of_what_is_not_proved(answer: AdviceAnswer) -> tuple[str, ...]:
    """Say of each suspect unit what is to be proved good before it is replaced."""
    tests = {test.test: test.title for test in answer.tests}
    return tuple(
        f"Not proved yet: {pin.title}." + (f" Proved by: {tests[pin.test]}." if pin.test in tests else "")
        for pin in answer.not_proved
    )


def of_hundred(share: float) -> str:
    """Say a share of cases as so many of 100.

    >>> of_hundred(0.034), of_hundred(0.004), of_hundred(0.0), of_hundred(0.9999)
    ('about 3 of 100', 'less than 1 of 100', 'none of 100', 'more than 99 of 100')
    """
    if share <= 0.0:
        return "none of 100"
    if share < 0.005 or share > 0.995:
        return "less than 1 of 100" if share < 0.5 else "more than 99 of 100"
    return f"about {round(100 * share)} of 100"


def round_money(amount: float) -> int:
    """Round a sum to five, as nobody believes a finer one [money].

    >>> round_money(153.6), round_money(1.0)
    (155, 0)
    """
    return 5 * round(amount / 5)
