"""The parts of a response's findings that follow from one fit: effects, means, comparisons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import fdtrc, stdtr, stdtrit

from trials.analysis import sizes
from trials.analysis.data import Data
from trials.analysis.findings import Comparison, Component, Effect, Interval, Mean, SingleStep
from trials.analysis.reasons import NO_REPEATS, lacks_repeats, reason_for
from trials.digest import finite_or_none
from trials.model import (
    Fit,
    LevelMean,
    Pair,
    TermTest,
    dunnett,
    factor_pairs,
    level_means,
    simple_pairs,
    tukey,
)
from trials.model.inference import UNSURE, FTest, Line
from trials.model.layout import Floats, is_constant_within
from trials.model.maxima import Largest, largest
from trials.model.terms import Term, level_coding

NONE: Interval = (None, None)
MOST_SINGLE_STEP = 12  # levels: with more, the multivariate t takes seconds


@dataclass(frozen=True)
class Compared:
    """A pair on the scale of analysis with its simultaneous interval, kept for the verdict."""

    pair: Pair
    family: str  # "tukey", "dunnett", "multivariate_t" or "none"
    critical: float | None  # standard errors to either end of the simultaneous interval
    p_adjusted: float | None
    error: float | None = None  # of p_adjusted, where it is not exact
    all_pairs: Largest | None = None  # where the variances of the differences differ


def effect(data: Data, fit: Fit, test: TermTest, shares: dict[str, float | None]) -> Effect:
    """Return the line of one term."""
    result = test.result
    f, den = result.f, result.den_df
    p = p_of_test(result)
    notes = list(test.hypothesis.notes)
    if result.note:
        notes.append(reason_for(fit, test.hypothesis.term.factors, result.note))
    if 0 < test.hypothesis.df < test.hypothesis.full_df:
        notes.append("fewer_df_than_complete")
    if den is not None and den < 1.5 and f is not None:
        notes.append("hardly_any_information")
    name = test.hypothesis.term.name
    if result.note in (NO_REPEATS, UNSURE):
        notes.append("no_share")
    return Effect(
        term=name,
        stratum=test.stratum,
        num_df=result.num_df,
        den_df=finite_or_none(den),
        sum_sq=finite_or_none(result.sum_sq),
        mean_sq=finite_or_none(_ratio(result.sum_sq, result.num_df)),
        f=finite_or_none(f),
        p=finite_or_none(p),
        partial_omega_sq=_omega(fit, test),
        partial_eta_sq=_eta(test),
        partial_eta_sq_interval=_eta_interval(test, data.options.confidence),
        share_of_variance=shares.get(name),
        notes=tuple(notes),
    )


def p_of_test(test: FTest) -> float | None:
    """Return the p of an F test; None where there is no F."""
    if test.f is None or test.den_df is None:
        return None
    return float(fdtrc(test.num_df, test.den_df, test.f))


def _ratio(total: float | None, df: int) -> float | None:
    return None if total is None or not df else total / df


def _eta(test: TermTest) -> float | None:
    f, den = test.result.f, test.result.den_df
    return (
        None if f is None or den is None else sizes.partial_eta_squared(f, test.result.num_df, den)
    )


def _eta_interval(test: TermTest, confidence: float) -> Interval | None:
    f, num, den = test.result.f, test.result.num_df, test.result.den_df
    if f is None or den is None or not np.isfinite(den):
        return None
    return sizes.partial_eta_squared_interval(f, num, den, confidence)


def _omega(fit: Fit, test: TermTest) -> float | None:
    """Return partial omega squared over the number of units that the term is tested on."""
    f, den = test.result.f, test.result.den_df
    if f is None or den is None:
        return None
    units = None
    if isinstance(test.stratum, str):
        layout = fit.design.layout
        held = {g.path: g.members for g in layout.groupings}
        units = held.get(test.stratum, layout.n)
    return sizes.partial_omega_squared(f, test.result.num_df, den, units)


def variance_shares(fit: Fit) -> dict[str, float | None]:
    """Return each treatment term's share of all variation, for the levels that were tried.

    None for a term whose unit has no repeats, or hardly any: what it did can't be told from how
    its units differ anyway. Both together still count in the whole that the others are shares of.
    """
    squares: dict[str, float] = {}
    mixed_up = set()
    for test in fit.tests:
        term = test.hypothesis.term
        lines = effect_lines(fit, term)
        if lines is None:
            continue
        effects, covariance = lines @ fit.inference.beta, fit.inference.cov(lines)
        if lacks_repeats(fit, lines):
            mixed_up.add(term.name)
            covariance = np.zeros_like(covariance)
        squares[term.name] = sizes.mean_square_effect(effects, covariance)
    values = [c.variance for c in fit.components if c.variance is not None]
    shares = sizes.shares_of_variance(squares, values)
    return {term: None if term in mixed_up else share for term, share in shares.items()}


def effect_lines(fit: Fit, term: Term) -> Floats | None:
    """Return a term's effect at each of its combinations, (c, k); None where not estimable."""
    if term.role != "treatment":
        return None
    out = np.ones((1, 1))
    for factor in term.factors:
        own = level_coding(fit.design.layout, factor)
        out = np.einsum("ab,cd->acbd", out, own).reshape(len(out) * len(own), -1)
    lines = np.zeros((len(out), fit.design.X.shape[1]))
    lines[:, term.columns] = out
    short, ok = fit.design.reduce(lines)
    return short if ok.all() else None


