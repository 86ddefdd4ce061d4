"""Two one-sided tests: a pair is equivalent at 5 % exactly if its 90 % interval is inside +-d.

That is what "made no practical difference" rests on (D. J. Schuirmann, 1987, J. Pharmacokin.
Biopharm. 15, 657-680). R's p of both tests and its 90 % intervals, of the oats of F. Yates (1935),
whole and with seven plots lost; the source stands in ``r/14_tost.json``.
"""

from __future__ import annotations

import pytest
from scipy import stats

from trials.analysis.findings import ResponseFindings
from trials.model.margins import is_inside

from .support import R, Setup, agree, agree_near, analyse, comparison, options, pick

TABLES = {"balanced": "14_tost_balanced.csv", "unbalanced": "14_tost_unbalanced.csv"}
MARGINS = ("variety_delta_25", "nitrogen_delta_20", "nitrogen_delta_30")
ROUTES = (("kenward-roger", "kenward_roger"), ("satterthwaite", "satterthwaite"))


def oats(rows: str, df: str) -> ResponseFindings:
    return analyse(
        Setup(
            R / TABLES[rows],
            ("N", "V"),
            ("B", "B/V"),
            (("V", "B/V"),),
            options("Y", df=df, confidence=0.9),
        )
    )


@pytest.mark.parametrize(("df", "method"), ROUTES)
@pytest.mark.parametrize("margin", MARGINS)
@pytest.mark.parametrize("rows", list(TABLES))
def test_inside_the_margin_exactly_where_both_tests_say_so(
    rows: str, margin: str, df: str, method: str
) -> None:
    response = oats(rows, df)
    for row in pick("14_tost", f"{rows}/{margin}/{method}"):
        line, sign = comparison(response, row["a"], row["b"])
        low, high = line.interval
        assert low is not None
        assert high is not None
        ends = sorted((sign * row["ci90_lower"], sign * row["ci90_upper"]))
        agree_near(low, ends[0], 10 * row["se"], "lower end")
        agree_near(high, ends[1], 10 * row["se"], "upper end")
        assert line.difference is not None
        assert line.se is not None
        assert line.df is not None
        t = (row["delta"] - abs(line.difference)) / line.se
        agree(float(stats.t.sf(t, line.df)), row["p_tost"], "the larger p", 5)
        assert bool(is_inside(low, high, row["delta"])) is row["equivalent_at_0.05"]
        assert row["equivalent_at_0.05"] is (row["p_tost"] < 0.05)


def test_the_cases_hold_both_answers() -> None:
    answers = {
        row["equivalent_at_0.05"]
        for rows in TABLES
        for margin in MARGINS
        for row in pick("14_tost", f"{rows}/{margin}/kenward_roger")
    }
    assert answers == {True, False}
