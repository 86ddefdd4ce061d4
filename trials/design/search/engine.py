"""The search: many starts, each taken downhill, and how sure it is that nothing is better."""

from __future__ import annotations

import numpy as np

from trials.design.factorials import Codes
from trials.design.search.bounds import lower_bound
from trials.design.search.descent import Clock, best_near, is_better, shaken
from trials.design.search.exhaust import best_of_all, is_small
from trials.design.search.layouts import Ready, State, as_value, make_ready
from trials.design.search.starts import beyond, dealt, first_layout, keeps_as_well, mended
from trials.design.search.values import Criterion, Found, Problem
from trials.errors import PlanError
from trials.progress import Step, silent

STARTS = 20
MEETS = 1e-9  # relative distance at which a value meets its bound
FAR = 3  # changes per free item of a layout that is to be far from the one it came from


def search(
    problem: Problem,
    criterion: Criterion | None = None,
    *,
    starts: int = STARTS,
    rng: np.random.Generator,
    tell: Step | None = None,
    seconds: float | None = None,
) -> Found:
    """Return the best layout found for a problem.

    The same generator and number of starts give the same layout, unless ``seconds`` ends the search
    early. Rules of balance that the first layout meets are met by the result; it is never worse
    than the declared start.

    Parameters
    ----------
    criterion : what to make small; None: the mean variance of the declared comparisons.
    starts : layouts to begin from; with one only, no time is spent on balance that can't be had.
    tell : called with the number of starts done and in all.
    seconds : wall time after which to end with the best so far.

    Raises
    ------
    PlanError : fewer items than the model has coefficients, or no layout is allowed.

    Examples
    --------
    >>> from trials.design.search.values import SearchFactor
    >>> problem = Problem(6, (SearchFactor("a", 3),))
    >>> found = search(problem, rng=np.random.default_rng(1))
    >>> np.bincount(found.codes["a"]).tolist(), found.sentence
    ([2, 2, 2], 'proved best')
    """
    ready = make_ready(problem, criterion or Criterion())
    _check_size(ready)
    tell = tell or silent
    clock = Clock.of(seconds)
    streams = rng.spawn(max(starts, 1))
    first = first_layout(ready, streams[0], nearest=starts > 1)
    bound = lower_bound(ready, balanced=not beyond(ready, first))
    best = best_near(ready, first, streams[0], clock)
    done = 1
    tell(done, starts)
    if not _meets(ready, best, bound) and not clock.up and is_small(ready):
        granted = np.maximum(ready.rules.excess(ready.recipes[first]), ready.rules.granted)
        every = best_of_all(ready, granted)
        if every is not None:
            best = _better(ready, best, every)
        tell(starts, starts)
        return _found(ready, best, bound, done, "exhausted")
    for number, own in enumerate(streams[1:], start=1):
        if clock.up or _meets(ready, best, bound):
            break
        state = best_near(ready, _start(ready, first, best, number, own), own, clock)
        best = _better(ready, best, state)
        done += 1
        tell(done, starts)
    return _found(ready, best, bound, done, "time_up" if clock.up else "starts_done")


def _better(ready: Ready, best: State, other: State) -> State:
    """Return the better of two layouts, the first where they differ by rounding only."""
    return other if is_better(other.score, best.score, volume=ready.volume) else best


def _start(ready: Ready, first: Codes, best: State, number: int, rng: np.random.Generator) -> Codes:
    """Return a layout to begin from: near the best, dealt anew, near the best, far from it.

    Whatever it is, it keeps the rules as well as the first layout does.
    """
    free = sum(len(stage.free) for stage in ready.stages)
    if number % 2 == 0:
        return shaken(ready, best.recipe, 2 + int(rng.integers(max(free // 10, 4))), rng)
    if number % 4 == 1:
        fresh = mended(ready, dealt(ready, rng), rng)
        if keeps_as_well(ready, fresh, first):
            return fresh
    return shaken(ready, best.recipe, FAR * free, rng)


def _meets(ready: Ready, state: State, bound: float) -> bool:
    return np.isfinite(state.score) and as_value(ready, state.score) <= bound * (1 + MEETS)


def _found(ready: Ready, best: State, bound: float, starts: int, ended: str) -> Found:
    value = as_value(ready, best.score)
    meets = _meets(ready, best, bound)
    proved = meets or (ended == "exhausted" and np.isfinite(value))
    reason = "meets_bound" if meets else ended
    if proved:
        bound = min(value, bound) if meets else value
    if not np.isfinite(value):
        reason = "not_estimable"
    return Found(
        codes=best.columns(),
        value=value,
        efficiency=min(1.0, bound / value) if np.isfinite(value) else 0.0,
        bound=bound,
        proved=proved,
        starts=starts,
        reason=reason,
        excess=tuple(int(e) for e in ready.rules.excess(best.codes)),
    )


def _check_size(ready: Ready) -> None:
    need = ready.coding.X.shape[1]
    rank = int(np.linalg.matrix_rank(ready.W, tol=1e-9 * float(np.abs(ready.W).max())))
    if rank < need:
        raise PlanError(
            "There are fewer items than things to estimate.",
            code="search.too_few_items",
            where="[limits] in study.toml",
            found=f"{ready.problem.n} items, {need + ready.problem.n - rank} things to estimate",
            allowed=f"at least {need + ready.problem.n - rank} items",
            do="Make more items, drop a factor, or ask for fewer interactions.",
        )
