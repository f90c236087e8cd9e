"""From bytes to JSON values, strictly: no duplicate keys, no endless nesting, no surprises in numbers.

`NotJsonError` is the caller's 400; a `RequestError` with pointers is the caller's 422.
NaN and infinity pass here as floats and are refused, with their pointer, by the request types.
"""

from __future__ import annotations

import json
from urllib.parse import quote

from advisor.errors import RequestError, RequestProblem

MAX_DEPTH = 12
MAX_INTEGER_DIGITS = 300
Json = None | bool | int | float | str | list["Json"] | dict[str, "Json"]


class NotJsonError(RequestError):
    """The body is no JSON text at all."""

    kind = "not-json"

    def __init__(self, message: str) -> None:
        super().__init__([RequestProblem("#", message)])


class _Pairs(dict[str, Json]):
    """A JSON object that remembers which of its keys came twice."""

    def __init__(self, pairs: list[tuple[str, Json]]) -> None:
        super().__init__(pairs)
        names = [name for name, _ in pairs]
        self.twice = sorted({name for name in names if names.count(name) > 1}) if len(self) < len(names) else []


def pointer(*tokens: str | int) -> str:
    """Give the RFC 6901 pointer of the tokens as a URI fragment.

    >>> pointer("findings", 2, "test")
    '#/findings/2/test'
    """
    escaped = (str(token).replace("~", "~0").replace("/", "~1") for token in tokens)
    return "#" + "".join("/" + quote(token, safe="~!$&'()*+,;=:@", errors="surrogatepass") for token in escaped)


def parse_json(raw: bytes) -> Json:
    """Read a JSON text in UTF-8; raises NotJsonError, or RequestError for duplicate keys and deep nesting."""
    try:
        value: Json = json.loads(raw.decode("utf-8"), object_pairs_hook=_Pairs, parse_int=_integer)
    except UnicodeDecodeError as error:
        raise NotJsonError(f"the body is not UTF-8 text: byte {error.start} is wrong") from error
    except json.JSONDecodeError as error:
        raise NotJsonError(f"the body is not JSON: {error.msg} at line {error.lineno}, column {error.colno}") from error
    except RecursionError as error:
        raise RequestError([RequestProblem("#", _too_deep())]) from error
    problems: list[RequestProblem] = []
    plain = _plain(value, (), problems)
    if problems:
        raise RequestError(problems)
    return plain


def _integer(text: str) -> int | float:
    # An endless row of digits costs quadratic time as an int; as a float it is infinite and refused with its address.
    return int(text) if len(text) <= MAX_INTEGER_DIGITS else float(text)


def _too_deep() -> str:
    return f"nested too deep: at most {MAX_DEPTH} levels"


def _plain(value: Json, path: tuple[str | int, ...], problems: list[RequestProblem]) -> Json:
    if len(path) > MAX_DEPTH:
        problems.append(RequestProblem(pointer(*path[:-1]), _too_deep()))
        return None
    if isinstance(value, _Pairs):
        problems += [
            RequestProblem(pointer(*path, name), "this key stands here more than once") for name in value.twice
        ]
        return {name: _plain(item, (*path, name), problems) for name, item in value.items()}
    if isinstance(value, list):
        return [_plain(item, (*path, place), problems) for place, item in enumerate(value)]
    return value
