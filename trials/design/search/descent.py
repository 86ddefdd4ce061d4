"""Going downhill: changes that make the criterion better and break no rule, until none is left."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from trials.design.factorials import Codes
from trials.design.search.layouts import Ready, Recipes, Stage, State
from trials.design.search.moves import Changes, all_changes, chunks
from trials.design.search.values import Floats

GAIN = 1e-9  # smallest relative gain that counts
RIDGES = (1e-3, 1e-5, 1e-7)  # relative to the mean eigenvalue that items could give
TOGETHER = 8  # changes of one batch that are tried one after another
PROPOSALS = 40  # changes drawn at once when a layout is shaken


@dataclass(frozen=True)
class Clock:
    """When to end early; None: never."""

    end: float | None = None

    @classmethod
    def of(cls, seconds: float | None) -> Clock:
        """Return a clock that runs out after some seconds."""
        return cls(None if seconds is None else time.monotonic() + seconds)

    @property
    def up(self) -> bool:
        """Whether the time is used up."""
        return self.end is not None and time.monotonic() >= self.end


def best_near(ready: Ready, recipe: Codes, rng: np.random.Generator, clock: Clock) -> State:
    """Return the layout that descent from a layout ends in.

    Where the start leaves something open, a small ridge leads the way until nothing is.
    """
    limit = np.maximum(ready.rules.excess(ready.recipes[recipe]), ready.rules.granted)
    state = State(ready, recipe)
    size = float(np.trace(ready.W)) * float((ready.coding.X**2).mean())
    for ridge in RIDGES:
        if state.regular:
            break
        climbing = State(ready, state.recipe, ridge * size)
        if not climbing.regular:
            continue
        descend(climbing, limit, rng, clock, until=_is_regular)
        state = State(ready, climbing.recipe)
    if state.regular:
        descend(state, limit, rng, clock)
    return state


def _is_regular(state: State) -> bool:
    return State(state.ready, state.recipe).regular


def descend(
    state: State,
    limit: Codes,
    rng: np.random.Generator,
    clock: Clock,
    until: Callable[[State], bool] | None = None,
) -> None:
    """Make the best change of each part of the layout in turn, until no part has any.

    ``limit``: most excess of each rule; it falls with what is reached. ``until``: tells when to end
    early.
    """
    ready = state.ready
    moved = True
    while moved:
        moved = False
        for stage in ready.stages:
            for units in chunks(ready, stage, rng.permutation(stage.free)):
                for changes in all_changes(state, stage, units):
                    moved |= improve(state, changes, limit)
                if clock.up or (until is not None and moved and until(state)):
                    return


def improve(state: State, changes: Changes, limit: Codes) -> bool:
    """Take the best of some changes, then the next best that it leaves as good; False if none is.

    ``limit`` (rules,) falls to the excess that is reached.
    """
    rows, recipes = changes
    if not len(rows):
        return False
    least = GAIN * (1.0 if state.ready.volume else state.score)
    ready = state.ready
    fine = np.flatnonzero(state.at_most(rows, recipes) < -least)
    rows, recipes = rows[fine], recipes[fine]
    if not len(rows):
        return False
    kept = ready.rules.kept(state.codes, rows, ready.recipes[recipes], limit)
    rows, recipes = rows[kept], recipes[kept]
    if not len(rows):
        return False
    scores = state.scores(rows, recipes)
    moved = False
    touched = np.zeros(len(state.recipe), dtype=bool)
    for pick in in_order(scores, least)[:TOGETHER]:
        if not scores[pick] < state.score - least:
            break
        if touched[rows[pick]].any():  # it was told before these changed
            continue
        if moved and not _still_good(state, rows[[pick]], recipes[[pick]], limit, least):
            continue
        touched[rows[pick]] = True
        if not _taken(state, rows[pick], recipes[pick], least):
            break
        moved = True
        limit[:] = np.minimum(
            limit, np.maximum(ready.rules.excess(state.codes), ready.rules.granted)
        )
    return moved


def in_order(scores: Floats, least: float) -> Codes:
    """Return the places of scores from small to large; what is equal but for rounding stays put.

    Last digits depend on the machine, and the same seed gives the same plan on all of them.

    Examples
    --------
    >>> in_order(np.array([2.0, 1.0 + 1e-15, 1.0, 0.5]), 1e-9).tolist()
    [3, 1, 2, 0]
    """
    order = np.argsort(scores, kind="stable")
    ranked = scores[order]
    with np.errstate(invalid="ignore"):  # infinite ones differ by nothing
        apart = np.diff(ranked) > least
    step = np.concatenate([[0], np.cumsum(apart)])
    out: Codes = order[np.lexsort((order, step))]
    return out


def is_better(score: float, other: float, *, volume: bool) -> bool:
    """Return whether a score is better than another by more than rounding."""
    if not np.isfinite(other):
        return bool(np.isfinite(score))
    return score < other - GAIN * (1.0 if volume else abs(other))


def _still_good(state: State, rows: Codes, recipes: Codes, limit: Codes, least: float) -> bool:
    after = state.ready.recipes[recipes]
    if not state.ready.rules.kept(state.codes, rows, after, limit)[0]:
        return False
    return bool(state.scores(rows, recipes)[0] < state.score - least)


def _taken(state: State, rows: Codes, recipes: Codes, least: float) -> bool:
    """Make a change, or take it back where rounding had promised too much."""
    before, score = state.recipe[rows].copy(), state.score
    unique = {int(r): int(b) for r, b in zip(rows, before, strict=True)}
    state.take(rows, recipes)
    if state.score < score - least / 2:
        return True
    state.take(np.array(list(unique)), np.array(list(unique.values())))
    return False


def shaken(ready: Ready, recipe: Codes, steps: int, rng: np.random.Generator) -> Codes:
    """Return a layout some changes away that keeps every rule as well."""
    limit = np.maximum(ready.rules.excess(ready.recipes[recipe]), ready.rules.granted)
    state = Recipes(ready, recipe)
    shares = np.array([len(stage.free) for stage in ready.stages], dtype=np.float64)
    if not shares.sum():
        return state.recipe
    for _ in range(steps):
        stage = ready.stages[int(rng.choice(len(shares), p=shares / shares.sum()))]
        _shake(state, stage, limit, rng)
    return state.recipe


def _shake(state: Recipes, stage: Stage, limit: Codes, rng: np.random.Generator) -> None:
    unit = rng.choice(stage.free, size=1)
    kinds = [part for part in all_changes(state, stage, unit, both=True) if len(part[0])]
    if not kinds:
        return
    rows, recipes = kinds[int(rng.integers(len(kinds)))]
    some = rng.permutation(len(rows))[:PROPOSALS]
    rows, recipes = rows[some], recipes[some]
    kept = np.flatnonzero(
        state.ready.rules.kept(state.codes, rows, state.ready.recipes[recipes], limit)
    )
    if len(kept):
        state.take(rows[kept[0]], recipes[kept[0]])