def components(fit: Fit) -> tuple[Component, ...]:
    """Return the variance components as findings."""
    return tuple(
        Component(
            group=c.path,
            variance=finite_or_none(c.variance),
            unbounded=finite_or_none(c.unbounded),
            at_boundary=c.unbounded is not None and c.path != "residual" and c.unbounded <= 0,
        )
        for c in fit.components
    )


def means(data: Data, fit: Fit) -> tuple[Mean, ...]:
    """Return the means of every treatment term."""
    out = []
    for test in fit.tests:
        term = test.hypothesis.term
        if term.role == "treatment":
            out += [
                _mean(data, fit, term, m)
                for m in level_means(fit, term.factors, data.options.weights)
            ]
    return tuple(out)


def _mean(data: Data, fit: Fit, term: Term, mean: LevelMean) -> Mean:
    levels = {
        f: fit.design.layout.factors[f].levels[code]
        for f, code in zip(mean.factors, mean.levels, strict=True)
    }
    line = mean.line
    if line is None:
        note = "empty_combination" if mean.n == 0 else "not_estimable"
        return Mean(
            term=term.name, levels=levels, n=mean.n, mean=None, se=None, df=None,
            interval=NONE, notes=(note,),
        )  # fmt: skip
    reach = half_width(line, quantile(line.df, data.options.confidence))
    interval: Interval = NONE
    if reach is not None:
        low, high = data.mean(line.estimate - reach), data.mean(line.estimate + reach)
        interval = (finite_or_none(low), finite_or_none(high))
    return Mean(
        term=term.name,
        levels=levels,
        n=mean.n,
        mean=finite_or_none(data.mean(line.estimate)),
        se=finite_or_none(line.se),
        df=finite_or_none(line.df),
        interval=interval,
        notes=few_df_notes(fit, mean.factors, line),
    )


def few_df_notes(fit: Fit, factors: Sequence[str], line: Line) -> tuple[str, ...]:
    """Return the notes that a line's degrees of freedom ask for; ``factors`` make the line."""
    if line.df is None:
        return (reason_for(fit, factors, line.note),)
    return ("hardly_any_information",) if line.df < 1.5 else ()


def quantile(df: float | None, confidence: float) -> float | None:
    """Return Student's t to either end of an interval."""
    return None if df is None else float(stdtrit(df, (1 + confidence) / 2))


def half_width(line: Line, critical: float | None) -> float | None:
    """Return how far an interval reaches to either side."""
    return None if line.se is None or critical is None else line.se * critical


def compare_factor(data: Data, fit: Fit, factor: str) -> tuple[Compared, ...]:
    """Return a factor's pairs, or its comparisons with a declared control."""
    control = dict(data.options.control).get(factor)
    if control is not None:
        return _against_control(data, fit, factor, control)
    return _family(data, fit, factor, factor_pairs(fit, factor, data.options.weights))


def compare_within(data: Data, fit: Fit, factor: str, within: str) -> tuple[Compared, ...]:
    """Return a factor's pairs within each level of another, each level a family of its own."""
    pairs = simple_pairs(fit, factor, within, data.options.weights)
    levels = {pair.at for pair in pairs}
    out: list[Compared] = []
    for at in sorted(levels):
        out += _family(data, fit, factor, [pair for pair in pairs if pair.at == at])
    return tuple(out)


