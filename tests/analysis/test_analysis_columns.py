"""Columns of a table that can't be meant as they are: item codes, quantities, options together."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest
from scipy import stats

import trials
from trials import Factor, Options, Structure
from trials.analysis.findings import ResponseFindings
from trials.errors import AnalysisError, RequestError
from trials.model import make_layout


def analysed(
    columns: dict[str, list[str]], structure: Structure, **options: Any
) -> ResponseFindings:
    settings = Options.model_validate({"resamples": 0, "response": "y", **options})
    return trials.analyse_table(pd.DataFrame(columns), structure, settings).responses[0]


DOSE = Structure([Factor("dose", "quantity", trend=True)])
Y = ["1", "2.5", "3", "4.1", "7", "6"]


@pytest.mark.parametrize(
    ("label", "code"),
    [
        ("inf", "analysis.not_finite"),
        ("1e999", "analysis.not_finite"),
        ("1_0", "analysis.not_a_number"),
        ("low", "analysis.not_a_number"),
        ("1,000", "analysis.comma_unclear"),
        ("nan", "table.label_empty"),
        ("NA", "table.label_empty"),
        ("", "table.label_empty"),
    ],
)
def test_a_quantity_is_read_by_the_rule_for_readings(label: str, code: str) -> None:
    with pytest.raises(AnalysisError) as caught:
        analysed({"dose": ["1", "1", "2", "2", "3", label], "y": Y}, DOSE)
    assert caught.value.code == code
    assert "column dose" in caught.value.where
    assert caught.value.do


def test_decimal_commas_in_a_quantity_are_numbers() -> None:
    """Against scipy's straight line."""
    found = analysed({"dose": ["0,5", "0,5", "2", "2,0", "3", "3"], "y": Y}, DOSE)
    line = stats.linregress([0.5, 0.5, 2, 2, 3, 3], [float(y) for y in Y])
    assert found.effects[0].p == pytest.approx(line.pvalue, rel=1e-9)
    assert [m.levels["dose"] for m in found.means] == ["0.5", "2", "3"]
    assert "decimal_comma" in found.method.notes


@pytest.mark.parametrize("level", ["inf", "nan", "1_0", "x"])
def test_a_level_that_is_no_number_is_refused_without_a_table(level: str) -> None:
    with pytest.raises(AnalysisError) as caught:
        make_layout(DOSE, {"dose": ["1", level]})
    assert caught.value.code == "table.level_not_a_number"


def test_a_log_scale_has_no_place_for_zero() -> None:
    structure = Structure([Factor("dose", "quantity", scale="log", trend=True)])
    with pytest.raises(AnalysisError) as caught:
        make_layout(structure, {"dose": ["1", "0"]})
    assert caught.value.code == "table.level_not_positive"


def test_item_codes_that_start_again_in_each_team_are_refused() -> None:
    columns = {
        "team": list("aaaabbbb"),
        "plant": list("11221122"),
        "feed": list("xxzzxxzz"),
        "y": list("12341324"),
    }
    structure = Structure(["feed"], ["team"])
    with pytest.raises(AnalysisError) as caught:
        analysed(columns, structure, item="plant")
    assert caught.value.code == "structure.item_in_two_groups"
    assert caught.value.found == "1 in a, b"
    assert "start again in each team" in caught.value.do
    own = columns | {"plant": list("11223344")}
    assert analysed(own, structure, item="plant").n_items == 4


def test_items_that_are_read_in_several_sessions_are_named_as_a_group() -> None:
    """The other way out that the refusal tells."""
    rows = [(d, p) for d in "abc" for p in range(6)]
    columns = {
        "day": [d for d, _ in rows],
        "plant": [f"p{p}" for _, p in rows],
        "feed": ["xz"[p % 2] for _, p in rows],
        "y": [str(10 * p + i * 7 % 5) for i, (_, p) in enumerate(rows)],
    }
    with pytest.raises(AnalysisError) as caught:
        analysed(columns, Structure(["feed"], ["day"]), item="plant")
    assert "as a group (plant)" in caught.value.do
    found = analysed(columns, Structure(["feed"], ["day", "plant"]))
    assert (found.effects[0].stratum, found.effects[0].den_df) == ("plant", 4.0)


def test_readings_grouped_inside_an_item_are_no_reuse() -> None:
    columns = {
        "plant": list("1111222233334444"),
        "leaf": list("aabbccddeeffgghh"),
        "feed": list("xxxxxxxxzzzzzzzz"),
        "y": [str(i * 7 % 11) for i in range(16)],
    }
    found = analysed(columns, Structure(["feed"], ["leaf"]), item="plant")
    assert found.n_items == 4


def test_strata_with_bounded_is_refused() -> None:
    with pytest.raises(RequestError) as caught:
        Options(df="strata", bounded=True)
    assert caught.value.code == "options.strata_bounded"
    assert "kenward-roger" in caught.value.do
