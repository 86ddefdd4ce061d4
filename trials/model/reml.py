"""Residual maximum likelihood for the variances of nested and crossed groups.

The covariance of the n rows is V = sum_i t_i V_i: what varies from row to row, alike for all or
for each level of a factor, and what varies between the members of each random group. Estimates of
the groups may be negative as long as V is positive definite; ``bounded`` keeps them at zero or
above. What the rows are reduced to, and at what cost, is in ``reduced``; where the search can do
without the fixed part, in ``contrasts``.

Sources: H. D. Patterson and R. Thompson (1971), Biometrika 58; S. R. Searle, G. Casella and
C. E. McCulloch (1992), Variance Components, Wiley.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from typing import Protocol

import numpy as np

from trials.model.contrasts import Contrasts, Slope, contrasts
from trials.model.layout import Floats
from trials.model.reduced import Reduced

MAX_STEPS = 200
RATIOS = (0.0, 0.1, 1.0, 10.0)  # of a group's variance to the rows', where rivals are looked for
MOST_RIVALS = 64
EDGE = 1e-6  # of the residual: V less this far above zero is at the edge of what is possible
STILL = 1e-8  # of the variance: where rows that do not vary are held
NOTHING = 1e-8  # of the log-likelihood: what a step may still bring at a top
BETTER = 1e-7  # of the log-likelihood: a rival less above the top found is no rival


@dataclass(frozen=True)
class FitTrace:
    """How the search went: components and deviance at each step, and the verdict.

    ``tops`` are the deviances that were reached, from each start that was tried, the best last;
    ``rivals`` tells how many other places were looked at, none of which is higher. ``still`` are
    the components of rows that do not vary at all within their groups: next to nothing, not sought.
    """

    converged: bool
    steps: tuple[tuple[float, ...], ...]
    verdict: str
    tops: tuple[float, ...] = ()
    rivals: int = 0
    still: tuple[int, ...] = ()


@dataclass(frozen=True)
class At(Slope):
    """Everything at given components: coefficients, covariance, criterion, score, information.

    The components, c of them, are in the order of ``Reduced.components``. ``N`` (c, k, k) are the
    sums X'V^-1 V_i V^-1 X, and ``Q`` (c, c, k, k) the symmetric part of
    X'V^-1 V_i V^-1 V_j V^-1 X. ``score`` is the gradient of the log-likelihood.
    """

    beta: Floats
    Phi: Floats
    N: Floats
    Q: Floats


class Criterion(Protocol):
    """The REML criterion of a response."""

    def slope(self, theta: Floats) -> Slope:
        """Return it with gradient and information, where V is positive definite."""

    def squares(self, thetas: Floats) -> tuple[Floats, Floats]:
        """Return its sum of squares and its log determinant at p places, both (p,)."""


@dataclass(frozen=True)
class Rows:
    """The criterion worked out from all that rows are reduced to."""

    data: Reduced

    def slope(self, theta: Floats) -> Slope:
        """Return the criterion, where V is positive definite."""
        return evaluate(self.data, theta)

    def squares(self, thetas: Floats) -> tuple[Floats, Floats]:
        """Return y'V^-1 y of what the fixed part leaves, and log determinants, both (p,)."""
        k = self.data.k
        W, logdet = self.data.heights(thetas)
        inner, right = W[:, :k, :k], W[:, :k, k:]
        square = W[:, k, k] - (right * np.linalg.solve(inner, right)).sum(axis=(1, 2))
        return square, logdet + np.linalg.slogdet(inner)[1]