def _family(data: Data, fit: Fit, factor: str, pairs: Sequence[Pair]) -> tuple[Compared, ...]:
    levels = len(fit.design.layout.factors[factor].levels)
    one_slope = fit.design.layout.structure.factor(factor).trend
    whole = None if one_slope else _unequal(fit, levels, pairs)
    out = []
    for pair in pairs:
        line = pair.line
        if line is None or line.se is None or line.df is None:
            out.append(Compared(pair, "none" if one_slope else "tukey", None, None))
        elif one_slope or levels == 2:
            critical = critical_of(data, fit, factor, line.df)
            p = two_sided(line)
            out.append(Compared(pair, "none" if one_slope else "tukey", critical, p))
        else:
            t = line.estimate / line.se
            critical = critical_of(data, fit, factor, line.df)
            p = tukey.adjusted_p(t, levels, line.df)
            out.append(Compared(pair, "tukey", critical, p, all_pairs=whole))
    return tuple(out)


def critical_of(data: Data, fit: Fit, factor: str, df: float | None) -> float | None:
    """Return how many standard errors the interval of one of all a factor's pairs reaches out."""
    levels = len(fit.design.layout.factors[factor].levels)
    if df is None:
        return None
    if levels == 2 or fit.design.layout.structure.factor(factor).trend:
        return quantile(df, data.options.confidence)
    return tukey.critical(data.options.confidence, levels, df)


def for_verdict(data: Data, fit: Fit, factor: str, within: str = "") -> tuple[Compared, ...]:
    """Return the pairs a verdict rests on, or those within another factor's levels, without p."""
    weights = data.options.weights
    pairs = (
        simple_pairs(fit, factor, within, weights) if within else factor_pairs(fit, factor, weights)
    )
    return tuple(
        Compared(
            pair,
            "none",
            None if pair.line is None else critical_of(data, fit, factor, pair.line.df),
            None,
        )
        for pair in pairs
    )


def _unequal(fit: Fit, levels: int, pairs: Sequence[Pair]) -> Largest | None:
    """Return the multivariate t of all pairs; None where Tukey's integral is exact, or too many.

    That is where all variances are equal: then the differences' correlations are Tukey's.
    """
    rows = [pair.row for pair in pairs if pair.row is not None]
    se = [pair.line.se for pair in pairs if pair.line is not None and pair.line.se is not None]
    if not 3 <= levels <= MOST_SINGLE_STEP or len(se) < len(pairs):
        return None
    if max(se) - min(se) <= 1e-7 * max(se):
        return None
    return largest(fit.inference.cov(np.array(rows)), levels=levels)


def judged(
    data: Data, fit: Fit, factor: str, compared: tuple[Compared, ...]
) -> tuple[Compared, ...]:
    """Return the pairs a verdict rests on: all of them, with or without a control."""
    if factor not in dict(data.options.control):
        return compared
    return _family(data, fit, factor, factor_pairs(fit, factor, data.options.weights))


def two_sided(line: Line) -> float | None:
    """Return the p of a line alone."""
    if line.se is None or line.df is None:
        return None
    return float(2 * stdtr(line.df, -abs(line.estimate / line.se)))


def _against_control(data: Data, fit: Fit, factor: str, control: str) -> tuple[Compared, ...]:
    """Compare every level with the control (Dunnett 1955, J. Amer. Statist. Assoc. 50)."""
    levels = fit.design.layout.factors[factor].levels
    base = levels.index(control)
    pairs = [
        _turned(p, base)
        for p in factor_pairs(fit, factor, data.options.weights)
        if base in (p.a, p.b)
    ]
    told = [p for p in pairs if p.row is not None and p.line is not None and p.line.se is not None]
    if not told:
        return tuple(Compared(pair, "dunnett", None, None) for pair in pairs)
    covariance = fit.inference.cov(np.array([p.row for p in told]))
    loadings = dunnett.loadings_of_covariance(covariance)
    if loadings is None:
        return _by_multivariate_t(data, pairs, largest(covariance))
    out = []
    for pair in pairs:
        line = pair.line
        if line is None or line.se is None or line.df is None:
            out.append(Compared(pair, "dunnett", None, None))
            continue
        critical = dunnett.critical(data.options.confidence, loadings, line.df)
        p = dunnett.adjusted_p(line.estimate / line.se, loadings, line.df)
        out.append(Compared(pair, "dunnett", critical, p))
    return tuple(out)


