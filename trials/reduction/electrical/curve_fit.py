"""Fitting the single-diode curve to a few coarse points, so that the curve keeps its shape.

Eight points can't carry five parameters alone. What is known beforehand of any cell is put in as
gently as it is known (how large resistances may be, how soft a diode's knee): penalties that count
about as much as one point each, and bounds. The two ends, short-circuit current and open-circuit
voltage, have none.

Both meters have noise. A point counts by its current's noise joined with its voltage's times the
slope of the curve there (effective variance: J. Orear, 1982, Am. J. Phys. 50, 912; from memory).
Where a current was worked out from the voltage, one error moves both.

Near a place that is asked for (an end, the top) the nearest points should have the word, for no
cell follows the equation exactly. So each place gets one more step of the fit in which points
count less the further they are off, by the angle at which they are seen from the origin; a sandwich
covariance goes with it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import pi, radians

import numpy as np

from trials.reduction.electrical.curve import (
    HIGH,
    ISC,
    LOW,
    SERIES,
    SHUNT,
    VOC,
    Floats,
    currents,
    top,
)

LEAST_POINTS = 5
NEAR = radians(35.0)  # how far from a place points still have much of the word
FAR = 0.02  # what is left to those on the other side
NOISE_POINTS = 0.5  # the noise told beforehand counts as much as that of so many points
_STEP = 1e-5  # of a parameter, to differentiate; all are about 1 or less

# What is known of hand-made cells before measuring (own judgement): losses in series and through
# the shunt from none to half, and a knee as of a diode quality factor from 1 to 4.
_START: Floats = np.array([1.0, 1.0, 0.2, 0.1, 0.1])
MIDDLE: Floats = np.array([1.0, 1.0, 0.15, 0.1, 0.11])
KNOWN: Floats = np.array([0.0, 0.0, 0.2, 0.25, 0.08])  # standard deviations; 0: nothing is known
PRIOR: Floats = np.array([0.0 if sd == 0 else 1 / sd for sd in KNOWN])

Read = Callable[[Floats], Floats]  # curves (m, 5) -> quantities (m, q)


@dataclass(frozen=True)
class Points:
    """Points of one curve: V and mA as a source gives them, each with its noise, shape (n,).

    ``tie`` is what a current moves by where its voltage does, mA/V: one over the load where the
    current was worked out from that, zero where it was read apart.
    """

    voltage: Floats
    current: Floats
    voltage_noise: Floats
    current_noise: Floats
    tie: Floats

    def scaled(self, v: float, i: float) -> Points:
        """Return the points in other units."""
        return Points(
            self.voltage / v,
            self.current / i,
            self.voltage_noise / v,
            self.current_noise / i,
            self.tie * v / i,
        )

    def angles(self) -> Floats:
        """Return where the points are seen from the origin: 0 is open circuit, pi / 2 short."""
        current, voltage = self.current / self.current.max(), self.voltage / self.voltage.max()
        return np.asarray(np.arctan2(current, voltage), dtype=np.float64)


@dataclass(frozen=True)
class Estimate:
    """A quantity with its standard uncertainty from the noise of the points."""

    value: float
    u: float

    def times(self, factor: float) -> Estimate:
        """Return the same in another unit."""
        return Estimate(self.value * factor, self.u * factor)


@dataclass(frozen=True)
class CurveFit:
    """What a fitted curve tells, in V, mA, mW and ohm.

    ``curve`` (5,) is as in ``curve.currents``, in V and mA. ``noise`` tells how many times as noisy
    the points are as was told beforehand, and ``df`` on how much that rests. ``rest`` (n,) is what
    is left over, in standard deviations told beforehand. A resistance is None where the points tell
    less of it than was known before.
    """

    curve: Floats
    voc: Estimate
    isc: Estimate
    pmax: Estimate
    vmp: Estimate
    imp: Estimate
    fill_factor: Estimate
    series: Estimate | None
    shunt: Estimate | None
    noise: float
    df: float
    rest: Floats

    def estimates(self) -> dict[str, Estimate | None]:
        """Return the estimates by the names of the parameters."""
        return {
            "voc": self.voc,
            "isc": self.isc,
            "pmax": self.pmax,
            "vmp": self.vmp,
            "imp": self.imp,
            "ff": self.fill_factor,
            "r_series": self.series,
            "r_shunt": self.shunt,
        }


@dataclass(frozen=True)
class _Local:
    """The curve that suits the points near a place, and the covariance of its parameters (5, 5)."""

    curve: Floats
    covariance: Floats

    def read(self, read: Read) -> list[Estimate]:
        found = read(_around(self.curve))
        slopes = _slopes(found)
        u = np.sqrt(np.einsum("pq,pr,rq->q", slopes, self.covariance, slopes))
        return [Estimate(float(x), float(s)) for x, s in zip(found[0], u, strict=True)]

    def tells(self, parameter: int) -> bool:
        """Return whether the points tell more of a parameter than was known, and it isn't zero."""
        value = self.curve[parameter]
        inside = LOW[parameter] < value < HIGH[parameter]
        sure = self.covariance[parameter, parameter] ** 0.5 < 0.5 * min(KNOWN[parameter], value)
        return bool(inside and sure)


