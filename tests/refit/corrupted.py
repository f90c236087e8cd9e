"""Files of orders, damaged by seed in ways in which files are: by editors, spreadsheets, transfers and hands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Damaged:
    """A damaged file: how, its bytes, and its rows counted by whoever damaged it, None where quotes make it unsure."""

    how: str
    raw: bytes
    rows: int | None


def damaged(raw: bytes, seed: int) -> Damaged:
    """Damage a CSV file whose rows stand on one line each, in two ways drawn by the seed."""
    rng = np.random.default_rng([seed, 9])
    lines = raw.split(b"\r\n")[:-1]
    chosen = rng.choice(len(WAYS), 2, replace=False).tolist()
    sure = True
    for way in chosen:
        lines, exact = WAYS[way](lines, rng)
        sure &= exact
    how = " and ".join(WAYS[way].__name__ for way in chosen)
    whole = b"\r\n".join(lines) + b"\r\n"
    return Damaged(how, whole, sum(bool(line) for line in lines[1:]) if sure else None)


def _some(lines, rng):
    """One line in five, the header left out."""
    return [number for number in range(1, len(lines)) if rng.random() < 0.2]


def _each(lines, rng, change):
    """Change some lines."""
    for number in _some(lines, rng):
        lines[number] = change(lines[number])
    return lines


def cut_short(lines, rng):
    """The transfer broke off inside the last line, not inside quotes."""
    lines[-1] = lines[-1][:2]
    return lines, True


def cells_lost(lines, rng):
    """Some lines end after a few cells."""
    return _each(lines, rng, lambda line: b",".join(line.split(b",")[: int(rng.integers(1, 5))])), True


def cells_added(lines, rng):
    """Some lines have more cells than columns."""
    return _each(lines, rng, lambda line: line + b",x" * int(rng.integers(1, 4))), True


def quote_opened(lines, rng):
    """A quote opens at the start of some lines and never closes."""
    return _each(lines, rng, lambda line: b'"' + line), False


def quote_inside(lines, rng):
    """A stray quote stands somewhere."""

    def put(line):
        """Put a quote in."""
        place = int(rng.integers(len(line) + 1))
        return line[:place] + b'"' + line[place:]

    return _each(lines, rng, put), False


def bytes_flipped(lines, rng):
    """Some bytes are others, though no line end is made or lost."""

    def flip(line):
        """Change a byte."""
        if not line:
            return line
        place = int(rng.integers(len(line)))
        other = bytes([int(rng.choice([0, 7, 65, 128, 200, 255]))])
        return line[:place] + other + line[place + 1 :]

    return _each(lines, rng, flip), False  # the byte may have been a quote


def saved_as_latin_1(lines, rng):
    """Words with letters that are no UTF-8."""
    return _each(lines, rng, lambda line: line.replace(b"Replace", b"R\xe9place").replace(b"Clean", b"N\xe4sse")), True


def dates_turned(lines, rng):
    """A spreadsheet wrote dates its own way."""
    return _each(lines, rng, lambda line: line.replace(b"2025-", b"25/").replace(b"2024-", b"24/")), True


def decimal_commas(lines, rng):
    """Points became commas, without quotes."""
    return _each(lines, rng, lambda line: line.replace(b".", b",")), False  # inside quoted findings they stay cells


def lines_doubled(lines, rng):
    """Some lines stand there twice."""
    return [copy for number, line in enumerate(lines) for copy in [line] * (2 if number % 7 == 3 else 1)], True


def lines_emptied(lines, rng):
    """Some lines are empty."""
    return _each(lines, rng, lambda _: b""), True


def header_changed(lines, rng):
    """A column of the header is misspelt."""
    names = lines[0].split(b",")
    names[int(rng.integers(len(names)))] = b"kolumn"
    return [b",".join(names), *lines[1:]], True


def header_repeated(lines, rng):
    """Two tables were put one behind the other."""
    middle = len(lines) // 2
    return [*lines[:middle], lines[0], *lines[middle:]], True


def numbers_spoiled(lines, rng):
    """Numbers became infinite, exponents or words."""
    words = [b"inf", b"1e999", b"-7", b"n/a", b"12,5"]

    def put(line):
        """Put a word in place of the fifth to eighth cell."""
        cells = line.split(b",")
        if len(cells) > 8:
            cells[int(rng.integers(4, 8))] = words[int(rng.integers(4))]
        return b",".join(cells)

    return _each(lines, rng, put), True


def names_mistyped(lines, rng):
    """Circuits, symptoms and parts are misspelt."""
    return _each(lines, rng, lambda line: line.replace(b"lamp", b"lmap").replace(b"hot-", b"cold-")), True


def nothing_but_noise(lines, rng):
    """The second half is something else."""
    middle = len(lines) // 2
    return lines[:middle] + [b"%PDF-1.4 " + bytes(rng.integers(97, 122, 40).tolist()) for _ in lines[middle:]], True


WAYS = (
    cut_short,
    cells_lost,
    cells_added,
    quote_opened,
    quote_inside,
    bytes_flipped,
    saved_as_latin_1,
    dates_turned,
    decimal_commas,
    lines_doubled,
    lines_emptied,
    header_changed,
    header_repeated,
    numbers_spoiled,
    names_mistyped,
    nothing_but_noise,
)
