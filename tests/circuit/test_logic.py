"""The logic language: precedence, limits, clear refusals, and that nothing is ever run as code."""

from __future__ import annotations

import ast
import inspect

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.circuit import logic
from advisor.circuit.logic import MAX_DEPTH, MAX_LENGTH, parse

NAMES = {"a": ("yes", "no"), "b": ("yes", "no"), "c": ("yes", "no")}
SETTINGS = [{"a": a, "b": b, "c": c} for a in NAMES["a"] for b in NAMES["b"] for c in NAMES["c"]]


@pytest.mark.parametrize(
    ("text", "python"),
    [
        ("a == yes", "a"),
        ("a != yes", "not a"),
        ("a == yes or b == yes and c == yes", "a or (b and c)"),
        ("a == yes and b == yes or c == yes", "(a and b) or c"),
        ("(a == yes or b == yes) and c == yes", "(a or b) and c"),
        ("not a == yes and b == yes", "(not a) and b"),
        ("not (a == yes and b == yes)", "not (a and b)"),
        ("not not a == yes", "a"),
        ("a==yes and(b==yes)", "a and b"),
    ],
)
def test_precedence(text, python):
    """`not` binds before `and`, `and` before `or`, as in the reader's everyday languages."""
    condition = parse(text, NAMES)
    code = compile(python, "table", "eval")
    for setting in SETTINGS:
        truth = {name: value == "yes" for name, value in setting.items()}
        assert condition.holds(setting) == eval(code, {}, truth)


conditions = st.recursive(
    st.tuples(st.sampled_from(sorted(NAMES)), st.sampled_from(["==", "!="]), st.sampled_from(["yes", "no"])),
    lambda inner: st.one_of(st.tuples(st.just("not"), inner), st.tuples(st.sampled_from(["and", "or"]), inner, inner)),
    max_leaves=5,
)


def text_of(tree) -> str:
    """Write a condition with every bracket."""
    if len(tree) == 2:
        return f"not ({text_of(tree[1])})"
    if tree[0] in ("and", "or"):
        return f"({text_of(tree[1])}) {tree[0]} ({text_of(tree[2])})"
    return " ".join(tree)


def meaning(tree, setting) -> bool:
    """Say whether a condition holds, straight from its tree."""
    if len(tree) == 2:
        return not meaning(tree[1], setting)
    if tree[0] in ("and", "or"):
        both = meaning(tree[1], setting), meaning(tree[2], setting)
        return all(both) if tree[0] == "and" else any(both)
    return (setting[tree[0]] == tree[2]) == (tree[1] == "==")


@settings(max_examples=100, deadline=None, derandomize=True)
@given(conditions.filter(lambda tree: len(text_of(tree)) <= MAX_LENGTH))
def test_random_conditions_mean_what_their_tree_means(tree):
    """Written out and parsed, a random condition holds exactly where its tree does, one by one and as arrays."""
    condition = parse(text_of(tree), NAMES)
    expected = [meaning(tree, setting) for setting in SETTINGS]
    assert [condition.holds(setting) for setting in SETTINGS] == expected
    found = condition.evaluate(lambda name, value: np.array([setting[name] == value for setting in SETTINGS]))
    assert found.tolist() == expected


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "ends too early"),
        ("a ==", "ends too early"),
        ("(a == yes", "ends too early"),
        ("(a == yes a", "closing bracket is missing"),
        ("a == yes)", r"unexpected '\)'"),
        ("a == yes b == no", "unexpected 'b'"),
        ("a = yes", "unexpected character '='"),
        ("a & b", "unexpected character '&'"),
        ("d == yes", "unknown name 'd'.*a, b, c"),
        ("a == maybe", "'a' is never 'maybe'.*yes, no"),
        ("a yes no", "expected == or !="),
        ("and a == yes", "unknown name 'and'"),
        ("a == yes and", "ends too early"),
        ("__import__('os')", "unexpected character '_'"),
    ],
)
def test_malformed_conditions_say_what_is_wrong(text, message):
    """Every malformed condition is refused with what was found or expected."""
    with pytest.raises(ValueError, match=message):
        parse(text, NAMES)


def test_limits():
    """Longer or deeper than the limit is refused, at the limit is not."""
    long = "a == yes" + " or a == yes" * 16
    parse(long.ljust(MAX_LENGTH), NAMES)
    with pytest.raises(ValueError, match=f"{MAX_LENGTH + 1} characters, at most {MAX_LENGTH}"):
        parse(long.ljust(MAX_LENGTH + 1), NAMES)
    parse("(" * (MAX_DEPTH - 1) + "a==yes" + ")" * (MAX_DEPTH - 1), NAMES)
    for wrap in ("(", "not "):
        with pytest.raises(ValueError, match=f"nested deeper than {MAX_DEPTH}"):
            parse(wrap * MAX_DEPTH + "a==yes", NAMES)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.text(max_size=60))
def test_any_text_is_parsed_or_refused(text):
    """Arbitrary text never raises anything but the one error that callers expect."""
    try:
        parse(text, NAMES)
    except ValueError as error:
        assert str(error)


def test_nothing_is_run_as_code():
    """The module calls neither eval, exec nor compile of Python."""
    calls = {
        node.func.id
        for node in ast.walk(ast.parse(inspect.getsource(logic)))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert calls.isdisjoint({"eval", "exec", "compile", "__import__", "getattr"})
