"""When a quantity that falls with time passes a level, and how surely.

Two curves through the logarithms of the readings, each for what it can tell:

* *Where the level is passed* is read off a curve that assumes no shape but falling: readings that
  rise are pooled with their neighbours until none does (M. Ayer et al., 1955, Ann. Math. Stat. 26,
  641-647; from memory), and the centres of the pools are joined by straight lines. In logarithms a
  straight line is an exponential decay, so that one is met exactly, and any other nearly.
* *How much readings scatter* is what they leave over about a smooth curve that may start fast or
  slow, y = y_0 exp(-b t^k), a stretched exponential. It tells too what the first value was, where
  the first reading shouldn't have the word alone. Where the true shape is another one, the readings
  leave over more, so that the uncertainty gets larger, not smaller.

The uncertainty is that of the scatter taken through to the time (JCGM 100:2008, 5.1.2), with the
degrees of freedom that the smooth curve leaves. How fast the quantity falls at the level is the
mean of what the two curves say: the joined one alone is too wild between close readings. The
interval is laid on the logarithm of the time, for a time can't be below zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

BENT_TIMES = 5  # different times from which on the smooth curve may bend
_POWERS: Floats = np.geomspace(0.3, 3.0, 47)  # of time, in the stretched exponential


@dataclass(frozen=True)
class Falling:
    """Readings of one item, in order of time: time since the first, and logarithm; shape (n,)."""

    time: Floats
    log: Floats


@dataclass(frozen=True)
class Smooth:
    """The smooth curve: log y = ``start`` + ``fall`` (time / ``last``) ** ``power``.

    ``weights`` (n,) say how each reading moves the start; ``scatter`` is the standard deviation of
    a reading's logarithm, on ``df`` degrees of freedom.
    """

    start: float
    weights: Floats
    scatter: float
    df: float
    fall: float
    power: float
    last: float

    def steepness(self, time: float) -> float:
        """Return the change of the logarithm per time, at a time above zero."""
        bend = (time / self.last) ** (self.power - 1)
        return float(self.fall * self.power * bend / self.last)


@dataclass(frozen=True)
class Passed:
    """When the level was passed, with its standard uncertainty."""

    time: float
    u: float
    df: float

    @property
    def interval(self) -> tuple[float, float]:
        """Ends of the 95 % interval."""
        from scipy.special import stdtrit

        wide = exp(min(float(stdtrit(self.df, 0.975)) * self.u / self.time, 700.0))
        return self.time / wide, self.time * wide


def smooth(falling: Falling) -> Smooth:
    """Return the smooth curve of least squares in the logarithm.

    Parameters
    ----------
    falling : readings at three or more different times; from ``BENT_TIMES`` on the curve may bend.

    Examples
    --------
    >>> t = np.arange(8.0)
    >>> one = smooth(Falling(t, 2.0 - 0.5 * t))
    >>> round(one.start, 4), round(one.scatter, 4), one.df, round(one.steepness(3.0), 2)
    (2.0, 0.0, 5.0, -0.5)
    """
    y, last = falling.log, float(falling.time[-1])
    x = falling.time / last
    bends = len(np.unique(x)) >= BENT_TIMES
    power = _power(x, y) if bends else 1.0
    J = np.column_stack([np.ones_like(x), x**power])
    fall = float(np.linalg.lstsq(J, y, rcond=None)[0][1])
    if bends:  # one step on from the nearest power tried; its place was found from the readings too
        J = np.column_stack([J, fall * x**power * np.log(np.where(x > 0, x, 1.0))])
    inverse = np.linalg.pinv(J)
    fitted = inverse @ y
    left = y - J @ fitted
    df = float(len(y) - J.shape[1])
    scatter = sqrt(float(left @ left) / df)
    return Smooth(float(fitted[0]), inverse[0], scatter, df, fall, power, last)


def _power(x: Floats, y: Floats) -> float:
    """Return the power of time over which a straight line leaves least; the first of equals."""
    bent = x ** _POWERS[:, None]
    bent = bent - bent.mean(axis=1, keepdims=True)
    gained = (bent @ (y - y.mean())) ** 2 / (bent**2).sum(axis=1)
    return float(_POWERS[int(np.flatnonzero(gained >= gained.max() * (1 - 1e-12))[0])])


def joined(falling: Falling) -> tuple[list[slice], Floats, Floats]:
    """Return pools of readings, each below the one before, with the places of their centres.

    Readings at one time are one pool to begin with. The places are times and logarithms.

    Examples
    --------
    >>> one = Falling(np.array([0.0, 1.0, 2.0, 3.0]), np.array([3.0, 1.0, 2.0, 0.5]))
    >>> mine, time, log = joined(one)
    >>> [(p.start, p.stop) for p in mine], time.tolist(), log.tolist()
    ([(0, 1), (1, 3), (3, 4)], [0.0, 1.5, 3.0], [3.0, 1.5, 0.5])
    """
    t, z = falling.time, falling.log
    starts = np.flatnonzero(np.diff(t, prepend=-1.0) > 0).tolist()
    mine: list[slice] = []
    for start, stop in zip(starts, [*starts[1:], len(t)], strict=True):
        mine.append(slice(start, stop))
        while len(mine) > 1 and z[mine[-1]].mean() >= z[mine[-2]].mean():
            last = mine.pop()
            mine[-1] = slice(mine[-1].start, last.stop)
    centres = np.array([[t[pool].mean(), z[pool].mean()] for pool in mine])
    return mine, centres[:, 0], centres[:, 1]


def passed(
    falling: Falling, level: float, weights: Floats, curve: Smooth, noise: Floats
) -> Passed | None:
    """Return when the joined curve passes a level; None where it does not between its ends.

    Parameters
    ----------
    level : logarithm; it was found from the readings with ``weights`` (n,), which sum to 1.
    curve : the smooth curve, which falls.
    noise : standard deviation of each reading's logarithm, shape (n,).
    """
    mine, t, z = joined(falling)
    if not z[-1] <= level < z[0]:
        return None
    k = int(np.flatnonzero(z > level)[-1])
    share = float((z[k] - level) / (z[k] - z[k + 1]))
    time = float(t[k] + share * (t[k + 1] - t[k]))
    slow = (float((t[k + 1] - t[k]) / (z[k] - z[k + 1])) - 1 / curve.steepness(time)) / 2
    moves = -slow * weights
    for place, part in ((k, 1 - share), (k + 1, share)):
        pool = mine[place]
        moves[pool] += slow * part / (pool.stop - pool.start)
    return Passed(time, sqrt(float(moves**2 @ noise**2)), curve.df)
