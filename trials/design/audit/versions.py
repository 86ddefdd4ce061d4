"""The versions themselves: something to hold the others against, and steps that are large enough.

A step under a tenth of the value itself is taken as too small: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from trials.design.audit.view import Found, View, only_way
from trials.study.values import StudyFactor
from trials.words.controls import asks_for_the_usual, is_baseline

CLOSE = 0.1  # of the mean of two neighbouring levels


def no_control(view: View) -> Iterator[Found]:
    """One version looks like the one the others are held against, and isn't said to be."""
    for factor in view.study.factors:
        baseline = [level for level in factor.levels if is_baseline(level)]
        if factor.control is None and factor.kind == "category" and len(baseline) == 1:
            level = baseline[0]
            yield Found(
                (factor.name,),
                {"factor": view.labels[factor.name], "level": level, "name": factor.name},
                mends=only_way(("factors", factor.name, "control"), level),
            )


def usual_missing(view: View) -> Iterator[Found]:
    """The question compares with the usual way, and no version is said to be that."""
    factors = [f for f in view.study.factors if f.kind == "category"]
    if not factors or not asks_for_the_usual(view.study.question):
        return
    if any(f.control is not None or any(map(is_baseline, f.levels)) for f in factors):
        return
    yield Found(("usual",), {"factors": [view.labels[f.name] for f in factors]})


def levels_close(view: View) -> Iterator[Found]:
    """Two levels of a quantity differ so little that hardly anything can come of it."""
    for factor in view.study.factors:
        pair = _closest(factor)
        if pair is not None:
            yield Found(
                (factor.name,),
                {
                    "factor": view.labels[factor.name],
                    "low": pair[0],
                    "high": pair[1],
                    "unit": factor.unit,
                },
            )


def _closest(factor: StudyFactor) -> tuple[str, str] | None:
    """Return the two neighbouring levels that are nearest for their size, if they are too near."""
    if factor.kind != "quantity":
        return None
    levels = sorted(factor.levels, key=float)
    worst: tuple[float, str, str] | None = None
    for low, high in pairwise(levels):
        size = (abs(float(low)) + abs(float(high))) / 2
        step = (float(high) - float(low)) / size if size else 1.0
        if step < CLOSE - 1e-12 and (worst is None or step < worst[0]):
            worst = (step, low, high)
    return None if worst is None else (worst[1], worst[2])
