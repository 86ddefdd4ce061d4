"""Tests and intervals on a fit: strata, Kenward-Roger or Satterthwaite.

Sources: M. G. Kenward and J. H. Roger (1997), Biometrics 53, 983-997; F. E. Satterthwaite (1946),
Biometrics Bulletin 2; A. H.-T. Fai and P. L. Cornelius (1996), J. Statist. Comput. Simul. 54.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from trials.model.layout import Floats
from trials.model.reml import At
from trials.model.strata import Orthogonal

FEW_DF = 2.5  # with several numerator df a Kenward-Roger test below this says nothing
LEAST_DF = 0.2  # below it a standard error is known to no order of magnitude: there is none
UNSURE = "error_unsure"  # the note on a line without a standard error for that reason


@dataclass(frozen=True)
class FTest:
    """A test of L b = 0; ``f`` is None where the data can't carry it, and ``note`` says why."""

    num_df: int
    den_df: float | None
    f: float | None
    sum_sq: float | None = None
    note: str = ""


@dataclass(frozen=True)
class Line:
    """A linear function of the coefficients: estimate, standard error, degrees of freedom.

    ``note`` says why there is no standard error: "no_replication", "no_variation" or
    "error_unsure".
    """

    estimate: float
    se: float | None
    df: float | None
    note: str = ""


class Inference(Protocol):
    """What a fit offers to whoever asks: it needs no data any more."""

    @property
    def beta(self) -> Floats:
        """Coefficients, shape (k,)."""

    def test(self, L: Floats) -> FTest:
        """Test L b = 0 for L of shape (r, k) and full row rank."""

    def line(self, row: Floats) -> Line:
        """Return the estimate of row . b, for row of shape (k,)."""

    def cov(self, L: Floats) -> Floats:
        """Return the covariance of L b, shape (r, r)."""


@dataclass(frozen=True)
class StrataInference:
    """Least squares with each stratum's own mean square; exact in an orthogonal plan.

    ``xi`` (s,) are the mean squares; ``df`` (s,) their degrees of freedom; ``parts`` the (k, k)
    matrices B of each stratum with Var(b) = sum_s xi_s B_s. ``recipe`` (s, s) writes the expected
    mean square of every stratum in those that have degrees of freedom (columns of others zero);
    ``known`` tells which strata can be written so.
    """

    beta: Floats
    xi: Floats
    df: Floats
    parts: tuple[Floats, ...]
    recipe: Floats
    known: np.ndarray

    def cov(self, L: Floats) -> Floats:
        """Return the covariance of L b, shape (r, r)."""
        size = self.recipe @ np.where(self.df > 0, self.xi, 0.0)
        total: Floats = sum(
            (value * (L @ B @ L.T) for value, B in zip(size, self.parts, strict=True)),
            np.zeros((len(L), len(L))),
        )
        return total

    def test(self, L: Floats) -> FTest:
        """Test L b = 0 against the mean square of the one stratum that it lies in."""
        shares = np.array([np.abs(L @ B @ L.T).max() for B in self.parts])
        home = int(np.argmax(shares))
        estimate = L @ self.beta
        inner = L @ self.parts[home] @ L.T
        sum_sq = float(estimate @ np.linalg.solve(inner, estimate))
        num = len(L)
        if self.df[home] <= 0:
            return FTest(num, None, None, sum_sq, "no_replication")
        if self.xi[home] <= 0:
            return FTest(num, float(self.df[home]), None, sum_sq, "no_variation")
        f = sum_sq / num / float(self.xi[home])
        return FTest(num, float(self.df[home]), f, sum_sq)

    def line(self, row: Floats) -> Line:
        """Return an estimate whose variance is a sum of mean squares (Satterthwaite)."""
        estimate = float(row @ self.beta)
        share = np.array([float(row @ B @ row) for B in self.parts])
        share[share < 1e-12 * max(share.max(), 1e-300)] = 0.0
        if np.any((share > 0) & ~self.known):
            return Line(estimate, None, None, "no_replication")
        weight = share @ self.recipe
        pieces = weight * np.where(self.df > 0, self.xi, 0.0)
        variance = float(pieces.sum())
        if variance <= 0:
            return Line(estimate, None, None, "no_variation")
        used = self.df > 0
        df = variance**2 / float((pieces[used] ** 2 / self.df[used]).sum())
        if df < LEAST_DF:
            return Line(estimate, None, None, UNSURE)
        return Line(estimate, float(np.sqrt(variance)), df)


