"""Fitting the single-diode curve to a few coarse points, so that the curve keeps its shape.

Eight points can't carry five parameters alone. What is known beforehand of any cell is put in as
gently as it is known (how large resistances may be, how soft a diode's knee): penalties that count
about as much as one point each, and bounds. The two ends, short-circuit current and open-circuit
voltage, have none. These values are own judgement, from no source (standard deviation behind +-):

* series resistance 0.15 +- 0.2, in open-circuit voltage over short-circuit current;
* shunt conductance 0.10 +- 0.25, in short-circuit current over open-circuit voltage;
* the diode's width 0.11 +- 0.08, in open-circuit voltages (a quality factor of about 1 to 4).

Twice as wide, they move the ends and the top of a curve by a twelfth of their uncertainty at most
in half of all sweeps and by under half of it in 95 of 100; half as wide, by a fifth and by three
quarters (the tests hold that on 200 sweeps each with an ammeter and with known loads).

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
from dataclasses import dataclass, replace
from math import exp, inf, pi, radians, sqrt

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
_FURTHEST = 18.0  # logarithm of how much larger or smaller the variance of flicker may be
_STEP = 1e-5  # of a parameter, to differentiate; all are about 1 or less

# What is known of hand-made cells before measuring (own judgement): losses in series and through
# the shunt from none to half, and a knee as of a diode quality factor from 1 to 4.
_START: Floats = np.array([1.0, 1.0, 0.2, 0.1, 0.1])
MIDDLE: Floats = np.array([1.0, 1.0, 0.15, 0.1, 0.11])
KNOWN: Floats = np.array([0.0, 0.0, 0.2, 0.25, 0.08])  # standard deviations; 0: nothing is known
PRIOR: Floats = np.array([0.0 if sd == 0 else 1 / sd for sd in KNOWN])
_BEFOREHAND: Floats = np.diag(PRIOR**2)
_STEPS: Floats = np.concatenate([np.zeros((1, 5)), _STEP * np.eye(5), -_STEP * np.eye(5)])

Read = Callable[[Floats], Floats]  # curves (m, 5) -> quantities (m, q)


@dataclass(frozen=True)
class Points:
    """Points of one curve: V and mA as a source gives them, each with its noise, shape (n,).

    ``voltage_flicker`` and ``current_flicker`` are the parts of the noise that nobody states: how
    much readings move from one look to the next. What they leave over about the curve tells that;
    a display's step is as large as it is. ``tie`` is what a current moves by where its voltage
    does, mA/V: one over the load where the current was worked out from that, zero where it was
    read apart.
    """

    voltage: Floats
    current: Floats
    voltage_noise: Floats
    current_noise: Floats
    voltage_flicker: Floats
    current_flicker: Floats
    tie: Floats

    def scaled(self, v: float, i: float) -> Points:
        """Return the points in other units."""
        return Points(
            self.voltage / v,
            self.current / i,
            self.voltage_noise / v,
            self.current_noise / i,
            self.voltage_flicker / v,
            self.current_flicker / i,
            self.tie * v / i,
        )

    def exchanged(self) -> Points:
        """Return the points with voltage and current in each other's place."""
        return Points(
            self.current,
            self.voltage,
            self.current_noise,
            self.voltage_noise,
            self.current_flicker,
            self.voltage_flicker,
            self.tie,
        )

    def flickering(self, times: float) -> Points:
        """Return the points with so many times the flicker that was told beforehand."""
        more = times**2 - 1
        return replace(
            self,
            voltage_noise=np.sqrt(self.voltage_noise**2 + more * self.voltage_flicker**2),
            current_noise=np.sqrt(self.current_noise**2 + more * self.current_flicker**2),
            voltage_flicker=times * self.voltage_flicker,
            current_flicker=times * self.current_flicker,
        )

    def angles(self) -> Floats:
        """Return where the points are seen from the origin: 0 is open circuit, pi / 2 short."""
        current, voltage = self.current / self.current.max(), self.voltage / self.voltage.max()
        return np.asarray(np.arctan2(current, voltage), dtype=np.float64)


@dataclass(frozen=True)
class Estimate:
    """A quantity with its standard uncertainty: from the noise of the points, and from the rest.

    ``known`` is the part of ``u`` that is left where the points tell little and only what is known
    of any cell stands in for them; the noise of the points is all else, and the two add as squares.
    ``flicker`` is the part of the noise whose size was estimated from few points.
    """

    value: float
    u: float
    known: float = 0.0
    flicker: float = 0.0

    @property
    def noise(self) -> float:
        """The part of ``u`` that comes from the noise of the points."""
        return sqrt(max(self.u**2 - self.known**2, 0.0))

    def noise_df(self, df: float) -> float:
        """Return the degrees of freedom of the noise, where its flicker has ``df``.

        By Welch and Satterthwaite (JCGM 100:2008, G.4.1): what isn't flicker is known, and has
        infinitely many.
        """
        share = (self.flicker / self.noise) ** 4 if self.noise > 0 else 0.0
        return df / share if share > 0 else inf

    def times(self, factor: float) -> Estimate:
        """Return the same in another unit."""
        parts = (self.value, self.u, self.known, self.flicker)
        return Estimate(*(part * factor for part in parts))


