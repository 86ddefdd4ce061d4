"""Units of measurement: reading them as people write them, converting exactly, printing them well.

The one module that touches the unit library, and it does so only when a unit has to be understood
that isn't one of a few everyday ones: loading the library takes longer than reading a table.
Numbers are exact decimals throughout: between units that differ by a power of ten nothing is
rounded. A unit that nobody knows (``leaves``, ``points``) is allowed; it converts only to itself.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal, localcontext
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from trials.errors import TrialsError

if TYPE_CHECKING:
    import pint

DIGITS = 50  # significant digits kept where a conversion can't be exact
_LONGEST = 40
_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_SUPERSCRIPT = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")
_ALLOWED = re.compile(r"[A-Za-zµ°%/*().\- 0-9]*\Z")
_WILD = re.compile(r"\*\*-?[0-9]+(\*\*|[0-9])|\*\*-?[0-9]{2}")  # powers of powers, huge powers
_BRACKETS = re.compile(r"(?P<name>.*?)\s*[(\[](?P<unit>[^()\[\]]*)[)\]]\Z")
_NUMBER = re.compile(
    r"(?P<sign>[+-]?)\s?(?P<digits>[0-9][0-9.,'’ ]*|[.,][0-9]+)"
    r"(?:[eE](?P<power>[+-]?[0-9]{1,4})|\s*[x×*·⋅]\s*10\s*(?:\^|\*\*)?(?P<raised>[+-]?[0-9]{1,2}))?"
    r"(?P<unit>\s*(?:[A-Za-zµμΩ%°][^,;]*)?)\Z"
)
_LONGEST_NUMBER = 80
# figures with a point that can't part thousands, as meters and loggers write them
_PLAIN = re.compile(r"-?[0-9]{1,15}(?P<part>\.[0-9]{1,15})?\Z")
_MANY = 4096  # texts of units that are kept with what was found of them; numbers 16 times as many
_ENDLESS = frozenset(
    ["open", "open circuit", "offen", "ouvert", "abierto", "aperto", "inf", "infinite", "infinity",
     "unendlich", "infini", "infinito", "∞", "∞ohm", "none connected",
     "nothing connected"]
)  # fmt: skip
# minus signs and hyphens; Arabic decimal and thousands marks; what can't be seen
_SIGNS = str.maketrans(
    dict.fromkeys("−–‐‑‒", "-") | {"٫": ".", "٬": "'"} | dict.fromkeys("\u200b\u200e\u200f\u2060")
)
_LARGEST_POWER = 300
# What everyday units measure, and the power of ten that turns them into the first of their kind;
# the tests hold each against the unit library.
_EVERYDAY: dict[str, tuple[str, int]] = {
    "": ("number", 0), "%": ("number", -2),
    "V": ("voltage", 0), "mV": ("voltage", -3), "µV": ("voltage", -6), "uV": ("voltage", -6),
    "A": ("current", 0), "mA": ("current", -3), "µA": ("current", -6), "uA": ("current", -6),
    "ohm": ("resistance", 0), "kohm": ("resistance", 3), "Mohm": ("resistance", 6),
    "W": ("power", 0), "mW": ("power", -3), "µW": ("power", -6), "uW": ("power", -6),
    "m**2": ("area", 0), "cm**2": ("area", -4), "mm**2": ("area", -6),
    "W/m**2": ("power by area", 0), "mW/cm**2": ("power by area", 1),
    "µW/cm**2": ("power by area", -2), "uW/cm**2": ("power by area", -2),
    "A/m**2": ("current by area", 0), "mA/cm**2": ("current by area", 1),
    "kg": ("mass", 0), "g": ("mass", -3), "mg": ("mass", -6), "µg": ("mass", -9),
    "L": ("volume", 0), "mL": ("volume", -3), "µL": ("volume", -6),
    "m": ("length", 0), "cm": ("length", -2), "mm": ("length", -3), "km": ("length", 3),
    "lx": ("lit area", 0), "klx": ("lit area", 3),
    "S/m": ("conductivity", 0), "mS/cm": ("conductivity", -1), "µS/cm": ("conductivity", -4),
}  # fmt: skip
# More that is understood, for which the unit library is asked only how to convert it; and what
# things are counted in, which the library doesn't know. The tests hold these against it, too.
_UNDERSTOOD = frozenset(["s", "min", "h", "°C", "degC"])
_COUNTED = frozenset(
    ["pair", "pairs", "piece", "pieces", "drop", "drops", "sheet", "sheets", "leaf", "leaves"]
)


class UnitError(TrialsError):
    """A unit can't be converted into another."""


