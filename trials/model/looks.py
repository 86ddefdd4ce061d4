"""Looking twice at the results: how wide each look's intervals must be.

Source: S. J. Pocock (1977), Group sequential methods in the design and analysis of clinical trials,
Biometrika 64, 191-199: the same nominal level at every equally spaced look.
"""

from __future__ import annotations

from functools import lru_cache
from math import sqrt

REACH = 8.0  # standard errors beyond which nothing is left of the normal distribution


@lru_cache(maxsize=16)
def per_look(confidence: float, looks: int) -> float:
    """Return the confidence of each look's intervals, so that both together keep ``confidence``.

    The second look comes at twice the items of the first.

    Parameters
    ----------
    looks : 1 or 2.

    Examples
    --------
    >>> round(per_look(0.95, 2), 4), per_look(0.95, 1)
    (0.9706, 0.95)
    """
    if looks == 1:
        return confidence
    from scipy import integrate, optimize, stats

    def inside(reach: float) -> float:
        """Return the chance that both looks stay within ``reach`` standard errors."""

        def at(first: float) -> float:
            high, low = reach * sqrt(2) - first, -reach * sqrt(2) - first
            return float(stats.norm.pdf(first) * (stats.norm.cdf(high) - stats.norm.cdf(low)))

        return float(integrate.quad(at, -reach, reach, epsabs=1e-12)[0])

    reach = optimize.brentq(lambda c: inside(c) - confidence, 0.0, REACH, xtol=1e-10)
    return float(1 - 2 * stats.norm.sf(reach))
