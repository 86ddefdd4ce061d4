"""Two-level tables with a multiple of four runs for up to one factor fewer than runs.

R. L. Plackett and J. P. Burman, 1946, Biometrika 33, 305-325. The tables come from matrices of
Hadamard, built as R. E. A. C. Paley did (1933, J. Math. Phys. 12, 311-320); for 12, 20 and 24 runs
the first rows are those of the paper. Where runs are a power of two a fraction does the same or
better, so none is offered.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, product
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from trials.design.families.checks import Terms, check_balanced, check_distinct, pair_terms

if TYPE_CHECKING:
    from trials.design.factorials import Codes

Signs = npt.NDArray[np.intp]

# runs -> how the matrix is made: from a prime, from the field of 27, from a conference matrix, or
# by doubling
_MADE: Mapping[int, str] = MappingProxyType(
    {12: "prime", 20: "prime", 24: "prime", 28: "field", 36: "conference", 40: "double",
     44: "prime", 48: "prime"}
)  # fmt: skip
SIZES = tuple(_MADE)


@dataclass(frozen=True)
class Screening:
    """A two-level table in which every factor is told apart from every other, and pairs are not.

    Every pair of factors is spread over several single factors: it is mixed up in part with each.
    """

    factors: tuple[str, ...]
    runs: int

    @cached_property
    def codes(self) -> Codes:
        """Level codes 0 and 1, shape (runs, factors)."""
        return ((_signs(self.runs)[:, : len(self.factors)] + 1) // 2).astype(np.intp)

    @property
    def gives_up(self) -> Terms:
        """Pairs of factors whose joint effect can't be told from the single factors."""
        return pair_terms(self.factors)

    @cached_property
    def share(self) -> float:
        """The largest part of a pair's joint effect that falls on a single third factor.

        1/3 in 12 runs: a joint effect of 3 moves the effect of another factor by up to 1. With two
        factors there is no third one, and it is 0.
        """
        signs = (2 * self.codes - 1).astype(float)
        most = 0.0
        for one, other in combinations(range(len(self.factors)), 2):
            overlap = np.abs(signs.T @ (signs[:, one] * signs[:, other])) / self.runs
            overlap[[one, other]] = 0.0
            most = max(most, float(overlap.max(initial=0.0)))
        return most


def screening(factors: Sequence[str], runs: int | None = None) -> Screening | None:
    """Return a table of Plackett and Burman.

    Parameters
    ----------
    factors : names, each with two levels.
    runs : 12, 20, 24, 28, 36, 40, 44 or 48; None for the smallest that has room.

    Returns
    -------
    None where there is no such table, or it has no room for so many factors.

    Raises
    ------
    PlanError : a table whose columns are not balanced against each other.

    Examples
    --------
    >>> table = screening("abcdefghijk")
    >>> table.runs, round(table.share, 4)
    (12, 0.3333)
    """
    names = tuple(factors)
    check_distinct(names)
    room = [size for size in SIZES if size > len(names)]
    if runs is None and room:
        runs = room[0]
    if runs not in room or len(names) < 2:
        return None
    found = Screening(names, runs)
    check_balanced(found.codes, (2,) * len(names), f"table of {runs} runs")
    return found


def _signs(runs: int) -> Signs:
    """Return all ``runs - 1`` columns of +1 and -1; the last run is low everywhere."""
    how = _MADE[runs]
    if how == "prime":
        return _cyclic(runs - 1)
    if how == "field":
        inner = _field_of_27() + np.eye(27, dtype=np.intp)
        return np.vstack([inner, -np.ones((1, 27), dtype=np.intp)])
    if how == "conference":
        return _dropped(_from_conference(_field(17)))
    half = np.hstack([np.ones((runs // 2, 1), dtype=np.intp), _signs(runs // 2)])
    return _dropped(np.block([[half, half], [half, -half]]))


def _cyclic(prime: int) -> Signs:
    """Return a row, + at 0 and at the squares, moved on round a ring, and a low run."""
    squares = {x * x % prime for x in range(prime)}
    row = np.array([1 if x in squares else -1 for x in range(prime)], dtype=np.intp)
    rows = [np.roll(row, shift) for shift in range(prime)]
    return np.vstack([*rows, -np.ones(prime, dtype=np.intp)])


def _dropped(matrix: Signs) -> Signs:
    """Return a matrix without its first column, rows turned so that this column is all +1."""
    turned: Signs = matrix * matrix[:, :1]
    columns = turned[:, 1:]
    signs: Signs = columns * -columns[-1]
    return signs


def _field(prime: int) -> Signs:
    """Return the differences' quadratic character over the integers modulo a prime."""
    squares = {x * x % prime for x in range(1, prime)}
    chi = np.array([0] + [1 if x in squares else -1 for x in range(1, prime)], dtype=np.intp)
    table: Signs = chi[(np.arange(prime)[:, None] - np.arange(prime)) % prime]
    return table


def _field_of_27() -> Signs:
    """Return the same over the field of 27: polynomials modulo x^3 = x + 2 over 0, 1, 2."""
    elements = list(product(range(3), repeat=3))  # a + b x + c x^2

    def times(one: tuple[int, ...], other: tuple[int, ...]) -> tuple[int, ...]:
        out = [0] * 5
        for i, a in enumerate(one):
            for j, b in enumerate(other):
                out[i + j] += a * b
        for power in (4, 3):  # x^3 = x + 2
            out[power - 2] += out[power]
            out[power - 3] += 2 * out[power]
        return tuple(x % 3 for x in out[:3])

    squares = {times(x, x) for x in elements} - {(0, 0, 0)}

    def character(x: tuple[int, ...]) -> int:
        return 0 if x == (0, 0, 0) else (1 if x in squares else -1)

    return np.array(
        [
            [character(tuple((a - b) % 3 for a, b in zip(x, y, strict=True))) for y in elements]
            for x in elements
        ],
        dtype=np.intp,
    )


def _from_conference(table: Signs) -> Signs:
    """Return Paley's second matrix, twice as large as the table with a border."""
    size = len(table) + 1
    border = np.ones((size, size), dtype=np.intp)
    border[0, 0] = 0
    border[1:, 1:] = table
    one = np.array([[1, 1], [1, -1]], dtype=np.intp)
    two = np.array([[1, -1], [-1, -1]], dtype=np.intp)
    return np.kron(border, one) + np.kron(np.eye(size, dtype=np.intp), two)
