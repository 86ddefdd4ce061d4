"""The electrical parameters of one sweep, each with its uncertainty and with what limits it.

Definitions as in IEC 60904-1: fill factor = Pmax / (Voc Isc), efficiency = Pmax / (G A).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf

import numpy as np

from trials.reduction.electrical.budget import FLAT, Budget, Source, budget
from trials.reduction.electrical.curve import ISC, SERIES, VOC, WIDTH, Floats, currents
from trials.reduction.electrical.curve_fit import (
    LEAST_POINTS,
    CurveFit,
    Estimate,
    Points,
    fit_curve,
)
from trials.reduction.electrical.ideal import fill_factor_ceiling
from trials.reduction.electrical.light import (
    DAYLIGHT,
    DAYLIGHT_BAND,
    MAX_LIGHT,
    MIN_LIGHT,
    REFERENCE,
    Light,
    procedure_1,
    procedure_2,
)
from trials.reduction.electrical.sweep import Meters, Sweep, hysteresis
from trials.reduction.values import Warned
from trials.words.keeping import kept

FAR_END = 0.1  # of the other end: a nearest point further off than this makes an end extrapolated
LEAST_ANGLE = 35.0  # degrees that the points cover, seen from the origin; less is no curve
LEAST_BELIEVABLE, BELIEVABLE = 0.02, 1.0  # V, of one cell
MOST_DENSITY = 40.0  # mA/cm² in full sun, beyond any cell of one junction
MOST_EFFICIENCY = 30.0  # %, near the limit of one junction (Shockley and Queisser, 1961)
BEFOREHAND = "what cells are like"  # source of uncertainty: where points tell little
NOISY = 2.5  # times the noise told beforehand
LEAST_DIFFERENCE = 2.0  # standard uncertainties, to speak of a way up that differs
LEAST_EXPLAINED = 0.5  # of what is left over, to name two ways as the reason and no single point

UNITS = {
    "voc": "V",
    "isc": "mA",
    "pmax": "mW",
    "power_per_area": "mW/cm^2",
    "vmp": "V",
    "imp": "mA",
    "ff": "1",
    "efficiency": "%",
    "jsc": "mA/cm^2",
    "r_series": "ohm",
    "r_shunt": "ohm",
}
# what these are times a constant
FROM = {"jsc": "isc", "power_per_area": "pmax", "efficiency": "pmax"}
# How each quantity follows what is read: V by the voltmeter, I by the ammeter, area, light.
_EXPONENTS: dict[str, dict[str, float]] = {
    "voc": {"V": 1},
    "isc": {"I": 1},
    "pmax": {"V": 1, "I": 1},
    "power_per_area": {"V": 1, "I": 1, "area": -1},
    "vmp": {"V": 1},
    "imp": {"I": 1},
    "ff": {},
    "efficiency": {"V": 1, "I": 1, "area": -1, "light": -1},
    "jsc": {"I": 1, "area": -1},
    "r_series": {"V": 1, "I": -1},
    "r_shunt": {"V": 1, "I": -1},
}


@dataclass(frozen=True)
class Area:
    """The area that catches light, cm², with its relative standard uncertainty."""

    cm2: float
    relative: float


@dataclass(frozen=True)
class Quantity:
    """One parameter with its standard uncertainty and where that comes from."""

    value: float
    unit: str
    u: float
    budget: Budget

    @property
    def interval(self) -> tuple[float, float]:
        """Ends of the 95 % interval (coverage factor after JCGM 100:2008, annex G)."""
        half = self.budget.coverage * self.u
        return self.value - half, self.value + half


@dataclass(frozen=True)
class Moved:
    """The ends and the top of a curve that was moved to another light: V, mA, mW."""

    voc: float
    isc: float
    pmax: float


@dataclass(frozen=True)
class Corrected:
    """The same cell in the reference light, by both procedures of IEC 60891 that need one curve."""

    irradiance: float
    procedure_1: Moved
    procedure_2: Moved


@dataclass(frozen=True)
class Parameters:
    """What a sweep tells; a quantity is None where it can't be told, and a warning says why."""

    quantities: dict[str, Quantity | None]
    warnings: tuple[Warned, ...]
    bracketed: bool
    fit: CurveFit | None = None
    corrected: Corrected | None = None
    hysteresis: Estimate | None = None
    best_point: tuple[float, float] | None = field(default=None)  # V, mA: the most power read


