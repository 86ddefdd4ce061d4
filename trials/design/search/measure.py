"""The best distribution over recipes if counts need not be whole: a bound for every layout.

By the multiplicative algorithm of Titterington (1976) and Silvey, Titterington & Torsney (1978),
with a bound from the equivalence theorem of Kiefer & Wolfowitz (1960) that holds wherever the
algorithm is stopped.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.design.search.values import Floats

ROUNDS = 2_000
CONDITION = 1e10
GAP = 1e-10  # relative distance of value and bound at which to stop


@dataclass(frozen=True)
class Measure:
    """Weights over the recipes, shape (R,), their value and what no weights go below."""

    weights: Floats
    value: float
    bound: float


def best_measure(X: Floats, L: Floats | None, rounds: int = ROUNDS) -> Measure:
    """Return the weights that make trace(L M^-1), or for None det(M)^(-1/p), small.

    Parameters
    ----------
    X : shape (R, p), of rank p. M is sum of w x x'.
    L : shape (p, p), non-negative definite, or None for criterion D.

    Examples
    --------
    >>> X = np.array([[1.0, -1.0], [1.0, 0.0], [1.0, 1.0]])
    >>> best_measure(X, None).weights.round(3).tolist()
    [0.5, 0.0, 0.5]
    """
    R, p = X.shape
    w = np.full(R, 1 / R)
    if L is not None and not L.any():  # nothing is asked, so nothing can be better or worse
        return Measure(w, 0.0, 0.0)
    best = Measure(w, np.inf, 0.0)
    for _ in range(rounds):
        M = (X * w[:, None]).T @ X
        if np.linalg.cond(M) > CONDITION:  # some directions don't matter and have died out
            break
        inverse = np.linalg.inv(M)
        if L is None:
            d = np.einsum("rp,pq,rq->r", X, inverse, X)
            value = float(np.exp(-np.linalg.slogdet(M)[1] / p))
            bound = value * p / float(d.max())  # by the means of the eigenvalues of M^-1 M'
            power = 1.0
            mean = float(p)
        else:
            side = X @ inverse
            d = np.einsum("rp,pq,rq->r", side, L, side)
            value = float(np.sum(L * inverse))
            bound = value**2 / float(d.max())  # Cauchy-Schwarz with the dual matrix
            power = 0.5
            mean = value
        best = Measure(w, value, max(best.bound, bound))
        if value <= best.bound * (1 + GAP):
            break
        w = w * (np.maximum(d, 0.0) / mean) ** power
        w = w / w.sum()
    return best
