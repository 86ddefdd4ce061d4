"""Full factorial lists from pyDOE3, checked on the way in.

This is the only module that imports pyDOE3. The library is no longer kept up and some of its
tables are wrong, so nothing it answers is taken on trust: every answer must be balanced, complete
and of full rank.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import prod

import numpy as np
import numpy.typing as npt

from trials.errors import PlanError

Codes = npt.NDArray[np.intp]


def full_factorial(levels: Sequence[int]) -> Codes:
    """Return every combination of levels once, the first factor changing slowest.

    Parameters
    ----------
    levels : number of levels of each factor, each at least 2.

    Returns
    -------
    Level codes from 0, shape (recipes, factors); no factors give one recipe of none.

    Raises
    ------
    PlanError : an answer that isn't a factorial.

    Examples
    --------
    >>> full_factorial([2, 3]).tolist()
    [[0, 0], [0, 1], [0, 2], [1, 0], [1, 1], [1, 2]]
    """
    if not levels:
        return np.zeros((1, 0), dtype=np.intp)
    from pyDOE3 import fullfact  # type: ignore[import-untyped]  # it ships no types

    # pyDOE3 lets the first factor change fastest; reversed twice, it changes slowest
    table = np.asarray(fullfact(list(reversed(levels))))[:, ::-1]
    codes: Codes = np.rint(table).astype(np.intp)
    check_factorial(codes, levels)
    return codes


def check_factorial(codes: Codes, levels: Sequence[int]) -> None:
    """Refuse a table that is not the full factorial: complete, balanced and of full rank.

    Raises
    ------
    PlanError : naming the property that fails.
    """
    faults = []
    if codes.shape != (prod(levels), len(levels)):
        faults.append(f"shape {codes.shape}")
    elif codes.min() < 0 or (codes.max(axis=0) >= np.array(levels)).any():
        faults.append("a level that was not asked for")
    else:
        if len(np.unique(codes, axis=0)) != len(codes):
            faults.append("a recipe that comes twice")
        for column, count in enumerate(levels):
            if len(set(np.bincount(codes[:, column], minlength=count).tolist())) > 1:
                faults.append(f"unequal numbers in column {column + 1}")
        if np.linalg.matrix_rank(_main_effects(codes, levels)) < 1 + sum(levels) - len(levels):
            faults.append("effects that can't be told apart")
    if faults:
        raise PlanError(
            "The list of recipes that a library made is not a full factorial.",
            code="plan.bad_factorial",
            where="the library pyDOE3",
            found="; ".join(faults),
            allowed="every combination of levels exactly once",
            do="Install the version of pyDOE3 that this program was tested with.",
        )


def _main_effects(codes: Codes, levels: Sequence[int]) -> npt.NDArray[np.float64]:
    columns = [np.ones((len(codes), 1))]
    for column, count in enumerate(levels):
        columns.append((codes[:, [column]] == np.arange(count - 1)).astype(float))
    return np.hstack(columns)
