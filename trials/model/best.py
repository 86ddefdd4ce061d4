"""Each of several contenders against the best of the others.

Sources: J. C. Hsu (1984), Constrained simultaneous confidence intervals for multiple comparisons
with the best, Ann. Statist. 12, 1136-1144; for unequal numbers D. G. Edwards and J. C. Hsu (1983),
J. Am. Statist. Assoc. 78, 965-971, and J. C. Hsu (1996), Multiple Comparisons, Chapman and Hall,
section 4.2. Each contender takes its turn as the control of a one-sided Dunnett comparison.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.model import dunnett
from trials.model.inference import Inference
from trials.model.layout import Floats
from trials.model.maxima import largest

MOST = 12  # contenders; with more, and no simple correlations, the bound is Bonferroni's


@dataclass(frozen=True)
class Contender:
    """One contender's mean minus the best mean of the others, with Hsu's interval.

    Where larger is better, an upper end of 0 says that another is better, and a lower end of 0 that
    none is; where smaller is better it is the other way round. ``may_be_best``: the data leave open
    that it is the best.
    """

    estimate: float
    low: float
    high: float
    may_be_best: bool


def constrained(gap: Floats, reach: Floats) -> tuple[Contender, ...]:
    """Return Hsu's intervals, larger means being better.

    Parameters
    ----------
    gap : array (k, k), contender i minus contender j.
    reach : array (k, k), how far a one-sided bound on that difference reaches with i as control.

    Examples
    --------
    >>> means = np.array([47.2, 15.7, 31.5])
    >>> found = constrained(means[:, None] - means, np.full((3, 3), 8.6))
    >>> [(round(one.low, 1), round(one.high, 1)) for one in found]
    [(0.0, 24.3), (-40.1, 0.0), (-24.3, 0.0)]
    """
    k = len(gap)
    others = [[j for j in range(k) if j != i] for i in range(k)]
    high = [max(0.0, min(float(gap[i, j] + reach[i, j]) for j in others[i])) for i in range(k)]
    left = {i for i in range(k) if high[i] > 0}
    out = []
    for i in range(k):
        rivals = [j for j in others[i] if j in left]
        low = min((min(0.0, float(gap[i, j] - reach[j, i])) for j in rivals), default=0.0)
        estimate = min(float(gap[i, j]) for j in others[i])
        out.append(Contender(estimate, low, high[i], i in left))
    return tuple(out)


def against_best(
    inference: Inference, rows: Floats, confidence: float, *, larger: bool
) -> tuple[Contender, ...] | None:
    """Return each contender against the best of the others; differences as they are, sign kept.

    Parameters
    ----------
    rows : array (k, p): coefficients of the contenders' means, or of their differences from any one
        of them.
    larger : whether a larger mean is better. If not, differences are from the smallest of the
        others, and a lower end of 0 says that another is better.

    Returns
    -------
    None where a difference has no standard error.
    """
    from scipy.special import stdtrit

    k = len(rows)
    gap, reach = np.zeros((k, k)), np.zeros((k, k))
    for i in range(k):
        others = [j for j in range(k) if j != i]
        lines = [inference.line(rows[i] - rows[j]) for j in others]
        if any(line.se is None or line.df is None for line in lines):
            return None
        covariance = inference.cov(np.array([rows[i] - rows[j] for j in others]))
        loadings = dunnett.loadings_of_covariance(covariance)
        family = None if loadings is not None or k > MOST else largest(covariance, two_sided=False)
        for j, line in zip(others, lines, strict=True):
            if line.se is None or line.df is None:
                return None
            if loadings is not None:
                critical = dunnett.critical_above(confidence, loadings, line.df)
            elif family is not None:
                critical = family.critical(confidence, line.df)
            else:
                critical = -float(stdtrit(line.df, (1 - confidence) / (k - 1)))
            gap[i, j] = line.estimate if larger else -line.estimate
            reach[i, j] = critical * line.se
    found = constrained(gap, reach)
    if larger:
        return found
    return tuple(Contender(-one.estimate, -one.high, -one.low, one.may_be_best) for one in found)