@dataclass(frozen=True)
class CurveFit:
    """What a fitted curve tells, in V, mA, mW and ohm.

    ``curve`` (5,) is as in ``curve.currents``, in V and mA. ``noise`` tells how many times as noisy
    the points are as was told beforehand, ``flicker`` how many times as much they flicker, if that
    alone is why, and ``df`` on how much the two rest. ``rest`` (n,) is what is left over, in
    standard deviations told beforehand. A resistance is None where the points tell
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
    flicker: float
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
    """The curve that suits the points near a place, and the covariance of its parameters (5, 5).

    ``known`` is the part of it that comes from what was known beforehand, ``flicker`` that from
    the flicker of the points.
    """

    curve: Floats
    covariance: Floats
    known: Floats
    flicker: Floats

    def read(self, read: Read) -> list[Estimate]:
        found = read(_around(self.curve))
        slopes = _slopes(found)
        parts = np.stack([self.covariance, self.known, self.flicker])
        u = np.sqrt(np.einsum("pq,kpr,rq->kq", slopes, parts, slopes))
        return [Estimate(*map(float, one)) for one in zip(found[0], *u, strict=True)]

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
    flicker: float  # times that told beforehand
    variance: Floats  # of each point with that flicker, times that told beforehand, (n,)
    flickering: Floats  # the part of this that is flicker
    df: float

    def near(self, kernel: Floats) -> _Local:
        """Take one more step of the fit, in which each point counts by ``kernel`` (n,).

        A parameter at its bound stays there, but may move as far as uncertainty goes.
        """
        weighted = self.slopes.T * kernel
        H = weighted @ self.slopes + _BEFOREHAND
        uphill = weighted @ self.rest + _BEFOREHAND @ (self.curve - MIDDLE)
        free = (self.curve > LOW) & (self.curve < HIGH)
        curve = self.curve.copy()
        curve[free] -= np.linalg.solve(H[np.ix_(free, free)], uphill[free])
        inverse = np.linalg.inv(H)
        noise, flicker = (
            inverse @ (weighted * kernel * part) @ self.slopes @ inverse
            for part in (self.variance, self.flickering)
        )
        beforehand = inverse @ _BEFOREHAND @ inverse
        return _Local(np.clip(curve, LOW, HIGH), noise + beforehand, beforehand, flicker)


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
        noise=sqrt((NOISE_POINTS + float(found.rest @ found.rest)) / found.df),
        flicker=found.flicker,
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
    df = n - float(np.trace(np.linalg.solve(told + _BEFOREHAND, told)))
    flicker = np.hypot(points.current_flicker, (slope - points.tie) * points.voltage_flicker)
    share = (flicker / noise) ** 2
    times = _flicker(left**2, share, NOISE_POINTS + df)
    more = share * times**2
    return _Fitted(curve, left, J, times, 1 - share + more, more, NOISE_POINTS + df)


def _flicker(squares: Floats, share: Floats, df: float) -> float:
    """Return how many times as much points flicker as was told beforehand.

    What is left over, told in its own standard deviations, is to come to the degrees of freedom
    (R. C. Paule and J. Mandel, 1982, J. Res. Natl. Bur. Stand. 87, 377-385, from memory); what was
    told beforehand counts as ``NOISE_POINTS`` more.

    Parameters
    ----------
    squares : what is left over, (n,), in variances told beforehand.
    share : of flicker in each of these, (n,).
    """
    low, high = -_FURTHEST, _FURTHEST  # of the logarithm of flicker's variance
    while high - low > 1e-9:  # what is left over falls with it, so the last that is too much ends
        at = np.linspace(low, high, 65)
        variance = 1 + share[:, None] * np.expm1(at)
        left = (squares[:, None] / variance).sum(axis=0) + NOISE_POINTS * np.exp(-at)
        last = min(max(int((left > df).sum()) - 1, 0), 63)
        low, high = float(at[last]), float(at[last + 1])
    return exp(low / 2)


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
        H = J.T @ J + _BEFOREHAND
        downhill = -(J.T @ left + PRIOR * away)
        free = ~((curve <= LOW) & (downhill < 0) | (curve >= HIGH) & (downhill > 0))
        H.flat[:: len(curve) + 1] += damping * H.diagonal()
        if free.all():
            step = np.linalg.solve(H, downhill)
        else:
            step = np.zeros(len(curve))
            step[free] = np.linalg.solve(H[np.ix_(free, free)], downhill[free])
        new = np.minimum(np.maximum(curve + step, LOW), HIGH)
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
    return np.asarray(curve + _STEPS, dtype=np.float64)


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
