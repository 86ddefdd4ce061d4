"""Analyse one response: choose the questions, ask the model, collect codes and numbers."""

from __future__ import annotations

from typing import Any

import numpy as np

from trials.analysis import parts
from trials.analysis.alike import leftover_of_rows, reading_share
from trials.analysis.contenders import best_recipe, contenders, recipes
from trials.analysis.crossing import adjust_pairs, crossings
from trials.analysis.data import Data, fitted
from trials.analysis.diagnostics import Leftovers, diagnose, leftovers, studentised
from trials.analysis.drift import drift
from trials.analysis.failed_worst import FailedWorst
from trials.analysis.findings import (
    Comparison,
    Effect,
    Method,
    OthersHeld,
    Point,
    ReadingShare,
    ResponseFindings,
    Verdict,
)
from trials.analysis.influence import influence
from trials.analysis.judging import factor_verdicts
from trials.analysis.own_spread import own_spread
from trials.analysis.ranks import rank_frequencies
from trials.analysis.reasons import NO_REPEATS, USED_UP, lacks_repeats
from trials.analysis.shuffle_intervals import Intervals
from trials.analysis.shuffling import ShuffleTest
from trials.analysis.trends import trends
from trials.digest import finite_or_none
from trials.model import Fit, Pair, TermTest
from trials.model.hypotheses import asks_what_is_added
from trials.randomness import stream

REPEATS = 2000


def analyse(
    data: Data,
    shuffled: dict[str, ShuffleTest] | None = None,
    worst: FailedWorst | None = None,
    intervals: Intervals | None = None,
    *,
    sensitivity: bool = True,
) -> ResponseFindings:
    """Return the findings of one response.

    Parameters
    ----------
    shuffled : per term the p of the plan's own shuffle, or of a permutation.
    worst : what becomes of each factor if failed items count as the worst.
    intervals : for pairs of levels the differences that the shuffle doesn't reject.
    sensitivity : look what leaving out one thing, or taking off a drift, would change.
    """
    fit = fitted(data)
    shares = parts.variance_shares(fit)
    tests = {t.hypothesis.term.name: t for t in fit.tests}
    effects = [
        _with_shuffle(fit, parts.effect(data, fit, test, shares), test, (shuffled or {}).get(name))
        for name, test in tests.items()
        if test.hypothesis.df
    ]
    effects = adjust_pairs(effects, tuple(data.layout.factors))
    families = {factor: parts.compare_factor(data, fit, factor) for factor in data.layout.factors}
    simple = _simple(data, fit)
    judged = {f: parts.judged(data, fit, f, pairs) for f, pairs in families.items()}
    crossing = crossings(
        effects,
        {key: [parts.comparison(data, fit, one) for one in pairs] for key, pairs in simple.items()},
        data.options,
        data.scale,
    )
    verdicts = factor_verdicts(data, fit, judged, simple, crossing, worst=worst)
    found = leftovers(data, fit)
    diagnostics = _diagnostics(data, fit, found)
    if sensitivity:
        diagnostics |= _sensitivity(data, fit, found[0], verdicts, worst)
    return ResponseFindings(
        name=data.name,
        unit=data.unit,
        scale=data.scale,
        n_items=data.n_items,
        n_readings=data.n_readings,
        n_failed=data.n_failed,
        n_lost=data.n_lost,
        n_never_made=data.n_never_made,
        primary=data.primary,
        better=data.better,
        method=_method(data, fit, effects),
        effects=tuple(effects),
        variance_components=parts.components(fit),
        means=parts.means(data, fit),
        comparisons=tuple(_comparisons(data, fit, families, simple, intervals or {})),
        verdicts=verdicts,
        crossings=crossing,
        contenders=contenders(data, fit),
        trends=trends(data, fit),
        recipes=recipes(data, fit),
        best_recipe=best_recipe(data, fit),
        reading_share=_reading_share(data, fit),
        judged_pairs=_judged_apart(data, fit, families, judged),
        diagnostics=diagnostics,
        points=_points(data, fit, found[0]),
        not_estimable=_not_estimable(fit),
        set_aside=data.set_aside,
    )


