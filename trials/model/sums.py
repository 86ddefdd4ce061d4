"""The sums that REML and its tests need of rows, and what can give them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

from trials.model.layout import Codes, Floats

TINY = 1e-10  # V has to stay positive definite with this share of the residual taken off


@dataclass(frozen=True)
class Sums:
    """Sums at given components, c of them, of a table T with q columns.

    ``W`` (q, q) is T'V^-1 T, ``N`` (c, q, q) T'V^-1 V_i V^-1 T, and ``Q`` (c, c, q, q) the
    symmetric part of T'V^-1 V_i V^-1 V_j V^-1 T. ``trace`` (c,) and ``pairs`` (c, c) are the traces
    of V^-1 V_i and V^-1 V_i V^-1 V_j.
    """

    W: Floats
    logdet: float
    N: Floats
    Q: Floats
    trace: Floats
    pairs: Floats

    def times(self, M: Floats) -> Sums:
        """Return the sums of the table T M, for M of shape (q, p)."""
        W, N, Q = (M.T @ part @ M for part in (self.W, self.N, self.Q))
        return replace(self, W=W, N=N, Q=Q)

    def __add__(self, other: Sums) -> Sums:
        return Sums(
            self.W + other.W,
            self.logdet + other.logdet,
            self.N + other.N,
            self.Q + other.Q,
            self.trace + other.trace,
            self.pairs + other.pairs,
        )


class Piece(Protocol):
    """Rows that have no random group in common with any others.

    Outside of the space of the groups, ``S`` (c, q, q) holds the cross-products of the rows of each
    component of the residual, and ``left`` (c,) the dimensions.
    """

    @property
    def S(self) -> Floats:
        """Cross-products outside the space of the groups."""

    @property
    def left(self) -> Floats:
        """Dimensions outside the space of the groups."""

    def gram(self) -> Floats:
        """Return T'T, shape (q, q)."""

    def times(self, M: Floats) -> Piece:
        """Return the piece of the table T M, for M of shape (q, p)."""

    def pick(self, columns: Codes) -> Piece:
        """Return the piece of the table of these columns, shape (p,)."""

    def is_positive(self, theta: Floats, share: float = TINY) -> bool:
        """Return whether V is positive definite with a share of the residual taken off."""

    def heights(self, thetas: Floats) -> tuple[Floats, Floats]:
        """Return T'V^-1 T (m, q, q) and log det V (m,) at m places where V is positive definite."""

    def sums(self, theta: Floats) -> Sums:
        """Return all sums, where V is positive definite."""
