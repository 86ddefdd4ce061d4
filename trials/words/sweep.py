"""Words for the parameters of a current-voltage curve."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from trials.words.numbers import count, listing, significant

NAMES = {
    "voc": "open-circuit voltage",
    "isc": "short-circuit current",
    "pmax": "most power",
    "power_per_area": "most power per area",
    "vmp": "voltage at most power",
    "imp": "current at most power",
    "ff": "fill factor",
    "efficiency": "efficiency",
    "jsc": "short-circuit current density",
    "r_series": "series resistance",
    "r_shunt": "shunt resistance",
}

KINDS = {"A": "from repeats (type A)", "B": "from what is known (type B)"}
_ASSUMED = {
    "what cells are like": "what cells are like, where the points tell little",
    "area": "area (5 % either way assumed)",
    "pyranometer": "light (5 % either way assumed)",
    "reference cell": "light (8 % either way assumed: it sees other colours than a dye)",
    "lux meter": "light (lux as daylight, 18 % either way)",
}


def source_text(source: str, stated: Collection[str]) -> str:
    """Return what a line of a budget is about, and what was assumed where nothing was stated.

    Examples
    --------
    >>> source_text("area", ()), source_text("area", {"area"}), source_text("ammeter", ())
    ('area (5 % either way assumed)', 'area', 'ammeter')
    """
    return source if source in stated else _ASSUMED.get(source, source)


def beforehand_text(known: Sequence[tuple[float, float]]) -> str:
    """Return what was taken to be known of any cell; ``known``: middle and give or take of each.

    Examples
    --------
    >>> beforehand_text([(0.15, 0.2), (0.1, 0.25), (0.11, 0.08)])
    'What cells are like is our own judgement, and counts little beside the points: series \
resistance 0.15 give or take 0.2 of open voltage by short-circuit current, shunt conductance 0.1 \
give or take 0.25 of the inverse, width of the knee 0.11 give or take 0.08 of the open voltage.'
    """
    series, shunt, width = (f"{middle:g} give or take {sd:g}" for middle, sd in known)
    return (
        "What cells are like is our own judgement, and counts little beside the points: series "
        f"resistance {series} of open voltage by short-circuit current, shunt conductance {shunt} "
        f"of the inverse, width of the knee {width} of the open voltage."
    )


def best_point_text(voltage: float, current: float) -> str:
    """Return the point of most power that was read.

    Examples
    --------
    >>> best_point_text(0.302, 0.598)
    'Most power that was read: 0.181 mW, at 0.302 V and 0.598 mA.'
    """
    return (
        f"Most power that was read: {significant(voltage * current)} mW, at {significant(voltage)} "
        f"V and {significant(current)} mA."
    )


def heading_text(name: str, points: int, *, bracketed: bool | None) -> str:
    """Return the first line on a sweep; ``bracketed`` None: there is no curve.

    Examples
    --------
    >>> heading_text("K3", 9, bracketed=True)
    'K3: 9 points. The point of most power lies between points that have less.'
    """
    where = {
        True: " The point of most power lies between points that have less.",
        False: " The point of most power is not bracketed.",
        None: "",
    }[bracketed]
    return f"{name}: {count(points, 'point')}.{where}"


def corrected_text(irradiance: float, voc: float, isc: float, pmax: float, by_1: float) -> str:
    """Return what the cell would give in the reference light; ``by_1``: power by procedure 1.

    Examples
    --------
    >>> corrected_text(1000, 0.45, 1.2, 0.25, 0.24)
    'In light of 1000 W/m² the same cell would give about 0.450 V open, 1.20 mA short and 0.250 ...'
    """
    return (
        f"In light of {irradiance:.0f} W/m² the same cell would give about {significant(voc)} V "
        f"open, {significant(isc)} mA short and {significant(pmax)} mW at most (IEC 60891, "
        f"procedure 2; by procedure 1 {significant(by_1)} mW)."
    )


def loads_text(loads: Sequence[float]) -> str:
    """Return which resistors to have.

    Examples
    --------
    >>> loads_text([220.0, 1000.0])
    'Resistors to have, in ohm (E6 series, IEC 60063): 220 and 1000.'
    """
    told = listing([f"{load:.10g}" for load in loads])
    return f"Resistors to have, in ohm (E6 series, IEC 60063): {told}."


def best_load_text(best: float, low: float, high: float, times: float) -> str:
    """Return where the best load lies and how far it may lie off.

    Examples
    --------
    >>> best_load_text(430, 105, 1755, 3)
    'The expected cell gives most power near 430 ohm; cells with up to 3 times more or less \
current, between 105 and 1760 ohm. The resistors go past both ends, so that the most power is \
bracketed.'
    """
    return (
        f"The expected cell gives most power near {significant(best)} ohm; cells with up to "
        f"{times:.3g} times more or less current, between {significant(low)} and "
        f"{significant(high)} ohm. The resistors go past both ends, so that the most power is "
        "bracketed."
    )


def sweep_time_text(points: int, seconds: float, each: float) -> str:
    """Return how long a sweep takes.

    Examples
    --------
    >>> sweep_time_text(15, 225, 15)
    'With a short circuit and an open circuit that makes 15 points; at 15 s a point, one sweep \
takes about 3.8 minutes.'
    """
    return (
        f"With a short circuit and an open circuit that makes {points} points; at {each:.3g} s a "
        f"point, one sweep takes about {significant(seconds / 60, 2)} minutes."
    )


MEASURE_LOADS = (
    "Read the current with an ammeter. If you work it out from the resistor instead, measure each "
    "resistor first: cheap ones may be off by 5 to 20 %."
)
HOT_LOADS = (
    "A resistor may have to bear up to {power} mW and get hot. Take one made for at least twice "
    "that, don't touch it while it works, and follow your local safety rules."
)
