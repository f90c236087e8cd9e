"""Bytes to JSON values."""

import pytest

from advisor.contract.body import MAX_DEPTH, NotJsonError, parse_json, pointer
from advisor.errors import RequestError


def pointers(raw: bytes) -> list[str]:
    """Give the pointers of what is wrong with a body."""
    with pytest.raises(RequestError) as caught:
        parse_json(raw)
    return [problem.pointer for problem in caught.value.problems]


def test_plain_values_pass():
    """A JSON text gives its values."""
    assert parse_json(b'{"a": [1, 2.5, "x", null, true]}') == {"a": [1, 2.5, "x", None, True]}


@pytest.mark.parametrize("raw", [b"", b"{", b"{'a': 1}", b"\xff\xfe", b'{"a": 1} x', b"\xef\xbb\xbf{}"])
def test_what_is_no_json_is_its_own_error(raw):
    """A body that is no JSON text is told apart from one with wrong content."""
    with pytest.raises(NotJsonError):
        parse_json(raw)


def test_duplicate_keys_are_refused_at_their_address():
    """A key that stands twice is refused, at every level and all at once."""
    assert pointers(b'{"a": 1, "a": 2, "b": [{"c": 1, "c": 1}]}') == ["#/a", "#/b/0/c"]


def test_deep_nesting_is_refused():
    """Nesting deeper than any request is refused, be it little or endless."""
    assert pointers(b"[" * (MAX_DEPTH + 2) + b"]" * (MAX_DEPTH + 2)) == ["#" + "/0" * MAX_DEPTH]
    assert pointers(b"[" * 100_000 + b"]" * 100_000) == ["#"]


def test_endless_integers_become_infinite():
    """An endless row of digits costs no time and is refused later as not finite."""
    assert parse_json(b"1" * 5000) == float("inf")


def test_pointer_escapes():
    """Slashes, tildes and other characters are escaped as RFC 6901 says."""
    assert pointer("a/b", "c~d", "e f", "ü", 0) == "#/a~1b/c~0d/e%20f/%C3%BC/0"
