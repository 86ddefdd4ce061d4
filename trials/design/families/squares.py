"""Latin squares: every version once in each row and once in each column.

R. A. Fisher and F. Yates, 1934, "The 6 x 6 Latin squares", Proc. Camb. Phil. Soc. 30, 492-507, on
drawing them with equal chance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import factorial, gcd
from typing import TYPE_CHECKING

import numpy as np

from trials.design.families.checks import refuse

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trials.design.factorials import Codes

ALL_UP_TO = 5  # up to this size every square can be drawn; there are 56 reduced ones of five

Row = tuple[int, ...]


@dataclass(frozen=True)
class Squares:
    """One or several squares of the same size.

    ``drawn_from``: "all" (every Latin square, each as likely) or "cyclic" (the square that moves on
    by one in each row, with rows, columns and versions shuffled, each result as likely).
    ``table`` holds the version codes: square, row, column.
    """

    versions: int
    table: tuple[tuple[Row, ...], ...]
    drawn_from: str

    @property
    def possible(self) -> int:
        """How many squares there are in the set that each was drawn from."""
        return set_size(self.versions, self.drawn_from)

    @cached_property
    def codes(self) -> Codes:
        """Square, row, column and version of each run, shape (runs, 4)."""
        runs = [
            (square, row, column, version)
            for square, rows in enumerate(self.table)
            for row, versions in enumerate(rows)
            for column, version in enumerate(versions)
        ]
        return np.array(runs, dtype=np.intp)


def latin_squares(versions: int, rng: np.random.Generator, squares: int = 1) -> Squares:
    """Draw Latin squares.

    Up to five versions each of all squares is as likely. From six on, the cyclic square has its
    rows, columns and versions shuffled: enough for a fair comparison, though not every square.

    Raises
    ------
    ValueError : fewer than two versions, or fewer than one square.
    PlanError : a square that is none.

    Examples
    --------
    >>> square = latin_squares(4, np.random.default_rng(1))
    >>> square.drawn_from, square.possible, square.codes.shape
    ('all', 576, (16, 4))
    """
    if versions < 2 or squares < 1:
        raise ValueError("a Latin square has at least two versions")
    every = versions <= ALL_UP_TO
    starts = tuple(reduced_squares(versions)) if every else (_cyclic(versions),)
    table = []
    for _ in range(squares):
        square = np.array(starts[int(rng.integers(len(starts)))], dtype=np.intp)
        if every:  # columns, and rows but the first: each square comes about in one way
            rows = [0, *(1 + rng.permutation(versions - 1))]
        else:
            rows = list(rng.permutation(versions))
            square = rng.permutation(versions)[square]
        square = square[rows][:, rng.permutation(versions)]
        _check(square)
        table.append(tuple(tuple(int(v) for v in row) for row in square))
    return Squares(versions, tuple(table), "all" if every else "cyclic")


def reduced_squares(versions: int) -> Iterator[tuple[Row, ...]]:
    """Yield the squares whose first row and first column are in order.

    Examples
    --------
    >>> [len(list(reduced_squares(size))) for size in range(2, 6)]
    [1, 1, 4, 56]
    """
    yield from _extended((tuple(range(versions)),), versions)


def _extended(rows: tuple[Row, ...], versions: int) -> Iterator[tuple[Row, ...]]:
    if len(rows) == versions:
        yield rows
        return
    for row in _rows((len(rows),), rows, versions):
        yield from _extended((*rows, row), versions)


def _rows(start: Row, above: tuple[Row, ...], versions: int) -> Iterator[Row]:
    column = len(start)
    if column == versions:
        yield start
        return
    taken = set(start) | {row[column] for row in above}
    for version in range(versions):
        if version not in taken:
            yield from _rows((*start, version), above, versions)


def set_size(versions: int, drawn_from: str) -> int:
    """Return how many squares a set holds.

    All squares: n! (n - 1)! times the reduced ones. The shuffled cyclic square: n!^3 over the
    n^2 phi(n) ways that leave it as it is.

    Examples
    --------
    >>> set_size(5, "all"), set_size(4, "cyclic")
    (161280, 432)
    """
    if drawn_from == "all":
        reduced = sum(1 for _ in reduced_squares(versions))
        return factorial(versions) * factorial(versions - 1) * reduced
    same = versions**2 * sum(1 for x in range(1, versions + 1) if gcd(x, versions) == 1)
    return factorial(versions) ** 3 // same


def _cyclic(versions: int) -> tuple[Row, ...]:
    return tuple(
        tuple((row + column) % versions for column in range(versions)) for row in range(versions)
    )


def _check(square: Codes) -> None:
    whole = np.arange(len(square))
    down, across = np.sort(square, axis=0), np.sort(square, axis=1)
    if (down != whole[:, None]).any() or (across != whole).any():
        raise refuse("Latin square", "a version twice in one line", "each once in every line")