def parameters(
    sweep: Sweep, meters: Meters, area: Area | None = None, light: Light | None = None
) -> Parameters:
    """Return the electrical parameters of a sweep.

    Nothing is raised: where the points can't carry a curve, every quantity is None, the warnings
    say why, and ``best_point`` is the point of most power that was read.
    """
    points = sweep.points
    reason = _refusal(points)
    if reason is not None:
        nothing: dict[str, Quantity | None] = dict.fromkeys(UNITS)
        return Parameters(
            nothing, (*sweep.warnings, reason), bracketed=False, best_point=_best(points)
        )
    fit = fit_curve(points)
    swing = hysteresis(sweep, fit.curve)
    bracketed = _is_bracketed(points)
    quantities = _quantities(fit, meters, area, light, by_load=sweep.by_load)
    corrected = _corrected(fit, light) if light is not None and light.is_told else None
    warnings = (
        *sweep.warnings,
        *_of_size(points, quantities),
        *_of_ends(points, fit),
        *_of_fit(sweep, fit, swing, bracketed=bracketed),
        *([] if sweep.by_load else _of_exchange(points, fit)),
        *_of_meters(meters, by_load=sweep.by_load),
        *_of_light(area, light),
    )
    return Parameters(quantities, warnings, bracketed, fit, corrected, swing, _best(points))


def _refusal(points: Points) -> Warned | None:
    """Return why no curve can be drawn through the points, if so."""
    places = {(round(v, 9), round(i, 9)) for v, i in _pairs(points)}
    if len(places) < LEAST_POINTS:
        return Warned(
            "few_points",
            kept(
                "Too few points for a curve ({n} different ones): at least {least}, better 8, from "
                "nearly short circuit to nearly open circuit.",
                n=len(places),
                least=LEAST_POINTS,
            ),
        )
    if not (points.voltage > 0).any() or not (points.current > 0).any():
        return Warned("no_power", kept("No point shows the cell giving any power."))
    away = points.voltage - points.voltage.mean()
    if float(away @ (points.current - points.current.mean())) > 0:
        return Warned(
            "rising",
            kept(
                "The current rises with the voltage. No source of electricity does that: is one of "
                "the columns something else, or was a sign lost?"
            ),
        )
    angles = points.angles
    if np.rad2deg(angles.max() - angles.min()) < LEAST_ANGLE:
        return Warned(
            "narrow",
            kept(
                "All points lie close together on the curve, so its shape can't be told. Use load "
                "resistors from far below to far above the best one."
            ),
        )
    return None


def _pairs(points: Points) -> list[tuple[float, float]]:
    return list(zip(points.voltage.tolist(), points.current.tolist(), strict=True))


def _best(points: Points) -> tuple[float, float] | None:
    return max(_pairs(points), key=lambda point: point[0] * point[1], default=None)


def _is_bracketed(points: Points) -> bool:
    """Return whether points on both sides of the one of most power have less power."""
    power = points.voltage * points.current
    best = int(power.argmax())
    angles = points.angles
    less = power < power[best]
    return bool((less & (angles < angles[best])).any() and (less & (angles > angles[best])).any())


def _quantities(
    fit: CurveFit, meters: Meters, area: Area | None, light: Light | None, *, by_load: bool
) -> dict[str, Quantity | None]:
    lit = light if light is not None and light.is_told else None
    told = fit.estimates()
    told["jsc"] = None if area is None else fit.isc.times(1 / area.cm2)
    told["power_per_area"] = None if area is None else fit.pmax.times(1 / area.cm2)
    told["efficiency"] = None
    if area is not None and lit is not None:  # mW/cm² is 10 W/m²
        told["efficiency"] = fit.pmax.times(1000 / (lit.irradiance * area.cm2))
    sources = {}
    if area is not None:
        sources["area"] = Source("area", area.relative)
    if lit is not None:
        sources["light"] = Source(lit.meter, lit.relative)
    return {
        name: None
        if (one := told[name]) is None
        else _quantity(name, one, fit, {**sources, **_meter_sources(name, fit, meters)}, by_load)
        for name in UNITS
    }


