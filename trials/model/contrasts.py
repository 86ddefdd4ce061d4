"""What is left of rows when the fixed part is taken off: all that the search for a top needs.

REML is the likelihood of error contrasts, the combinations of rows that no fixed effect moves. Rows
that vary alike outside of their groups come down to a few contrasts inside the space that the
groups span, and a sum of squares for all the others. There the criterion is that of a response
without a fixed part, at a cost that no longer grows with the number of effects. It has the same
top as the criterion of the rows; what tests need of the fixed part is worked out there, once.

Sources: H. D. Patterson and R. Thompson (1971), Biometrika 58; D. A. Harville (1974), Biometrika
61, for the constant between the two criteria.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trials.model.layout import Floats
from trials.model.reduced import Dense, Reduced

_NONE, _SOME = 1e-14, 1e-8  # share of a fixed column outside the groups: clearly none, clearly some
_APART = 1e-6  # fixed columns less apart than this are left to the search among all rows


@dataclass(frozen=True)
class Slope:
    """The criterion at given components: the log-likelihood, its gradient and information."""

    theta: Floats
    loglik: float
    score: Floats
    expected: Floats
    observed: Floats


@dataclass(frozen=True)
class Contrasts:
    """The contrasts of a layout, m of them in the space of its groups.

    ``A`` (d + r, m) makes them of the d dimensions of the groups and of the r that fixed columns
    have outside; ``lift`` (r, k) makes these of cross-products with the fixed columns. ``G``
    (c, m, m) is the matrix of each component, the residual's first; ``left`` is the number of all
    other contrasts, and ``shift`` what the log-likelihood of the rows has besides.
    """

    A: Floats
    lift: Floats
    G: Floats
    left: float
    shift: float

    @cached_property
    def _known(self) -> dict[bytes, tuple[Floats, Floats]]:
        """What was worked out already, by the places."""
        return {}

    def places(self, thetas: Floats) -> tuple[Floats, Floats]:
        """Return V^-1 (p, m, m) and log det V (p,) at p places: the same for every response."""
        key = thetas.tobytes()
        if key not in self._known:
            V = np.tensordot(thetas, self.G, 1)
            logdet = np.linalg.slogdet(V)[1] + self.left * np.log(thetas[:, 0]) - 2 * self.shift
            Vi: Floats = np.asarray(np.linalg.inv(V), dtype=np.float64)
            self._known[key] = Vi, logdet
        return self._known[key]

    def of(self, data: Reduced) -> Response:
        """Return the contrasts of the response, the last column of the table."""
        piece, k = data.pieces[0], data.k
        assert isinstance(piece, Dense)
        S = piece.S[0]
        outside = self.lift @ S[:k, k]
        rest = float(S[k, k] - outside @ outside)
        e: Floats = self.A.T @ np.concatenate([piece.E[:, 0, k], outside])
        return Response(self, e, max(rest, 0.0), data.n - k)


@dataclass(frozen=True)
class Response:
    """A response without its fixed part: ``e`` (m,) and the ``rest``, a sum of squares."""

    made: Contrasts
    e: Floats
    rest: float
    df: int  # of all contrasts

    def slope(self, theta: Floats) -> Slope:
        """Return the criterion where V is positive definite."""
        G, e, left, t = self.made.G, self.e, self.made.left, float(theta[0])
        c, m, _ = G.shape
        V = (theta @ G.reshape(c, m * m)).reshape(m, m)
        Vi = np.linalg.inv(V)
        K = Vi @ G
        u = Vi @ e
        g = G @ u
        flat = K.reshape(c, m * m)
        trace = flat[:, :: m + 1].sum(axis=1)
        pairs = flat @ K.transpose(0, 2, 1).reshape(c, m * m).T
        square = g @ u
        cross = g @ Vi @ g.T
        trace[0] += left / t
        pairs[0, 0] += left / t**2
        square[0] += self.rest / t**2
        cross[0, 0] += self.rest / t**3
        logdet = float(np.linalg.slogdet(V)[1]) + (left * float(np.log(t)) if left else 0.0)
        quad = float(e @ u) + self.rest / t
        return Slope(
            theta=theta,
            loglik=self.made.shift - 0.5 * (logdet + quad),
            score=0.5 * (square - trace),
            expected=0.5 * pairs,
            observed=cross - 0.5 * pairs,
        )

    def squares(self, thetas: Floats) -> tuple[Floats, Floats]:
        """Return at each of p places y'V^-1 y and log det V of the contrasts, both (p,)."""
        Vi, logdet = self.made.places(thetas)
        square: Floats = Vi @ self.e @ self.e + self.rest / thetas[:, 0]
        return square, logdet


def contrasts(data: Reduced) -> Contrasts | None:
    """Return the contrasts of a layout, or None where rows are worked out in another way.

    They exist for rows in one piece whose residual is alike for all, and where it is clear which
    fixed columns have a part outside of the groups.
    """
    piece, k = data.pieces[0], data.k
    if len(data.pieces) > 1 or data.residuals > 1 or not isinstance(piece, Dense):
        return None
    d, blocks, _ = piece.E.shape
    if blocks > 1 or data.n <= k:
        return None
    inner, S = piece.E[:, 0, :k], piece.S[0][:k, :k]
    size = np.sqrt((inner**2).sum(axis=0) + np.diag(S))
    values, U = np.linalg.eigh(S / np.outer(size, size))
    some = values > _SOME
    if (np.abs(values[~some]) > _NONE * k).any():
        return None
    root, U = np.sqrt(values[some]), U[:, some]
    X = np.vstack([inner / size, root[:, None] * U.T])
    whole, R = np.linalg.qr(X, mode="complete")
    far = np.abs(np.diag(R))
    A = whole[:, k:]
    if not A.size or far.min() < _APART:
        return None
    own = A[:d]
    G = np.zeros((len(data.components), A.shape[1], A.shape[1]))
    G[0] = np.eye(A.shape[1])
    G[piece.which] = own.T @ piece.G @ own
    shift = -float(np.log(far).sum() + np.log(size).sum())
    return Contrasts(A, U.T / root[:, None] / size, G, float(piece.left[0]) - len(root), shift)
