"""Residual maximum likelihood for variance components of nested and crossed groups.

The covariance of the n rows is V = t_0 I + sum_k t_k Z_k Z_k'. Everything happens in the
r-dimensional space spanned by the group columns, so the cost hardly depends on n. Estimates may be
negative as long as V is positive definite; ``bounded`` keeps them at zero or above.

Sources: H. D. Patterson and R. Thompson (1971), Biometrika 58; S. R. Searle, G. Casella and
C. E. McCulloch (1992), Variance Components, Wiley.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from trials.model.layout import Floats
from trials.model.terms import Design

MAX_STEPS = 200


@dataclass(frozen=True)
class Reduced:
    """Sums that stand for the rows: all that REML and its tests need.

    ``E`` (r, k + 1) holds the fixed columns and the response in the space of the groups; ``S``
    (k + 1, k + 1) their cross-products outside it; ``G`` the (r, r) matrix of each random group.
    """

    n: int
    names: tuple[str, ...]
    E: Floats
    S: Floats
    G: tuple[Floats, ...]

    @property
    def k(self) -> int:
        """Number of fixed coefficients."""
        return int(self.E.shape[1]) - 1

    @property
    def r(self) -> int:
        """Dimension of the space of the groups."""
        return int(self.E.shape[0])


@dataclass(frozen=True)
class FitTrace:
    """How the search went: components and deviance at each step, and the verdict."""

    converged: bool
    steps: tuple[tuple[float, ...], ...]
    verdict: str


@dataclass(frozen=True)
class At:
    """Everything at given components: coefficients, covariance, criterion, score, information.

    Index 0 of the components is the residual; then the random groups in the order of ``names``.
    ``N``, ``Q`` are the sums X'V^-1 V_i V^-1 X and X'V^-1 V_i V^-1 V_j V^-1 X.
    """

    theta: Floats
    beta: Floats
    Phi: Floats
    loglik: float
    score: Floats
    expected: Floats
    observed: Floats
    N: tuple[Floats, ...]
    Q: tuple[tuple[Floats, ...], ...]


def reduce_rows(design: Design, y: Floats) -> Reduced:
    """Return the sums for a response of shape (n,)."""
    layout = design.layout
    T = np.column_stack([design.XK, y])
    groups = layout.random
    offsets = np.concatenate([[0], np.cumsum([g.members for g in groups])]).astype(int)
    codes = [g.coded.codes + offset for g, offset in zip(groups, offsets[:-1], strict=True)]
    q = int(offsets[-1])
    ZZ = np.zeros((q, q))
    ZT = np.zeros((q, T.shape[1]))
    for a, own in enumerate(codes):
        np.add.at(ZT, own, T)
        for other in codes[a:]:
            np.add.at(ZZ, (own, other), 1.0)
    ZZ = np.triu(ZZ) + np.triu(ZZ, 1).T
    values, U = np.linalg.eigh(ZZ)
    good = values > 1e-9 * values.max(initial=1.0)
    root = np.sqrt(values[good])
    U = U[:, good]
    E = (U.T @ ZT) / root[:, None]
    lift = (U / root) @ E  # Z @ lift is the part of T in the space of the groups
    rest = T - sum((lift[own] for own in codes), np.zeros_like(T))
    R = root[:, None] * U.T
    G = tuple(
        R[:, offsets[i] : offsets[i + 1]] @ R[:, offsets[i] : offsets[i + 1]].T
        for i in range(len(groups))
    )
    return Reduced(layout.n, tuple(g.path for g in groups), E, rest.T @ rest, G)


def covariance(data: Reduced, theta: Floats) -> Floats:
    """Return V in the space of the groups, shape (r, r)."""
    V: Floats = theta[0] * np.eye(data.r)
    for value, G in zip(theta[1:], data.G, strict=True):
        V += value * G
    return V


def is_positive(data: Reduced, theta: Floats) -> bool:
    """Return whether V is positive definite at these components."""
    if not np.isfinite(theta).all() or theta[0] <= 0:
        return False
    try:
        np.linalg.cholesky(covariance(data, theta) - 1e-10 * theta[0] * np.eye(data.r))
    except np.linalg.LinAlgError:
        return False
    return True


def evaluate(data: Reduced, theta: Floats) -> At:
    """Return the REML criterion and all that goes with it at ``theta`` (positive definite).

    The likelihood leaves out the constant and uses the determinant of X'V^-1 X.
    """
    k, m = data.k, len(data.G)
    V = covariance(data, theta)
    Vi = np.linalg.inv(V) if data.r else V
    Ex, Ey = data.E[:, :k], data.E[:, k]
    ViEx = Vi @ Ex
    info = data.S[:k, :k] / theta[0] + Ex.T @ ViEx
    Phi = np.linalg.inv(info)
    beta = Phi @ (data.S[:k, k] / theta[0] + ViEx.T @ Ey)
    e = Ey - Ex @ beta
    a = Vi @ e
    b = np.append(-beta, 1.0)
    quad = float(b @ data.S @ b) / theta[0] + float(e @ a)
    logdet = float(np.linalg.slogdet(V)[1]) if data.r else 0.0
    logdet += (data.n - data.r) * float(np.log(theta[0]))
    loglik = -0.5 * (logdet + float(np.linalg.slogdet(info)[1]) + quad)

    PQ = Vi - ViEx @ Phi @ ViEx.T
    GP = [G @ PQ for G in data.G]
    GVi = [G @ Vi for G in data.G]
    GVX = [G @ ViEx for G in data.G]
    Ga = [G @ a for G in data.G]
    trace = np.array([float(np.trace(M)) for M in GP])
    square = np.array([float(a @ v) for v in Ga])
    pairs = np.array([[float((A * B.T).sum()) for B in GP] for A in GP]).reshape(m, m)
    cross = np.array([[float(u @ PQ @ v) for v in Ga] for u in Ga]).reshape(m, m)
    t = theta[1:]
    trace = np.append(((data.n - k) - t @ trace) / theta[0], trace)
    square = np.append((quad - t @ square) / theta[0], square)
    pairs = _with_residual(pairs, trace, theta)
    cross = _with_residual(cross, square, theta)
    N, Q = _sums(theta, info, GVX, GVi, ViEx)
    return At(
        theta=theta,
        beta=beta,
        Phi=Phi,
        loglik=loglik,
        score=0.5 * (square - trace),
        expected=0.5 * pairs,
        observed=cross - 0.5 * pairs,
        N=N,
        Q=Q,
    )


def _with_residual(inner: Floats, total: Floats, theta: Floats) -> Floats:
    """Add the residual's row and column by sum_j theta_j M_ij = total_i."""
    m = len(inner)
    out = np.zeros((m + 1, m + 1))
    out[1:, 1:] = inner
    out[0, 1:] = out[1:, 0] = (total[1:] - inner @ theta[1:]) / theta[0]
    out[0, 0] = (total[0] - out[0, 1:] @ theta[1:]) / theta[0]
    return out


