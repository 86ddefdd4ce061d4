"""Units and numbers as people write them.

Sources: The International System of Units (SI Brochure, 9th edition, 2019), tables 7 and 8 for
prefixes and the minute, hour, day and degree Celsius.
"""

from __future__ import annotations

from decimal import Decimal

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.quantities import (
    _COUNTED,
    _EVERYDAY,
    _UNDERSTOOD,
    Numeral,
    UnitError,
    convert,
    convertible,
    headings,
    known,
    nice,
    numeral,
    same,
    scale_between,
    shown,
    tidy,
)


@pytest.mark.parametrize("micro", ["µA", "μA", "uA", "microA", "㎂"])
def test_micro_written_five_ways(micro: str) -> None:
    assert same(micro, "uA")
    assert convert(Decimal("412"), micro, "mA") == Decimal("0.412")


@pytest.mark.parametrize("light", ["W/m²", "W/m^2", "W/m2", "W m-2", "W·m⁻²", "W per m^2"])
def test_light_written_six_ways(light: str) -> None:
    assert same(light, "W/m^2")
    assert convert(Decimal("1"), "mW/cm^2", light) == 10


@pytest.mark.parametrize("ohm", ["ohm", "Ohm", "ohms", "Ω", "\u2126"])
def test_ohm_written_five_ways(ohm: str) -> None:
    assert same(ohm, "ohm")
    assert scale_between("kohm", ohm) == 1000


@pytest.mark.parametrize(
    ("have", "want", "one"),
    [
        ("min", "s", "60"),  # SI Brochure, table 8
        ("h", "min", "60"),
        ("d", "h", "24"),
        ("km", "m", "1000"),  # table 7
        ("mL", "L", "0.001"),
        ("m^2", "cm^2", "10000"),
        ("cm^3", "mL", "1"),
        ("uS/cm", "mS/m", "0.1"),
        ("%", "", "0.01"),
    ],
)
def test_published_factors_are_exact(have: str, want: str, one: str) -> None:
    assert convert(Decimal(1), have, want) == Decimal(one)


def test_celsius_has_another_zero() -> None:
    assert convert(Decimal("20.5"), "°C", "K") == Decimal("293.65")  # SI Brochure, 2.3.1
    assert scale_between("°C", "K") is None


def test_upper_and_lower_case_prefixes_differ() -> None:
    assert scale_between("MV", "mV") == Decimal("1e9")
    assert not same("mA", "MA")


def test_units_of_another_kind_are_refused_with_all_that_is_needed() -> None:
    with pytest.raises(UnitError) as problem:
        convert(Decimal(1), "V", "mA")
    assert problem.value.code == "unit.other_kind"
    assert problem.value.do == "Give the number in mA."


def test_a_unit_nobody_knows_converts_only_to_itself() -> None:
    assert convert(Decimal(7), "leaves", "leaves") == 7
    assert not convertible("leaves", "petals")


@pytest.mark.parametrize("text", ["__import__('os')", "V" * 60, "V**9**9", "1/0", "(((", "//", "e"])
def test_strange_texts_are_no_units(text: str) -> None:
    assert not known(text) or len(text) < 3


@settings(derandomize=True, max_examples=200)
@given(
    st.decimals(
        allow_nan=False, allow_infinity=False, places=6, min_value=-(10**9), max_value=10**9
    )
)
def test_powers_of_ten_round_nothing(value: Decimal) -> None:
    there = convert(value, "V", "uV")
    assert convert(there, "uV", "V") == value
    assert there == value * 10**6


@settings(derandomize=True, max_examples=100)
@given(st.text(max_size=30))
def test_no_text_breaks_the_reading_of_units_and_headings(text: str) -> None:
    known(text)
    nice(text)
    headings(text)
    numeral(text)


@pytest.mark.parametrize(
    ("text", "name", "unit"),
    [
        ("voltage (V)", "voltage", "V"),
        ("current_mA", "current", "mA"),
        ("resistance (ohm)", "resistance", "ohm"),
        ("light [W/m²]", "light", "W/m²"),
        ("irradiance_W_m2", "irradiance", "W/m2"),
        ("height in mm", "height", "mm"),
        ("height, mm", "height", "mm"),
        ("height (after 3 weeks) (mm)", "height (after 3 weeks)", "mm"),
        ("leaves", "leaves", None),
    ],
)
def test_headings(text: str, name: str, unit: str | None) -> None:
    assert (name, unit) in headings(text)


