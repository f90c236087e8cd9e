"""Numbers as a technician says them."""

import pytest

from api import words


@pytest.mark.parametrize(
    ("probability", "said"),
    [
        (0.999, "more than 9 in 10"),
        (0.949, "about 9 in 10"),
        (0.43, "about 4 in 10"),
        (0.096, "about 1 in 10"),
        (0.094, "about 9 in 100"),
        (0.01, "about 1 in 100"),
        (0.009, "less than 1 in 100"),
        (0.0, "less than 1 in 100"),
    ],
)
def test_shares(probability, said):
    """A share is said in ten or in a hundred, never as a percentage with decimals."""
    assert words.share(probability) == said


def test_money_in_fives_and_minutes_in_ones():
    """Sums are rounded to five, times to one."""
    assert (words.money(37.42, "EUR"), words.money(1.2, "EUR"), words.minutes(12.4)) == (
        "35 EUR",
        "under 5 EUR",
        "12 min",
    )


@pytest.mark.parametrize(
    ("worth", "said"),
    [
        (23.1, "saves about 25 EUR on average, 16 min of labour"),
        (2.0, "costs about the same as leaving it out"),
        (-31.0, "costs about 30 EUR more than it saves"),
    ],
)
def test_worth(worth, said):
    """Worth is said as what doing the test saves."""
    assert words.saving(worth, 85, "EUR") == said


def test_free_labour_saves_no_time_worth_telling():
    """Without a price of labour only money is told."""
    assert words.saving(20, 0, "EUR") == "saves about 20 EUR on average"


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (1, 12, "1 to 12 V"),
        (None, 0.3, "below 0.3 V"),
        (11.437, None, "11.44 V or more"),
        (None, None, ""),
        (-0.5, 0.001, "−0.5 to 0 V"),
    ],
)
def test_ranges(low, high, said):
    """Ranges are said with their unit and at most two decimals."""
    assert words.span(low, high, "V") == said
    assert words.span(low, high, "") == ""
