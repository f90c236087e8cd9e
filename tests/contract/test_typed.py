"""Readings as a person types them."""

import pytest

from advisor.contract.typed import typed_reading


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("11.8", 11.8, ""),
        ("11,8 V", 11.8, "V"),
        ("350mV", 350, "mV"),
        ("-0.2", -0.2, ""),
        ("−,5v", -0.5, "V"),
        ("7.", 7, ""),
        ("3.1 A", 3.1, "A"),
        ("40ma", 40, "mA"),
        ("0.4 ohm", 0.4, "ohm"),
        ("12 kΩ", 12, "kohm"),
        ("1,2 Mohm", 1.2, "Mohm"),
    ],
)
def test_numbers_with_and_without_unit(text, value, unit):
    """Comma and point, minus and unit are understood; without a unit it is the test's own."""
    problems = []
    assert typed_reading("t", text, 0, problems) == {"kind": "reading", "test": "t", "value": value, "unit": unit}
    assert not problems


@pytest.mark.parametrize("text", ["OL", "over", " Over "])
def test_over_range(text):
    """What a meter shows beyond its range is a reading too."""
    assert typed_reading("t", text, 0, []) == {"kind": "reading", "test": "t", "over_range": True}


@pytest.mark.parametrize("text", ["", "x", "nan", "inf", "1_000", "1e3", "1.2.3", "V", "12 W", "٣", "1" * 40])
def test_anything_else_is_pointed_at(text):
    """What is no plain number is noted with its pointer."""
    problems = []
    typed_reading("t", text, 3, problems)
    assert [problem.pointer for problem in problems] == ["#/findings/3/value"]
