"""Dunnett's method: several levels compared with one control.

Source: C. W. Dunnett (1955), J. Am. Statist. Assoc. 50, 1096-1121; C. W. Dunnett (1964), Biometrics
20, 482-491; the one-factor form of the correlations, C. W. Dunnett and M. Sobel (1955), Biometrika
42, 258-260. Exact by quadrature: no random numbers, unlike the general multivariate t.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr, ndtr, stdtr, stdtrit

from trials.model.studentised import root, scaled_chi

Array = NDArray[np.float64]
Loadings = tuple[float, ...]

_REACH = 8.6


def loadings_of_counts(control: float, others: tuple[float, ...]) -> Loadings:
    """Return the loadings of one-way comparisons with a control, from the numbers of units.

    Two comparisons i and j then correlate by ``loadings[i] * loadings[j]``.

    Examples
    --------
    >>> [round(x, 4) for x in loadings_of_counts(10, (10, 30))]
    [0.7071, 0.866]
    """
    return tuple(math.sqrt(n / (n + control)) for n in others)


def loadings_of_covariance(covariance: ArrayLike) -> Loadings | None:
    """Return the loadings that give the correlations of the differences, if there are any.

    Parameters
    ----------
    covariance : array (k, k) of the k differences from the control, any scale.

    Returns
    -------
    k numbers between -1 and 1 with correlation[i, j] = loadings[i] * loadings[j] to 1e-8, or None:
    then Dunnett's one-factor form doesn't hold and another adjustment is needed.

    Examples
    --------
    >>> loadings_of_covariance([[2.0, 1.0], [1.0, 2.0]])
    (0.707..., 0.707...)
    """
    V = np.asarray(covariance, dtype=np.float64)
    k = len(V)
    sd = np.sqrt(np.diag(V))
    if not np.all(np.isfinite(V)) or np.any(sd <= 0):
        return None
    R = V / np.outer(sd, sd)
    if k == 1:
        return (0.0,)
    if k == 2:
        half = math.sqrt(abs(R[0, 1]))
        loading = np.array([half, math.copysign(half, R[0, 1])])
    else:
        loading = _triads(R)
    off = ~np.eye(k, dtype=bool)
    fits = np.allclose(np.outer(loading, loading)[off], R[off], rtol=0, atol=1e-8)
    return tuple(loading.tolist()) if fits and np.all(np.abs(loading) < 1 - 1e-9) else None


def _triads(R: Array) -> Array:
    """Return the loadings from triples of correlations, the signs following the first pair."""
    k = len(R)
    loading = np.zeros(k)
    for i in range(k):
        others = [(abs(R[j, m]), j, m) for j in range(k) for m in range(j) if i not in (j, m)]
        size, j, m = max(others)
        loading[i] = math.sqrt(abs(R[i, j] * R[i, m]) / size) if size > 0 else 0.0
    first = int(np.argmax(loading))
    signs = np.where(R[first] < 0, -1.0, 1.0)
    signs[first] = 1.0
    return loading * signs


def adjusted_p(t: float, loadings: Loadings, df: float) -> float:
    """Return Dunnett's two-sided p of one comparison with the control.

    Parameters
    ----------
    t : difference from the control over its standard error.
    loadings : one for each comparison in the family; see :func:`loadings_of_counts`.
    df : degrees of freedom of the standard errors, above 0, may be fractional or infinite.

    Raises
    ------
    ValueError : no comparison, a loading not between -1 and 1, or df not above 0.

    Examples
    --------
    >>> round(adjusted_p(1.77199637675297, loadings_of_counts(10, (10, 10)), df=27), 9)
    0.153485862
    """
    _check(loadings, df)
    if math.isnan(t):
        return math.nan
    if len(loadings) == 1:
        return float(2 * stdtr(df, -abs(t)))
    return _survival(abs(t), loadings, df)


def beyond(t: float, loadings: Loadings, df: float, *, two_sided: bool = True) -> float:
    """Return the chance that some studentised difference lies beyond ``t``, 0 or above.

    Raises
    ------
    ValueError : as :func:`adjusted_p`.
    """
    _check(loadings, df)
    return _survival(t, loadings, df) if two_sided else _survival_above(t, loadings, df)


@lru_cache(maxsize=4096)
def critical_above(confidence: float, loadings: Loadings, df: float) -> float:
    """Return how many standard errors the simultaneous bounds on one side reach out.

    Raises
    ------
    ValueError : as :func:`adjusted_p`, or a confidence outside 0.5 to 1.

    Examples
    --------
    >>> round(critical_above(0.95, (0.5**0.5,) * 3, df=10), 2)  # Dunnett 1955, table 1a
    2.34
    """
    _check(loadings, df)
    if not 0.5 < confidence < 1:
        raise ValueError(f"confidence {confidence} is not between 0.5 and 1")
    alpha = 1 - confidence
    start = -float(stdtrit(df, alpha))
    if len(loadings) == 1:
        return start
    return root(lambda c: _survival_above(c, loadings, df) - alpha, start * 1.1)


@lru_cache(maxsize=4096)
def critical(confidence: float, loadings: Loadings, df: float) -> float:
    """Return how many standard errors of a difference the simultaneous interval reaches out.

    Raises
    ------
    ValueError : as :func:`adjusted_p`, or a confidence outside 0 to 1.

    Examples
    --------
    >>> round(critical(0.95, loadings_of_counts(10, (10, 10)), df=27), 8)
    2.33341155
    """
    _check(loadings, df)
    if not 0 < confidence < 1:
        raise ValueError(f"confidence {confidence} is not between 0 and 1")
    start = -float(stdtrit(df, (1 - confidence) / 2))
    if len(loadings) == 1:
        return start
    alpha = 1 - confidence
    return root(lambda c: _survival(c, loadings, df) - alpha, start * 1.1)


@lru_cache(maxsize=4096)
def _survival(bound: float, loadings: Loadings, df: float) -> float:
    """Return the chance that some of the k studentised differences lies beyond +-``bound``."""
    s, weight = scaled_chi(df)
    different, repeats = np.unique(np.abs(loadings), return_counts=True)
    rest = np.sqrt(1 - different**2)
    z, density = _common_part(different, rest, len(loadings))
    log_inside = np.zeros((len(s), len(z)))
    for loading, sd, times in zip(different, rest, repeats, strict=True):
        edge = bound * s[:, None]
        outside = ndtr((-edge + loading * z) / sd) + ndtr((-edge - loading * z) / sd)
        with np.errstate(divide="ignore"):
            log_inside += times * np.log1p(-np.minimum(outside, 1.0))
    return min(1.0, float(weight @ (-np.expm1(log_inside) @ density)))


@lru_cache(maxsize=4096)
def _survival_above(bound: float, loadings: Loadings, df: float) -> float:
    """Return the chance that some of the k studentised differences lies above ``bound``."""
    s, weight = scaled_chi(df)
    different, repeats = np.unique(loadings, return_counts=True)
    rest = np.sqrt(1 - different**2)
    z, density = _common_part(np.abs(different), rest, len(loadings))
    log_inside = np.zeros((len(s), len(z)))
    for loading, sd, times in zip(different, rest, repeats, strict=True):
        log_inside += times * log_ndtr((bound * s[:, None] - loading * z) / sd)
    return min(1.0, float(weight @ (-np.expm1(log_inside) @ density)))


def _common_part(loading: Array, rest: Array, k: int) -> tuple[Array, Array]:
    """Return nodes and weights (m,) for averages over the part that all differences share."""
    # The narrowest ramp of the integrand over the common part z sets the step.
    ramp = float(np.min(rest / np.maximum(loading, 1e-300), initial=1.0))
    step = min(0.2, 0.6 * ramp / math.sqrt(k))
    z = np.arange(-math.ceil(_REACH / step), math.ceil(_REACH / step) + 1) * step
    density: Array = step * np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi)
    return z.astype(np.float64), density


def _check(loadings: Loadings, df: float) -> None:
    if not loadings:
        raise ValueError("there is no comparison")
    if any(not abs(loading) < 1 for loading in loadings):
        raise ValueError(f"loadings {loadings} are not all between -1 and 1")
    if not df > 0:
        raise ValueError(f"degrees of freedom {df} are not above 0")
