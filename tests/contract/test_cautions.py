"""Safety lines."""

from advisor.contract.cautions import LEVELS, cautions


def test_the_most_serious_comes_first_and_the_maker_last():
    """Lines are ordered by seriousness; the maker's procedure closes them."""
    lines = cautions(("jumper", "restraint", "jumper"))
    assert [line.id for line in lines] == ["restraint", "jumper", "maker-procedure"]
    assert all(line.level in LEVELS and line.text.endswith(".") for line in lines)


def test_an_unknown_caution_is_still_shown():
    """A caution that has no sentence yet is shown by its name."""
    assert cautions(("hot-lamp",))[0].text == "Take care: hot lamp."