def _meter_sources(name: str, fit: CurveFit, meters: Meters) -> dict[str, Source]:
    """Return what the makers state: a share of the reading and some digits of the display.

    Digits count at the point that the quantity is read off: an end, or the top.
    """
    volts = fit.voc.value if name == "voc" else fit.vmp.value
    milliamperes = fit.isc.value if name in ("isc", "jsc") else fit.imp.value
    limits = {
        "V": meters.voltage_error / 100 + meters.voltage_digits * meters.voltage_step / volts,
        "I": meters.current_error / 100
        + meters.current_digits * meters.current_step / milliamperes,
    }
    names = {"V": "voltmeter", "I": "ammeter"}
    return {key: Source(names[key], limit / FLAT) for key, limit in limits.items() if limit > 0}


def _quantity(
    name: str, one: Estimate, fit: CurveFit, sources: dict[str, Source], by_load: bool
) -> Quantity:
    exponents = dict(_EXPONENTS[name])
    if by_load and "I" in exponents:
        exponents["V"] = exponents.get("V", 0) + exponents.pop("I")
    noise = Source("noise of the points", _share(one.noise, one.value), one.noise_df(fit.df), "A")
    known = Source(BEFOREHAND, _share(one.known, one.value))
    found = budget(
        {"noise": noise, "known": known, **sources}, {"noise": 1, "known": 1, **exponents}
    )
    return Quantity(one.value, UNITS[name], abs(one.value) * found.relative, found)


def _share(part: float, whole: float) -> float:
    return abs(part / whole) if whole else inf


def _of_ends(points: Points, fit: CurveFit) -> list[Warned]:
    """Say which end of the curve was not measured but continued."""
    found = []
    least_v, least_i = float(points.voltage.min()), float(points.current.min())
    if least_v > FAR_END * fit.voc.value:
        found.append(
            Warned(
                "isc_extrapolated",
                kept(
                    "No point is near short circuit (the lowest is at {lowest} V), so the "
                    "short-circuit current was found by continuing the curve.",
                    lowest=f"{least_v:.3g}",
                ),
            )
        )
    if least_i > FAR_END * fit.isc.value:
        found.append(
            Warned(
                "voc_extrapolated",
                kept(
                    "No point is near open circuit (the smallest current is {smallest} mA), so the "
                    "open-circuit voltage was found by continuing the curve.",
                    smallest=f"{least_i:.3g}",
                ),
            )
        )
    return found


def _of_fit(
    sweep: Sweep, fit: CurveFit, swing: Estimate | None, *, bracketed: bool
) -> list[Warned]:
    points, found = sweep.points, []
    lags = swing is not None and abs(swing.value) > LEAST_DIFFERENCE * swing.u
    if not bracketed:
        found.append(
            Warned(
                "not_bracketed",
                kept(
                    "The most power was read at the first or last load, so the true maximum may "
                    "lie beyond it. Add loads on that side."
                ),
            )
        )
    if fit.noise > NOISY:
        worst = int(np.abs(fit.rest).argmax())
        between = lags and _between_ways(fit.rest, sweep.way) > LEAST_EXPLAINED
        text = kept(
            "The points lie {times} times further off a smooth curve than such meters explain, "
            "mostly because the way up differs from the way down."
            if between
            else "The points lie {times} times further off a smooth curve than such meters "
            "explain, the one at {voltage} V and {current} mA most of all: read that one again. A "
            "loose contact, changing light, columns in each other's place, or a load that isn't "
            "what it says?",
            times=f"{fit.noise:.1f}",
            voltage=f"{points.voltage[worst]:.3g}",
            current=f"{points.current[worst]:.3g}",
        )
        found.append(Warned("noisy", text))
    if swing is not None and lags:
        text = kept(
            "While the voltage rose the current was {way} than while it fell, by {share} % of the "
            "largest current read. The cell needs time to settle (this lag is called hysteresis). "
            "Wait longer at each point, and go the same way with every cell.",
            way=kept("larger") if swing.value > 0 else kept("smaller"),
            share=f"{abs(swing.value):.2g}",
        )
        found.append(Warned("hysteresis", text))
    ceiling = fill_factor_ceiling(fit.voc.value)
    if fit.fill_factor.value - 2 * fit.fill_factor.u > ceiling:
        found.append(
            Warned(
                "fill_factor_above_ideal",
                kept(
                    "A fill factor of {found} is above {ceiling}, the most that a perfect cell can "
                    "have at {voltage} V.",
                    found=f"{fit.fill_factor.value:.3g}",
                    ceiling=f"{ceiling:.3g}",
                    voltage=f"{fit.voc.value:.3g}",
                ),
            )
        )
    return [*found, *_untold(fit)]


