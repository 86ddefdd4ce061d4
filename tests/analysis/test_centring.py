"""Exact centring, checked against the NIST Statistical Reference Datasets that scipy installs.

Source: https://www.itl.nist.gov/div898/strd/anova/anova.html, certified values.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from importlib import resources

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from trials.analysis.centring import as_text, numbers
from trials.errors import AnalysisError

NIST = (
    "AtmWtAg",
    "SiRstv",
    *(f"SmLs{number:02}" for number in range(1, 10)),
)


def nist(name: str) -> tuple[list[str], list[str], list[float]]:
    """Return treatments, readings as text, and certified (SS between, SS within, F)."""
    folder = resources.files("scipy.stats").joinpath("tests/data/nist_anova")
    lines = folder.joinpath(f"{name}.dat").read_text(encoding="ascii").splitlines()
    start = max(i for i, line in enumerate(lines) if line.startswith("Data:  ")) + 1
    rows = [line.split() for line in lines[start:] if line.strip()]
    table = "\n".join(line for line in lines if line.startswith(("Between", "Within")))
    numbers_in = re.findall(r"-?\d\.\d+E[+-]\d+", table)
    between, _, f, within = (float(text) for text in numbers_in[:4])
    return [row[0] for row in rows], [row[1] for row in rows], [between, within, f]


def two_pass(y: NDArray[np.float64], groups: list[str]) -> list[float]:
    """Sums of squares of deviations from means, as in any textbook."""
    names, codes = np.unique(groups, return_inverse=True)
    means = np.array([y[codes == code].mean() for code in range(len(names))])
    between = float(np.sum((means[codes] - y.mean()) ** 2))
    within = float(np.sum((y - means[codes]) ** 2))
    return [between, within, (between / (len(names) - 1)) / (within / (len(y) - len(names)))]


def lre(found: float, certified: float) -> float:
    if found == certified:
        return 15.0
    return min(15.0, -math.log10(abs(found - certified) / abs(certified)))


@pytest.mark.parametrize("name", NIST)
@pytest.mark.parametrize("as_floats", [False, True])
def test_textbook_sums_reach_the_certified_digits(name: str, as_floats: bool) -> None:
    groups, texts, certified = nist(name)
    column: list[object] = [float(t) for t in texts] if as_floats else list(texts)
    centred = numbers(column, "y")
    digits = [
        lre(found, known)
        for found, known in zip(two_pass(centred.values, groups), certified, strict=True)
    ]
    assert min(digits) >= 14.5, dict(zip(("between", "within", "F"), digits, strict=True))


def test_offset_and_resolution() -> None:
    centred = numbers(["1000000000000.4", "1000000000000.25", ""], "y")
    assert centred.offset == Decimal("1000000000000.4")
    assert centred.resolution == Decimal("0.01")
    assert centred.missing.tolist() == [False, False, True]
    assert centred.values.tolist()[:2] == [0.0, -0.15]
    assert centred.restore(0.1) == 1000000000000.5
    assert centred.plain.tolist()[:2] == [1000000000000.4, 1000000000000.25]


def test_column_without_any_reading() -> None:
    centred = numbers(["", "NA", "nan"], "y")
    assert centred.missing.all()
    assert np.isnan(centred.values).all()


@pytest.mark.parametrize(
    ("column", "values"),
    [
        (["0,5", "0,75", "1"], [0.0, 0.25, 0.5]),
        (["0,523", "1,000"], [0.0, 0.477]),  # thousands never begin with a nought
        (["12,5", "1,234"], [0.0, -11.266]),
        (["−3", "1e-3", "+2."], [0.0, 3.001, 5.0]),
    ],
)
def test_ways_of_writing(column: list[str], values: list[float]) -> None:
    assert numbers(column, "y").values.tolist() == values


@pytest.mark.parametrize(
    ("column", "code", "where"),
    [
        (["1", "2", "high"], "analysis.not_a_number", "column y, row 3"),
        (["1", "1_000"], "analysis.not_a_number", "column y, row 2"),
        (["1", "٣"], "analysis.not_a_number", "column y, row 2"),
        (["1", "=2+3"], "analysis.not_a_number", "column y, row 2"),
        (["1", "inf"], "analysis.not_finite", "column y, row 2"),
        (["1", "-Infinity"], "analysis.not_finite", "column y, row 2"),
        (["1e400", "2"], "analysis.not_finite", "column y, row 1"),
        (["1e-999", "2"], "analysis.not_finite", "column y, row 1"),
        (["1,234", "2"], "analysis.comma_unclear", "column y, row 1"),
        (["1,5", "2.5"], "analysis.mixed_decimals", "column y, row 2"),
        (["1,5", "abc"], "analysis.not_a_number", "column y, row 2"),
        (["1,234.5"], "analysis.not_a_number", "column y, row 1"),
        (["9" * 301], "analysis.not_a_number", "column y, row 1"),
    ],
)
def test_what_is_not_a_number_is_named(column: list[str], code: str, where: str) -> None:
    with pytest.raises(AnalysisError) as caught:
        numbers(column, "y")
    assert (caught.value.code, caught.value.where) == (code, where)
    assert caught.value.found
    assert caught.value.do


def test_lines_of_the_file_are_named() -> None:
    with pytest.raises(AnalysisError) as caught:
        numbers(["1", "x"], "y", lines=(2, 7))
    assert caught.value.where == "column y, line 7"


def test_cells_of_a_data_frame() -> None:
    column = pd.array([1, None], dtype="Int64")
    assert as_text(column) == ["1", ""]
    assert as_text([np.float32(0.1), np.int64(4), np.nan, pd.NaT, Decimal("0.10")]) == [
        "0.1",
        "4",
        "",
        "",
        "0.10",
    ]


@settings(derandomize=True, max_examples=200, deadline=None)
@given(st.lists(st.decimals(-(10**15), 10**15, allow_nan=False, places=4), min_size=1, max_size=8))
def test_differences_are_the_exact_ones_rounded_once(readings: list[Decimal]) -> None:
    centred = numbers([str(reading) for reading in readings], "y")
    assert centred.values.tolist() == [float(reading - readings[0]) for reading in readings]
    assert all((reading - centred.offset) % centred.resolution == 0 for reading in readings)