def _reading_share(data: Data, fit: Fit) -> ReadingShare | None:
    found = leftover_of_rows(fit, ratio=data.scale == "ratio")
    return None if found is None else reading_share(*found, data.options.confidence)


Families = dict[str, tuple[parts.Compared, ...]]


def _simple(data: Data, fit: Fit) -> dict[tuple[str, str], tuple[parts.Compared, ...]]:
    """Return each factor's pairs within every level of each factor it has an interaction with."""
    out: dict[tuple[str, str], tuple[parts.Compared, ...]] = {}
    for test in fit.tests:
        factors = test.hypothesis.term.factors
        if len(factors) == 2 and test.hypothesis.df:
            for factor, within in (factors, factors[::-1]):
                out[factor, within] = parts.compare_within(data, fit, factor, within)
    return out


def _comparisons(
    data: Data,
    fit: Fit,
    families: Families,
    simple: dict[tuple[str, str], tuple[parts.Compared, ...]],
    intervals: Intervals,
) -> list[Comparison]:
    groups = [*families.values(), *simple.values()]
    return [
        _with_interval(data, parts.comparison(data, fit, one), one.pair, intervals)
        for group in groups
        for one in group
    ]


def _judged_apart(
    data: Data, fit: Fit, families: Families, judged: Families
) -> tuple[Comparison, ...]:
    """Return the pairs that verdicts rest on, of factors judged by others than those shown."""
    return tuple(
        parts.comparison(data, fit, one)
        for factor, pairs in judged.items()
        if pairs is not families[factor]
        for one in pairs
    )


def _with_shuffle(fit: Fit, effect: Effect, test: TermTest, shuffle: ShuffleTest | None) -> Effect:
    """Return the effect with the p of the shuffle, where that asks the same as its F does."""
    if shuffle is None or {NO_REPEATS, USED_UP} & set(effect.notes):
        return effect  # nothing to shuffle
    notes = (*effect.notes, *shuffle.notes)
    asked = test.hypothesis
    same = shuffle.df in (None, asked.df) and asks_what_is_added(fit.design, asked)
    if shuffle.p is not None and not same:
        return effect.model_copy(update={"notes": (*effect.notes, "shuffle_asks_otherwise")})
    key = "p_randomisation" if shuffle.planned else "p_permutation"
    held = None
    if shuffle.alone is not None:
        one = shuffle.alone
        held = OthersHeld(layouts=one.size, smallest_p=one.smallest_p, counted=one.exact)
    return effect.model_copy(
        update={
            key: shuffle.p,
            "p_shuffle_error": shuffle.mc_error,
            "exact": shuffle.exact,
            "others_held": held,
            "notes": notes,
        }
    )


def _with_interval(
    data: Data, comparison: Comparison, pair: Pair, intervals: Intervals
) -> Comparison:
    """Return a pair with its interval from shuffles, where it has one."""
    a, b = pair.a, pair.b
    found = intervals.get((pair.factor, min(a, b), max(a, b)))
    if found is None or pair.at or pair.line is None or pair.notes:
        return comparison
    low, high = found.ends
    if a > b:
        low, high = (None if end is None else -end for end in (high, low))
    ends = tuple(None if end is None else finite_or_none(data.gap(end)) for end in (low, high))
    key = "interval_randomisation" if data.randomised else "interval_permutation"
    return comparison.model_copy(update={key: ends, "interval_exact": found.exact})