def strata_inference(beta: Floats, xi: Floats, plan: Orthogonal) -> StrataInference:
    """Return the inference of an orthogonal plan from its mean squares, shape (s,)."""
    df = np.array(plan.left_df, dtype=float)
    told = np.flatnonzero(df > 0)
    M = plan.weights
    recipe = np.zeros((len(df), len(df)))
    known = np.zeros(len(df), dtype=bool)
    for row in range(len(df)):
        answer = np.linalg.lstsq(M[told].T, M[row], rcond=None)[0]
        known[row] = bool(np.abs(M[told].T @ answer - M[row]).max() < 1e-8)
        recipe[row, told] = np.where(np.abs(answer) < 1e-10, 0.0, answer)
    return StrataInference(beta, xi, df, plan.inverse, recipe, known)


@dataclass(frozen=True)
class MixedInference:
    """Small-sample tests on a REML fit.

    ``W`` is the covariance of the component estimates, shape (m + 1, m + 1), zero in the rows of
    components that are not free; ``blind`` marks components that the data tell nothing of: whatever
    depends on one has no standard error.
    """

    at: At
    Phi: Floats  # covariance used for standard errors and F, (k, k)
    W: Floats
    blind: np.ndarray
    kenward_roger: bool

    @property
    def beta(self) -> Floats:
        """Coefficients, shape (k,)."""
        return self.at.beta

    def cov(self, L: Floats) -> Floats:
        """Return the covariance of L b, shape (r, r)."""
        out: Floats = L @ self.Phi @ L.T
        return out

    def _is_blind(self, L: Floats) -> bool:
        if not self.blind.any():
            return False
        V = self.at.Phi @ L.T
        scale = np.abs(L @ V).max() / self.at.theta[0]
        return any(
            np.abs(V.T @ self.at.N[i] @ V).max() > 1e-8 * scale for i in np.flatnonzero(self.blind)
        )

    def line(self, row: Floats) -> Line:
        """Return an estimate with the df of its variance: 2 v^2 / Var(v)."""
        estimate = float(row @ self.beta)
        if self._is_blind(row[None, :]):
            return Line(estimate, None, None, "no_replication")
        variance = float(row @ self.Phi @ row)
        raw = float(row @ self.at.Phi @ row)
        if raw <= 0:
            return Line(estimate, None, None, "no_variation")
        if variance <= 0:  # the small-sample correction takes off more than there is
            return Line(estimate, None, None, UNSURE)
        u = self.at.Phi @ row
        slope = (self.at.N @ u) @ u
        noise = float(slope @ self.W @ slope)
        if not 0 < LEAST_DF * noise <= 2 * raw**2:  # df = 2 raw^2 / noise; none if lost in rounding
            return Line(estimate, None, None, UNSURE)
        return Line(estimate, float(np.sqrt(variance)), 2 * raw**2 / noise)

    def test(self, L: Floats) -> FTest:
        """Test L b = 0."""
        num = len(L)
        if self._is_blind(L):
            return FTest(num, None, None, note="no_replication")
        estimate = L @ self.beta
        f = float(estimate @ np.linalg.solve(self.cov(L), estimate)) / num
        if num == 1:
            line = self.line(L[0])
            return FTest(1, line.df, None if line.df is None else f, note=line.note)
        if self.kenward_roger:
            return self._kenward_roger(L, f)
        return self._fai_cornelius(L)

    def _kenward_roger(self, L: Floats, f: float) -> FTest:
        """Match the first two moments of a scaled F (Kenward and Roger 1997, section 3)."""
        num = len(L)
        Phi, N, W = self.at.Phi, self.at.N, self.W
        Theta = L.T @ np.linalg.solve(L @ Phi @ L.T, L)
        parts = Theta @ Phi @ N @ Phi
        first = np.trace(parts, axis1=1, axis2=2)
        A1 = float(first @ W @ first)
        flat = parts.reshape(len(N), -1)
        turned = parts.transpose(0, 2, 1).reshape(len(N), -1)
        A2 = float((W * (flat @ turned.T)).sum())
        if A2 <= 0:  # what is known of the variances is lost in rounding
            return FTest(num, None, None, note=UNSURE)
        B = (A1 + 6 * A2) / (2 * num)
        g = ((num + 1) * A1 - (num + 4) * A2) / ((num + 2) * A2)
        below = 3 * num + 2 * (1 - g)
        c1, c2, c3 = g / below, (num - g) / below, (num + 2 - g) / below
        mean_left = 1 - A2 / num
        last = 1 - c3 * B  # zero at 4 df
        fall = (1 - c2 * B) ** 2 * last
        above = (1 + c1 * B) * mean_left**2 - fall
        df = 4 + (num + 2) * fall / above if above != 0 else 0.0
        if not df > FEW_DF:
            return FTest(num, df if df > 0 else None, None, note="few_df")
        scale = df * mean_left / (df - 2)
        return FTest(num, float(df), scale * f)

    def _fai_cornelius(self, L: Floats) -> FTest:
        """Turn L into independent single lines and match the expected sum of squared t."""
        values, vectors = np.linalg.eigh(self.cov(L))
        lines = [self.line(row) for row in vectors.T @ L]
        num = len(L)
        f = sum((x.estimate**2) / v for x, v in zip(lines, values, strict=True)) / num
        dfs = np.array([x.df if x.df is not None else 0.0 for x in lines])
        if np.any(dfs <= 2):
            return FTest(num, 2.0, None, note="few_df")
        if np.allclose(dfs, dfs[0], rtol=1e-9):
            df = float(dfs[0])
        else:
            excess = float((2 / (dfs - 2)).sum())  # of the mean of F over num
            df = 2 * (num + excess) / excess
        if df <= FEW_DF:
            return FTest(num, df, None, note="few_df")
        return FTest(num, df, float(f))