def _sums(
    theta: Floats, info: Floats, GVX: list[Floats], GVi: list[Floats], ViEx: Floats
) -> tuple[tuple[Floats, ...], tuple[tuple[Floats, ...], ...]]:
    """Return N_i and Q_ij for the residual (0) and the groups, by sum_i theta_i N_i = info."""
    inner = [ViEx.T @ M for M in GVX]
    told = sum((t * M for t, M in zip(theta[1:], inner, strict=True)), 0 * info)
    first = (info - told) / theta[0]
    N = (first, *inner)
    m = len(inner)
    table = [[0 * info for _ in range(m + 1)] for _ in range(m + 1)]
    for i in range(m):
        for j in range(m):
            table[i + 1][j + 1] = GVX[i].T @ (GVi[j].T @ ViEx)
    for i in range(1, m + 1):
        rest = sum((theta[j] * table[i][j] for j in range(1, m + 1)), 0 * info)
        table[i][0] = (N[i] - rest) / theta[0]
        table[0][i] = table[i][0].T
    rest = sum((theta[j] * table[0][j] for j in range(1, m + 1)), 0 * info)
    table[0][0] = (N[0] - rest) / theta[0]
    return N, tuple(tuple(row) for row in table)


def informed(data: Reduced) -> np.ndarray:
    """Return which components the data can tell at all, shape (m + 1,), residual first.

    A group all of whose variation is taken up by the fixed part, or by the other groups, tells
    nothing of its variance.
    """
    at = evaluate(data, np.append(1.0, np.zeros(len(data.G))))
    size = np.sqrt(np.clip(np.diag(at.expected), 0, None))
    scale = np.array([1.0, *(np.linalg.norm(G) for G in data.G)])
    good = size > 1e-7 * scale
    for i in range(1, len(good)):
        use = np.flatnonzero(good[: i + 1])
        if good[i]:
            M = at.expected[np.ix_(use, use)] / np.outer(size[use], size[use])
            good[i] = np.linalg.eigvalsh(M)[0] > 1e-9
    good[0] = data.n - data.k > 0 and size[0] > 1e-9
    return good


def fit(
    data: Reduced, *, bounded: bool = False, held: frozenset[str] = frozenset()
) -> tuple[At, FitTrace]:
    """Return the REML estimate; the components of the groups in ``held`` stay at zero.

    Unbounded: components may be negative while V stays positive definite. Bounded: those at zero
    are held there, and the criterion falls off in each direction from zero (Karush-Kuhn-Tucker).
    The search goes on in a unit in which the spread is about 1, so that no digits are lost to it.
    """
    unit = _unit(data)
    at, trace = _fit(_in_unit(data, unit), bounded, held)
    return _back(at, trace, unit, data.n - data.k)


