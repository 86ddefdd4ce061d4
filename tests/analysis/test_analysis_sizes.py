"""Readings of any size: the answer doesn't depend on the unit, or the size is refused in words."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

import trials
from trials import Options, Structure
from trials.analysis.findings import ResponseFindings
from trials.errors import AnalysisError

VALUES = ("1", "1.2", "3.1", "9", "8", "1.5", "2", "2.2", "3.3", "9.1", "7.7", "1.6")


def analysed(values: list[str], kind: dict[str, Any], groups: bool = True) -> ResponseFindings:
    rows = [
        {"a": "xxzz"[i % 4], "b": "pq"[i % 2], "g": str(i // 4), "y": value}
        for i, value in enumerate(values)
    ]
    structure = Structure(["a", "b"] if groups else ["a"], ["g"] if groups else [])
    options = Options.model_validate({"response": "y", "resamples": 99, "worthwhile": 1.5} | kind)
    return trials.analyse_table(pd.DataFrame(rows), structure, options).responses[0]


KINDS: tuple[tuple[dict[str, Any], bool], ...] = (
    ({}, False),
    ({}, True),
    ({"random": ("g",)}, True),
    ({"random": ("g",), "df": "kenward-roger"}, True),
    ({"random": ("g",), "df": "satterthwaite"}, True),
    ({"random": ("g",), "bounded": True}, True),
)


@pytest.mark.parametrize("power", [-29, 28])
@pytest.mark.parametrize(("kind", "groups"), KINDS)
def test_tests_do_not_depend_on_the_unit(kind: dict[str, Any], groups: bool, power: int) -> None:
    usual = analysed(list(VALUES), kind, groups)
    far = analysed([f"{value}e{power}" for value in VALUES], kind, groups)
    for one, other in zip(usual.effects, far.effects, strict=True):
        assert (one.p, one.den_df) == pytest.approx((other.p, other.den_df), rel=1e-6)
        assert one.p_permutation == other.p_permutation
    shapes = [r.diagnostics["normal_shape"] for r in (usual, far)]
    assert shapes[0] == (None if shapes[1] is None else pytest.approx(shapes[1], rel=1e-6))


@pytest.mark.parametrize("size", ["1e308", "-1e308", "1e31", "1e-31", "1e-308", "5e-324"])
def test_a_size_that_cannot_be_computed_with_is_refused(size: str) -> None:
    with pytest.raises(AnalysisError) as caught:
        analysed([*VALUES[:-1], size], {}, groups=False)
    assert caught.value.code == "analysis.not_finite"
    assert (caught.value.where, caught.value.found) == ("column y, line 13", size)
    assert "unit that suits" in caught.value.do


def test_differences_too_small_to_compute_with_are_refused() -> None:
    zeros = "0" * 30
    values = [f"1.{zeros}{i}" for i in range(12)]
    with pytest.raises(AnalysisError, match="differ by less"):
        analysed(values, {}, groups=False)


@pytest.mark.parametrize("margin", [1e-300, 1e300])
def test_a_margin_of_any_size_is_answered(margin: float) -> None:
    found = analysed(list(VALUES), {"worthwhile": margin}, groups=False)
    assert len(found.verdicts) == 1


def test_ratios_keep_the_digits_of_very_different_readings() -> None:
    """On the log scale nothing may be lost to a first reading that is much larger."""
    values = ["1", "1e-20", "1e-29", "1", "1e-20", "1e-29"] * 2
    found = analysed(values, {"compare": "ratio"}, groups=False)
    assert min(point.value for point in found.points) == pytest.approx(1e-29, rel=1e-9)
