"""Changes of a layout: a unit gets another recipe, or two units change places.

Every function returns rows (c, m) and recipes (c, m) of changes to layouts in which only allowed
recipes occur and kept items are untouched.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from trials.design.factorials import Codes
from trials.design.search.layouts import Ready, Recipes, Stage

Changes = tuple[Codes, Codes]

MOST_AT_ONCE = 600  # changes looked at together
MOST_NUMBERS = 1_500_000  # and the size of the arrays that this needs
MOST_CHOICES = 300  # above this a unit's factors are changed one by one


def _ways(stage: Stage) -> int:
    """Return in how many ways two units trade: all factors of the stage, each alone."""
    return 1 if len(stage.factors) == 1 else len(stage.factors) + 1


def chunks(ready: Ready, stage: Stage, order: Codes) -> Iterator[Codes]:
    """Yield the units of a stage in parts that are looked at together."""
    width = stage.rows.shape[1]
    each = max(len(stage.free) * _ways(stage) // 2, 1)
    numbers = each * 2 * width * ready.coding.X.shape[1] * 2
    size = max(1, min(MOST_AT_ONCE // each, MOST_NUMBERS // max(numbers, 1)))
    for start in range(0, len(order), size):
        yield order[start : start + size]


def all_changes(
    state: Recipes, stage: Stage, units: Codes, *, both: bool = False
) -> Iterator[Changes]:
    """Yield all changes of some units of a stage, of each kind.

    ``both``: pairs with units of lower number as well, which otherwise come with those.
    """
    yield settings(state, stage, units)
    here, there = units[:, None], stage.free[None, :]
    first, second = np.nonzero(here != there if both else here < there)
    pairs = np.stack([units[first], stage.free[second]], axis=1)
    yield trades(state, stage, pairs)
    if stage.rows.shape[1] > 1 and len(stage.inner) > len(stage.factors):
        yield whole_trade(state, stage, pairs)


def settings(state: Recipes, stage: Stage, units: Codes) -> Changes:
    """Return for each unit every other combination of the stage's factors.

    Where that makes a forbidden recipe, what is inside the unit is set to the nearest allowed one.
    """
    ready = state.ready
    radix = ready.radix[list(stage.factors)]
    first = ready.recipes[state.recipe[stage.rows[units, 0]]][:, stage.factors]
    have, own = stage.partial @ radix, first @ radix
    if len(stage.partial) > MOST_CHOICES:
        wanted = (stage.partial[None, :, :] != first[:, None, :]).sum(axis=2) == 1
    else:
        wanted = have[None, :] != own[:, None]
    at, choice = np.nonzero(wanted)
    units = units[at]
    by = np.broadcast_to((have[choice] - own[at])[:, None], (len(units), stage.rows.shape[1]))
    if not stage.one_size:
        by = np.where(stage.filling[units], 0, by)
    return _finished(state, stage.rows[units], by, stage)


def trades(state: Recipes, stage: Stage, pairs: Codes) -> Changes:
    """Return the changes in which two units trade the levels of the stage's factors: all, one."""
    factors = list(stage.factors)
    own = state.codes[stage.rows[:, 0]][:, factors].T * state.ready.radix[factors][:, None]
    if _ways(stage) > 1:
        own = np.vstack([own.sum(axis=0), own])
    gap = own[:, pairs[:, 1]] - own[:, pairs[:, 0]]
    way, place = np.nonzero(gap)
    one, other = pairs[place].T
    more = gap[way, place][:, None]
    by = np.repeat(np.concatenate([more, -more], axis=1), stage.rows.shape[1], axis=1)
    if not stage.one_size:
        by[np.concatenate([stage.filling[one], stage.filling[other]], axis=1)] = 0
    return _finished(state, _both(stage, one, other), by, None)


def whole_trade(state: Recipes, stage: Stage, pairs: Codes) -> Changes:
    """Return the changes in which two units of one size trade all that is in them."""
    ready = state.ready
    one, other = pairs[:, 0], pairs[:, 1]
    same = stage.lengths[one] == stage.lengths[other]
    one, other = one[same], other[same]
    inner = list(stage.inner)
    own = (ready.recipes[:, inner] @ ready.radix[inner])[state.recipe]
    more = own[stage.rows[other]] - own[stage.rows[one]]
    more[stage.filling[one]] = 0
    return _finished(state, _both(stage, one, other), np.concatenate([more, -more], axis=1), None)


def _both(stage: Stage, one: Codes, other: Codes) -> Codes:
    """Return the rows of pairs of units."""
    return np.concatenate([stage.rows[one], stage.rows[other]], axis=1)


def _finished(state: Recipes, rows: Codes, by: Codes, stage: Stage | None) -> Changes:
    """Return the changes as recipes, without those that would be forbidden.

    ``by`` (c, m): what comes to the keys of the recipes; 0 where a row only fills up.
    """
    ready = state.ready
    now = state.recipe[rows]
    after = ready.keys[now] + by
    recipes = ready.with_key(after)
    if stage is not None and stage.group is not None:
        _mend(ready, recipes, after)
    if not ready.all_open:
        recipes = np.where(by == 0, now, recipes)
    ok = (recipes >= 0).all(axis=1) & (recipes != now).any(axis=1)
    if ready.problem.barred:
        ok &= ready.fit(rows, recipes).all(axis=1)
    return rows[ok], recipes[ok]


def _mend(ready: Ready, recipes: Codes, after: Codes) -> None:
    """Set forbidden recipes to the nearest allowed ones that differ in the items' own factors."""
    bad = np.argwhere(recipes < 0)
    if not len(bad):
        return
    items = [place for s in ready.stages if s.group is None for place in s.factors]
    levels = np.array([factor.levels for factor in ready.problem.factors], dtype=np.intp)
    given = [place for place in range(len(levels)) if place not in items]
    wanted, inverse = np.unique(after[bad[:, 0], bad[:, 1]], return_inverse=True)
    for number, codes in enumerate(wanted[:, None] // ready.radix % levels):
        fits = ready.open & (ready.recipes[:, given] == codes[given]).all(axis=1)
        if not fits.any():
            continue
        away = (ready.recipes != codes).sum(axis=1) + np.where(fits, 0, len(codes) + 1)
        here = bad[inverse.reshape(-1) == number]
        recipes[here[:, 0], here[:, 1]] = int(np.argmin(away))