def _inverse(M: Floats) -> Floats:
    """Return the inverse of an information, leaving out what is lost in rounding.

    Where V is nearly singular, so may be the information, and what it tells is of no use there.
    """
    size = np.sqrt(np.abs(np.diag(M)))
    size[size == 0] = 1.0  # nothing is told of this one at all
    scaled = M / np.outer(size, size)
    values, vectors = np.linalg.eigh(scaled)
    good = values > 1e-12
    out: Floats = (vectors[:, good] / values[good]) @ vectors[:, good].T / np.outer(size, size)
    return out


def mixed_inference(at: At, free: np.ndarray, blind: np.ndarray, kenward_roger: bool) -> Inference:
    """Return small-sample inference at a REML fit.

    Kenward-Roger uses the expected information of all components that the data inform;
    Satterthwaite the observed information of those that are free to move (not held at zero).
    """
    use = np.flatnonzero(~blind) if kenward_roger else np.flatnonzero(free & ~blind)
    source = at.expected if kenward_roger else at.observed
    W = np.zeros_like(at.expected)
    W[np.ix_(use, use)] = _inverse(source[np.ix_(use, use)])
    Phi = at.Phi
    if kenward_roger:
        within = np.tensordot(W, at.N, 1)  # sum_j W_ij N_j
        U = np.tensordot(W, at.Q, 2) - (at.N @ at.Phi @ within).sum(axis=0)
        adjusted = at.Phi + 2 * at.Phi @ U @ at.Phi
        Phi = (adjusted + adjusted.T) / 2
    return MixedInference(at, Phi, W, blind, kenward_roger)