def _by_multivariate_t(
    data: Data, pairs: Sequence[Pair], family: Largest | None
) -> tuple[Compared, ...]:
    """Adjust comparisons whose correlations have no simple form."""
    out = []
    for pair in pairs:
        line = pair.line
        if family is None or line is None or line.se is None or line.df is None:
            out.append(Compared(pair, "multivariate_t", None, None))
            continue
        critical = family.critical(data.options.confidence, line.df)
        p = family.adjusted_p(line.estimate / line.se, line.df)
        out.append(Compared(pair, "multivariate_t", critical, p.value, p.error))
    return tuple(out)


def _turned(pair: Pair, base: int) -> Pair:
    """Return the pair with the control as its second level."""
    if pair.b == base:
        return pair
    line = pair.line
    turned = None if line is None else replace(line, estimate=-line.estimate)
    row = None if pair.row is None else -pair.row
    return replace(pair, a=pair.b, b=pair.a, row=row, line=turned)


def comparison(data: Data, fit: Fit, compared: Compared) -> Comparison:
    """Return one pair as a finding."""
    pair, line = compared.pair, compared.pair.line
    term, a, b = _names(fit, pair)
    if line is None:
        return Comparison(
            term=term, a=a, b=b, difference=None, se=None, df=None, t=None, p=None,
            p_adjusted=None, adjustment=compared.family, interval=NONE, interval_adjusted=NONE,
            notes=pair.notes,
        )  # fmt: skip
    ratio = data.scale == "ratio"
    sd = standardiser(fit, pair.factor)
    known = sd is not None and line.df is not None and line.se is not None
    g = g_interval = None
    if known and sd is not None and line.df is not None and line.se is not None:
        g = sizes.hedges_g(line.estimate, sd, line.df)
        g_interval = sizes.hedges_g_interval(
            line.estimate, line.se, sd, line.df, data.options.confidence
        )
    plain = half_width(line, quantile(line.df, data.options.confidence))
    wide = half_width(line, compared.critical)
    return Comparison(
        term=term,
        a=a,
        b=b,
        difference=None if ratio else finite_or_none(line.estimate),
        ratio=finite_or_none(data.gap(line.estimate)) if ratio else None,
        se=finite_or_none(line.se),
        df=finite_or_none(line.df),
        t=None if line.se is None else finite_or_none(line.estimate / line.se),
        p=finite_or_none(two_sided(line)),
        p_adjusted=finite_or_none(compared.p_adjusted),
        p_adjusted_error=finite_or_none(compared.error),
        adjustment=compared.family,
        interval=around(data, line, plain),
        interval_adjusted=around(data, line, wide),
        single_step=_single_step(data, line, compared.all_pairs),
        hedges_g=g,
        hedges_g_interval=g_interval,
        notes=(*pair.notes, *few_df_notes(fit, tuple(a), line)),
    )


def _single_step(data: Data, line: Line, family: Largest | None) -> SingleStep | None:
    if family is None or line.se is None or line.df is None:
        return None
    p = family.adjusted_p(line.estimate / line.se, line.df)
    reach = half_width(line, family.critical(data.options.confidence, line.df))
    return SingleStep(p=p.value, error=p.error, interval=around(data, line, reach))


def around(data: Data, line: Line, reach: float | None) -> Interval:
    """Return a difference's interval as a person reads it: of differences, or of ratios."""
    if reach is None:
        return NONE
    ends = (data.gap(line.estimate - reach), data.gap(line.estimate + reach))
    return (finite_or_none(ends[0]), finite_or_none(ends[1]))


def _names(fit: Fit, pair: Pair) -> tuple[str, dict[str, str], dict[str, str]]:
    layout = fit.design.layout
    held = {f: layout.factors[f].levels[code] for f, code in pair.at}
    own = layout.factors[pair.factor].levels
    order = list(layout.factors)
    names = sorted([pair.factor, *held], key=order.index)
    a = {f: held.get(f, own[pair.a]) for f in names}
    b = {f: held.get(f, own[pair.b]) for f in names}
    return ":".join(names), a, b


def standardiser(fit: Fit, factor: str) -> float | None:
    """Return the SD between alike items that had the factor given anew: unit down to the item."""
    layout = fit.design.layout
    unit = layout.units.get(factor) or layout.item
    total = 0.0
    for component in fit.components:
        if component.path == "residual":
            counts = layout.item is None
        else:
            inner = layout.grouping(component.path).coded.codes
            counts = unit is not None and is_constant_within(
                layout.grouping(unit).coded.codes, inner
            )
        if counts:
            if component.variance is None:
                return None
            total += component.variance
    return float(np.sqrt(total)) if total > 0 else None