@lru_cache(_MANY)
def tidy(unit: str) -> str:
    """Return the unit as plain text that the unit library reads; empty for no unit, or for "1".

    Examples
    --------
    >>> tidy("W/m²"), tidy("W m⁻²"), tidy("μA") == tidy("µA"), tidy("Ω")
    ('W/m**2', 'W*m**-2', True, 'ohm')
    """
    if unit.strip() == "1":
        return ""
    text = unicodedata.normalize(
        "NFKC", _lowered(unit.strip())
    )  # joins the two micro signs and the ohm signs
    text = re.sub(r"\bmicro\s+", "micro", text)
    text = text.replace("μ", "µ").replace("Ω", "ohm").replace("ω", "ohm").replace("−", "-")
    text = re.sub(r"\s*[·⋅×]\s*", "*", text).replace("^", "**")
    text = re.sub(r"\s+per\s+", "/", text)
    text = re.sub(r"(?<=[A-Za-z])(?=-?[1-9]\b)", "**", text)
    text = re.sub(r"\s*([*/])\s*", r"\1", text)
    return re.sub(r"\s+", "*", text)


def as_decimal(number: float) -> Decimal:
    """Return a float as the decimal that it is written as, without empty places.

    Examples
    --------
    >>> as_decimal(0.1), as_decimal(4.0), as_decimal(2000)
    (Decimal('0.1'), Decimal('4'), Decimal('2000'))
    """
    return Decimal(f"{Decimal(repr(number)).normalize():f}")


def shown(number: Decimal) -> str:
    """Return a number as people write it, without powers of ten.

    Examples
    --------
    >>> shown(Decimal("1E+3")), shown(Decimal("0.4120"))
    ('1000', '0.4120')
    """
    return f"{number:f}"


def _lowered(text: str) -> str:
    """Return the text with raised figures written behind a ``^``."""
    return re.sub(r"[⁰¹²³⁴⁵⁶⁷⁸⁹⁻]+", lambda m: "^" + m[0].translate(_RAISED), text)


@lru_cache(_MANY)
def known(unit: str) -> bool:
    """Return whether the unit is understood; no unit at all is.

    Examples
    --------
    >>> [known(u) for u in ("uA", "kohm", "Volts", "°C", "%", "", "leaves")]
    [True, True, True, True, True, True, False]
    """
    text = tidy(unit)
    return text in _EVERYDAY or text in _UNDERSTOOD or _unit(unit) is not None


@lru_cache(_MANY)
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


@lru_cache(_MANY)
def convertible(have: str, want: str) -> bool:
    """Return whether numbers in one unit can be turned into the other.

    Examples
    --------
    >>> convertible("min", "h"), convertible("V", "mA"), convertible("leaves", "leaves")
    (True, False, True)
    """
    mine, its = tidy(have), tidy(want)
    if mine == its:
        return True
    first, second = _EVERYDAY.get(mine), _EVERYDAY.get(its)
    if first is not None and second is not None:
        return first[0] == second[0]
    if not {mine, its}.isdisjoint(_COUNTED):
        return False
    one, other = _unit(have), _unit(want)
    return one is not None and other is not None and one.dimensionality == other.dimensionality


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


@lru_cache(_MANY)
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


def spelled(unit: str) -> str:
    """Return the unit in words; empty for no unit, and as it stands where it is a word of ours.

    Examples
    --------
    >>> spelled("mV"), spelled("µW/cm²"), spelled("degC"), spelled("1/h"), spelled("leaves")
    ('millivolt', 'microwatt per square centimeter', 'degree Celsius', '1 per hour', 'leaves')
    """
    if not tidy(unit):
        return ""
    parsed = _unit(unit)
    if parsed is None:
        return unit.strip()
    powers = {1.0: "", 2.0: "square ", 3.0: "cubic "}
    over: list[str] = []
    under: list[str] = []
    for name, exponent in parsed._units.items():
        power = float(str(exponent))
        size = abs(power)
        word = name.replace("_", " ")
        word = f"{powers[size]}{word}" if size in powers else f"{word} to the power {size:g}"
        (over if power > 0 else under).append(word)
    told = " ".join(over) or "1"
    return f"{told} per {' per '.join(under)}" if under else told


def headings(text: str) -> tuple[tuple[str, str | None], ...]:
    """Return the ways a column's heading can be read, as (name, unit), the likeliest first.

    A unit None means that the heading states none.

    Examples
    --------
    >>> headings("current (mA)")
    (('current', 'mA'), ('current (mA)', None))
    >>> headings("current_mA")
    (('current_mA', None), ('current', 'mA'))
    >>> headings("light_W_m2")[1:]
    (('light_W', 'm2'), ('light', 'W/m2'))
    >>> headings("U/mV")[1:], headings("light W/m²")[1]
    ((('U', 'mV'),), ('light', 'W/m²'))
    """
    text = " ".join(text.split())
    match = _BRACKETS.match(text)
    if match:
        return ((match["name"], match["unit"].strip()), (text, None))
    ways: list[tuple[str, str | None]] = [(text, None)]
    if len(text) <= 2 * _LONGEST:
        for mark in (" in ", ", ", " / ", *((" ", "/") if "/" in text else ())):
            name, found, unit = text.rpartition(mark)
            if found and known(unit):
                ways.append((name, unit))
        parts = re.split(r"[_ ]|(?<=\w)/", text) if "/" not in text else [text]
        for tail in (1, 2, 3):
            unit = "/".join(part for part in parts[-tail:] if part != "per")
            if len(parts) > tail and unit and known(unit):
                ways.append((text[: -len("_".join(parts[-tail:])) - 1], unit))
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
    if text in _COUNTED or len(text) > _LONGEST or not _ALLOWED.match(text) or _WILD.search(text):
        return None
    for spelling in (text, text.lower()):
        try:
            return _registry().parse_units(spelling)
        except Exception:  # noqa: BLE001, S112 - its parser raises bare exceptions of many kinds
            continue
    return None


