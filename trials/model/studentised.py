"""Averaging over the error of an estimated standard deviation, for studentised statistics."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Array = NDArray[np.float64]

_CUT = 41.0  # the density is left off where it is below exp(-41) = 2e-18 of its top
_FEWEST_DF = 1e-3


@lru_cache(maxsize=64)
def scaled_chi(df: float, finest: float = math.inf) -> tuple[Array, Array]:
    """Return nodes (m,) and weights (m,) for averages over s = sqrt(chi-square on ``df`` / df).

    A trapezoid rule in u = log s, its step at most ``finest`` (for what changes fast with s). The
    integrand is analytic and falls away exponentially on both sides, so that the rule converges
    exponentially (L. N. Trefethen and J. A. C. Weideman, 2014, SIAM Review 56, 385-458). An
    infinite ``df`` gives the one node 1. The smaller ``df`` is, the more nodes are needed.

    Raises
    ------
    ValueError : ``df`` below 0.001, where there would be millions of nodes.

    Examples
    --------
    >>> s, weight = scaled_chi(5.5)
    >>> bool(abs(weight.sum() - 1) < 1e-14), bool(abs((weight * s**2).sum() - 1) < 1e-13)
    (True, True)
    """
    if not df >= _FEWEST_DF:
        raise ValueError(f"degrees of freedom {df} are below {_FEWEST_DF}")
    if math.isinf(df):
        return np.ones(1), np.ones(1)

    def depth(u: float) -> float:  # minus the log density of u, above its top at 0
        return df * (math.expm1(2 * u) / 2 - u)

    low, high = -_edge(lambda u: depth(-u)), _edge(depth)
    step = min(0.12, 0.5 / math.sqrt(2 * df), finest)
    u = np.arange(math.floor(low / step), math.ceil(high / step) + 1) * step
    weight = np.exp(-df * (np.expm1(2 * u) / 2 - u))
    return _frozen(np.exp(u)), _frozen(weight / weight.sum())


def _edge(depth: Callable[[float], float]) -> float:
    """Return where an increasing ``depth`` passes the cut."""
    high = 1e-3
    while depth(high) < _CUT:
        high *= 2
    low = 0.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if depth(middle) < _CUT else (low, middle)
    return high


def _frozen(values: Array) -> Array:
    values.setflags(write=False)
    return values


def noncentral_t_cdf(t: float, df: float, ncp: float) -> float:
    """Return the chance that noncentral t is at most ``t``; good for |t| up to 10,000.

    The average of Phi(t s - ncp) over s. (The routine in scipy 1.17 gives NaN at some ncp whose
    sign isn't that of t.)

    Examples
    --------
    >>> round(noncentral_t_cdf(2.0, 3, 1.0), 10)
    0.7436298684
    """
    # Rounded down to a power of two, so that neighbouring ncp share their nodes.
    finest = 2.0 ** math.floor(math.log2(0.5 / max(abs(t), abs(ncp), 1.0)))
    s, weight = scaled_chi(df, finest)
    return float(weight @ ndtr(t * s - ncp))


def root(excess: Callable[[float], float], start: float) -> float:
    """Return where a decreasing function of a positive number meets 0, to about 1e-12 relative."""
    from scipy.optimize import brentq

    low = high = start
    while excess(high) > 0:
        low, high = high, 2 * high
    while excess(low) < 0:
        low, high = low / 2, low
    if low == high:
        return low
    return float(brentq(excess, low, high, xtol=1e-13 * high, rtol=1e-12))
