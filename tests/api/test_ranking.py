"""Causes as bars."""

import json

import fakes
import pytest

from advisor.contract import service
from advisor.contract.answer import AdviceAnswer
from api.ranking import SHOWN_GROUPS, ranking


@pytest.fixture
def answer():
    """Give the answer to a bare complaint."""
    body = {"circuit": "belt-reminder", "findings": [{"symptom": "lamp-stays-dark"}]}
    return service.answer(json.dumps(body).encode(), fakes.engine())


def regrouped(answer: AdviceAnswer, *causes: tuple[str, str]) -> AdviceAnswer:
    """Give the answer with causes of other titles that one repair cures, under its title."""
    rows = [
        answer.causes[0].model_copy(update={"title": title, "cause": cause, "repair": "r", "repair_group": "Mend it"})
        for cause, title in causes
    ]
    return answer.model_copy(update={"causes": tuple(rows)})


def test_shares_of_a_group_add_up(answer):
    """The bar of a group is as long as its causes together."""
    first = ranking(answer).first[0]
    causes = [cause for cause in answer.causes if cause.repair == "buckle-side"]
    assert first.length == pytest.approx(100 * sum(cause.probability for cause in causes), rel=1e-12)
    assert len(first.rows) == len(causes)
    assert first.off_chart


def test_all_bars_together_are_everything(answer):
    """Bars in view and folded away, with those that are no cause, add up to one, but for tiny ones."""
    made = ranking(answer)
    assert len(made.first) == SHOWN_GROUPS
    assert sum(bar.length for bar in (*made.first, *made.rest)) == pytest.approx(100, abs=0.5)


@pytest.mark.parametrize(
    ("causes", "title"),
    [
        ([("g4/open", "ground G4: open"), ("g4/weak", "ground G4: high resistance")], "ground G4"),
        ([("x/1/open", "plug X, contact 1: open"), ("x/2/open", "plug X, contact 2: open")], "plug X"),
        ([("a/open", "part A: open"), ("b/open", "part B: open")], "Mend it"),
        ([("a/open", "part A: open")], "part A: open"),
    ],
)
def test_groups_are_named_by_what_they_share(answer, causes, title):
    """A group is named by its one part or connector, else by its repair; a single cause by itself."""
    assert ranking(regrouped(answer, *causes)).first[0].title == title


def test_lines_do_not_repeat_their_heading(answer):
    """Under the name of a part only its faults stand."""
    first = ranking(regrouped(answer, ("g4/open", "ground G4: open"), ("g4/weak", "ground G4: weak"))).first[0]
    assert [row.title for row in first.rows] == ["open", "weak"]
