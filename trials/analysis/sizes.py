"""How big an effect is: standardised differences and shares of variance, with their intervals.

Sources: J. H. Steiger (2004), Psychological Methods 9, 164-182 (intervals from noncentral
distributions); L. V. Hedges (1981), J. Educational Statistics 6, 107-128 (the exact correction J);
G. Keren and C. Lewis (1979), Educational and Psychological Measurement 39, 119-128 (partial
omega squared).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import gammaln, ncfdtr

from trials.model.studentised import noncentral_t_cdf

Array = NDArray[np.float64]

_LARGEST_NONCENTRALITY = 1e5
_LARGEST_T = 1e4


def partial_eta_squared(f: float, num_df: float, den_df: float) -> float | None:
    """Return num_df F / (num_df F + den_df): the term's part of term and error in this sample.

    None where F or den_df isn't a finite number above or at 0.

    Examples
    --------
    >>> round(partial_eta_squared(4.84608786238014, 2, 27), 12)
    0.264148296832
    """
    if not (_usable(f, den_df) and num_df > 0):
        return None
    return num_df * f / (num_df * f + den_df)


def partial_eta_squared_interval(
    f: float, num_df: float, den_df: float, confidence: float
) -> tuple[float, float] | None:
    """Return the interval of partial eta squared: noncentral F inverted, equal tails.

    A bound of the noncentrality becomes eta squared by ncp / (ncp + den_df). That is what the
    estimate itself does with num_df F, so that estimate and interval are on one scale, and it is
    what R's effectsize package does. (Steiger divides by ncp + n instead, which estimates the
    population's value and can leave the sample's own estimate outside.) The lower limit is 0 where
    F is too small for a positive one.

    Returns None where it can't be computed (F infinite, or a noncentrality above 100,000).

    Examples
    --------
    >>> low, high = partial_eta_squared_interval(4.84608786238014, 2, 27, 0.9)
    >>> round(low, 9), round(high, 9)
    (0.035306292, 0.454775832)
    """
    if not (_usable(f, den_df) and num_df > 0):
        return None
    tail = (1 - confidence) / 2

    def bound(chance: float) -> float | None:
        return _noncentrality(lambda ncp: _ncf_cdf(f, num_df, den_df, ncp) - chance, 0.0)

    low, high = bound(1 - tail), bound(tail)
    if low is None or high is None:
        return None
    return low / (low + den_df), high / (high + den_df)


def partial_omega_squared(
    f: float, num_df: float, den_df: float, units: float | None = None
) -> float | None:
    """Return num_df (F - 1) / (num_df (F - 1) + units): partial eta squared without its bias.

    ``units`` is the number of units the term is tested on; None takes num_df + den_df + 1, right
    where the term is the only one. A negative estimate is cut at 0.

    Examples
    --------
    >>> round(partial_omega_squared(4.84608786238014, 2, 27), 12)
    0.20407884599
    """
    if not (_usable(f, den_df) and num_df > 0):
        return None
    count = num_df + den_df + 1 if units is None else units
    excess = max(0.0, num_df * (f - 1))
    return excess / (excess + count)


def small_sample_correction(df: float) -> float | None:
    """Return Hedges' J, exact by the gamma function; None for df of 1 or less, where it has none.

    Examples
    --------
    >>> round(small_sample_correction(18), 12)
    0.957646427024
    """
    if not df > 1:
        return None
    if math.isinf(df) or df > 1e9:  # J = 1 - 3 / (4 df - 1), and the gammas cancel
        return 1.0
    return math.exp(float(gammaln(df / 2) - gammaln((df - 1) / 2)) - math.log(df / 2) / 2)


def hedges_g(difference: float, sd: float, df: float) -> float | None:
    """Return the difference in standard deviations, corrected for small samples.

    Parameters
    ----------
    difference : of two means, on the scale of analysis.
    sd : the standardiser: square root of the sum of the components from the factor's own unit down
        to the item.
    df : degrees of freedom of the comparison.

    Examples
    --------
    >>> round(hedges_g(-0.865, 0.642569927020485, 18), 9)
    -1.289142433
    """
    correction = small_sample_correction(df)
    if correction is None or not (sd > 0 and math.isfinite(difference / sd)):
        return None
    return correction * difference / sd


def hedges_g_interval(
    difference: float, se: float, sd: float, df: float, confidence: float
) -> tuple[float, float] | None:
    """Return the interval of Hedges g: noncentral t inverted, scaled by se / sd and J.

    Exact where ``sd`` and ``se`` come from one error (one stratum); with several components the
    usual approximation.

    Examples
    --------
    >>> low, high = hedges_g_interval(0.371, 0.6963894982934 * 0.2**0.5, 0.6963894982934, 18, 0.95)
    >>> round(low, 5), round(high, 5)
    (-0.35214, 1.35896)
    """
    correction = small_sample_correction(df)
    if correction is None or not (sd > 0 and se > 0 and abs(difference / se) <= _LARGEST_T):
        return None
    t = difference / se
    tail = (1 - confidence) / 2

    def bound(chance: float) -> float | None:
        return _noncentrality(lambda ncp: noncentral_t_cdf(t, df, ncp) - chance, -math.inf, abs(t))

    low, high = bound(1 - tail), bound(tail)
    if low is None or high is None:
        return None
    return correction * low * se / sd, correction * high * se / sd


def mean_square_effect(effects: Array, covariance: Array) -> float:
    """Return the mean square of a term's equally weighted effects, its bias taken off.

    Parameters
    ----------
    effects : array (c,), the term's effect at each of its combinations, adding up to 0.
    covariance : array (c, c) of their estimates. On average the estimates' own error adds
        trace / c to the mean square; that is subtracted. The answer can be negative.

    Examples
    --------
    >>> float(mean_square_effect(np.array([1.0, -1.0]), 0.25 * np.eye(2)))
    0.75
    """
    return float(np.mean(np.square(effects)) - np.trace(covariance) / len(effects))


def shares_of_variance(
    mean_squares: Mapping[str, float], components: Iterable[float]
) -> dict[str, float | None]:
    """Return each term's share of all variation, for the levels that were tried.

    Parameters
    ----------
    mean_squares : for each term :func:`mean_square_effect`; negative ones count as 0.
    components : the variance components, negative ones count as 0.

    Returns
    -------
    Term to share, 0 to 1; None where nothing varies at all. In a balanced design with one error
    the share is omega squared (W. L. Hays, 1963, Statistics for Psychologists).

    Examples
    --------
    >>> shares_of_variance({"heat": 2.0, "soak": -0.1}, [1.0, 1.0])
    {'heat': 0.5, 'soak': 0.0}
    """
    kept = {term: max(0.0, value) for term, value in mean_squares.items()}
    total = sum(kept.values()) + sum(max(0.0, component) for component in components)
    if not (total > 0 and math.isfinite(total)):
        return dict.fromkeys(kept)
    return {term: value / total for term, value in kept.items()}


def _usable(f: float, den_df: float) -> bool:
    return math.isfinite(f) and f >= 0 and math.isfinite(den_df) and den_df > 0


def _ncf_cdf(f: float, num_df: float, den_df: float, ncp: float) -> float:
    """Return the noncentral F distribution; scipy's routine gives NaN far out in the tails."""
    chance = float(ncfdtr(num_df, den_df, ncp, f))
    if math.isnan(chance):
        return 0.0 if ncp > num_df * f else 1.0
    return chance


def _noncentrality(
    excess: Callable[[float], float], lowest: float, start: float = 1.0
) -> float | None:
    """Return where the decreasing ``excess`` meets 0, or ``lowest`` where it starts below it."""
    if lowest == 0.0 and excess(0.0) <= 0:
        return 0.0
    reach = max(start, 1.0)
    low, high = (0.0 if lowest == 0.0 else -reach), reach
    while lowest != 0.0 and not excess(low) >= 0:
        low *= 2
        if low < -_LARGEST_NONCENTRALITY:
            return None
    while not excess(high) <= 0:
        high *= 2
        if high > _LARGEST_NONCENTRALITY:
            return None
    return float(brentq(excess, low, high, xtol=1e-12, rtol=1e-13))
