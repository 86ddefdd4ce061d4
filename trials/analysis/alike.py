"""How different things built alike came out: what a practice run is made for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trials.analysis.findings import FoundSpread, Interval, ReadingShare, ResponseFindings
from trials.model import Fit
from trials.record.values import ItemValue

LARGEST_LOG_VARIANCE = 700  # beyond it no float holds the coefficient of variation


@dataclass(frozen=True)
class Leftover:
    """What is left over between items built alike, as variances on the scale of analysis.

    ``total`` is that of the items' values, ``meter`` the part that their readings add to it,
    ``reading`` that of a single reading (None where no item was read twice).
    """

    total: float
    df: float
    meter: float
    reading: float | None
    reading_df: int
    ratio: bool


def leftover(found: ResponseFindings, values: Sequence[ItemValue]) -> Leftover | None:
    """Return the variances; None where no two items of one group gave values that differ."""
    total = next((c.variance for c in found.variance_components if c.group == "residual"), None)
    df = found.diagnostics.get("residual_df")
    if total is None or total <= 0 or not isinstance(df, int | float) or df <= 0:
        return None
    ratio = found.scale == "ratio"
    if ratio and total >= LARGEST_LOG_VARIANCE:
        return None
    reading, reading_df, meter = pooled_readings(values, ratio=ratio)
    return Leftover(total, float(df), meter, reading, reading_df, ratio)


def spread_of_alike(
    found: ResponseFindings, values: Sequence[ItemValue], confidence: float
) -> FoundSpread | None:
    """Return the standard deviations (CVs on the ratio scale); None without repeats of an item.

    The variance between items is what is left when that of their averaged readings is taken off;
    where the readings explain all of it, it is not taken off, for a spread of nothing would promise
    too much. The lower end of the interval is 0 where the readings may explain everything.
    """
    left = leftover(found, values)
    if left is None:
        return None
    alone = left.total - left.meter
    items = alone if alone > 0 else left.total
    low, high = (
        difference_interval(left.total, left.meter, (left.df, left.reading_df), confidence)
        if alone > 0
        else (0.0, variance_interval(left.total, left.df, confidence)[1])
    )
    return FoundSpread(
        items=as_given(items, ratio=left.ratio),
        items_interval=(as_given(low, ratio=left.ratio), _largest(high, ratio=left.ratio)),
        items_df=left.df,
        readings=None if left.reading is None else as_given(left.reading, ratio=left.ratio),
        readings_df=left.reading_df,
        groups={
            c.group.rsplit("/", maxsplit=1)[-1]: as_given(c.variance, ratio=left.ratio)
            for c in found.variance_components
            if c.group != "residual" and c.variance is not None and c.variance > 0
        },
    )


def variance_interval(variance: float, df: float, confidence: float) -> tuple[float, float]:
    """Return the interval of a normal sample's variance, by chi-squared.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.3.1 (equal tails).

    Examples
    --------
    >>> low, high = variance_interval(1.0, 2, 0.95)
    >>> round(low, 3), round(high, 1)
    (0.271, 39.5)
    """
    from scipy.stats import chi2

    low, high = (df * variance / chi2.ppf(q, df) for q in ((1 + confidence) / 2,
                                                           (1 - confidence) / 2))  # fmt: skip
    return float(low), float(high)


def difference_interval(
    total: float, part: float, df: tuple[float, float], confidence: float
) -> tuple[float, float]:
    """Return the interval of what is left of one mean square when another is taken off, 0 or above.

    Parameters
    ----------
    total, part : mean squares that know nothing of each other; ``part`` 0 is known to be nothing.
    df : their degrees of freedom.

    Source: modified large-sample interval of N. Ting, R. K. Burdick, F. A. Graybill, S. Jeyaratnam
    and T.-F. C. Lu (1990), J. Statist. Comput. Simul. 35, 135-143; also R. K. Burdick and F. A.
    Graybill (1992), Confidence Intervals on Variance Components. With ``part`` 0 it is
    that of :func:`variance_interval`.

    Examples
    --------
    >>> difference_interval(1.0, 0.0, (2, 0), 0.95) == variance_interval(1.0, 2, 0.95)
    True
    >>> [round(end, 3) for end in difference_interval(1.0, 0.1, (2, 8), 0.95)]
    [0.135, 39.382]
    """
    from scipy.stats import chi2, f

    if not part:
        return variance_interval(total, df[0], confidence)
    tail = (1 - confidence) / 2
    many, few = (1 - df[0] / chi2.ppf(q, df[0]) for q in (1 - tail, tail))
    part_many, part_few = (1 - df[1] / chi2.ppf(q, df[1]) for q in (1 - tail, tail))
    above, below = (f.ppf(q, *df) for q in (1 - tail, tail))
    low_cross = ((above - 1) ** 2 - (many * above) ** 2 - part_few**2) / above
    high_cross = ((1 - below) ** 2 - (few * below) ** 2 - part_many**2) / below
    down = (many * total) ** 2 + (part_few * part) ** 2 + low_cross * total * part
    up = (few * total) ** 2 + (part_many * part) ** 2 + high_cross * total * part
    alone = total - part
    return max(alone - math.sqrt(max(down, 0.0)), 0.0), max(alone + math.sqrt(max(up, 0.0)), 0.0)


def share_interval(count: int, of: int, confidence: float) -> tuple[float, float]:
    """Return the exact interval of a share (C. J. Clopper and E. S. Pearson, 1934, Biometrika 26).

    Examples
    --------
    >>> [round(end, 4) for end in share_interval(0, 4, 0.95)]
    [0.0, 0.6024]
    """
    from scipy.stats import beta

    tail = (1 - confidence) / 2
    low = 0.0 if count == 0 else float(beta.ppf(tail, count, of - count + 1))
    high = 1.0 if count == of else float(beta.ppf(1 - tail, count + 1, of - count))
    return low, high


def meter_share(left: Leftover, confidence: float) -> tuple[float, Interval] | None:
    """Return the readings' share of the variance between items, 0 to 1, with its interval.

    The interval rests on F, the ratio of two variances that know nothing of each other; exact where
    every item was read equally often. None where no item was read twice.
    """
    from scipy.stats import f

    if left.reading is None or not left.reading_df:
        return None
    share = left.meter / left.total
    tail = (1 - confidence) / 2
    low, high = (float(f.ppf(q, left.df, left.reading_df)) * share for q in (tail, 1 - tail))
    return min(share, 1.0), (min(low, 1.0), min(high, 1.0))


def reading_share(left: Leftover, readings: float, confidence: float) -> ReadingShare | None:
    """Return whether the meter or the build is the noise; None where no item was read twice.

    Parameters
    ----------
    readings : of each item, their harmonic mean.

    The intraclass correlation follows from the readings' share s of the variance between items'
    values by (1 - s) / (1 - s + s r): ICC(1,1) of P. E. Shrout and J. L. Fleiss (1979),
    Psychological Bulletin 86, 420-428, with their interval, both cut at 0.

    Examples
    --------
    >>> left = Leftover(11.24 / 4, 5, 6.26 / 4, 6.26, 18, False)  # Shrout and Fleiss, table 3
    >>> found = reading_share(left, 4, 0.95)
    >>> round(found.icc, 2), [round(end, 2) for end in found.icc_interval]
    (0.17, [0.0, 0.72])
    """
    told = meter_share(left, confidence)
    if told is None or left.reading is None:
        return None
    share, (low, high) = told

    def icc(part: float | None) -> float | None:
        return None if part is None else (1 - part) / (1 - part + part * readings)

    return ReadingShare(
        share=share,
        share_interval=(low, high),
        icc=icc(share) or 0.0,
        icc_interval=(icc(high), icc(low)),
        readings=readings,
        items_df=left.df,
        readings_df=left.reading_df,
    )


def leftover_of_rows(fit: Fit, *, ratio: bool) -> tuple[Leftover, float] | None:
    """Return the variances where rows are readings of items, and the readings of each item.

    None where the data don't tell both variances.
    """
    layout = fit.design.layout
    if layout.item is None:
        return None
    codes = layout.grouping(layout.item).coded.codes
    counts = np.bincount(codes)
    first = np.unique(codes, return_index=True)[1]
    groups = [np.eye(g.members)[g.coded.codes] for g in layout.groupings if g.path != layout.item]
    taken = np.hstack([fit.design.XK, *groups])[first]
    df = len(counts) - int(np.linalg.matrix_rank(taken))
    between = fit.component(layout.item).unbounded
    reading = fit.component("residual").variance
    if between is None or reading is None or df <= 0 or reading <= 0:
        return None
    share = float(np.mean(1 / counts))
    total = between + reading * share
    if total <= 0:
        return None
    rows = layout.n - len(counts)
    return Leftover(total, float(df), reading * share, reading, rows, ratio), 1 / share


def pooled_readings(values: Sequence[ItemValue], *, ratio: bool) -> tuple[float | None, int, float]:
    """Return the pooled variance of readings, its df, and what it adds to an item's average."""
    squares, df = 0.0, 0
    for one in values:
        if one.value is None or one.reading_sd is None or one.readings < 2:
            continue
        sd = one.reading_sd / abs(one.value) if ratio and one.value else one.reading_sd
        variance = math.log1p(sd * sd) if ratio else sd * sd
        squares += (one.readings - 1) * variance
        df += one.readings - 1
    if not df:
        return None, 0, 0.0
    pooled = squares / df
    return pooled, df, pooled * sum(1 / max(one.readings, 1) for one in values) / len(values)


def as_given(variance: float, *, ratio: bool) -> float:
    """Return a variance as a study takes it: a standard deviation, or the CV of a lognormal."""
    return math.sqrt(math.expm1(variance) if ratio else variance)


def _largest(variance: float, *, ratio: bool) -> float | None:
    return None if ratio and variance >= LARGEST_LOG_VARIANCE else as_given(variance, ratio=ratio)
