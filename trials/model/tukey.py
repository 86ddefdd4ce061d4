"""Tukey's method for all pairs of levels: adjusted p and simultaneous intervals.

Source: J. W. Tukey (1953), "The problem of multiple comparisons"; for unequal numbers C. Y. Kramer
(1956), Biometrics 12, 307-310, conservative by A. J. Hayter (1984), Ann. Statist. 12, 61-75. The
distribution of the studentised range is integrated anew here, because the ready-made routines are
either slow (seconds for a table) or good to 4 digits only.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, stdtr, stdtrit

from trials.model.studentised import root, scaled_chi

Array = NDArray[np.float64]

_REACH = 8.6  # beyond this many standard deviations the normal density is below 1e-17


def adjusted_p(t: float, levels: int, df: float) -> float:
    """Return Tukey's p of one pair among ``levels`` levels.

    Parameters
    ----------
    t : difference of the two means over its standard error.
    levels : number of levels compared, 2 or more.
    df : degrees of freedom of the standard error, above 0, may be fractional or infinite.

    Raises
    ------
    ValueError : fewer than 2 levels, or df not above 0.

    Examples
    --------
    >>> round(adjusted_p(3.10278717791766, levels=3, df=27), 9)
    0.012006424
    """
    _check(levels, df)
    if math.isnan(t):
        return math.nan
    if levels == 2:
        return float(2 * stdtr(df, -abs(t)))
    return _survival(math.sqrt(2) * abs(t), levels, df)


@lru_cache(maxsize=4096)
def critical(confidence: float, levels: int, df: float) -> float:
    """Return how many standard errors of a difference the simultaneous interval reaches out.

    Raises
    ------
    ValueError : fewer than 2 levels, df not above 0, or a confidence outside 0 to 1.

    Examples
    --------
    >>> round(critical(0.95, levels=3, df=27) * 2**0.5, 6)  # upper 5 % point of the range
    3.506426
    """
    _check(levels, df)
    if not 0 < confidence < 1:
        raise ValueError(f"confidence {confidence} is not between 0 and 1")
    start = -float(stdtrit(df, (1 - confidence) / 2))
    if levels == 2:
        return start
    alpha = 1 - confidence
    return root(lambda c: _survival(math.sqrt(2) * c, levels, df) - alpha, start * 1.2)


def range_survival(width: Array, levels: int) -> Array:
    """Return the chance that ``levels`` standard normal values spread over more than ``width``.

    ``width``: array (m,), 0 or above. The integral over the smallest value is a trapezoid rule,
    which converges exponentially for it.
    """
    step = min(0.25, math.pi * math.sqrt(2 / (38 * levels)))
    z = np.arange(-math.ceil(_REACH / step), math.ceil(_REACH / step) + 1) * step
    weight = levels * step * np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi)
    inside = ndtr(z[None, :] + width[:, None]) - ndtr(z)[None, :]
    whole = ndtr(-z)  # the same where the range has no limit: the difference keeps small tails
    power = levels - 1
    return np.asarray((whole**power - inside**power) @ weight).clip(0.0, 1.0)


@lru_cache(maxsize=4096)
def _survival(q: float, levels: int, df: float) -> float:
    s, weight = scaled_chi(df)
    return min(1.0, float(weight @ range_survival(q * s, levels)))


def _check(levels: int, df: float) -> None:
    if levels < 2:
        raise ValueError(f"{levels} levels can't be compared; it takes 2")
    if not df > 0:
        raise ValueError(f"degrees of freedom {df} are not above 0")