def _method(data: Data, fit: Fit, effects: list[Effect]) -> Method:
    layout, options = data.layout, data.options
    notes = [*layout.notes, *fit.notes]
    notes += [f"fixed_group:{g.path}" for g in layout.fixed]
    notes += [f"implied_group:{g.path}" for g in layout.groupings if g.implied]
    if len(layout.factors) > options.interactions:
        notes.append("higher_interactions_in_error")
    if layout.random and layout.factors:
        notes.append("treatment_by_group_in_error")
    if options.worthwhile is None:
        notes.append("no_worthwhile")
    if any(effect.p_permutation is not None for effect in effects):
        notes.append("permutation_takes_units_as_alike")
    if options.better is None and layout.factors:
        notes.append("no_direction")
    if data.centred.decimal_comma:
        notes.append("decimal_comma")
    return Method.model_validate(
        {
            "estimator": fit.estimator,
            "df": fit.df_method,
            "sums": options.sums,
            "bounded": options.bounded,
            "notes": tuple(notes),
        }
    )


def _not_estimable(fit: Fit) -> tuple[str, ...]:
    gone = [t.hypothesis.term.name for t in fit.tests if not t.hypothesis.df]
    part = [
        f"{t.hypothesis.term.name}: {t.hypothesis.df} of {t.hypothesis.full_df}"
        for t in fit.tests
        if 0 < t.hypothesis.df < t.hypothesis.full_df
    ]
    return (*gone, *part)


def _diagnostics(data: Data, fit: Fit, found: tuple[Leftovers, tuple[str, ...]]) -> dict[str, Any]:
    out = diagnose(data, fit, found) | _ranks(data, fit)
    ratios = {factor: told["ratio"] for factor, told in out["spread"].items()}
    beside, notes = own_spread(data, ratios)
    if beside:
        out["spread_by_level"] = beside
        out["notes"] += notes
    ranked = out.get("rank_frequencies", {})
    if ranked:
        out["notes"] += [f"not_ranked:{f}" for f in data.layout.factors if f not in ranked]
    return out


def _sensitivity(
    data: Data,
    fit: Fit,
    left: Leftovers,
    verdicts: tuple[Verdict, ...],
    worst: FailedWorst | None,
) -> dict[str, Any]:
    """Return what each single thing and each drift does to the verdicts."""
    by_factor = {verdict.factor: verdict for verdict in verdicts}
    t, told = studentised(left)
    suspicion = {
        item: float(abs(value)) if ok else 0.0
        for item, value, ok in zip(left.items, t, told, strict=True)
    }
    return {
        "drift": drift(data, left, by_factor, worst),
        "influence": influence(data, fit, by_factor, suspicion, worst),
    }


def _ranks(data: Data, fit: Fit) -> dict[str, Any]:
    """Return in what share of repeats each factor would come first, second, ...

    A factor whose unit has no repeats, or whose levels can't all be compared, is left out.
    """
    lines = {f: parts.effect_lines(fit, fit.design.term(f)) for f in data.layout.factors}
    usable = {f: one for f, one in lines.items() if one is not None and not lacks_repeats(fit, one)}
    if len(usable) < 2 or fit.inference.line(next(iter(usable.values()))[0]).se is None:
        return {}
    stacked = np.vstack(list(usable.values()))
    beta = fit.inference.beta
    found = rank_frequencies(
        {f: one @ beta for f, one in usable.items()},
        fit.inference.cov(stacked),
        REPEATS,
        stream(data.options.seed, "ranks"),
    )
    return {"rank_frequencies": {f: list(shares) for f, shares in found.items()}}


def _points(data: Data, fit: Fit, left: Leftovers) -> tuple[Point, ...]:
    layout = data.layout
    leftover = dict(zip(left.items, left.residual.tolist(), strict=True))
    out = []
    for row, item in enumerate(data.items):
        y, rest = float(data.y[row]), float(fit.residuals[row])
        out.append(
            Point(
                item=item,
                value=data.mean(y),
                fitted=finite_or_none(data.mean(y - rest)),
                residual=finite_or_none(rest),
                leftover=finite_or_none(leftover[item]),
                factors={f: c.levels[c.codes[row]] for f, c in layout.factors.items()},
                groups={
                    g.path: g.coded.levels[g.coded.codes[row]]
                    for g in layout.groupings
                    if not g.implied
                },
                run=data.runs[row] if data.runs is not None else None,
            )
        )
    return tuple(out)