def _untold(fit: CurveFit) -> list[Warned]:
    """Return which resistances the curve tells too little of."""
    texts = {
        "series": kept("The points tell too little of the series resistance to print a number."),
        "shunt": kept("The points tell too little of the shunt resistance to print a number."),
    }
    known = {"series": fit.series, "shunt": fit.shunt}
    return [Warned(f"r_{name}_weak", texts[name]) for name in texts if known[name] is None]


def _between_ways(rest: Floats, way: Floats) -> float:
    """Return the share of what is left over that is a difference between the way up and down."""
    means = sum(
        float(one.sum()) ** 2 / len(one) for one in (rest[way > 0], rest[way < 0]) if len(one)
    )
    return means / float(rest @ rest)


def _of_size(points: Points, told: Mapping[str, Quantity | None]) -> list[Warned]:
    """Ask about numbers that no single cell of this kind gives."""
    found = []
    most = float(points.voltage.max())
    if most > BELIEVABLE:
        found.append(
            Warned(
                "unlikely_voltage",
                kept(
                    "{most} V is more than a single cell of this kind gives: are the columns in "
                    "each other's place, or is the unit mV?",
                    most=f"{most:.3g}",
                ),
            )
        )
    elif most < LEAST_BELIEVABLE:
        found.append(
            Warned(
                "unlikely_voltage",
                kept(
                    "The highest voltage is {most} mV, hardly anything: were the numbers in V and "
                    "not in mV?",
                    most=f"{1000 * most:.3g}",
                ),
            )
        )
    density, efficiency = told["jsc"], told["efficiency"]
    if density is not None and density.value > MOST_DENSITY:
        found.append(
            Warned(
                "unlikely_current",
                kept(
                    "{found} mA/cm² is more than full sun can drive through any cell: were the "
                    "currents in µA, or is the area another?",
                    found=f"{density.value:.3g}",
                ),
            )
        )
    elif efficiency is not None and efficiency.value > MOST_EFFICIENCY:
        found.append(
            Warned(
                "unlikely_efficiency",
                kept(
                    "An efficiency of {found} % is more than a simple cell can have: check the "
                    "units of current and light, and the area.",
                    found=f"{efficiency.value:.3g}",
                ),
            )
        )
    return found


def _of_exchange(points: Points, fit: CurveFit) -> list[Warned]:
    """Ask whether voltage and current stand in each other's place: where that fits far better."""
    if fit.noise <= NOISY:
        return []
    other = points.exchanged()
    if _refusal(other) is not None or fit_curve(other).noise > fit.noise / 2:
        return []
    return [
        Warned(
            "exchanged",
            kept(
                "The points fit a cell far better with voltage and current exchanged: are the two "
                "columns in each other's place?"
            ),
        )
    ]


