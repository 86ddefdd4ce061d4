"""Rows reduced to sums: all that a variance model needs of them, whatever the variances are.

The covariance of the rows is V = sum_i t_i V_i. For the table T of the fixed columns and the
response, REML and its tests need no more than T'V^-1 T, its first two derivatives, and those of
log det V. Groups that lie in each other are worked out from small to large in `nested`; groups that
cross, here, in the space that the group columns span, one set of rows after the other where
they have no group in common.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from trials.errors import AnalysisError
from trials.model.layout import Codes, Floats
from trials.model.nested import chain
from trials.model.sums import TINY, Piece, Sums
from trials.model.terms import Design
from trials.model.variances import Component, Members, Variances, is_chain, variances

SMALL = 60  # members up to which crossed and nested groups are worked out in one go
SPAN = 4000  # nested rows worked out at a time: what fits a processor's own memory
LARGEST = 5000  # members that cross each other: beyond, the matrices grow too large


@dataclass(frozen=True)
class Reduced:
    """A layout and a response as pieces; ``size`` (c,) tells how large each V_i is (its norm)."""

    n: int
    k: int  # fixed columns; further columns of the table are responses
    components: tuple[Component, ...]
    residuals: int  # how many of the components, from the first, are the residual's
    size: Floats
    pieces: tuple[Piece, ...]

    def times(self, M: Floats) -> Reduced:
        """Return the sums of the table T M, for M of shape (q, p)."""
        return replace(self, pieces=tuple(piece.times(M) for piece in self.pieces))

    def pick(self, columns: Codes) -> Reduced:
        """Return the sums of the table of these columns: as by ``times``, at no cost."""
        return replace(self, pieces=tuple(piece.pick(columns) for piece in self.pieces))

    def gram(self) -> Floats:
        """Return T'T, shape (q, q)."""
        out: Floats = sum((piece.gram() for piece in self.pieces[1:]), self.pieces[0].gram())
        return out

    def still(self) -> np.ndarray:
        """Return which components (c,) of the residual have rows left over that do not vary.

        The table's last column is the response, in a unit in which the spread is about 1.
        """
        k = self.k
        out = np.zeros(len(self.components), dtype=bool)
        for i in range(self.residuals):
            S = np.sum([piece.S[i] for piece in self.pieces], axis=0)
            values, U = np.linalg.eigh(S[:k, :k])
            good = values > 1e-10 * self.n
            explained = (U[:, good].T @ S[:k, k]) ** 2 / values[good]
            df = sum(piece.left[i] for piece in self.pieces) - int(good.sum())
            rest = float(S[k, k] - explained.sum())
            out[i] = df > 0 and rest <= max(1e-13 * float(S[k, k]), 1e-20 * self.n)
        return out

    def is_positive(self, theta: Floats, share: float = TINY) -> bool:
        """Return whether V is positive definite even with a share of the residual taken off."""
        if not np.isfinite(theta).all() or not (theta[: self.residuals] > 0).all():
            return False
        return all(piece.is_positive(theta, share) for piece in self.pieces)

    def heights(self, thetas: Floats) -> tuple[Floats, Floats]:
        """Return T'V^-1 T (m, q, q) and log det V (m,) at m places where V is positive definite."""
        found = [piece.heights(thetas) for piece in self.pieces]
        return np.sum([W for W, _ in found], axis=0), np.sum([log for _, log in found], axis=0)

    def sums(self, theta: Floats) -> Sums:
        """Return all sums, where V is positive definite."""
        first, *rest = (piece.sums(theta) for piece in self.pieces)
        for more in rest:
            first += more
        return first


def reduce_rows(design: Design, y: Floats, spread_by: str | None = None) -> Reduced:
    """Return the sums for a response of shape (n,), or for N of them, (n, N).

    Raises
    ------
    AnalysisError : too many groups cross each other.
    """
    layout = design.layout
    T = np.column_stack([design.XK, y])
    parts = variances(layout, spread_by)
    return Reduced(
        n=layout.n,
        k=design.XK.shape[1],
        components=parts.components,
        residuals=parts.residuals,
        size=_sizes(parts),
        pieces=tuple(pieces(parts, T)),
    )


def _sizes(parts: Variances) -> Floats:
    """Return the Frobenius norm of each V_i, shape (c,)."""
    c = len(parts.components)
    square = np.bincount(parts.rows, minlength=c).astype(np.float64)
    for group in parts.groups:
        held = np.bincount(group.codes, minlength=len(group.component)).astype(np.float64)
        told = group.component >= 0
        square += np.bincount(group.component[told], weights=held[told] ** 2, minlength=c)
    return np.sqrt(square)


def pieces(parts: Variances, T: Floats) -> Iterable[Piece]:
    """Return the pieces of a table T (n, q)."""
    members = sum(len(group.component) for group in parts.groups)
    if members > SMALL and is_chain(parts.groups):
        return tuple(chain(_only(parts, rows), T[rows]) for rows in _spans(parts))
    if members <= SMALL:
        return (_dense(parts, T[None], np.arange(len(T))),)
    return _by_block(parts, T)


