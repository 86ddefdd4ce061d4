"""Every table of a textbook family is checked before it leaves: by the property that defines it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from trials.design.factorials import Codes
from trials.errors import PlanError

Terms = tuple[str, ...]


def refuse(family: str, found: str, allowed: str) -> PlanError:
    """Return the error for a table that lacks what its family promises."""
    return PlanError(
        "A table of recipes that this program made is not what it should be.",
        code="plan.bad_family",
        where=family,
        found=found,
        allowed=allowed,
        do="Take another kind of plan, and tell whoever looks after the program.",
    )


def check_balanced(codes: Codes, levels: Sequence[int], family: str, strength: int = 2) -> None:
    """Refuse a table unless every combination of ``strength`` columns comes equally often.

    Raises
    ------
    PlanError : naming the columns.

    Examples
    --------
    >>> check_balanced(np.array([[0, 0], [0, 1], [1, 0], [1, 1]]), (2, 2), "square")
    """
    for size in range(1, min(strength, len(levels)) + 1):
        for columns in combinations(range(len(levels)), size):
            joint = np.zeros(len(codes), dtype=np.intp)
            cells = 1
            for column in columns:
                joint = joint * levels[column] + codes[:, column]
                cells *= levels[column]
            if len(set(np.bincount(joint, minlength=cells).tolist())) > 1:
                places = ", ".join(str(column + 1) for column in columns)
                raise refuse(family, f"unequal numbers in columns {places}", "equal numbers")


def check_distinct(factors: Sequence[str]) -> None:
    """Refuse names that come twice; they are what every answer is told in."""
    if len(set(factors)) < len(factors):
        raise ValueError(f"names that come twice: {', '.join(factors)}")


def term_of(names: Sequence[str], order: Sequence[str]) -> str:
    """Return the name of a term, its factors in the order of the study.

    Examples
    --------
    >>> term_of(("c", "a"), ("a", "b", "c"))
    'a:c'
    """
    return ":".join(name for name in order if name in names)


def pair_terms(factors: Sequence[str]) -> Terms:
    """Return the names of all terms of two factors.

    Examples
    --------
    >>> pair_terms(("a", "b", "c"))
    ('a:b', 'a:c', 'b:c')
    """
    return tuple(f"{one}:{other}" for one, other in combinations(factors, 2))