def _of_meters(meters: Meters, *, by_load: bool) -> list[Warned]:
    """Say what the uncertainties leave out."""
    missing = [kept("voltmeter")] * (meters.voltage_error <= 0)
    if by_load:
        missing += [kept("load resistors")] * (meters.load_error <= 0)
    else:
        missing += [kept("ammeter")] * (meters.current_error <= 0)
    found = []
    if not by_load and meters.ammeter_ohm is None:
        found.append(
            Warned(
                "ammeter_unknown",
                kept(
                    "The voltmeter is taken to have been across the cell itself. If it was behind "
                    "the ammeter, say what the ammeter resists: on a small range that may be 10 to "
                    "100 ohm."
                ),
            )
        )
    if not missing:
        return found
    return [
        *found,
        Warned(
            "no_meter_error",
            kept(
                "What the makers state of the {one} was not given, so the uncertainties hold only "
                "what moves from reading to reading. That is enough to compare cells read with the "
                "same meters."
                if len(missing) == 1
                else "What the makers state of the {one} and the {other} was not given, so the "
                "uncertainties hold only what moves from reading to reading. That is enough to "
                "compare cells read with the same meters.",
                one=missing[0],
                other=missing[-1],
            ),
        ),
    ]


def _of_light(area: Area | None, light: Light | None) -> list[Warned]:
    found = []
    if area is None:
        found.append(
            Warned(
                "no_area",
                kept("Without the area there is no current density and no efficiency."),
            )
        )
    if light is None:
        found.append(
            Warned(
                "no_light",
                kept(
                    "Without the light in W/m² there is no efficiency. Power per area, or how many "
                    "times the control cell, compares cells in the same light as well."
                ),
            )
        )
    else:
        found += _of_meter(light) or _of_irradiance(light)
    return found


def _of_meter(light: Light) -> list[Warned]:
    if not light.is_told:
        return [
            Warned(
                "lamp_without_meter",
                kept(
                    "A lux meter can't tell the power of a lamp's light: for the same lux, a "
                    "halogen lamp brings several times the power of daylight. So there is no "
                    "efficiency. Compare power per area, or say how many times the control cell."
                ),
            )
        ]
    if light.meter == "lux meter":
        return [
            Warned(
                "lux_as_daylight",
                kept(
                    "The lux were taken as daylight ({lux} lx for 1 W/m², known to {band} %): "
                    "{light} W/m². Under a lamp that is wrong.",
                    lux=f"{DAYLIGHT:.0f}",
                    band=f"{100 * DAYLIGHT_BAND:.0f}",
                    light=f"{light.irradiance:.0f}",
                ),
            )
        ]
    return []


def _of_irradiance(light: Light) -> list[Warned]:
    if not MIN_LIGHT <= light.irradiance <= MAX_LIGHT:
        return [
            Warned(
                "light_unlikely",
                kept(
                    "{light} W/m² is hardly the light on a cell (full sun is about {sun}): perhaps "
                    "it was in another unit, such as mW/cm² or lx.",
                    light=f"{light.irradiance:.4g}",
                    sun=f"{REFERENCE:.0f}",
                ),
            )
        ]
    if light.is_far:
        return [
            Warned(
                "light_far",
                kept(
                    "The light, {light} W/m², is over 20 % off the reference of {reference} W/m²: "
                    "the corrected values are a guess.",
                    light=f"{light.irradiance:.0f}",
                    reference=f"{REFERENCE:.0f}",
                ),
            )
        ]
    return []


def _corrected(fit: CurveFit, light: Light) -> Corrected:
    """Move the fitted curve to the reference light."""
    ratio = REFERENCE / light.irradiance
    voc, isc = float(fit.curve[VOC]), float(fit.curve[ISC])
    grid = np.linspace(-0.3 * voc, 1.3 * voc, 801)
    flow = currents(fit.curve[None], grid)[0]
    series = 1000 * float(fit.curve[SERIES]) * voc / isc
    width = float(fit.curve[WIDTH]) * voc
    return Corrected(
        REFERENCE,
        _moved(*procedure_1(grid, flow, ratio, isc, series)),
        _moved(*procedure_2(grid, flow, ratio, width, series)),
    )


def _moved(v: Floats, i: Floats) -> Moved:
    return Moved(
        voc=float(np.interp(0.0, -i, v)),
        isc=float(np.interp(0.0, v, i)),
        pmax=float((v * i).max()),
    )