def _spans(parts: Variances) -> list[Codes]:
    """Return rows of whole members of the largest group, about `SPAN` rows at a time."""
    codes = parts.groups[0].codes
    order = np.argsort(codes, kind="stable")
    starts = np.flatnonzero(np.diff(codes[order], prepend=-1))
    return np.split(order, starts[1:][np.diff(starts // SPAN) > 0])


def _only(parts: Variances, rows: Codes) -> Variances:
    """Return the part of the variances that is of some rows."""
    groups = tuple(Members(group.codes[rows], group.component) for group in parts.groups)
    return Variances(parts.components, parts.rows[rows], groups)


@dataclass(frozen=True)
class Dense:
    """Blocks of rows of one make, B of them, in the space of d dimensions of their groups.

    ``E`` (d, B, q) is the table there; ``home`` (d,) the residual's component of each dimension;
    ``G`` (g, d, d) the matrix of each component of the groups, ``which`` (g,) its number. Outside
    of that space ``S`` (c, q, q) holds cross-products and ``left`` (c,) the dimensions.
    """

    E: Floats
    home: Codes
    G: Floats
    which: Codes
    S: Floats
    left: Floats

    @property
    def _lying(self) -> Floats:
        d, blocks, q = self.E.shape
        return self.E.reshape(d, blocks * q)

    def gram(self) -> Floats:
        """Return T'T."""
        E = self.E.reshape(-1, self.E.shape[2])
        out: Floats = E.T @ E + self.S.sum(axis=0)
        return out

    def times(self, M: Floats) -> Dense:
        """Return the piece of the table T M."""
        return replace(self, E=self.E @ M, S=M.T @ self.S @ M)

    def pick(self, columns: Codes) -> Dense:
        """Return the piece of the table of these columns."""
        return replace(self, E=self.E[:, :, columns].copy(), S=self.S[:, columns[:, None], columns])

    def _covariance(self, theta: Floats) -> Floats:
        d = len(self.home)
        V: Floats = (theta[self.which] @ self.G.reshape(len(self.which), d * d)).reshape(d, d)
        V.flat[:: d + 1] += theta[self.home]
        return V

    def is_positive(self, theta: Floats, share: float = TINY) -> bool:
        """Return whether V is positive definite with a share of the residual taken off."""
        V = self._covariance(theta)
        V.flat[:: len(V) + 1] -= share * theta[self.home]
        try:
            np.linalg.cholesky(V)
        except np.linalg.LinAlgError:
            return False
        return True

    def heights(self, thetas: Floats) -> tuple[Floats, Floats]:
        """Return T'V^-1 T and log det V at m places."""
        d, blocks, q = self.E.shape
        V = np.tensordot(thetas[:, self.which], self.G, 1)
        V[:, np.arange(d), np.arange(d)] += thetas[:, self.home]
        ViE = np.linalg.solve(V, self._lying[None]).reshape(len(V), d * blocks, q)
        told = self.left > 0
        W = self.E.reshape(-1, q).T @ ViE
        W += np.tensordot(1 / thetas[:, told], self.S[told], 1)
        outside: Floats = np.log(thetas[:, told]) @ self.left[told]
        return W, blocks * np.linalg.slogdet(V)[1] + outside

    def sums(self, theta: Floats) -> Sums:
        """Return all sums, from the products of V^-1 and each V_i."""
        d, blocks, q = self.E.shape
        c = len(theta)
        V = self._covariance(theta)
        Vi = np.linalg.inv(V)
        ViE = Vi @ self._lying
        K = np.zeros((c, d, d))  # V^-1 V_i
        H = np.zeros((c, d, blocks * q))  # V_i V^-1 E
        for i in set(self.home.tolist()):
            own = self.home == i
            K[i][:, own] = Vi[:, own]
            H[i][own] = ViE[own]
        K[self.which] = Vi @ self.G
        H[self.which] = self.G @ ViE
        ViH = (Vi @ H).reshape(c, d * blocks, q)
        H = H.reshape(c, d * blocks, q)
        N = ViE.reshape(-1, q).T @ H
        wide = (d * blocks, c * q)
        Q = ViH.transpose(1, 0, 2).reshape(wide).T @ H.transpose(1, 0, 2).reshape(wide)
        Q = Q.reshape(c, q, c, q).transpose(0, 2, 1, 3)
        W = self.E.reshape(-1, q).T @ ViE.reshape(-1, q)
        trace = blocks * np.trace(K, axis1=1, axis2=2)
        pairs = blocks * (K.reshape(c, -1) @ K.transpose(0, 2, 1).reshape(c, -1).T)
        Q = (Q + Q.swapaxes(0, 1)) / 2
        for i in np.flatnonzero(self.left):
            t = theta[i]
            W += self.S[i] / t
            N[i] += self.S[i] / t**2
            Q[i, i] += self.S[i] / t**3
            trace[i] += self.left[i] / t
            pairs[i, i] += self.left[i] / t**2
        told = self.left > 0
        logdet = blocks * np.linalg.slogdet(V)[1] + self.left[told] @ np.log(theta[told])
        return Sums(W, float(logdet), N, Q, trace, pairs)


def _dense(parts: Variances, tables: Floats, rows: Codes) -> Dense:
    """Return blocks of one make: ``tables`` (B, rows, q), laid out as ``rows`` are."""
    blocks, _, q = tables.shape
    c = len(parts.components)
    T = tables.transpose(1, 0, 2).reshape(len(rows), blocks * q)
    columns, own = _columns(parts, rows)
    R, E, home = [np.zeros((0, len(own)))], [np.zeros((0, blocks * q))], []
    S, left = np.zeros((c, q, q)), np.zeros(c)
    for i in set(parts.rows[rows].tolist()):
        here = np.flatnonzero(parts.rows[rows] == i)
        ZZ, ZT = _products([codes[here] for codes in columns], len(own), T[here])
        values, U = np.linalg.eigh(ZZ)
        good = values > 1e-9 * values.max(initial=1.0)
        root, U = np.sqrt(values[good]), U[:, good]
        inside = (U.T @ ZT) / root[:, None]
        lift = np.vstack([(U / root) @ inside, np.zeros((1, blocks * q))])
        rest = T[here] - sum((lift[codes[here]] for codes in columns), np.zeros_like(T[here]))
        rest = rest.reshape(-1, q)
        S[i], left[i] = rest.T @ rest, blocks * (len(here) - len(root))
        R.append(root[:, None] * U.T)
        E.append(inside)
        home += [i] * len(root)
    d, whole = len(home), np.vstack(R)
    which = np.unique(own)
    G = np.zeros((len(which), d, d))
    for place, i in enumerate(which):
        G[place] = whole[:, own == i] @ whole[:, own == i].T
    table = np.vstack(E).reshape(d, blocks, q)
    return Dense(table, np.array(home, dtype=np.intp), G, which, S, left)


def _columns(parts: Variances, rows: Codes) -> tuple[list[Codes], Codes]:
    """Return for each group the column of each row's member, and the component of each column.

    Members without a component share one more column, the last, that nobody looks at.
    """
    found: list[Codes] = []
    own: list[Codes] = [np.zeros(0, dtype=np.intp)]
    for group in parts.groups:
        members, codes = np.unique(group.codes[rows], return_inverse=True)
        told = group.component[members] >= 0
        place = np.where(told, np.cumsum(told) - 1 + sum(map(len, own)), -1)
        found.append(place[codes])
        own.append(group.component[members[told]])
    component = np.concatenate(own)
    if len(component) > LARGEST:
        raise AnalysisError(
            "The groups cross each other in too many places to be worked out together.",
            code="model.too_many_members",
            found=f"{len(component)} members of groups that cross",
            allowed=f"{LARGEST} in rows that have groups in common; more where groups are nested",
            do="Leave out a group, or analyse a part of the rows.",
        )
    return [np.where(codes < 0, len(component), codes) for codes in found], component


def _products(codes: list[Codes], size: int, T: Floats) -> tuple[Floats, Floats]:
    """Return Z'Z (size, size) and Z'T of the columns that ``codes`` name in each row."""
    wide = size + 1
    ZZ = np.zeros((wide, wide))
    ZT = np.zeros((wide, T.shape[1]))
    for own in codes:
        np.add.at(ZT, own, T)
        for other in codes:
            ZZ += np.bincount(own * wide + other, minlength=wide**2).reshape(wide, wide)
    return ZZ[:-1, :-1], ZT[:-1]


def _by_block(parts: Variances, T: Floats) -> tuple[Piece, ...]:
    """Return a piece for each make of block; blocks have no group in common."""
    block = _blocks(parts)
    order = np.lexsort((parts.rows, *(g.codes for g in reversed(parts.groups)), block))
    starts = np.flatnonzero(np.diff(block[order], prepend=-1))
    makes: dict[bytes, list[Codes]] = {}
    for rows in np.split(order, starts[1:]):
        makes.setdefault(_make(parts, rows), []).append(rows)
    return tuple(_dense(parts, T[np.stack(same)], same[0]) for same in makes.values())


def _blocks(parts: Variances) -> Codes:
    """Return a number for each row (n,), equal where rows are linked by the groups."""
    label = np.arange(len(parts.rows))
    while True:
        before = label
        for group in parts.groups:
            least = np.full(len(group.component), len(label))
            np.minimum.at(least, group.codes, label)
            label = np.where(group.component[group.codes] >= 0, least[group.codes], label)
        if (label == before).all():
            return label


def _make(parts: Variances, rows: Codes) -> bytes:
    """Return a key that is equal for sorted rows of two blocks only if these are of one make."""
    out = [parts.rows[rows]]
    for group in parts.groups:
        codes = group.codes[rows]
        _, first, inverse = np.unique(codes, return_index=True, return_inverse=True)
        out += [np.argsort(np.argsort(first))[inverse], group.component[codes]]
    return np.concatenate(out).astype(np.int64).tobytes()
