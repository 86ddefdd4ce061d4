"""Units of measurement: reading them as people write them, converting exactly, printing them well.

The one module that touches the unit library, and it does so only when a unit has to be understood.
Numbers are exact decimals throughout: between units that differ by a power of ten nothing is
rounded. A unit that nobody knows (``leaves``, ``points``) is allowed; it converts only to itself.
"""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal, localcontext
from functools import cache
from typing import TYPE_CHECKING

from trials.errors import TrialsError

if TYPE_CHECKING:
    import pint

DIGITS = 50  # significant digits kept where a conversion can't be exact
_LONGEST = 40
_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_SUPERSCRIPT = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")
_ALLOWED = re.compile(r"[A-Za-zµ°%/*().\- 0-9]*\Z")
_BRACKETS = re.compile(r"(?P<name>[^(\[]*?)\s*[(\[](?P<unit>[^()\[\]]*)[)\]]\s*\Z")


class UnitError(TrialsError):
    """A unit can't be converted into another."""


def tidy(unit: str) -> str:
    """Return the unit as plain text that the unit library reads; empty for no unit.

    Examples
    --------
    >>> tidy("W/m²"), tidy("W m⁻²"), tidy("μA") == tidy("µA"), tidy("Ω")
    ('W/m**2', 'W*m**-2', True, 'ohm')
    """
    text = re.sub(r"[⁰¹²³⁴⁵⁶⁷⁸⁹⁻]+", lambda m: "^" + m[0].translate(_RAISED), unit.strip())
    text = unicodedata.normalize("NFKC", text)  # joins the two micro signs and the ohm signs
    text = text.replace("μ", "µ").replace("Ω", "ohm").replace("ω", "ohm").replace("−", "-")
    text = re.sub(r"\s*[·⋅×]\s*", "*", text).replace("^", "**")
    text = re.sub(r"\s+per\s+", "/", text)
    text = re.sub(r"(?<=[A-Za-z])(?=-?[1-9]\b)", "**", text)
    text = re.sub(r"\s*([*/])\s*", r"\1", text)
    return re.sub(r"\s+", "*", text)


def known(unit: str) -> bool:
    """Return whether the unit is understood; no unit at all is.

    Examples
    --------
    >>> [known(u) for u in ("uA", "kohm", "Volts", "°C", "%", "", "leaves")]
    [True, True, True, True, True, True, False]
    """
    return _unit(unit) is not None


def same(one: str, other: str) -> bool:
    """Return whether two texts mean the same unit.

    Examples
    --------
    >>> same("ohm", "Ω"), same("uA", "µA"), same("W/m2", "W/m^2"), same("mA", "A")
    (True, True, True, False)
    """
    if tidy(one).casefold() == tidy(other).casefold() and tidy(one)[:1] == tidy(other)[:1]:
        return True
    return convertible(one, other) and _scale(one, other) == 1


def convertible(have: str, want: str) -> bool:
    """Return whether numbers in one unit can be turned into the other.

    Examples
    --------
    >>> convertible("min", "h"), convertible("V", "mA"), convertible("leaves", "leaves")
    (True, False, True)
    """
    one, other = _unit(have), _unit(want)
    if one is None or other is None:
        return tidy(have) == tidy(want)
    return bool(one.dimensionality == other.dimensionality)


def convert(value: Decimal, have: str, want: str) -> Decimal:
    """Return ``value`` in the unit ``want``.

    Exact where the units differ by a power of ten, else to 50 digits.

    Raises
    ------
    UnitError : the two units measure different things, or one is not known.

    Examples
    --------
    >>> convert(Decimal("412"), "µA", "mA"), convert(Decimal("90"), "s", "min")
    (Decimal('0.412'), Decimal('1.5'))
    """
    if tidy(have) == tidy(want):
        return value
    if not convertible(have, want):
        raise UnitError(
            f"'{have or 'no unit'}' can't be turned into '{want or 'no unit'}'.",
            code="unit.other_kind",
            found=have or "no unit",
            allowed=f"{want or 'no unit'}, or a unit of the same kind",
            do=f"Give the number in {want}." if want else "Give the number without a unit.",
        )
    scale = _scale(have, want)
    with localcontext() as context:
        context.prec = DIGITS + 10
        if scale is None:  # a unit with another zero, such as °C
            result = _from_other_zero(value, have, want)
        else:
            power = _power_of_ten(scale)
            if power is not None:
                return value.scaleb(power)
            result = value * scale
        context.prec = DIGITS
        return (+result).normalize() + 0