def _unit(data: Reduced) -> float:
    """Return the power of two next to the SD of the residuals of ordinary least squares."""
    k = data.k
    gram = data.S + data.E.T @ data.E
    b = np.append(-np.linalg.solve(gram[:k, :k], gram[:k, k]), 1.0)
    square = float(b @ data.S @ b + np.sum((data.E @ b) ** 2)) / max(data.n - k, 1)
    if not square > 1e-24 * gram[k, k] / data.n:
        square = float(gram[k, k]) / data.n  # nothing is left over but rounding
    return 2.0 ** round(np.log2(square) / 2) if square > 0 else 1.0


def _in_unit(data: Reduced, unit: float) -> Reduced:
    """Return the sums of the response divided by ``unit``."""
    E, S = data.E.copy(), data.S.copy()
    E[:, -1] /= unit
    S[:, -1] /= unit
    S[-1, :] /= unit
    return replace(data, E=E, S=S)


def _back(at: At, trace: FitTrace, unit: float, df: int) -> tuple[At, FitTrace]:
    """Return what was found in ``unit`` as it is in the response's own unit; ``df`` is n - k."""
    two, shift = unit**2, df * float(np.log(unit))
    own = At(
        theta=at.theta * two,
        beta=at.beta * unit,
        Phi=at.Phi * two,
        loglik=at.loglik - shift,
        score=at.score / two,
        expected=at.expected / two**2,
        observed=at.observed / two**2,
        N=tuple(M / two**2 for M in at.N),
        Q=tuple(tuple(M / two**3 for M in row) for row in at.Q),
    )
    steps = tuple((*(t * two for t in step[:-1]), step[-1] + 2 * shift) for step in trace.steps)
    return own, replace(trace, steps=steps)


def _fit(data: Reduced, bounded: bool, held: frozenset[str]) -> tuple[At, FitTrace]:
    free = informed(data)
    free[[i + 1 for i, name in enumerate(data.names) if name in held]] = False
    if not bounded:
        return _climb(data, free)
    zero: set[int] = set()
    seen: set[frozenset[int]] = set()
    while True:
        use = free.copy()
        use[list(zero)] = False
        at, trace = _climb(data, use)
        negative = [i for i in range(1, len(use)) if use[i] and at.theta[i] < 0]
        seen.add(frozenset(zero))
        if negative:
            zero.add(min(negative, key=lambda i: at.theta[i]))
            continue
        wants = [i for i in zero if at.score[i] > 1e-8 * abs(at.expected[i, i]) ** 0.5]
        back = frozenset(zero - {max(wants, key=lambda i: at.score[i])}) if wants else None
        if back is None or back in seen:
            return at, trace
        zero = set(back)


def _start(data: Reduced, free: np.ndarray) -> Floats:
    """Return the one-step (MIVQUE) estimate where V is positive there, else mild values.

    ``data`` are in a unit in which the spread is about 1.
    """
    base = np.append(1.0, np.zeros(len(free) - 1))
    at = evaluate(data, base)
    use = np.flatnonzero(free)
    step = np.linalg.lstsq(at.expected[np.ix_(use, use)], at.score[use], rcond=None)[0]
    theta = base.copy()
    theta[use] += step
    if is_positive(data, theta):
        return theta
    mild = base.copy()
    mild[use[use > 0]] = base[0] * 0.1
    return mild


def _climb(data: Reduced, free: np.ndarray) -> tuple[At, FitTrace]:
    """Climb the criterion over the free components by Newton's method with step halving."""
    use = np.flatnonzero(free)
    at = evaluate(data, _start(data, free))
    steps = [(*at.theta.tolist(), -2 * at.loglik)]
    for _ in range(MAX_STEPS):
        step = _direction(at, use)
        gain = float(step @ at.score[use])
        if gain < 1e-20:
            return at, FitTrace(True, tuple(steps), "top reached")
        size = 1.0
        while size > 1e-12:
            theta = at.theta.copy()
            theta[use] += size * step
            if is_positive(data, theta):
                new = evaluate(data, theta)
                if new.loglik > at.loglik - 1e-12 * abs(at.loglik):
                    break
            size /= 2
        else:
            done = gain < 1e-8
            return at, FitTrace(done, tuple(steps), "top reached" if done else "no way up")
        small = np.abs(theta - at.theta).max() < 1e-14 * np.abs(theta).max()
        at = new
        steps.append((*at.theta.tolist(), -2 * at.loglik))
        if small:
            return at, FitTrace(True, tuple(steps), "top reached")
    return at, FitTrace(False, tuple(steps), "too many steps")


def _direction(at: At, use: np.ndarray) -> Floats:
    """Return a step uphill: by the observed information where it is positive, else the expected."""
    score = at.score[use]
    for matrix in (at.observed, at.expected):
        H = matrix[np.ix_(use, use)]
        try:
            root = np.linalg.cholesky(H)
        except np.linalg.LinAlgError:
            continue
        half = np.linalg.solve(root, score)
        step: Floats = np.linalg.solve(root.T, half)
        return step
    fallback: Floats = np.linalg.lstsq(at.expected[np.ix_(use, use)], score, rcond=None)[0]
    return fallback