@dataclass(frozen=True)
class _Fitted:
    """The best curve of scaled points: what it leaves over, and how each parameter moves that."""

    curve: Floats
    rest: Floats  # (n,)
    slopes: Floats  # (n, 5)
    noise: float  # variance, times that told beforehand
    df: float

    def near(self, kernel: Floats) -> _Local:
        """Take one more step of the fit, in which each point counts by ``kernel`` (n,).

        A parameter at its bound stays there, but may move as far as uncertainty goes.
        """
        weighted = self.slopes.T * kernel
        known = np.diag(PRIOR**2)
        H = weighted @ self.slopes + known
        uphill = weighted @ self.rest + known @ (self.curve - MIDDLE)
        free = (self.curve > LOW) & (self.curve < HIGH)
        curve = self.curve.copy()
        curve[free] -= np.linalg.solve(H[np.ix_(free, free)], uphill[free])
        meat = self.noise * (weighted * kernel) @ self.slopes + known
        inverse = np.linalg.inv(H)
        return _Local(np.clip(curve, LOW, HIGH), inverse @ meat @ inverse)


def fit_curve(points: Points) -> CurveFit:
    """Fit the curve and return what can be read off it.

    Parameters
    ----------
    points : at least ``LEAST_POINTS`` of them, some with current and voltage above zero.
    """
    v, i = float(points.voltage.max()), float(points.current.max())
    found = _fitted(points.scaled(v, i))
    angles = points.angles()
    best, power = (float(x[0]) for x in top(found.curve[None]))
    everywhere = found.near(np.ones(len(angles)))
    open_end = found.near(_kernel(angles, 0.0))
    short_end = found.near(_kernel(angles, pi / 2))
    peak = found.near(_kernel(angles, float(np.arctan2(power / best, best))))
    vmp, imp, pmax, fill_factor = peak.read(_top)
    ohm = 1000 * v / i
    series, shunt = everywhere.read(_resistances)
    return CurveFit(
        curve=everywhere.curve * np.array([i, v, 1.0, 1.0, 1.0]),
        voc=open_end.read(lambda curves: curves[:, [VOC]])[0].times(v),
        isc=short_end.read(lambda curves: curves[:, [ISC]])[0].times(i),
        pmax=pmax.times(v * i),
        vmp=vmp.times(v),
        imp=imp.times(i),
        fill_factor=fill_factor,
        series=series.times(ohm) if everywhere.tells(SERIES) else None,
        shunt=shunt.times(ohm) if everywhere.tells(SHUNT) else None,
        noise=found.noise**0.5,
        df=found.df,
        rest=found.rest,
    )