def evaluate(data: Reduced, theta: Floats) -> At:
    """Return the REML criterion and all that goes with it at ``theta`` (positive definite).

    The likelihood leaves out the constant and uses the determinant of X'V^-1 X.
    """
    sums, k, c = data.sums(theta), data.k, len(theta)
    info = sums.W[:k, :k]
    Phi: Floats = np.asarray(np.linalg.inv(info), dtype=np.float64)
    beta: Floats = Phi @ sums.W[:k, k]
    b = np.append(-beta, 1.0)
    quad = float(b @ sums.W @ b)
    N, Q = sums.N[:, :k, :k], sums.Q[:, :, :k, :k]
    Nb = sums.N @ b
    PN = Phi @ N
    trace = sums.trace - np.trace(PN, axis1=1, axis2=2)
    inner = PN.reshape(c, -1) @ PN.transpose(0, 2, 1).reshape(c, -1).T
    pairs = sums.pairs + inner - 2 * (Q.reshape(c * c, -1) @ Phi.ravel()).reshape(c, c)
    cross = (sums.Q @ b) @ b - Nb[:, :k] @ Phi @ Nb[:, :k].T
    return At(
        theta=theta,
        beta=beta,
        Phi=Phi,
        loglik=-0.5 * (sums.logdet + float(np.linalg.slogdet(info)[1]) + quad),
        score=0.5 * (Nb @ b - trace),
        expected=0.5 * pairs,
        observed=cross - 0.5 * pairs,
        N=N,
        Q=Q,
    )


def informed(data: Reduced) -> np.ndarray:
    """Return which components the data can tell at all, shape (c,).

    A group all of whose variation is taken up by the fixed part, or by the other groups, tells
    nothing of its variance; nor does a level whose rows are all used up.
    """
    if data.n <= data.k:
        return np.zeros(len(data.components), dtype=bool)
    at = evaluate(data, _plain(data))
    size = np.sqrt(np.clip(np.diag(at.expected), 0, None))
    good = size > 1e-6 * data.size
    for i in range(1, len(good)):
        use = np.flatnonzero(good[: i + 1])
        if good[i]:
            M = at.expected[np.ix_(use, use)] / np.outer(size[use], size[use])
            good[i] = np.linalg.eigvalsh(M)[0] > 1e-9
    return good


def _plain(data: Reduced) -> Floats:
    """Return the components of rows that vary alike, with a variance of one, and nothing else."""
    return (np.arange(len(data.components)) < data.residuals).astype(np.float64)


def fit(
    data: Reduced,
    told: np.ndarray,
    *,
    bounded: bool = False,
    held: frozenset[str] = frozenset(),
    free_of_fixed: Contrasts | None = None,
) -> tuple[At, FitTrace]:
    """Return the REML estimate of the components in ``told`` (c,), those that data inform.

    The components of the groups in ``held`` stay at zero.

    Unbounded: components of groups may be negative while V stays positive definite. Bounded: those
    at zero are held there, and the criterion falls off in each direction from zero
    (Karush-Kuhn-Tucker). The search goes on in a unit in which the spread is about 1, with what
    least squares tells taken off, so that no digits are lost to either. It takes place among the
    contrasts of the layout, found here unless given, and where there are none among the rows.
    """
    k = data.k
    W = data.gram()
    plain: Floats = np.asarray(np.linalg.solve(W[:k, :k], W[:k, k]), dtype=np.float64)
    unit = _unit(W, plain, data.n)
    M = np.eye(k + 1)
    M[:k, k], M[k, k] = -plain / unit, 1 / unit
    free = told.copy()
    groups = range(data.residuals, len(free))
    free[[i for i in groups if data.components[i].path in held]] = False
    scaled = data.times(M)
    still = scaled.still()
    free &= ~still
    made = free_of_fixed or contrasts(data)
    criterion: Criterion = Rows(scaled) if made is None else made.of(scaled)
    top, trace = _search(scaled, criterion, free, still, bounded)
    at, trace = _back(evaluate(scaled, top.theta), trace, unit, plain, data.n - k)
    return at, replace(trace, still=tuple(np.flatnonzero(still).tolist()))


def _unit(W: Floats, plain: Floats, n: int) -> float:
    """Return the power of two next to the SD of the residuals of ordinary least squares."""
    k = len(plain)
    b = np.append(-plain, 1.0)
    square = float(b @ W @ b) / max(n - k, 1)
    if not square > 1e-24 * W[k, k] / n:
        square = float(W[k, k]) / n  # nothing is left over but rounding
    return 2.0 ** round(float(np.log2(square)) / 2) if square > 0 else 1.0


