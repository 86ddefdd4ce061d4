"""How different things built alike came out: what a practice run is made for."""

from __future__ import annotations

import math
from collections.abc import Sequence

from scipy import stats

from trials.analysis.findings import FoundSpread, Interval, ResponseFindings
from trials.record.values import ItemValue


def spread_of_alike(
    found: ResponseFindings, values: Sequence[ItemValue], confidence: float
) -> FoundSpread | None:
    """Return the standard deviations (CVs on the ratio scale); None without repeats of an item.

    The variance between items is what is left when that of their averaged readings is taken off;
    where the readings explain all of it, it is not taken off, for a spread of nothing would promise
    too much. The interval is that of a normal sample's standard deviation (chi-squared).
    """
    residual = next((c.variance for c in found.variance_components if c.group == "residual"), None)
    df = found.diagnostics.get("residual_df")
    if residual is None or residual <= 0 or not isinstance(df, int | float) or df <= 0:
        return None
    ratio = found.scale == "ratio"
    readings, readings_df, averaged = _readings(values, ratio=ratio)
    alone = residual - averaged
    items = alone if alone > 0 else residual
    low, high = (df / stats.chi2.ppf(q, df) for q in ((1 + confidence) / 2, (1 - confidence) / 2))
    return FoundSpread(
        items=_as_given(items, ratio=ratio),
        items_interval=_ends(items, (float(low), float(high)), ratio=ratio),
        items_df=float(df),
        readings=None if readings is None else _as_given(readings, ratio=ratio),
        readings_df=readings_df,
        groups={
            c.group.rsplit("/", maxsplit=1)[-1]: _as_given(c.variance, ratio=ratio)
            for c in found.variance_components
            if c.group != "residual" and c.variance is not None and c.variance > 0
        },
    )


def _readings(values: Sequence[ItemValue], *, ratio: bool) -> tuple[float | None, int, float]:
    """Return the pooled variance of readings, its df, and what it adds to an item's average."""
    squares, df, averages = 0.0, 0, []
    for one in values:
        if one.value is None or one.reading_sd is None or one.readings < 2:
            continue
        sd = one.reading_sd / abs(one.value) if ratio and one.value else one.reading_sd
        variance = math.log1p(sd * sd) if ratio else sd * sd
        squares += (one.readings - 1) * variance
        df += one.readings - 1
        averages.append(one.readings)
    if not df:
        return None, 0, 0.0
    pooled = squares / df
    return pooled, df, pooled * sum(1 / n for n in averages) / len(averages)


def _as_given(variance: float, *, ratio: bool) -> float:
    """Return a variance as a study takes it: a standard deviation, or the CV of a lognormal."""
    return math.sqrt(math.expm1(variance) if ratio else variance)


def _ends(variance: float, shares: tuple[float, float], *, ratio: bool) -> Interval:
    low, high = (variance * share for share in shares)
    return (
        _as_given(low, ratio=ratio),
        _as_given(high, ratio=ratio) if high < 700 or not ratio else None,
    )
