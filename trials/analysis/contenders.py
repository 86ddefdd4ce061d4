"""Which level, and which recipe, may be the best; and what would confirm it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from trials.analysis.data import Data
from trials.analysis.findings import LEAST_FRESH, BestRecipe, Contender, Levels, Recipe
from trials.analysis.parts import NONE, around, few_df_notes, half_width, quantile
from trials.design.spares import per_version
from trials.digest import finite_or_none
from trials.model import Fit, LevelMean, recipe_means, tukey
from trials.model.best import against_best
from trials.model.hypotheses import pair_line
from trials.model.inference import Line
from trials.model.layout import is_constant_within

MOST_RECIPES = 200  # with more combinations, only those made are told of


def contenders(data: Data, fit: Fit) -> tuple[Contender, ...]:
    """Return each factor's levels against the best of the others; none without a direction."""
    if data.options.better is None:
        return ()
    layout = fit.design.layout
    return tuple(
        one
        for factor in layout.factors
        if not layout.structure.factor(factor).trend
        for one in _of_factor(data, fit, factor)
    )


def _of_factor(data: Data, fit: Fit, factor: str) -> tuple[Contender, ...]:
    levels = fit.design.layout.factors[factor].levels
    if len(levels) < 2:
        return ()
    pairs = [
        pair_line(fit.design, factor, level, 0, weights=data.options.weights)
        for level in range(1, len(levels))
    ]
    whole = [row for row, notes in pairs if row is not None and not notes]
    found = None
    if len(whole) == len(pairs):
        rows = np.array([np.zeros_like(whole[0]), *whole])
        larger = data.options.better == "high"
        found = against_best(fit.inference, rows, data.options.confidence, larger=larger)
    if found is None:
        note = "no_best_gaps" if len(whole) < len(pairs) else "no_best_without_error"
        return tuple(
            Contender(
                term=factor, levels={factor: level}, difference=None, interval=NONE,
                may_be_best=None, notes=(note,),
            )
            for level in levels
        )  # fmt: skip
    ratio = data.scale == "ratio"
    return tuple(
        Contender(
            term=factor,
            levels={factor: level},
            difference=None if ratio else finite_or_none(one.estimate),
            ratio=finite_or_none(data.gap(one.estimate)) if ratio else None,
            interval=(finite_or_none(data.gap(one.low)), finite_or_none(data.gap(one.high))),
            may_be_best=one.may_be_best,
        )
        for level, one in zip(levels, found, strict=True)
    )


def recipes(data: Data, fit: Fit) -> tuple[Recipe, ...]:
    """Return what the model tells of every recipe, those never made too where it can."""
    return tuple(_recipe(data, fit, one) for one in recipe_means(fit, MOST_RECIPES))


def _recipe(data: Data, fit: Fit, one: LevelMean) -> Recipe:
    levels, line = _levels(fit, one), one.line
    made = () if one.n else ("never_made",)
    if line is None:
        return Recipe(
            levels=levels, n=one.n, mean=None, se=None, df=None, interval=NONE,
            notes=(*made, "not_estimable"),
        )  # fmt: skip
    return Recipe(
        levels=levels,
        n=one.n,
        mean=finite_or_none(data.mean(line.estimate)),
        se=finite_or_none(line.se),
        df=finite_or_none(line.df),
        interval=_mean_interval(data, line, quantile(line.df, data.options.confidence)),
        notes=(*made, *few_df_notes(fit, one.factors, line)),
    )


def _levels(fit: Fit, one: LevelMean) -> Levels:
    layout = fit.design.layout
    return {
        factor: layout.factors[factor].levels[code]
        for factor, code in zip(one.factors, one.levels, strict=True)
    }


def _mean_interval(
    data: Data, line: Line, critical: float | None
) -> tuple[float | None, float | None]:
    reach = half_width(line, critical)
    if reach is None:
        return NONE
    ends = (data.mean(line.estimate - reach), data.mean(line.estimate + reach))
    return (finite_or_none(ends[0]), finite_or_none(ends[1]))


@dataclass(frozen=True)
class _Made:
    """A recipe that was made, with its estimate."""

    mean: LevelMean
    line: Line
    row: np.ndarray


def best_recipe(data: Data, fit: Fit) -> BestRecipe | None:
    """Return the recipe with the best mean among those made; None without a direction or a rival.

    Its interval holds for the means of all recipes made at once (Z. Sidak, 1967, J. Am. Statist.
    Assoc. 62, 626-633), that of the gap for all pairs (Tukey and Kramer).
    """
    sign = {"high": 1.0, "low": -1.0}.get(data.options.better or "", 0.0)
    made = [
        _Made(one, one.line, one.row)
        for one in recipe_means(fit, MOST_RECIPES)
        if one.n and one.line is not None and one.row is not None
    ]
    if not sign or len(made) < 2:
        return None
    size = max(abs(one.line.estimate) for one in made)
    best = _first(made, sign, size)
    second = _first([one for one in made if one is not best], sign, size)
    gap = fit.inference.line(best.row - second.row)
    confidence, count = data.options.confidence, len(made)
    critical = quantile(best.line.df, confidence ** (1 / count))
    reach = None
    if gap.se is not None and gap.df is not None:
        reach = half_width(gap, tukey.critical(confidence, count, gap.df))
    target = _target(data, gap)
    return BestRecipe(
        levels=_levels(fit, best.mean),
        mean=finite_or_none(data.mean(best.line.estimate)),
        interval=_mean_interval(data, best.line, critical),
        runner_up=_levels(fit, second.mean),
        gap=finite_or_none(data.gap(gap.estimate)),
        gap_interval=around(data, gap, reach),
        fresh=_fresh(fit, (best.mean, second.mean), target),
        fresh_for=None if target is None else finite_or_none(data.gap(target)),
        notes=("likely_too_good", *few_df_notes(fit, best.mean.factors, gap)),
    )


def _first(made: list[_Made], sign: float, size: float) -> _Made:
    """Return the best; of those that are equal but for rounding, the first."""
    top = max(sign * one.line.estimate for one in made)
    return next(one for one in made if sign * one.line.estimate >= top - 1e-9 * size)


def _target(data: Data, gap: Line) -> float | None:
    """Return the difference to confirm, on the scale of analysis: worthwhile, else as found."""
    margin = data.options.worthwhile
    if margin is not None:
        return math.log(margin) if data.scale == "ratio" else margin
    return abs(gap.estimate) or None


def _fresh(fit: Fit, two: tuple[LevelMean, LevelMean], target: float | None) -> int | None:
    """Return how many fresh items of each of two recipes show a true difference of ``target``."""
    sd = _spread_of_fresh(fit, two)
    if target is None or sd is None:
        return None
    count = per_version(target, sd)
    return None if count is None else max(LEAST_FRESH, count)


def _spread_of_fresh(fit: Fit, two: tuple[LevelMean, LevelMean]) -> float | None:
    """Return the SD between fresh items of two recipes.

    Each is made in a unit of its own of every factor that the two differ in; larger groups can hold
    both recipes.
    """
    layout = fit.design.layout
    units = {
        layout.units[factor]
        for factor, a, b in zip(two[0].factors, two[0].levels, two[1].levels, strict=True)
        if a != b
    }
    total = 0.0
    for component in fit.components:
        if component.path not in ("residual", layout.item):
            inner = layout.grouping(component.path).coded.codes
            counts = any(
                unit is not None and is_constant_within(layout.grouping(unit).coded.codes, inner)
                for unit in units
            )
            if not counts:
                continue
        if component.variance is None:
            return None
        total += component.variance
    return math.sqrt(total) if total > 0 else None