def _back(at: At, trace: FitTrace, unit: float, plain: Floats, df: int) -> tuple[At, FitTrace]:
    """Return what was found in ``unit`` as it is in the response's own unit; ``df`` is n - k."""
    two, shift = unit**2, df * float(np.log(unit))
    own = At(
        theta=at.theta * two,
        beta=at.beta * unit + plain,
        Phi=at.Phi * two,
        loglik=at.loglik - shift,
        score=at.score / two,
        expected=at.expected / two**2,
        observed=at.observed / two**2,
        N=at.N / two**2,
        Q=at.Q / two**3,
    )
    steps = tuple((*(t * two for t in step[:-1]), step[-1] + 2 * shift) for step in trace.steps)
    tops = tuple(top + 2 * shift for top in trace.tops)
    return own, replace(trace, steps=steps, tops=tops)


def _search(
    data: Reduced, criterion: Criterion, free: np.ndarray, still: np.ndarray, bounded: bool
) -> tuple[Slope, FitTrace]:
    """Climb from the start, then from every rival that is higher than the top found."""
    start = _start(data, criterion.slope(_plain(data)), free, still, bounded)
    at, trace = _climb(data, criterion, free, start, bounded)
    tops = [-2 * at.loglik]
    rivals = _rivals(data, criterion, free, still)
    while rivals:
        height, theta = max(rivals, key=lambda rival: rival[0])
        if not height > at.loglik + BETTER:
            break
        other, road = _climb(data, criterion, free, theta, bounded)
        rivals.remove((height, theta))
        tops.insert(-1 if other.loglik < at.loglik else len(tops), -2 * other.loglik)
        if other.loglik > at.loglik:
            at, trace = other, road
    return at, replace(trace, tops=tuple(tops), rivals=len(rivals))


def _start(data: Reduced, at: Slope, free: np.ndarray, still: np.ndarray, bounded: bool) -> Floats:
    """Return the one-step (MIVQUE) estimate where V is positive there, else mild values.

    ``data`` are in a unit in which the spread is about 1, and ``at`` is where only rows vary.
    """
    base = np.where(still, STILL, at.theta)
    use = np.flatnonzero(free)
    step = np.linalg.lstsq(at.expected[np.ix_(use, use)], at.score[use], rcond=None)[0]
    theta = base.copy()
    theta[use] += step
    groups = np.arange(len(free)) >= data.residuals
    if bounded:
        theta[groups] = np.maximum(theta[groups], 0.0)
    mild: Floats = base + 0.1 * (free & groups)
    return theta if data.is_positive(theta) else mild


def _rivals(
    data: Reduced, criterion: Criterion, free: np.ndarray, still: np.ndarray
) -> list[tuple[float, Floats]]:
    """Return other places, each at the scale that suits it best, with their log-likelihoods."""
    groups = [i for i in np.flatnonzero(free) if i >= data.residuals]
    ratios: tuple[float, ...] = RATIOS
    while len(ratios) > 1 and len(ratios) ** len(groups) > MOST_RIVALS:
        ratios = ratios[1:]
    thetas = np.tile(np.where(still, STILL, _plain(data)), (len(ratios) ** len(groups), 1))
    thetas[:, groups] = list(product(ratios, repeat=len(groups)))
    df = data.n - data.k
    square, logdet = criterion.squares(thetas)
    scale = np.maximum(square / df, np.finfo(np.float64).tiny)
    height = -0.5 * (logdet + df * (np.log(scale) + 1))
    thetas = np.where(still, STILL, thetas * scale[:, None])
    return [(float(h), theta) for h, theta, s in zip(height, thetas, square, strict=True) if s > 0]


