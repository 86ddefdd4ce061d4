"""Codes that say nothing, the order of making and the order of measuring.

All three are drawn from streams of their own, and none looks at a version.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

import numpy as np

from trials.design.factorials import Codes
from trials.design.units import Units
from trials.design.values import PlanGroup
from trials.errors import PlanError

if TYPE_CHECKING:
    from trials.study import Study

# no vowels, so that no word comes about, and nothing that looks like something else
LETTERS = "CDFHJKMNPRTWXY"
SIGNS = LETTERS + "34679"  # 19, a prime: the last sign catches one wrong or two traded signs


def item_codes(
    count: int, rng: np.random.Generator, taken: Collection[str] = ()
) -> tuple[str, ...]:
    """Return so many short codes in random order, any two of which differ in two signs or more.

    Codes that stand in ``taken`` are left out.

    The first sign is a letter, so that no spreadsheet takes a code for a number. The last is a
    check: with places 0 to 18, a + 2 b (+ 3 c) leaves the same rest by 19, so one wrong sign, or
    two neighbours of the rest traded, never give another item's code.

    Raises
    ------
    PlanError : more items than codes of four signs.

    Examples
    --------
    >>> import numpy as np
    >>> codes = item_codes(48, np.random.default_rng(1))
    >>> len(set(codes)), {len(code) for code in codes}
    (48, {3})
    """
    check_count(count)
    return next(
        tuple(free[place] for place in rng.permutation(len(free))[:count])
        for free in ([c for c in _codes(length) if c not in taken] for length in (3, 4, 5))
        if count <= len(free)
    )


def check_count(count: int) -> None:
    """Refuse more items than there are codes of four signs.

    Raises
    ------
    PlanError : naming how many there are.
    """
    most = len(LETTERS) * len(SIGNS) ** 2
    if count > most:
        raise PlanError(
            "There are more items than short codes.",
            code="plan.too_many_items",
            where="[limits] in study.toml",
            found=f"{count} items",
            allowed=f"at most {most}",
            do="Make fewer items, or plan them as several studies.",
        )


def _codes(length: int) -> list[str]:
    bodies = list(LETTERS)
    for _ in range(length - 2):
        bodies = [body + sign for body in bodies for sign in SIGNS]
    return [body + _check(body) for body in bodies]


def _check(body: str) -> str:
    return SIGNS[sum((place + 1) * SIGNS.index(s) for place, s in enumerate(body)) % len(SIGNS)]


def making_order(study: Study, units: Units, rng: np.random.Generator) -> Codes:
    """Return the positions in the order of making.

    Sessions follow each other, so do firings and whatever else happens at one time; inside the
    smallest of these the order is by chance. Teams work side by side and so have no order.
    """
    roots = sorted(
        (g for g in units.groups if g.within is None and not _of_makers(units, g)),
        key=lambda g: _when(study, g),
        reverse=True,
    )
    keys: list[Codes] = []
    for root in roots:
        line = [g for g in units.groups if g.path.split("/")[0] == root.name]
        keys += [units.codes[g.name] for g in line if g.role is None]
    return _sorted(units.n, keys, rng)


def measuring_order(study: Study, units: Units, rng: np.random.Generator) -> Codes:
    """Return the positions in the order of measuring: session by session, by chance inside."""
    applied = {factor.applied_to for factor in study.factors}
    keys = [
        units.codes[g.name]
        for g in units.groups
        if g.within is None
        and g.role is None
        and g.name not in applied
        and _when(study, g) > len(study.steps)
    ]
    return _sorted(units.n, keys, rng)


def _sorted(n: int, keys: Sequence[Codes], rng: np.random.Generator) -> Codes:
    return np.lexsort([rng.permutation(n), *reversed(keys)]).astype(np.intp)


def _of_makers(units: Units, root: PlanGroup) -> bool:
    return (
        any(g.role == "maker" for g in units.groups if g.path.split("/")[0] == root.name)
        and root.role == "maker"
    )


def _when(study: Study, group: PlanGroup) -> int:
    """Return the place of a group's step among the steps; measuring and no step come last."""
    for place, step in enumerate(study.steps):
        if step.name == group.step:
            return len(study.steps) + 1 if step.stage == "measure" else place
    return len(study.steps) + 1 if group.step is None else len(study.steps)
