"""Numbers as people read them."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given as given_by
from hypothesis import settings
from hypothesis import strategies as st

from trials.words import numbers as n

finite = st.floats(-1e12, 1e12).filter(lambda x: x == 0 or abs(x) > 1e-12)


def read_back(text: str) -> float:
    """Read a printed number as a person would."""
    plain = text.replace(n.MINUS, "-").replace(n.NBSP, "")
    match = re.fullmatch(r"(-?[\d.]+)(?:×10([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+))?", plain)
    assert match, text
    power = (match[2] or "0").translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789"))
    return float(match[1]) * 10.0 ** int(power)


def test_an_estimate_keeps_two_digits_of_its_uncertainty() -> None:
    # JCGM 100:2008, 7.2.2: m = 100.02147 g with a combined standard uncertainty of 0.35 mg is
    # written 100.02147(35) g.
    decimals = n.interval_decimals((100.02147 - 0.00035, 100.02147 + 0.00035), 100.02147)
    assert decimals == 5
    assert n.number(100.0214712, decimals) == "100.02147"


def test_ends_are_rounded_to_the_same_digit() -> None:
    decimals = n.interval_decimals((0.1042, 0.3232))
    assert n.ends_text((0.1042, 0.3232), "mW", decimals) == "0.10 to 0.32\u00a0mW"
    assert n.ends_text((None, 0.3232), "mW", decimals) == "less than 0.32\u00a0mW"
    assert n.ends_text((None, None), "mW", 2) == "any value"


def test_a_unit_stands_after_a_space_but_for_angles() -> None:
    # The International System of Units, BIPM, 9th edition (2019), 5.4.3: a space parts number and
    # unit, also before % and °C; none before degree, minute and second of plane angle.
    for unit in ("mW", "%", "°C", "µW/cm²"):
        assert n.with_unit("5", unit) == f"5\u00a0{unit}"
    for unit in ("°", "′", "″"):
        assert n.with_unit("5", unit) == f"5{unit}"


@settings(derandomize=True, max_examples=300)
@given_by(finite, st.integers(1, 6))
def test_significant_digits_read_back(x: float, digits: int) -> None:
    assert read_back(n.significant(x, digits)) == pytest.approx(x, rel=0.51 * 10 ** (1 - digits))


@settings(derandomize=True, max_examples=200)
@given_by(st.floats(-1e5, 1e5), st.integers(0, 4))
def test_decimals_read_back(x: float, decimals: int) -> None:
    text = n.number(x, decimals)
    assert abs(read_back(text) - x) <= 0.5 * 10**-decimals * (1 + 1e-6)
    assert not text.startswith(n.MINUS + "0.0") or read_back(text) != 0


@settings(derandomize=True, max_examples=200)
@given_by(st.floats(1e-6, 1e6), st.floats(1e-9, 1e5))
def test_intervals_never_collapse(middle: float, half: float) -> None:
    ends = (middle - half, middle + half)
    decimals = n.interval_decimals(ends, middle)
    low, high = (read_back(n.number(end, decimals)) for end in ends)
    assert low < high
    assert high - low == pytest.approx(2 * half, rel=0.11, abs=1e-15 * middle)


@pytest.mark.parametrize(
    ("p", "told"),
    [
        (0.031, "about 3 of 100 repeats"),
        (0.5, "about 50 of 100 repeats"),
        (0.0099, "about 1 of 100 repeats"),
        (0.009, "about 9 of 1000 repeats"),
        (0.0005, "about 1 of 1000 repeats"),
        (0.0004, "fewer than 1 of 1000 repeats"),
        (0.0, "fewer than 1 of 1000 repeats"),
        (0.999, "nearly all repeats"),
    ],
)
def test_p_is_a_count_of_repeats(p: float, told: str) -> None:
    assert n.chance_of(p) == told


@pytest.mark.parametrize("x", [1.3, 12.0, 0.125, 0.1 + 0.2, 1 / 3, 1e-7, 123456789.0])
def test_given_numbers_have_no_digits_of_their_own(x: float) -> None:
    text = n.given(x)
    assert len(re.sub(r"\D", "", text.split("×", maxsplit=1)[0])) <= 9
    assert read_back(text) == pytest.approx(x, rel=1e-3)


def test_plurals_and_counts() -> None:
    assert [n.count(k, "dish") for k in (0, 1, 2)] == ["no dishes", "1 dish", "2 dishes"]
    assert n.plural("greenhouse") == "greenhouses"


def test_ratios_show_no_more_than_they_know() -> None:
    assert n.ratio_decimals((0.95, 2.3)) == 2
    assert n.ratio_decimals((120.0, 190.0)) == 0
    assert n.ratio_decimals((None, None)) == 2
    assert n.ratio_decimals((None, None), 0.05) == 3


def test_ranks_are_told_as_repeats() -> None:
    assert n.repeats_of_ten(0.71) == "in about 7 of 10 repeats"
    assert n.confidence_text(0.9706) == "97.06\u00a0%"
    assert not math.isnan(read_back(n.p_text(0.0312)))
