"""The compiled arrays refuse what is not a probability."""

from dataclasses import replace

import numpy as np
import pytest
from tables import table_worlds

WORLDS = table_worlds(
    {"fuse": ["open"], "lamp": ["open", "dim"]},
    {
        "look": (["dark", "lit"], lambda faults: (0.9, 0.1) if faults else (0.1, 0.9)),
        "feed": (["none", "low", "full"], lambda faults: (0.8, 0.1, 0.1) if "fuse/open" in faults else (0.0, 0.1, 0.9)),
    },
)


def test_columns_belong_to_their_test():
    """Each test owns the columns of its outcomes, in order."""
    assert WORLDS.columns == (slice(0, 2), slice(2, 5))
    assert WORLDS.column_of["look", "lit"] == 1
    assert WORLDS.column_of["feed", "full"] == 4


def test_holds_lists_every_member():
    """A hypothesis holds its members and nothing else; the special ones hold nothing."""
    held = [{WORLDS.causes[c] for c in np.flatnonzero(row)} for row in WORLDS.holds]
    assert held[:3] == [set(), set(), set()]
    assert held[3:6] == [{"fuse/open"}, {"lamp/open"}, {"lamp/dim"}]
    assert held[6:] == [{"fuse/open", "lamp/open"}, {"fuse/open", "lamp/dim"}]


@pytest.mark.parametrize(("column", "value"), [(0, 0.5), (0, -0.1), (0, float("nan")), (3, 0.3)])
def test_outcome_rows_must_sum_to_one(column, value):
    """A row that does not sum to 1, a negative entry or one that is no number is refused, naming the test."""
    likelihood = WORLDS.likelihood.copy()
    likelihood[4, column] = value
    with pytest.raises(ValueError, match="look" if column < 2 else "feed"):
        replace(WORLDS, likelihood=likelihood)


@pytest.mark.parametrize("value", [-0.01, 1.01, float("nan")])
def test_presence_must_be_a_probability(value):
    """A symptom's probability outside 0 to 1 is refused."""
    with pytest.raises(ValueError, match="symptom"):
        replace(WORLDS, symptoms=("dark",), presence=np.full((len(WORLDS.members), 1), value))


def test_special_hypotheses_hold_nothing():
    """A cause inside none, as designed or unlisted is refused."""
    members = WORLDS.members.copy()
    members[2, 0] = 0
    with pytest.raises(ValueError, match="hold no cause"):
        replace(WORLDS, members=members)


def test_arrays_must_be_as_long_as_each_other():
    """Tests without their outcomes, or rows that are missing, are refused."""
    with pytest.raises(ValueError, match="shorter"):
        replace(WORLDS, outcomes=WORLDS.outcomes[:1])
    with pytest.raises(ValueError, match="hypotheses"):
        replace(WORLDS, likelihood=WORLDS.likelihood[:-1])