def scale_between(have: str, want: str) -> Decimal | None:
    """Return the number to multiply by, or None where there is no such number.

    Examples
    --------
    >>> scale_between("V", "mV"), scale_between("V", "mA"), scale_between("degC", "K")
    (Decimal('1E+3'), None, None)
    """
    return _scale(have, want) if convertible(have, want) else None


def nice(unit: str) -> str:
    """Return the unit as it is printed: true micro, ohm and raised figures.

    Examples
    --------
    >>> nice("W/m^2"), nice("uA"), nice("kohm"), nice("mA/cm2"), nice("min"), nice("leaves")
    ('W/m²', 'µA', 'kΩ', 'mA/cm²', 'min', 'leaves')
    """
    if not known(unit):
        return unit.strip()
    text = tidy(unit)
    text = re.sub(r"\*\*(-?\d)", lambda m: m[1].translate(_SUPERSCRIPT), text)
    text = re.sub(r"\bu(?=[A-Za-z])", "µ", text) if known(re.sub(r"\bu", "µ", text)) else text
    text = re.sub(r"(?i)\b([kKMm]?)ohms?\b", lambda m: m[1] + "Ω", text)
    return text.replace("degC", "°C").replace("*", "·")


def headings(text: str) -> tuple[tuple[str, str | None], ...]:
    """Return the ways a column's heading can be read, as (name, unit), the likeliest first.

    A unit None means that the heading states none.

    Examples
    --------
    >>> headings("current (mA)")
    (('current', 'mA'),)
    >>> headings("current_mA")
    (('current_mA', None), ('current', 'mA'))
    >>> headings("light_W_m2")[1:]
    (('light_W', 'm2'), ('light', 'W/m2'))
    """
    text = " ".join(text.split())
    match = _BRACKETS.match(text)
    if match:
        return ((match["name"], match["unit"].strip()),)
    ways: list[tuple[str, str | None]] = [(text, None)]
    if len(text) <= 2 * _LONGEST:
        parts = re.split(r"[_ ]|(?<=\w)/", text) if "/" not in text else [text]
        for tail in (1, 2, 3):
            unit = "/".join(part for part in parts[-tail:] if part != "per")
            if len(parts) > tail and unit and known(unit):
                ways.append((text[: -len("_".join(parts[-tail:])) - 1], unit))
        for mark in (" in ", ", ", " / "):
            name, found, unit = text.rpartition(mark)
            if found and known(unit):
                ways.append((name, unit))
    return tuple(ways)


def _power_of_ten(scale: Decimal) -> int | None:
    sign, digits, exponent = scale.normalize().as_tuple()
    return exponent if digits == (1,) and not sign and isinstance(exponent, int) else None


@cache
def _registry() -> pint.UnitRegistry[Decimal]:
    import pint

    return pint.UnitRegistry(non_int_type=Decimal, cache_folder=None)


@cache
def _unit(unit: str) -> pint.Unit | None:
    text = tidy(unit)
    if len(text) > _LONGEST or not _ALLOWED.match(text):
        return None
    import pint

    for spelling in (text, text.lower()):
        try:
            return _registry().parse_units(spelling)
        except (pint.errors.PintError, ValueError, TypeError, ArithmeticError, SyntaxError):
            continue
        except Exception as problem:  # noqa: BLE001 - the library's parser raises bare exceptions
            del problem
            continue
    return None


@cache
def _scale(have: str, want: str) -> Decimal | None:
    one, other = _unit(have), _unit(want)
    if one is None or other is None:
        return Decimal(1)
    with localcontext() as context:
        context.prec = DIGITS + 10
        zero = _from_other_zero(Decimal(0), have, want)
        if zero != 0:
            return None
        return _from_other_zero(Decimal(1), have, want)


def _from_other_zero(value: Decimal, have: str, want: str) -> Decimal:
    quantity = _registry().Quantity(value, _unit(have))
    return Decimal(quantity.to(_unit(want)).magnitude)
