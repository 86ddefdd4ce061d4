"""Looking at every layout, where there are few: what is found so is proved best."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations_with_replacement, product
from math import comb, prod

import numpy as np

from trials.design.factorials import Codes
from trials.design.search.descent import GAIN, in_order, is_better
from trials.design.search.layouts import Ready, State, scores_of
from trials.design.search.values import Bools

LAYOUTS_MOST = 30_000
WORK_MOST = 60_000_000  # multiplications
AT_ONCE = 4_000_000  # numbers in one array


def is_small(ready: Ready) -> bool:
    """Return whether every layout can be looked at, up to positions that are alike."""
    count = _count(ready)
    n, q = ready.problem.n, ready.coding.X.shape[1]
    return count <= LAYOUTS_MOST and count * q * q * (n + q) <= WORK_MOST


def best_of_all(ready: Ready, limit: Codes) -> State | None:
    """Return the best of all layouts that keep each rule's excess within ``limit`` (rules,).

    None: no layout does, or none is estimable.
    """
    n, q = ready.problem.n, ready.coding.X.shape[1]
    size = max(1, AT_ONCE // (n * q))
    best: tuple[float, Codes] | None = None
    for part in _in_parts(_layouts(ready), size):
        layouts = part[_kept(ready, part, limit)]
        if not len(layouts):
            continue
        X = ready.coding.X[layouts]
        scores = scores_of(ready, X.swapaxes(1, 2) @ (ready.W @ X))
        if not np.isfinite(scores).any():
            continue
        rounding = GAIN * (1.0 if ready.volume else float(scores.min()))
        pick = int(in_order(scores, rounding)[0])
        if best is None or is_better(float(scores[pick]), best[0], volume=ready.volume):
            best = (float(scores[pick]), layouts[pick])
    return None if best is None else State(ready, best[1])


def _cells(ready: Ready) -> list[Codes]:
    """Return the free positions, those in the same members of all groups together."""
    problem = ready.problem
    free = [p for p in range(problem.n) if p not in problem.fixed]
    alike: dict[tuple[int, ...], list[int]] = {}
    for position in free:
        key = tuple(int(group.codes[position]) for group in problem.groups)
        key = (*key, int(ready.kind[position]))
        if problem.information is not None:
            key = (*key, position)
        alike.setdefault(key, []).append(position)
    return [np.array(positions, dtype=np.intp) for positions in alike.values()]


def _count(ready: Ready) -> int:
    """Return at least how many layouts ``_layouts`` goes through."""
    total = 1
    recipes = ready.recipes[ready.open]
    for stage in ready.stages:
        options = len(np.unique(recipes[:, stage.factors], axis=0))
        if stage.group is not None:
            total *= options ** len(stage.free)
        else:
            total *= prod(comb(len(c) + options - 1, options - 1) for c in _cells(ready))
        if total > LAYOUTS_MOST:
            break
    return total


def _layouts(ready: Ready) -> Iterator[Codes]:
    """Yield the recipes (n,) of every layout, one for each set that differ only in like places."""
    recipes = ready.recipes[ready.open]
    upper = [stage for stage in ready.stages if stage.group is not None]
    kept = np.zeros((ready.problem.n, recipes.shape[1]), dtype=np.intp)
    for position, recipe in ready.problem.fixed.items():
        kept[position] = recipe
    for place, factor in enumerate(ready.problem.factors):
        unit = ready.problem.unit(factor.group)
        for position, recipe in ready.problem.fixed.items():
            kept[unit == unit[position], place] = recipe[place]
    partial = [np.unique(recipes[:, stage.factors], axis=0) for stage in upper]
    options = [range(len(p)) for p, s in zip(partial, upper, strict=True) for _ in s.free]
    for picks in product(*options):
        codes = kept.copy()
        at = iter(picks)
        for stage, choices in zip(upper, partial, strict=True):
            for unit in stage.free:
                codes[np.ix_(stage.rows[unit], stage.factors)] = choices[next(at)]
        yield from _fillings(ready, codes)


def _fillings(ready: Ready, codes: Codes) -> Iterator[Codes]:
    """Yield every way of giving items their own factors, the larger units' being given."""
    items = [p for stage in ready.stages if stage.group is None for p in stage.factors]
    given = [p for p in range(codes.shape[1]) if p not in items]
    recipe = np.searchsorted(ready.keys, codes @ ready.radix)
    cells = _cells(ready)
    choices = []
    for cell in cells:
        same = (ready.recipes[:, given] == codes[cell[0]][given]).all(axis=1)
        same &= ready.may[ready.kind[cell[0]]]
        choices.append(combinations_with_replacement(np.flatnonzero(same).tolist(), len(cell)))
    for filling in product(*choices):
        out = recipe.copy()
        for cell, chosen in zip(cells, filling, strict=True):
            out[cell] = chosen
        yield out


def _in_parts(layouts: Iterator[Codes], size: int) -> Iterator[Codes]:
    part: list[Codes] = []
    for layout in layouts:
        part.append(layout)
        if len(part) == size:
            yield np.array(part)
            part = []
    if part:
        yield np.array(part)


def _kept(ready: Ready, layouts: Codes, limit: Codes) -> Bools:
    """Return which layouts keep the rules and have every required recipe, shape (c,)."""
    rows = np.broadcast_to(np.arange(ready.problem.n), layouts.shape)
    after = ready.recipes[layouts]
    start = after[0]
    ok = (ready.rules.excess_after(start, rows, after) <= limit).all(axis=1)
    out: Bools = ok & (ready.rules.missing_after(start, rows, after) == 0)
    return out
