"""Groups that lie in each other, worked out from the smallest to the largest: linear in the rows.

Let the children of a node have generalised means m_c with variances 1 / s_c. The node's own mean m
is theirs weighted by s_c, and its variance p = 1 / sum(s_c) + t, where t is the variance of the
node's group. Then T'V^-1 T is the sum over all nodes of sum_c s_c (m_c - m)(m_c - m)', and log det
V that of log(p sum(s_c)): nothing is subtracted from anything large. The derivatives by the
components follow by the rules of products, level by level.

Source: the step is the inverse of B + t 1 1' (B. Sherman and W. B. Morrison, 1950, Ann. Math.
Statist. 21), written in means; for one level see S. R. Searle, G. Casella and C. E. McCulloch
(1992), Variance Components, Wiley, section 3.6.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from trials.model.layout import Codes, Floats
from trials.model.sums import TINY, Sums
from trials.model.variances import Variances


@dataclass(frozen=True)
class Level:
    """One level of nodes: the first child of each (K,), its component (K,) or -1, and the parent.

    ``parent`` gives the node of each child; children of one node stand together.
    """

    first: Codes
    component: Codes
    parent: Codes


@dataclass(frozen=True)
class _Means:
    """Generalised means of K nodes, and their derivatives by the components and pairs of these.

    ``s`` (K,), ``s1`` (c, K), ``s2`` (pairs, K); ``m`` (K, q), ``m1`` (c, K, q), ``m2``
    (pairs, K, q), the last two None while they are zero.
    """

    s: Floats
    s1: Floats
    s2: Floats
    m: Floats
    m1: Floats | None
    m2: Floats | None


class _Sum:
    """T'V^-1 T and log det V with their derivatives, added up node by node."""

    def __init__(self, c: int, q: int, A: Codes, B: Codes) -> None:
        self.A, self.B = A, B
        self.W, self.W1 = np.zeros((q, q)), np.zeros((c, q, q))
        self.W2 = np.zeros((len(A), q, q))
        self.L, self.L1, self.L2 = 0.0, np.zeros(c), np.zeros(len(A))

    def add(self, x: _Means, m: Floats, m1: Floats | None, m2: Floats | None) -> None:
        """Add sum_k s_k m_k m_k', for deviations m of the means from their parents'."""
        s = x.s[:, None]
        A, B = self.A, self.B
        F1 = x.s1[:, :, None] * m / 2
        F2 = x.s2[:, :, None] * m / 2
        if m1 is not None and m2 is not None:
            F2 += x.s1[A][:, :, None] * m1[B] + x.s1[B][:, :, None] * m1[A] + s * m2
            F1 = F1 + s * m1
            self.W2 += _both((s * m1[A]).swapaxes(1, 2) @ m1[B])
        self.W += (s * m).T @ m
        self.W1 += _both(F1.swapaxes(1, 2) @ m)
        self.W2 += _both(F2.swapaxes(1, 2) @ m)


def _both(M: Floats) -> Floats:
    """Return each matrix of a stack plus its transpose."""
    out: Floats = M + M.swapaxes(1, 2)
    return out


@dataclass(frozen=True)
class Chain:
    """Rows in nested groups.

    The leaves are the rows alike: of one smallest member and one residual component. ``size`` and
    ``home`` (K,) are their numbers and components, ``mean`` (K, q) their means of the table,
    ``S`` (c, q, q) the cross-products within leaves, ``rows`` (c,) the rows of each component.
    ``levels`` run from the smallest group to the largest.
    """

    size: Floats
    home: Codes
    mean: Floats
    S: Floats
    rows: Floats
    levels: tuple[Level, ...]

    @property
    def left(self) -> Floats:
        """Dimensions within leaves, of each component (c,)."""
        return self.rows - np.bincount(self.home, minlength=len(self.rows))

    def gram(self) -> Floats:
        """Return T'T."""
        out: Floats = (self.size[:, None] * self.mean).T @ self.mean + self.S.sum(axis=0)
        return out

    def times(self, M: Floats) -> Chain:
        """Return the piece of the table T M."""
        return replace(self, mean=self.mean @ M, S=M.T @ self.S @ M)

    def pick(self, columns: Codes) -> Chain:
        """Return the piece of the table of these columns."""
        return replace(
            self, mean=self.mean[:, columns].copy(), S=self.S[:, columns[:, None], columns]
        )

    def is_positive(self, theta: Floats, share: float = TINY) -> bool:
        """Return whether V is positive definite with a share of the residual taken off."""
        s = self.size / theta[self.home] / (1 - share)
        for level in self.levels:
            p = 1 / np.add.reduceat(s, level.first) + _at(theta, level)
            if not (p > 0).all():
                return False
            s = 1 / p
        return True

    def heights(self, thetas: Floats) -> tuple[Floats, Floats]:
        """Return T'V^-1 T and log det V at m places."""
        found = [self._height(theta) for theta in thetas]
        return np.array([W for W, _ in found]), np.array([logdet for _, logdet in found])

    def _height(self, theta: Floats) -> tuple[Floats, float]:
        told = np.flatnonzero(self.rows)
        W = np.tensordot(1 / theta[told], self.S[told], 1)
        logdet = float(self.rows[told] @ np.log(theta[told]))
        s, m = self.size / theta[self.home], self.mean
        for level in self.levels:
            total = np.add.reduceat(s, level.first)
            mean = np.add.reduceat(s[:, None] * m, level.first) / total[:, None]
            gap = m - mean[level.parent]
            W += (s[:, None] * gap).T @ gap
            p = 1 / total + _at(theta, level)
            logdet += float(np.log(total * p).sum())
            s, m = 1 / p, mean
        return W + (s[:, None] * m).T @ m, logdet

    def sums(self, theta: Floats) -> Sums:
        """Return all sums, by derivatives of T'V^-1 T and log det V."""
        c = len(theta)
        A, B = np.triu_indices(c)
        out = _Sum(c, self.mean.shape[1], A, B)
        x = self._leaves(theta, out)
        for level in self.levels:
            x = _up(x, level, theta, out)
        out.add(x, x.m, x.m1, x.m2)
        N, Q = -out.W1, np.zeros((c, c, *out.W.shape))
        Q[A, B] = Q[B, A] = out.W2 / 2
        pairs = np.zeros((c, c))
        pairs[A, B] = pairs[B, A] = -out.L2
        trace = out.L1
        for i in np.flatnonzero(self.rows):
            t = theta[i]
            out.W += self.S[i] / t
            N[i] += self.S[i] / t**2
            Q[i, i] += self.S[i] / t**3
            out.L += float(self.rows[i] * np.log(t))
            trace[i] += self.rows[i] / t
            pairs[i, i] += self.rows[i] / t**2
        return Sums(out.W, out.L, N, Q, trace, pairs)

    def _leaves(self, theta: Floats, out: _Sum) -> _Means:
        t, nodes = theta[self.home], np.arange(len(self.size))
        s = self.size / t
        s1, s2 = np.zeros((len(theta), len(s))), np.zeros((len(out.A), len(s)))
        s1[self.home, nodes] = -s / t
        pair = np.zeros((len(theta), len(theta)), dtype=np.intp)
        pair[out.A, out.B] = np.arange(len(out.A))
        s2[pair[self.home, self.home], nodes] = 2 * s / t**2
        return _Means(s, s1, s2, self.mean, None, None)