@pytest.mark.parametrize(
    ("text", "point", "comma"),
    [
        ("0.412", "0.412", None),
        ("0,412", None, "0.412"),
        ("1,234", "1234", "1.234"),
        ("1.234", "1.234", "1234"),
        ("1.234,5", None, "1234.5"),
        ("1,234.5", "1234.5", None),
        ("1'234.5", "1234.5", None),
        ("1 234,5", None, "1234.5"),
        ("12", "12", "12"),
        ("−0.5", "-0.5", None),
        ("+3", "3", "3"),
        ("1.5e-3", "0.0015", None),
        ("3 × 10⁻⁴", "0.0003", "0.0003"),
        (".5", "0.5", None),
        ("5,", None, "5"),
    ],
)
def test_numbers_under_both_conventions(text: str, point: str | None, comma: str | None) -> None:
    number = numeral(text)
    assert number is not None
    assert number.point == (None if point is None else Decimal(point))
    assert number.comma == (None if comma is None else Decimal(comma))


@pytest.mark.parametrize(
    "text", ["", "abc", "1.2.3", "1,23,4", "12/03/2024", "--5", "5²", "½", "1e999", "9" * 90]
)
def test_no_numbers(text: str) -> None:
    assert numeral(text) is None


@settings(derandomize=True, max_examples=200)
@given(
    st.decimals(
        allow_nan=False, allow_infinity=False, places=4, min_value=-(10**7), max_value=10**7
    )
)
def test_every_plainly_written_number_comes_back(value: Decimal) -> None:
    text = shown(value)
    point, comma = numeral(text), numeral(text.replace(".", ","))
    assert point is not None
    assert comma is not None
    assert point.point == value == comma.comma


def test_printing() -> None:
    assert [nice(u) for u in ("W/m2", "uA", "kohm", "Ohm", "degC", "mA/cm^2", "1", "%")] == [
        "W/m²", "µA", "kΩ", "Ω", "°C", "mA/cm²", "", "%"
    ]  # fmt: skip


@given(st.from_regex(r"-?[0-9]{1,17}(\.[0-9]{1,17})?", fullmatch=True))
def test_plain_figures_are_read_as_all_others_are(text: str) -> None:
    """Figures as meters write them take a short cut; a blank behind them does not."""
    quick, slow = numeral(text), numeral(f"{text} ")
    assert quick == slow
    assert quick is not None
    assert str(quick.point) == str(slow.point if slow else None)
    assert str(quick.comma) == str(slow.comma if slow else None)


def test_everyday_units_are_those_of_the_unit_library() -> None:
    """pint, which knows the SI (BIPM brochure, 9th edition), asked for every pair of them."""
    library: pint.UnitRegistry[Decimal] = pint.UnitRegistry(non_int_type=Decimal)
    parsed = {unit: library.parse_units(unit) for unit in _EVERYDAY}
    for unit, mine in parsed.items():
        assert tidy(unit) == unit
        for other, its in parsed.items():
            alike = mine.dimensionality == its.dimensionality
            assert convertible(unit, other) == alike
            if alike:
                size = library.Quantity(Decimal(1), mine).to(its).magnitude
                assert scale_between(unit, other) == size, (unit, other)
                assert convert(Decimal("412"), unit, other) == 412 * size
    for unit in _UNDERSTOOD:
        assert tidy(unit) == unit
        assert library.parse_units(unit) is not None
    for word in _COUNTED:
        assert tidy(word) == word
        with pytest.raises(pint.UndefinedUnitError):
            library.parse_units(word)


@pytest.mark.parametrize(
    ("text", "point", "comma", "unit"),
    [
        ("４１２", "412", "412", ""),  # full width
        ("٠٫٤١٢", "0.412", None, ""),  # Arabic, with its own decimal mark
        ("١٬٢٣٤٫٥", "1234.5", None, ""),
        ("۴۱۲ mV", "412", "412", "mV"),  # Persian
        ("−0.4", "-0.4", None, ""),
        ("‑0.4", "-0.4", None, ""),
        ("4,1·10^-3", None, "0.0041", ""),
        ("4.1 ⋅ 10⁻³ V", "0.0041", None, "V"),
        ("4.1x10−3", "0.0041", None, ""),
        ("1\u202f234,5", None, "1234.5", ""),
        ("\u200e0.4\u200b", "0.4", None, ""),
        ("'0.4", "0.4", None, ""),
    ],
)
def test_numbers_of_other_hands(text: str, point: str | None, comma: str | None, unit: str) -> None:
    number = numeral(text)
    assert number is not None
    assert number == Numeral(
        None if point is None else Decimal(point), None if comma is None else Decimal(comma), unit
    )


@pytest.mark.parametrize(
    ("text", "unit"),
    [("412 µA", "µA"), ("412 μA", "µA"), ("412 uA", "uA"), ("412 microA", "microA"),
     ("412 micro A", "micro A"), ("412 microampere", "microampere")],
)  # fmt: skip
def test_micro_in_all_its_spellings(text: str, unit: str) -> None:
    number = numeral(text)
    assert number is not None
    assert number.unit == unit
    assert number.point is not None
    assert convert(number.point, number.unit, "mA") == Decimal("0.412")
    assert nice(number.unit) in ("µA", "microA", "microampere")
