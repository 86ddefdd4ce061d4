"""Words for the parameters of a current-voltage curve."""

from __future__ import annotations

from trials.words.numbers import count, significant

NAMES = {
    "voc": "open-circuit voltage",
    "isc": "short-circuit current",
    "pmax": "most power",
    "vmp": "voltage at most power",
    "imp": "current at most power",
    "ff": "fill factor",
    "efficiency": "efficiency",
    "jsc": "short-circuit current density",
    "r_series": "series resistance",
    "r_shunt": "shunt resistance",
}


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


def corrected_text(irradiance: float, voc: float, isc: float, pmax: float) -> str:
    """Return what the cell would give in the reference light.

    Examples
    --------
    >>> corrected_text(1000, 0.45, 1.2, 0.25)
    'At 1000 W/m² (IEC 60891, procedure 2): 0.450 V, 1.20 mA, 0.250 mW.'
    """
    told = ", ".join(
        f"{significant(x)} {unit}" for x, unit in ((voc, "V"), (isc, "mA"), (pmax, "mW"))
    )
    return f"At {irradiance:.0f} W/m² (IEC 60891, procedure 2): {told}."
