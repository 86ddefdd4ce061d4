"""Balance: how evenly versions are spread, and what is one apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from trials.design.factorials import Codes
from trials.design.values import Balance


def fair_counts(total: int, classes: int) -> tuple[int, int]:
    """Return the smallest and largest fair share: at most one apart.

    Examples
    --------
    >>> fair_counts(8, 3), fair_counts(6, 3)
    ((2, 3), (2, 2))
    """
    return total // classes, -(-total // classes)


def fair_range(
    totals: npt.ArrayLike, classes: int, shares: Sequence[float] = ()
) -> tuple[Codes, Codes]:
    """Return the smallest and largest fair count of each class, for several totals at once.

    Parameters
    ----------
    totals : how many there are to share, shape (m,).
    shares : intended share of each class; empty: equal; (m * classes,): a row for each total.

    Returns
    -------
    Two arrays of shape (m, classes).

    Examples
    --------
    >>> low, high = fair_range([8, 6], 2, (0.75, 0.25))
    >>> low.tolist(), high.tolist()
    ([[6, 2], [4, 1]], [[6, 2], [5, 2]])
    """
    rows = np.reshape(shares or [1 / classes] * classes, (-1, classes))
    meant = np.asarray(totals, dtype=float)[:, None] * rows
    near = 1e-9  # a share such as 1/3 is not quite a third
    return np.floor(meant + near).astype(np.intp), np.ceil(meant - near).astype(np.intp)


def joint(columns: Sequence[tuple[Codes, int]], n: int) -> tuple[Codes, int]:
    """Return one code for the combination of several columns, and how many there could be.

    Parameters
    ----------
    columns : codes of shape (n,), each with its number of levels.

    Examples
    --------
    >>> joint([(np.array([0, 1]), 2), (np.array([2, 0]), 3)], 2)
    (array([2, 3]), 6)
    """
    codes = np.zeros(n, dtype=np.intp)
    levels = 1
    for column, count in columns:
        codes = codes * count + column
        levels *= count
    return codes, levels


def excess_of(versions: Codes, levels: int, within: Codes, shares: Sequence[float] = ()) -> int:
    """Return how many items are beyond, or short of, a fair share, summed over all of ``within``.

    0 means: within each member every version occurs as often as meant, at most one apart.

    Examples
    --------
    >>> excess_of(np.array([0, 0, 0, 1]), 2, np.zeros(4, dtype=int))
    2
    """
    members = int(within.max()) + 1 if len(within) else 0
    table = np.bincount(within * levels + versions, minlength=members * levels)
    counts = table.reshape(members, levels)
    low, high = fair_range(counts.sum(axis=1), levels, shares)
    return int((np.maximum(counts - high, 0) + np.maximum(low - counts, 0)).sum())


class Ledger:
    """The columns that balance is judged on: groups and factors of n positions.

    Parameters
    ----------
    columns : codes of shape (n,) for each group and factor.
    levels : number of members or levels of each.
    """

    def __init__(self, columns: Mapping[str, Codes], levels: Mapping[str, int], n: int) -> None:
        self.columns = dict(columns)
        self.levels = dict(levels)
        self.n = n

    def excess(self, rule: Balance) -> int:
        """Return how far the columns are from a rule; 0 where it holds everywhere."""
        if rule.each:
            return sum(self.by_member(rule).values())
        rows = self._rows(rule.counted)
        versions, levels = self._joint(rule.factors, rows)
        return excess_of(versions, levels, self._joint(rule.within, rows)[0], rule.shares)

    def by_member(self, rule: Balance) -> dict[tuple[int, ...], int]:
        """Return the excess in each combination of ``rule.within``."""
        rows = self._rows(rule.counted)
        versions, levels = self._joint(rule.factors, rows)
        scope, _ = self._joint(rule.within, rows)
        out: dict[tuple[int, ...], int] = {}
        for value in np.unique(scope):
            inside = scope == value
            first = rows[np.flatnonzero(inside)[0]]
            key = tuple(int(self.columns[w][first]) for w in rule.within)
            first_share = int(value) * levels if rule.each else 0
            out[key] = excess_of(
                versions[inside],
                levels,
                np.zeros(int(inside.sum()), dtype=np.intp),
                rule.shares[first_share : first_share + levels],
            )
        return out

    def _joint(self, names: Sequence[str], rows: Codes) -> tuple[Codes, int]:
        """Return one code for what some rows have of some columns, and how many there could be."""
        return joint([(self.columns[name][rows], self.levels[name]) for name in names], len(rows))

    def _rows(self, counted: str | None) -> Codes:
        """Return one position for each thing that is counted."""
        if counted is None:
            return np.arange(self.n, dtype=np.intp)
        _, first = np.unique(self.columns[counted], return_index=True)
        return first.astype(np.intp)
