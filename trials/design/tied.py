"""Factors that nothing can tell from the others, because of the recipes that may be made."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from trials.design.factorials import Codes
from trials.errors import PlanError
from trials.study import allowed_recipes
from trials.study.bans import recipe_bans

if TYPE_CHECKING:
    from trials.study import Study


def tied_factor(levels: Sequence[int], recipes: Codes) -> int | None:
    """Return the first factor of which no two versions can be compared; None: all have some.

    Parameters
    ----------
    levels : how many versions each factor has.
    recipes : that may be made, as level codes, shape (R, factors).

    Examples
    --------
    >>> tied_factor([2, 2], np.array([[0, 0], [1, 1]])), tied_factor([2, 2], np.eye(2, dtype=int))
    (0, 0)
    >>> tied_factor([2, 2], np.array([[0, 0], [0, 1], [1, 1]])) is None
    True
    """
    own = [np.eye(count)[recipes[:, place]][:, 1:] for place, count in enumerate(levels)]
    base = np.ones((len(recipes), 1))
    every = np.linalg.matrix_rank(np.hstack([base, *own]))
    for place in range(len(levels)):
        others = np.hstack([base, *own[:place], *own[place + 1 :]])
        if np.linalg.matrix_rank(others) == every:
            return place
    return None


def check_apart(study: Study) -> None:
    """Refuse bans that leave nothing to compare for a factor but what others change with it.

    Raises
    ------
    PlanError : naming the factor.
    """
    bans = recipe_bans(study)
    if not bans:
        return
    levels = [len(factor.levels) for factor in study.factors]
    tied = tied_factor(levels, np.array(list(allowed_recipes(study)), dtype=np.intp))
    if tied is None:
        return
    name = study.factors[tied].name
    raise PlanError(
        f"What is forbidden lets '{name}' change only together with another factor, so nobody "
        f"could tell what '{name}' does.",
        code="plan.tied_by_bans",
        where="limits.forbidden in study.toml",
        found="; ".join(
            " with ".join(f"{factor} {level}" for factor, level in ban.items()) for ban in bans[:6]
        ),
        allowed=f"bans that leave two versions of '{name}' with all other versions the same",
        do=f"Forbid fewer combinations, or leave '{name}' out.",
    )
