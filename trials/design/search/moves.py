"""Changes of a layout: a unit gets another recipe, or two units change places.

Every function returns rows (c, m) and recipes (c, m) of changes to layouts in which only allowed
recipes occur and kept items are untouched.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from trials.design.factorials import Codes
from trials.design.search.layouts import Ready, Recipes, Stage
from trials.design.search.values import Bools

Changes = tuple[Codes, Codes]

MOST_AT_ONCE = 600  # changes looked at together
MOST_NUMBERS = 1_500_000  # and the size of the arrays that this needs
MOST_CHOICES = 300  # above this a unit's factors are changed one by one


def subsets(stage: Stage) -> tuple[tuple[int, ...], ...]:
    """Return the sets of factors that two units trade: all, each alone."""
    single = tuple((place,) for place in stage.factors)
    return single if len(single) == 1 else (stage.factors, *single)


def chunks(ready: Ready, stage: Stage, order: Codes) -> Iterator[Codes]:
    """Yield the units of a stage in parts that are looked at together."""
    width = stage.rows.shape[1]
    each = max(len(stage.free) * len(subsets(stage)) // 2, 1)
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
    yield _joined([trade(state, stage, pairs, subset) for subset in subsets(stage)])
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
    rows = stage.rows[units[at]]
    after = ready.keys[state.recipe[rows]] + (have[choice] - own[at])[:, None]
    return _finished(state, rows, after, _filling(stage, units[at]), stage)


def trade(state: Recipes, stage: Stage, pairs: Codes, factors: tuple[int, ...]) -> Changes:
    """Return the changes in which two units trade the levels of some of the stage's factors."""
    ready = state.ready
    own = ready.recipes[state.recipe[stage.rows[:, 0]]][:, factors] @ ready.radix[list(factors)]
    pairs = pairs[own[pairs[:, 0]] != own[pairs[:, 1]]]
    one, other = pairs[:, 0], pairs[:, 1]
    rows, filling = _both(stage, one, other)
    after = ready.keys[state.recipe[rows]]
    width = stage.rows.shape[1]
    after[:, :width] += (own[other] - own[one])[:, None]
    after[:, width:] += (own[one] - own[other])[:, None]
    return _finished(state, rows, after, filling, None)


def whole_trade(state: Recipes, stage: Stage, pairs: Codes) -> Changes:
    """Return the changes in which two units of one size trade all that is in them."""
    ready = state.ready
    one, other = pairs[:, 0], pairs[:, 1]
    same = stage.lengths[one] == stage.lengths[other]
    one, other = one[same], other[same]
    rows, filling = _both(stage, one, other)
    inner = list(stage.inner)
    own = (ready.recipes[:, inner] @ ready.radix[inner])[state.recipe]
    after = ready.keys[state.recipe[rows]]
    width = stage.rows.shape[1]
    more = own[stage.rows[other]] - own[stage.rows[one]]
    after[:, :width] += more
    after[:, width:] -= more
    return _finished(state, rows, after, filling, None)


def _both(stage: Stage, one: Codes, other: Codes) -> tuple[Codes, Bools]:
    """Return the rows of pairs of units, and which of them only fill up."""
    rows = np.concatenate([stage.rows[one], stage.rows[other]], axis=1)
    return rows, np.concatenate([_filling(stage, one), _filling(stage, other)], axis=1)


def _filling(stage: Stage, units: Codes) -> Bools:
    """Return which entries of the units' rows only fill up, shape (c, longest)."""
    filling: Bools = np.arange(stage.rows.shape[1])[None, :] >= stage.lengths[units][:, None]
    return filling


def _finished(
    state: Recipes, rows: Codes, after: Codes, filling: Bools, stage: Stage | None
) -> Changes:
    """Return the changes as recipes, without those that would be forbidden; ``after``: keys."""
    ready = state.ready
    now = state.recipe[rows]
    recipes = ready.with_key(after)
    if stage is not None and stage.group is not None:
        _mend(ready, recipes, after)
    recipes = np.where(filling | (after == ready.keys[now]), now, recipes)
    ok = (recipes >= 0).all(axis=1) & (recipes != now).any(axis=1)
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


def _joined(parts: list[Changes]) -> Changes:
    rows = np.concatenate([rows for rows, _ in parts])
    recipes = np.concatenate([recipes for _, recipes in parts])
    return rows, recipes