def _climb(
    data: Reduced, criterion: Criterion, free: np.ndarray, start: Floats, bounded: bool
) -> tuple[Slope, FitTrace]:
    """Climb the criterion over the free components by Newton's method with step halving.

    Bounded: a component that comes to zero stays there until the criterion rises from zero again.
    """
    may_end = bounded & free & (np.arange(len(free)) >= data.residuals)
    at = criterion.slope(start)
    steps = [(*at.theta.tolist(), -2 * at.loglik)]
    zero = np.zeros(len(free), dtype=bool)
    small = False
    for _ in range(MAX_STEPS):
        step = _direction(at, np.flatnonzero(free & ~zero))
        stuck = may_end & (at.theta <= 0) & (step < 0)
        if stuck.any():
            zero |= stuck
            continue
        gain = float(step @ at.score)
        if small or gain < 1e-20:
            off = _off_zero(at, zero)
            if off is None or gain > NOTHING:
                return at, _ended(data, at, gain, steps)
            zero &= off == 0
            step = off
        new, ends = _higher(data, criterion, at, step, may_end)
        if new is None:
            return at, _ended(data, at, gain, steps)
        small = bool(np.abs(new.theta - at.theta).max() < 1e-14 * np.abs(new.theta).max())
        at = new
        zero |= ends
        steps.append((*at.theta.tolist(), -2 * at.loglik))
    return at, FitTrace(False, tuple(steps), "too many steps")


def _ended(data: Reduced, at: Slope, gain: float, steps: list[tuple[float, ...]]) -> FitTrace:
    """Return the verdict where the search stands still; ``gain`` is what a full step would bring.

    Where a gain is in sight that can't be had, V is about to stop being positive definite.
    """
    done = gain < NOTHING and data.is_positive(at.theta, EDGE)
    return FitTrace(done, tuple(steps), "top reached" if done else "edge reached")


def _off_zero(at: Slope, zero: np.ndarray) -> Floats | None:
    """Return a step by which the criterion rises most from a component held at zero, if any."""
    size = np.sqrt(np.abs(np.diag(at.expected)))
    wants = np.flatnonzero(zero & (at.score > 1e-8 * size))
    if not len(wants):
        return None
    best = wants[int(np.argmax(at.score[wants] / size[wants]))]
    step = np.zeros(len(zero))
    step[best] = at.score[best] / size[best] ** 2
    return step


def _higher(
    data: Reduced, criterion: Criterion, at: Slope, step: Floats, may_end: np.ndarray
) -> tuple[Slope | None, np.ndarray]:
    """Return a place on the way that is no lower, and which components ended at zero there."""
    ends, size = may_end & (at.theta + step < 0), 1.0
    if ends.any():
        reach = np.where(ends, -at.theta / np.where(ends, step, 1.0), np.inf)
        size = min(1.0, float(reach.min()))
        ends &= reach <= size
    while size > 1e-12:
        theta = np.where(ends, 0.0, at.theta + size * step)
        new = _possible(data, criterion, theta)
        if new is not None and new.loglik > at.loglik - 1e-12 * abs(at.loglik):
            return new, ends
        size /= 2
        ends = np.zeros_like(ends)
    return None, ends


def _possible(data: Reduced, criterion: Criterion, theta: Floats) -> Slope | None:
    """Return everything at ``theta``; None where V is singular there, or so near that it breaks."""
    if not data.is_positive(theta):
        return None
    try:
        return criterion.slope(theta)
    except np.linalg.LinAlgError:
        return None


def _direction(at: Slope, use: np.ndarray) -> Floats:
    """Return a step uphill: by the observed information where it is positive, else the expected.

    Where neither is, as happens when V is nearly singular, by the observed with signs turned.
    """
    step = np.zeros(len(at.theta))
    score = at.score[use]
    for matrix in (at.observed, at.expected):
        H = matrix[np.ix_(use, use)]
        try:
            root = np.linalg.cholesky(H)
        except np.linalg.LinAlgError:
            continue
        step[use] = np.linalg.solve(root.T, np.linalg.solve(root, score))
        return step
    size = np.sqrt(np.abs(np.diag(at.observed)[use])) + np.finfo(np.float64).tiny
    values, vectors = np.linalg.eigh(at.observed[np.ix_(use, use)] / np.outer(size, size))
    along = vectors.T @ (score / size) / np.maximum(np.abs(values), 1e-8)
    step[use] = vectors @ along / size
    return step
