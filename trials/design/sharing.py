"""How versions are meant to be shared out where some may not have all of them."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import numpy.typing as npt

from trials.design.factorials import Codes

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

ROUNDS = 2_000
NEAR = 1e-12
NICE = 10_000  # largest denominator of a share: the last digits of a computed one differ


def member_shares(may: Bools, members: Codes, counts: Codes) -> Floats:
    """Return the share of each level in each member, as near to equal as what is barred allows.

    Of all ways of sharing so many of each level out, the one that treats alike whoever may have the
    same: each unit has a level in proportion to a number of its own and one of the level's, found
    by bringing rows and columns to their sums in turn (W. E. Deming and F. F. Stephan, 1940, Ann.
    Math. Statist. 11, 427-444).

    Parameters
    ----------
    may : which levels each unit may have, shape (units, levels).
    members : the member that each unit belongs to, shape (units,).
    counts : how often each level is given in all, shape (levels,).

    Returns
    -------
    Shares of shape (members, levels); each row adds up to 1.

    Examples
    --------
    >>> may = np.array([[True, False], [True, False], [True, True], [True, True]])
    >>> member_shares(may, np.array([0, 0, 1, 1]), np.array([3, 1])).tolist()
    [[1.0, 0.0], [0.5, 0.5]]
    """
    kinds, kind, sizes = np.unique(may, axis=0, return_inverse=True, return_counts=True)
    table = kinds.astype(np.float64) * sizes[:, None]
    for _ in range(ROUNDS):
        before = table
        table = table * _factor(sizes, table.sum(axis=1))[:, None]
        table = table * _factor(counts, table.sum(axis=0))[None, :]
        if np.abs(table - before).max() <= NEAR * len(may):
            break
    own = table / np.maximum(table.sum(axis=1, keepdims=True), NEAR)  # of each kind of unit
    here = np.zeros((int(members.max()) + 1, len(kinds)))
    np.add.at(here, (members, kind.reshape(-1)), 1.0)
    shares = (here @ own) / here.sum(axis=1, keepdims=True)
    nice = [[float(Fraction(x).limit_denominator(NICE)) for x in row] for row in shares.tolist()]
    return np.array(nice)


def _factor(wanted: Codes, found: Floats) -> Floats:
    factor: Floats = np.divide(wanted, found, out=np.ones_like(found), where=found > 0)
    return factor
