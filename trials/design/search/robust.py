"""How a layout does if the assumed spread is wrong."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from trials.design.factorials import Codes
from trials.design.search.engine import search
from trials.design.search.layouts import State, as_value, make_ready
from trials.design.search.starts import declared
from trials.design.search.values import Criterion, Problem, RatioScore, Robustness
from trials.progress import Step, silent

RATIOS = (0.0, 1.0, 4.0)


def layout_value(
    problem: Problem, codes: Mapping[str, Codes], criterion: Criterion | None = None
) -> float:
    """Return the value of the criterion for a layout; infinite where not all can be estimated.

    Parameters
    ----------
    codes : level codes per factor, shape (n,).

    Raises
    ------
    PlanError : the layout is not allowed.
    """
    return next(layout_values(problem, [codes], criterion))


def layout_values(
    problem: Problem,
    layouts: Iterable[Mapping[str, Codes]],
    criterion: Criterion | None = None,
) -> Iterator[float]:
    """Yield the value of the criterion for each of some layouts, as :func:`layout_value`.

    Raises
    ------
    PlanError : a layout is not allowed.
    """
    ready = make_ready(problem, criterion or Criterion())
    for codes in layouts:
        table = np.stack([codes[f.name] for f in problem.factors], axis=1)
        yield as_value(ready, State(ready, declared(ready, table)).score)


def robustness(
    problem: Problem,
    codes: Mapping[str, Codes],
    criterion: Criterion | None = None,
    *,
    ratios: Sequence[float] = RATIOS,
    starts: int = 3,
    rng: np.random.Generator,
    tell: Step | None = None,
) -> Robustness:
    """Score a layout at several ratios of every random group's variance to the items'.

    At each ratio it is compared with the best layout found at that ratio, in ``starts`` starts of
    which the first begins from the layout itself.

    Examples
    --------
    >>> from trials.design.search.values import SearchFactor, SearchGroup
    >>> oven = SearchGroup("oven", np.repeat(np.arange(4), 2), 1.0)
    >>> problem = Problem(8, (SearchFactor("a", 2),), (oven,))
    >>> codes = {"a": np.repeat(np.arange(2), 4)}  # each version in two ovens
    >>> found = robustness(problem, codes, rng=np.random.default_rng(1))
    >>> [round(score.efficiency, 2) for score in found.scores]
    [1.0, 0.33, 0.11]
    """
    tell = tell or silent
    scores = []
    for done, (ratio, own) in enumerate(zip(ratios, rng.spawn(len(ratios)), strict=True), start=1):
        here = replace(problem.with_ratio(ratio), start=dict(codes))
        value = layout_value(here, codes, criterion)
        best = search(here, criterion, starts=starts, rng=own).value
        scores.append(RatioScore(ratio, value, best, best / value if np.isfinite(best) else 0.0))
        tell(done, len(ratios))
    return Robustness(tuple(scores))
