"""Messages about unknown names."""

from advisor.contract.nearest import shown, unknown


def test_a_slip_gets_the_nearest_name():
    """A name with a slip of the finger is answered with the right one."""
    assert unknown("test", "volt.a", ["volts.a", "look.b"]) == "unknown test 'volt.a'; did you mean volts.a?"


def test_a_strange_name_gets_the_list():
    """A name that is near nothing is answered with what there is."""
    assert unknown("place", "zzz", ["b", "a"]) == "unknown place 'zzz'; there are: a, b"
    assert unknown("place", "zzz", []) == "unknown place 'zzz'; there is no place"


def test_values_are_shown_short_and_printable():
    """What a caller sent is cut short and escaped."""
    assert len(shown("x" * 500)) <= 80
    assert shown("\ud800\x1b") == "'\\ud800\\x1b'"