@cache
def _scale(have: str, want: str) -> Decimal | None:
    first, second = _EVERYDAY.get(tidy(have)), _EVERYDAY.get(tidy(want))
    if first is not None and second is not None:
        return Decimal(1).scaleb(first[1] - second[1])
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


@dataclass(frozen=True, slots=True)
class Numeral:
    """A number as people write it, under both conventions for the decimal mark.

    ``point`` is the value if the decimal mark is a point (commas part thousands), ``comma`` the
    value if it is a comma. None: the text can't be read that way. ``unit`` is what stood behind it.
    """

    point: Decimal | None
    comma: Decimal | None
    unit: str = ""

    @property
    def plain(self) -> bool:
        """Whether both conventions give the same number."""
        return self.point is not None and self.point == self.comma


@lru_cache(16 * _MANY)
def numeral(text: str) -> Numeral | None:
    """Return a number text under both conventions, or None if it is no number.

    Thousands may be parted by a mark, a space or an apostrophe; figures may be of any script, and
    powers of ten written in any of the usual ways.

    Examples
    --------
    >>> numeral("0,412"), numeral("12")
    (Numeral(point=None, comma=Decimal('0.412'), unit=''), Numeral(point=Decimal('12'), ...))
    >>> numeral("1,234"), numeral("1 234.5 µA")
    (Numeral(point=Decimal('1234'), comma=Decimal('1.234'), unit=''),
     Numeral(point=Decimal('1234.5'), comma=None, unit='µA'))
    >>> numeral("n/a"), numeral("1.2.3")
    (None, None)
    >>> numeral("4,1·10⁻³").comma, numeral("٠٫٤١٢").point
    (Decimal('0.0041'), Decimal('0.412'))
    """
    plain = _PLAIN.match(text)
    if plain and (plain["part"] is None or len(plain["part"]) != 1 + 3):
        value = Decimal(text)
        return Numeral(value, value if plain["part"] is None else None)
    if len(text) > _LONGEST_NUMBER:
        return None
    text = unicodedata.normalize("NFKC", _lowered(text)).replace("μ", "µ").translate(_SIGNS).strip()
    text = "".join(_western(letter) for letter in text).removeprefix("'")
    match = _NUMBER.match(text)
    if not match or not match["digits"].strip("., '’"):
        return None
    digits = match["digits"].strip()
    power = match["power"] or match["raised"] or "0"
    if abs(int(power)) > _LARGEST_POWER:
        return None
    values = [
        _decimal(match["sign"] or "", digits, power, mark, other)
        for mark, other in ((".", ","), (",", "."))
    ]
    if values == [None, None]:
        return None
    return Numeral(values[0], values[1], match["unit"].strip())


def is_endless(text: str) -> bool:
    """Return whether a text says that something is without end, as an open circuit's resistance is.

    Only where a column allows that: anywhere else such a text is no number.

    Examples
    --------
    >>> is_endless("open"), is_endless(" Offen "), is_endless("∞ Ω"), is_endless("+Inf")
    (True, True, True, True)
    >>> is_endless("OL"), is_endless("-inf"), is_endless("1000")
    (False, False, False)
    """
    plain = unicodedata.normalize("NFKC", text).casefold().replace("ω", "ohm")
    plain = " ".join(plain.split()).removeprefix("+").rstrip(".")
    return plain.replace("∞ ", "∞") in _ENDLESS


def _western(letter: str) -> str:
    """Return a figure of any script as one of 0 to 9; other letters as they are."""
    return letter if letter.isascii() or not letter.isdecimal() else str(int(letter))


def _decimal(sign: str, digits: str, power: str, mark: str, other: str) -> Decimal | None:
    """Return the number if ``mark`` is the decimal mark and ``other`` may part thousands."""
    whole, _, part = digits.partition(mark)
    if part and not (part.isascii() and part.isdigit()):
        return None
    separators = {letter for letter in whole if not letter.isdigit()}
    if len(separators) > 1 or not separators <= {other, " ", "'", "’"}:
        return None
    if separators:
        first, *groups = whole.split(separators.pop())
        if not 1 <= len(first) <= 3 or first == "0" or any(len(group) != 3 for group in groups):
            return None
        whole = first + "".join(groups)
    if not whole and not part:
        return None
    return Decimal(f"{sign}{whole or '0'}{'.' + part if part else ''}E{power}")