def _fitted(points: Points) -> _Fitted:
    """Fit the curve to scaled points twice, the second time with the slopes that were found."""
    x, y = points.voltage, points.current
    curve = _START
    for tolerance in (1e-2, 1e-8):
        near = currents(curve[None], np.concatenate([x + _STEP, x - _STEP]))[0]
        slope = (near[: len(x)] - near[len(x) :]) / (2 * _STEP)
        noise = np.hypot(points.current_noise, (slope - points.tie) * points.voltage_noise)

        def look(at: Floats, noise: Floats = noise) -> tuple[Floats, Floats]:
            found = currents(_around(at), x)
            return (found[0] - y) / noise, _slopes(found).T / noise[:, None]

        curve = _climbed(look, curve, tolerance)
    n = len(x)
    left, J = look(curve)
    told = J.T @ J
    df = n - float(np.trace(np.linalg.solve(told + np.diag(PRIOR**2), told)))
    variance = (NOISE_POINTS + float(left @ left)) / (NOISE_POINTS + df)
    return _Fitted(curve, left, J, variance, NOISE_POINTS + df)


def _climbed(
    look: Callable[[Floats], tuple[Floats, Floats]], curve: Floats, tolerance: float
) -> Floats:
    """Return the curve of least squares within the bounds, by Levenberg and Marquardt's method.

    The general solvers at hand take two to three times as long for so few points, and their start
    longer than all the rest of a command; the tests compare with one of them.

    Parameters
    ----------
    look : what is left over at a curve, shape (n,), and its derivatives, (n, 5).
    tolerance : of the sum of squares, where to stop.
    """
    left, J = look(curve)
    away = (curve - MIDDLE) * PRIOR
    square = float(left @ left + away @ away)
    damping = 1e-3
    while damping < 1e8:
        H = J.T @ J + np.diag(PRIOR**2)
        downhill = -(J.T @ left + PRIOR * away)
        free = ~((curve <= LOW) & (downhill < 0) | (curve >= HIGH) & (downhill > 0))
        step = np.zeros(len(curve))
        damped = H[np.ix_(free, free)] + damping * np.diag(np.diag(H)[free])
        step[free] = np.linalg.solve(damped, downhill[free])
        new = np.clip(curve + step, LOW, HIGH)
        new_left, new_J = look(new)
        new_away = (new - MIDDLE) * PRIOR
        new_square = float(new_left @ new_left + new_away @ new_away)
        if not new_square <= square:
            damping *= 10
            continue
        gain = square - new_square
        curve, left, J, away, square = new, new_left, new_J, new_away, new_square
        damping = max(damping / 10, 1e-9)
        if gain <= tolerance * max(square, 1.0):
            break
    return curve


def _kernel(angles: Floats, place: float) -> Floats:
    near = np.exp(-0.5 * ((angles - place) / NEAR) ** 2)
    return np.asarray(FAR + (1 - FAR) * near, dtype=np.float64)


def _around(curve: Floats) -> Floats:
    """Return the curve and those a step up and down in each parameter, shape (11, 5)."""
    steps = _STEP * np.eye(len(curve))
    return np.concatenate([curve[None], curve + steps, curve - steps])


def _slopes(found: Floats) -> Floats:
    """Return derivatives (5, q) from what was found around a curve, (11, q)."""
    k = len(found) // 2
    return np.asarray((found[1 : k + 1] - found[k + 1 :]) / (2 * _STEP), dtype=np.float64)


def _top(curves: Floats) -> Floats:
    voltage, power = top(curves)
    fill_factor = power / (curves[:, VOC] * curves[:, ISC])
    return np.stack([voltage, power / voltage, power, fill_factor], axis=1)


def _resistances(curves: Floats) -> Floats:
    scale = curves[:, VOC] / curves[:, ISC]
    shunt = scale / np.maximum(curves[:, SHUNT], 2 * _STEP)
    return np.stack([curves[:, SERIES] * scale, shunt], axis=1)
