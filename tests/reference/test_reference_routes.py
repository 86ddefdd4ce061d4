"""The same table by every way in, shifted, scaled or shuffled, must give the same answer.

Checked on Yates's oats with seven plots lost, where R's numbers are compared elsewhere.
"""

from __future__ import annotations

import json
from decimal import Decimal
from functools import cache

import pandas as pd
import pytest

import trials
from tests.unmoved import analyse_table
from trials.analysis.findings import ResponseFindings
from trials.cli.start import run

from .support import R, agree, options, read_table

OATS = R / "06_oats_unbalanced.csv"
STRUCTURE = trials.Structure(factors=("N", "V"), groups=("B", "B/V"), applied_to={"V": "B/V"})


def analysed(table: pd.DataFrame) -> ResponseFindings:
    (found,) = analyse_table(table, STRUCTURE, options("Y")).responses
    return found


@cache
def as_it_is() -> ResponseFindings:
    return analysed(read_table(OATS))


def test_command_line_gives_the_python_calls_document(
    capsys: pytest.CaptureFixture[str],
) -> None:
    asked = ["analyse", str(OATS), "--response", "Y", "--factor", "N", "--factor", "V"]
    asked += ["--group", "B", "--group", "B/V", "--applied", "V=B/V", "--resamples", "0", "--json"]
    code = run(asked)
    said = capsys.readouterr()
    assert code == 0, said.err
    assert "NaN" not in said.out
    wanted = trials.analyse_table(read_table(OATS), STRUCTURE, options("Y")).to_dict()
    assert json.loads(said.out) == json.loads(json.dumps(wanted))


def test_a_factors_unit_is_found_without_being_told(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Each B/V holds one variety, and no larger group does: that is the variety's unit."""
    asked = ["analyse", str(OATS), "--response", "Y", "--factor", "N", "--factor", "V"]
    asked += ["--group", "B", "--group", "B/V", "--resamples", "0", "--json"]
    assert run(asked) == 0
    found = json.loads(capsys.readouterr().out)["responses"][0]["effects"]
    wanted = as_it_is().effects
    assert [line["f"] for line in found] == [line.f for line in wanted]


def same_tests(found: ResponseFindings, wanted: ResponseFindings, at_least: float) -> None:
    for line in wanted.effects:
        (twin,) = (other for other in found.effects if other.term == line.term)
        assert line.f is not None
        assert line.den_df is not None
        agree(twin.f, line.f, f"F of {line.term}", at_least)
        agree(twin.den_df, line.den_df, f"den_df of {line.term}", at_least)


@pytest.mark.parametrize("shift", ["1000000000", "-0.1", "123456789012.5"])
def test_adding_a_constant_changes_only_the_means(shift: str) -> None:
    table = read_table(OATS)
    moved = table.assign(Y=[str(Decimal(value) + Decimal(shift)) for value in table["Y"]])
    found, wanted = analysed(moved), as_it_is()
    same_tests(found, wanted, 9)
    for mean, plain in zip(found.means, wanted.means, strict=True):
        assert plain.mean is not None
        assert mean.mean == pytest.approx(plain.mean + float(shift), rel=1e-12)
        assert plain.se is not None
        agree(mean.se, plain.se, "standard error", 9)


@pytest.mark.parametrize("power", [-9, 6])
def test_another_unit_of_measurement_changes_no_test(power: int) -> None:
    table = read_table(OATS)
    other = table.assign(Y=[str(Decimal(value).scaleb(power)) for value in table["Y"]])
    found, wanted = analysed(other), as_it_is()
    same_tests(found, wanted, 8)
    for row, plain in zip(found.variance_components, wanted.variance_components, strict=True):
        assert plain.variance is not None
        agree(row.variance, plain.variance * 10.0 ** (2 * power), row.group, 8)


def test_order_of_rows_changes_nothing() -> None:
    table = read_table(OATS)
    found = analysed(table.sample(frac=1, random_state=7).reset_index(drop=True))
    same_tests(found, as_it_is(), 9)


def test_names_of_levels_change_nothing() -> None:
    """Plots numbered anew in each block: nested names need not be unique."""
    table = read_table(OATS)
    codes = {name: str(number) for number, name in enumerate(sorted(set(table["V"])), start=1)}
    plots = table.assign(plot=[codes[name] for name in table["V"]])
    structure = trials.Structure(
        factors=("N", "V"), groups=("B", "B/plot"), applied_to={"V": "plot"}
    )
    (found,) = analyse_table(plots, structure, options("Y")).responses
    same_tests(found, as_it_is(), 9)
