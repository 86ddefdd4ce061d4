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

from dataclasses import dataclass, replace
from functools import cached_property
from math import atan2, exp, expm1, inf, pi, radians, sqrt

import numpy as np

from trials.reduction.electrical.curve import (
    HIGH,
    ISC,
    LOW,
    SERIES,
    SHUNT,
    VOC,
    Floats,
    Moves,
    moves,
    top,
)

LEAST_POINTS = 5
NEAR = radians(35.0)  # how far from a place points still have much of the word
FAR = 0.02  # what is left to those on the other side
NOISE_POINTS = 0.5  # the noise told beforehand counts as much as that of so many points
_FURTHEST = 18.0  # logarithm of how much larger or smaller the variance of flicker may be
_MOST_STEPS = 100  # to how much points flicker; halving alone comes to the last digit in fewer

# What is known of hand-made cells before measuring (own judgement): losses in series and through
# the shunt from none to half, and a knee as of a diode quality factor from 1 to 4.
_START: Floats = np.array([1.0, 1.0, 0.2, 0.1, 0.1])
MIDDLE: Floats = np.array([1.0, 1.0, 0.15, 0.1, 0.11])
KNOWN: Floats = np.array([0.0, 0.0, 0.2, 0.25, 0.08])  # standard deviations; 0: nothing is known
PRIOR: Floats = np.array([0.0 if sd == 0 else 1 / sd for sd in KNOWN])
_BEFOREHAND: Floats = np.diag(PRIOR**2)
_OPEN, _SHORT, _PEAK, _EVERYWHERE = range(4)  # the places near which something is read
_READ_AT = [_OPEN, _SHORT, *4 * [_PEAK], *4 * [_EVERYWHERE]]
_LEAST_SHUNT = 2e-5  # conductance; less is never told, and this keeps its resistance finite


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

    @cached_property
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
class _Fitted:
    """The best curve of scaled points: what it leaves over, and how each parameter moves that."""

    curve: Floats
    rest: Floats  # (n,)
    slopes: Floats  # (5, n)
    flicker: float  # times that told beforehand
    variance: Floats  # of each point with that flicker, times that told beforehand, (n,)
    flickering: Floats  # the part of this that is flicker
    df: float

    def near(self, kernels: Floats) -> _Local:
        """Take one more step of the fit for each place, where points count by ``kernels`` (4, n).

        A parameter at its bound stays there, but may move as far as uncertainty goes.
        """
        weighted = self.slopes * kernels[:, None]
        H = weighted @ self.slopes.T + _BEFOREHAND
        uphill = weighted @ self.rest + _BEFOREHAND @ (self.curve - MIDDLE)
        free = (self.curve > LOW) & (self.curve < HIGH)
        inside, down = (H, uphill) if free.all() else (H[:, free][:, :, free], uphill[:, free])
        curves = np.repeat(self.curve[None], len(kernels), axis=0)
        curves[:, free] -= np.linalg.solve(inside, down[:, :, None])[:, :, 0]
        inverse = np.asarray(np.linalg.inv(H), dtype=np.float64)
        return _Local(self, np.minimum(np.maximum(curves, LOW), HIGH), kernels, inverse)


@dataclass(frozen=True)
class _Local:
    """The curves (4, 5) that suit the points near each place, and how the points move them.

    ``inverse`` (4, 5, 5) is that of the sum of squares' bend.
    """

    fitted: _Fitted
    curves: Floats
    kernels: Floats
    inverse: Floats

    def read(self) -> list[Estimate]:
        """Return Voc, Isc, Vmp, Imp, Pmax, fill factor, both resistances and what these rest on.

        Each is read at its place. The resistances are in Voc / Isc, and what they rest on are the
        parameters.
        """
        isc, voc, series, shunt, _ = self.curves[_EVERYWHERE].tolist()
        best = top(self.curves[_PEAK])
        r_series, r_shunt = series * voc / isc, voc / isc / max(shunt, _LEAST_SHUNT)
        ends = self.curves[_OPEN, VOC], self.curves[_SHORT, ISC]
        along = np.zeros((len(_READ_AT), 5))
        along[0, VOC] = along[1, ISC] = along[8, SERIES] = along[9, SHUNT] = 1.0
        along[2:6] = best.moves
        along[6, :3] = -r_series / isc, r_series / voc, voc / isc
        along[7, :4] = -r_shunt / isc, r_shunt / voc, 0.0, -r_shunt / max(shunt, _LEAST_SHUNT)
        values = (*ends, *best[:4], r_series, r_shunt, series, shunt)
        spread = self._spread(along).tolist()
        return [Estimate(float(one), *u) for one, u in zip(values, spread, strict=True)]

    def _spread(self, along: Floats) -> Floats:
        """Return the standard uncertainty of what is read along parameters, shape (q, 5).

        Returns
        -------
        Shape (q, 3): all, what comes from what was known beforehand, and what comes from the
        flicker of the points.
        """
        turned = (along[:, None] @ self.inverse[_READ_AT])[:, 0]
        points = ((turned @ self.fitted.slopes) * self.kernels[_READ_AT]) ** 2
        known = (turned @ _BEFOREHAND * turned).sum(axis=1)
        noise, flicker = points @ self.fitted.variance, points @ self.fitted.flickering
        parts = np.stack([noise + known, known, flicker], axis=1)
        return np.asarray(np.sqrt(parts), dtype=np.float64)


