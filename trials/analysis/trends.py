"""What the data tell of quantities that were changed: trends on their own scale."""

from __future__ import annotations

from trials.analysis.data import Data
from trials.analysis.findings import Trend, TrendRest
from trials.analysis.parts import (
    NONE,
    around,
    few_df_notes,
    half_width,
    p_of_test,
    quantile,
    two_sided,
)
from trials.digest import finite_or_none
from trials.model import Fit
from trials.model.inference import FTest
from trials.model.trends import Trend as FittedTrend
from trials.model.trends import factor_trends


def trends(data: Data, fit: Fit) -> tuple[Trend, ...]:
    """Return the trends of every quantity, then within each level of what it interacts with."""
    layout = fit.design.layout
    weights = data.options.weights
    quantities = [f.name for f in layout.structure.factors if f.kind == "quantity"]
    out = [
        _trend(data, fit, one)
        for name in quantities
        for one in factor_trends(fit, name, (), weights)
    ]
    for test in fit.tests:
        factors = test.hypothesis.term.factors
        if len(factors) != 2 or not test.hypothesis.df:
            continue
        for name, within in (factors, factors[::-1]):
            if name in quantities and not layout.structure.factor(within).trend:
                out += [
                    _trend(data, fit, one)
                    for level in range(len(layout.factors[within].levels))
                    for one in factor_trends(fit, name, ((within, level),), weights)
                ]
    return tuple(out)


def _trend(data: Data, fit: Fit, found: FittedTrend) -> Trend:
    layout = fit.design.layout
    held = {f: layout.factors[f].levels[code] for f, code in found.at}
    scale = layout.structure.factor(found.factor).scale
    unit = data.units.get(found.factor, "")
    line = found.line
    if line is None:
        return Trend(
            term=found.factor, levels=held, degree=found.degree, scale=scale, unit=unit, slope=None,
            se=None, df=None, t=None, p=None, interval=NONE, notes=found.notes,
        )  # fmt: skip
    ratio = data.scale == "ratio"
    return Trend(
        term=found.factor,
        levels=held,
        degree=found.degree,
        scale=scale,
        unit=unit,
        slope=None if ratio else finite_or_none(line.estimate),
        ratio=finite_or_none(data.gap(line.estimate)) if ratio else None,
        se=finite_or_none(line.se),
        df=finite_or_none(line.df),
        t=None if line.se is None else finite_or_none(line.estimate / line.se),
        p=finite_or_none(two_sided(line)),
        interval=around(data, line, half_width(line, quantile(line.df, data.options.confidence))),
        lack_of_fit=None if found.rest is None else _rest(found.rest),
        notes=few_df_notes(fit, (found.factor, *held), line),
    )


def _rest(test: FTest) -> TrendRest:
    return TrendRest(
        num_df=test.num_df,
        den_df=finite_or_none(test.den_df),
        f=finite_or_none(test.f),
        p=finite_or_none(p_of_test(test)),
    )