def _at(theta: Floats, level: Level) -> Floats:
    """Return the variance of each node's own, 0 where it has none."""
    return np.where(level.component >= 0, theta[level.component], 0.0)


def _up(x: _Means, level: Level, theta: Floats, out: _Sum) -> _Means:
    """Go from children to their parents; what the children add to the sums goes into ``out``."""
    A, B = out.A, out.B
    first = level.first
    S, S1, S2 = (np.add.reduceat(part, first, axis=-1) for part in (x.s, x.s1, x.s2))
    m, m1, m2 = x.m, x.m1, x.m2
    if len(first) < len(x.s):
        m, m1, m2 = _averaged(x, level, S, out)
    t = _at(theta, level)
    own = np.zeros_like(S1)
    told = np.flatnonzero(level.component >= 0)
    own[level.component[told], told] = 1.0
    d, d1 = 1 + t * S, t * S1 + own * S
    d2 = t * S2 + own[A] * S1[B] + own[B] * S1[A]
    out.L += float(np.log(d).sum())
    out.L1 += (d1 / d).sum(axis=1)
    out.L2 += (d2 / d - d1[A] * d1[B] / d**2).sum(axis=1)
    p, p1 = d / S, own - S1 / S**2
    p2 = 2 * S1[A] * S1[B] / S**3 - S2 / S**2
    return _Means(1 / p, -p1 / p**2, 2 * p1[A] * p1[B] / p**3 - p2 / p**2, m, m1, m2)


def _averaged(x: _Means, level: Level, S: Floats, out: _Sum) -> tuple[Floats, Floats, Floats]:
    """Return the parents' means and derivatives, and add the children's deviations to the sums."""
    first, parent, A, B = level.first, level.parent, out.A, out.B
    s, s1, s2 = x.s[:, None], x.s1[:, :, None], x.s2[:, :, None]
    total = S[:, None]
    m = np.add.reduceat(s * x.m, first) / total
    gap = x.m - m[parent]
    rise = s1 * gap
    if x.m1 is not None:
        rise += s * x.m1
    m1 = np.add.reduceat(rise, first, axis=1) / total
    gap1 = -m1[:, parent]
    if x.m1 is not None:
        gap1 += x.m1
    rise = s2 * gap + s1[A] * gap1[B] + s1[B] * gap1[A]
    if x.m2 is not None:
        rise += s * x.m2
    m2 = np.add.reduceat(rise, first, axis=1) / total
    gap2 = -m2[:, parent]
    if x.m2 is not None:
        gap2 += x.m2
    out.add(x, gap, gap1, gap2)
    return m, m1, m2


def chain(parts: Variances, T: Floats) -> Chain:
    """Return the chain of a table T (n, q) whose groups lie in each other."""
    c = len(parts.components)
    order = np.lexsort((parts.rows, *(group.codes for group in reversed(parts.groups))))
    home = parts.rows[order]
    columns = [group.codes[order] for group in parts.groups]
    starts: list[Codes] = []  # of the members, from the largest group to the leaves
    change = np.arange(len(order)) == 0
    for codes in (*columns, home):
        change = change | (np.diff(codes, prepend=codes[0]) != 0)
        starts.append(np.flatnonzero(change))
    levels = []
    for group, codes, own, inner in reversed(
        list(zip(parts.groups, columns, starts, starts[1:], strict=False))
    ):
        first = np.searchsorted(inner, own)
        sizes = np.diff(first, append=len(inner))
        levels.append(
            Level(first, group.component[codes[own]], np.repeat(np.arange(len(own)), sizes))
        )
    leaves = starts[-1]
    size = np.diff(leaves, append=len(order)).astype(np.float64)
    table = T[order]
    mean = np.add.reduceat(table, leaves) / size[:, None]
    rest = table - np.repeat(mean, size.astype(np.intp), axis=0)
    rows = np.bincount(home, minlength=c).astype(np.float64)
    S = np.zeros((c, T.shape[1], T.shape[1]))
    for i in np.flatnonzero(rows):
        S[i] = rest[home == i].T @ rest[home == i]
    return Chain(size, home[leaves], mean, S, rows, tuple(levels))