def fit_curve(points: Points) -> CurveFit:
    """Fit the curve and return what can be read off it.

    Parameters
    ----------
    points : at least ``LEAST_POINTS`` of them, some with current and voltage above zero.
    """
    v, i = float(points.voltage.max()), float(points.current.max())
    found = _fitted(points.scaled(v, i))
    best = top(found.curve)
    places = np.array([0.0, pi / 2, atan2(best.current, best.voltage)])  # as the first three
    local = found.near(_kernels(points.angles, places))
    voc, isc, vmp, imp, pmax, fill_factor, series, shunt, *losses = local.read()
    ohm = 1000 * v / i
    return CurveFit(
        curve=local.curves[_EVERYWHERE] * np.array([i, v, 1.0, 1.0, 1.0]),
        voc=voc.times(v),
        isc=isc.times(i),
        pmax=pmax.times(v * i),
        vmp=vmp.times(v),
        imp=imp.times(i),
        fill_factor=fill_factor,
        series=series.times(ohm) if _tells(losses[0], SERIES) else None,
        shunt=shunt.times(ohm) if _tells(losses[1], SHUNT) else None,
        noise=sqrt((NOISE_POINTS + float(found.rest @ found.rest)) / found.df),
        flicker=found.flicker,
        df=found.df,
        rest=found.rest,
    )


def _tells(loss: Estimate, parameter: int) -> bool:
    """Return whether the points tell more of a loss than was known before, and it isn't zero."""
    inside = LOW[parameter] < loss.value < HIGH[parameter]
    return bool(inside and loss.u < 0.5 * min(KNOWN[parameter], loss.value))


def _fitted(points: Points) -> _Fitted:
    """Fit the curve to scaled points twice, the second time with the slopes that were found."""
    curve, at = _START, moves(_START, points.voltage)
    for tolerance in (1e-2, 1e-8):
        slope = at.slope - points.tie
        noise = np.hypot(points.current_noise, slope * points.voltage_noise)
        curve, at = _climbed(points, noise, curve, at, tolerance)
    left, J = (at.current - points.current) / noise, at.moves / noise
    told = J @ J.T
    df = len(left) - float(np.trace(np.linalg.solve(told + _BEFOREHAND, told)))
    flicker = np.hypot(points.current_flicker, slope * points.voltage_flicker)
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
    both = list(zip(squares.tolist(), share.tolist(), strict=True))
    low, high, at = -_FURTHEST, _FURTHEST, 0.0  # of the logarithm of flicker's variance
    for _ in range(_MOST_STEPS):  # what is left over falls with it: Newton's method, or halving
        told, more = NOISE_POINTS * exp(-at), expm1(at)
        left, fall = told - df, told
        for square, part in both:
            variance = 1 + part * more
            left += square / variance
            fall += square * part * (1 + more) / variance**2
        low, high = (at, high) if left > 0 else (low, at)
        new = at + left / fall
        if not low < new < high:
            new = (low + high) / 2
        if abs(new - at) <= 1e-12:
            break
        at = new
    return exp(at / 2)


def _climbed(
    points: Points, noise: Floats, curve: Floats, at: Moves, tolerance: float
) -> tuple[Floats, Moves]:
    """Return the curve of least squares within the bounds, by Levenberg and Marquardt's method.

    The general solvers at hand take several times as long for so few points, and their start longer
    than all the rest of a command; the tests compare with one of them.

    Parameters
    ----------
    noise : of the points' current at a given voltage, (n,).
    curve : where to start, (5,), and ``at``, how it moves at the points.
    tolerance : of the sum of squares, where to stop.
    """
    left, away = (at.current - points.current) / noise, (curve - MIDDLE) * PRIOR
    square = float(left @ left + away @ away)
    damping = 1e-3
    while damping < 1e8:
        J = at.moves / noise
        H = J @ J.T + _BEFOREHAND
        downhill = -(J @ left + PRIOR * away)
        H.flat[:: len(curve) + 1] += damping * H.diagonal()
        held = (curve <= LOW) & (downhill < 0) | (curve >= HIGH) & (downhill > 0)
        if held.any():
            H[held], H[:, held] = 0.0, 0.0
            H[held, held], downhill[held] = 1.0, 0.0
        new = np.minimum(np.maximum(curve + np.linalg.solve(H, downhill), LOW), HIGH)
        new_at = moves(new, points.voltage)
        new_left, new_away = (new_at.current - points.current) / noise, (new - MIDDLE) * PRIOR
        new_square = float(new_left @ new_left + new_away @ new_away)
        if not new_square <= square:
            damping *= 10
            continue
        gain = square - new_square
        curve, at, left, away, square = new, new_at, new_left, new_away, new_square
        damping = max(damping / 10, 1e-9)
        if gain <= tolerance * max(square, 1.0):
            break
    return curve, at


def _kernels(angles: Floats, places: Floats) -> Floats:
    """Return how much points (n,) count near each of three places, and everywhere: shape (4, n)."""
    near = np.exp(-0.5 * ((angles - places[:, None]) / NEAR) ** 2)
    return np.concatenate([FAR + (1 - FAR) * near, np.ones((1, len(angles)))])
