"""The small logic language of switches and control units: parsed, length-limited, never evaluated as code.

expression := term ("or" term)*
term       := factor ("and" factor)*
factor     := "not" factor | "(" expression ")" | NAME ("==" | "!=") VALUE
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

Bools = NDArray[np.bool_]
Truth = Callable[[str, str], Bools]

MAX_LENGTH = 200
MAX_DEPTH = 20
_TOKEN = re.compile(r"\s*(==|!=|\(|\)|[A-Za-z0-9][A-Za-z0-9_+-]*)")


@dataclass(frozen=True)
class Expression:
    """A parsed condition: a comparison, or `not`, `and`, `or` over other expressions."""

    operator: str
    name: str = ""
    value: str = ""
    operands: tuple[Expression, ...] = ()

    def evaluate(self, truth: Truth) -> Bools:
        """Evaluate over arrays; `truth(name, value)` says where name equals value, any shape."""
        if self.operator == "==":
            return truth(self.name, self.value)
        parts = [operand.evaluate(truth) for operand in self.operands]
        if self.operator == "not":
            return ~parts[0]
        return reduce(np.logical_and if self.operator == "and" else np.logical_or, parts)

    def holds(self, settings: Mapping[str, str]) -> bool:
        """Evaluate for one setting of every name."""
        return bool(self.evaluate(lambda name, value: np.asarray(settings[name] == value)))


def parse(text: str, names: Mapping[str, Sequence[str]]) -> Expression:
    """Parse a condition over `names`, which maps each name to its allowed values.

    Raises:
        ValueError: the text is too long or nested too deeply, is malformed, or uses an unknown name or value.
    """
    if len(text) > MAX_LENGTH:
        raise ValueError(f"the condition has {len(text)} characters, at most {MAX_LENGTH} are allowed")
    return _Parser(_tokens(text), names).whole()


def _tokens(text: str) -> list[str]:
    tokens, position = [], 0
    while text[position:].strip():
        match = _TOKEN.match(text, position)
        if match is None:
            raise ValueError(f"unexpected character {text[position:].strip()[0]!r} in the condition {text!r}")
        tokens.append(match[1])
        position = match.end()
    return tokens


class _Parser:
    """Recursive descent over a token list; the grammar stands at the top of the module."""

    def __init__(self, tokens: list[str], names: Mapping[str, Sequence[str]]) -> None:
        self.tokens, self.names, self.next, self.depth = tokens, names, 0, 0

    def take(self) -> str:
        """The next token, used up."""
        if self.next >= len(self.tokens):
            raise ValueError("the condition ends too early")
        self.next += 1
        return self.tokens[self.next - 1]

    def ahead(self) -> str | None:
        """The next token, left where it is."""
        return self.tokens[self.next] if self.next < len(self.tokens) else None

    def whole(self) -> Expression:
        """An expression that uses all tokens."""
        expression = self.chain("or")
        if self.ahead() is not None:
            raise ValueError(f"unexpected {self.ahead()!r} in the condition")
        return expression

    def chain(self, operator: str) -> Expression:
        """One or more operands of `or`, or of `and`."""
        part = self.factor if operator == "and" else lambda: self.chain("and")
        operands = [part()]
        while self.ahead() == operator:
            self.take()
            operands.append(part())
        return operands[0] if len(operands) == 1 else Expression(operator, operands=tuple(operands))

    def factor(self) -> Expression:
        """A negation, a bracket or a comparison."""
        self.depth += 1
        if self.depth > MAX_DEPTH:
            raise ValueError(f"the condition is nested deeper than {MAX_DEPTH}")
        token = self.take()
        if token == "not":
            result = Expression("not", operands=(self.factor(),))
        elif token == "(":
            result = self.chain("or")
            if self.take() != ")":
                raise ValueError("a closing bracket is missing in the condition")
        else:
            result = self.comparison(token)
        self.depth -= 1
        return result

    def comparison(self, name: str) -> Expression:
        """NAME == VALUE or NAME != VALUE, both checked."""
        if name not in self.names:
            raise ValueError(f"unknown name {name!r} in the condition, expected one of {', '.join(self.names)}")
        operator, value = self.take(), self.take()
        if operator not in {"==", "!="}:
            raise ValueError(f"expected == or != after {name!r}, found {operator!r}")
        if value not in self.names[name]:
            raise ValueError(f"{name!r} is never {value!r}, expected one of {', '.join(self.names[name])}")
        equal = Expression("==", name, value)
        return equal if operator == "==" else Expression("not", operands=(equal,))
