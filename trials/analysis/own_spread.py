"""A fit with a variance for each level, shown beside the analysis where levels spread unlike.

It decides nothing: a method chosen by a look at the same data is no longer the method that its
p-values are for.
"""

from __future__ import annotations

from typing import Any

from scipy.special import fdtrc

from trials.analysis import parts
from trials.analysis.data import Data
from trials.digest import finite_or_none
from trials.errors import AnalysisError
from trials.model import Fit, FitOptions, fit_rows
from trials.model.fit import DfChoice

UNLIKE = 2.0  # largest SD over the smallest beyond which the other fit is shown
SHOWN = (
    "a", "b", "difference", "ratio", "se", "df", "t", "p", "p_adjusted", "adjustment", "interval",
    "interval_adjusted", "notes",
)  # fmt: skip


def own_spread(data: Data, ratios: dict[str, float | None]) -> tuple[dict[str, Any], list[str]]:
    """Return what each factor's test and pairs are where its levels may spread differently.

    Parameters
    ----------
    ratios : per factor the largest SD of the residuals at a level over the smallest.

    Returns
    -------
    Per factor with a ratio above 2: ``variances`` of its levels, ``f``, ``num_df``, ``den_df``,
    ``p`` and ``comparisons``; None, with a note, where the data can't carry such a fit.
    """
    out: dict[str, Any] = {}
    notes = []
    for factor, ratio in ratios.items():
        if ratio is None or ratio <= UNLIKE:
            continue
        try:
            fit = _fit(data, factor)
        except AnalysisError:
            fit = None
        settled = fit is not None and "not_converged" not in fit.notes
        out[factor] = _told(data, fit, factor) if fit is not None and settled else None
        if out[factor] is None:
            notes.append(f"no_own_spread:{factor}")
    return out, notes


def _fit(data: Data, factor: str) -> Fit:
    options = data.options
    df: DfChoice = "satterthwaite" if options.df == "satterthwaite" else "kenward-roger"
    return fit_rows(
        data.layout,
        data.y,
        FitOptions(options.interactions, options.sums, df, options.bounded, spread_by=factor),
    )


def _told(data: Data, fit: Fit, factor: str) -> dict[str, Any] | None:
    test = next(t.result for t in fit.tests if t.hypothesis.term.factors == (factor,))
    if test.f is None or test.den_df is None:
        return None
    pairs = [
        parts.comparison(data, fit, one).model_dump()
        for one in parts.compare_factor(data, fit, factor)
    ]
    return {
        "variances": {c.level: c.variance for c in fit.components if c.level is not None},
        "f": finite_or_none(test.f),
        "num_df": test.num_df,
        "den_df": finite_or_none(test.den_df),
        "p": finite_or_none(float(fdtrc(test.num_df, test.den_df, test.f))),
        "comparisons": [{key: pair[key] for key in SHOWN} for pair in pairs],
    }
