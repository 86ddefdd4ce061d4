"""What positions in groups can tell: the matrix W, the same for every layout.

The information on the coefficients is M = X' W X, with W the inverse of the covariance V less its
projection on the groups whose members stand for themselves.
"""

from __future__ import annotations

import numpy as np

from trials.design.factorials import Codes
from trials.design.search.values import Floats, Problem
from trials.errors import PlanError


def information(problem: Problem) -> Floats:
    """Return W of shape (n, n), in which the mean is not yet taken out.

    Differences between members of a fixed group are removed; the intercept then is the mean over
    all positions, weighted by what each tells.

    Raises
    ------
    PlanError : variances that make no covariance.

    Examples
    --------
    >>> from trials.design.search.values import SearchFactor
    >>> information(Problem(3, (SearchFactor("a", 2),), residual=0.5)).tolist()
    [[2.0, 0.0, 0.0], [0.0, 2.0, 0.0], [0.0, 0.0, 2.0]]
    """
    n = problem.n
    if problem.information is not None:
        return np.asarray(problem.information, dtype=np.float64)
    V = problem.residual * np.eye(n)
    for group in problem.groups:
        if group.variance:
            V += group.variance * (group.codes[:, None] == group.codes[None, :])
    if problem.residual <= 0 or min((g.variance or 0.0 for g in problem.groups), default=0.0) < 0:
        raise PlanError(
            "The assumed spread of items must be more than nothing, that of groups not negative.",
            code="search.variance",
            where="spread in study.toml",
            found=f"items {problem.residual:g}",
            do="Give the items a spread above 0.",
        )
    inverse = np.linalg.inv(V)
    inverse = (inverse + inverse.T) / 2
    blocks = [indicators(g.codes) for g in problem.groups if g.variance is None]
    if not blocks:
        return inverse
    one = np.ones((n, 1))
    N = np.hstack(blocks)
    N = N - one * (one.T @ inverse @ N) / float((one.T @ inverse @ one)[0, 0])
    middle = np.linalg.pinv(N.T @ inverse @ N, rcond=1e-10, hermitian=True)
    W: Floats = inverse - inverse @ N @ middle @ N.T @ inverse
    return (W + W.T) / 2


def without_mean(W: Floats) -> Floats:
    """Return W with the mean taken out as well, so that rows sum to zero."""
    one = W.sum(axis=1)
    out: Floats = W - np.outer(one, one) / one.sum()
    return out


def indicators(codes: Codes) -> Floats:
    """Return one column for each member, shape (n, members)."""
    table: Floats = (codes[:, None] == np.unique(codes)[None, :]).astype(np.float64)
    return table


def top_on(W: Floats, unit: Codes) -> float:
    """Return the largest eigenvalue of W on functions that are constant on each unit."""
    Z = indicators(unit)
    Z = Z / np.sqrt(Z.sum(axis=0))
    return float(np.linalg.eigvalsh(Z.T @ W @ Z)[-1])
