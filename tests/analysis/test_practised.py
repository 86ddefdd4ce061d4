"""What a practice run tells: intervals against published ones, and runs that went badly."""

from __future__ import annotations

import itertools
import math
import statistics

import numpy as np
import pytest
from statsmodels.stats.power import TTestIndPower  # type: ignore[import-untyped]  # it ships no types
from statsmodels.stats.proportion import proportion_confint  # type: ignore[import-untyped]  # it ships no types

from tests.design.unchecked import draw
from trials.analysis import Findings, analyse_study
from trials.analysis.alike import (
    Leftover,
    difference_interval,
    meter_share,
    share_interval,
    variance_interval,
)
from trials.analysis.findings import PracticeFindings
from trials.design.spares import spares
from trials.errors import AnalysisError
from trials.record.values import ItemValue, Measured, Status
from trials.study import Study
from trials.study.reading import parse_study

PRACTICE = """
title = "Practice"
question = "How different?"
practice = true
item_name = "cell"

[groups.maker]
count = 2
role = "maker"

[responses.power]
unit = "mW"
reducer = "mean"
readings = 3

[limits]
items = 4
copies = 4
"""
SD = 0.05


def study(more: str = "") -> Study:
    return parse_study(PRACTICE.replace('reducer = "mean"', f'reducer = "mean"\n{more}'))


def run(
    values: dict[str, list[float | None]], told: Study | None = None, sd: float = SD
) -> Findings:
    """Analyse values by maker, in the order of making; None stands for an item that failed."""
    told = told or study()
    plan = draw(told, seed=3, items=sum(len(own) for own in values.values()))
    left = {maker: list(own) for maker, own in values.items()}
    out = []
    for row in sorted(plan.rows, key=lambda row: row.run):
        value = left[row.groups["maker"]].pop(0)
        status: Status = "failed" if value is None else "measured"
        out.append(
            ItemValue(row.item, "power", status, value, None, None, 3, reading_sd=sd)
        )  # fmt: skip
    return analyse_study(told, plan, Measured("ab" * 32, tuple(out)))


def practised(findings: Findings) -> PracticeFindings:
    (found,) = findings.practice
    return found


# ---- intervals -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("n", "low", "high"),
    [(2, 0.4461, 31.9102), (3, 0.5207, 6.2847), (4, 0.5665, 3.7285), (5, 0.5991, 2.8736),
     (10, 0.6878, 1.8256), (100, 0.8780, 1.1617)],
)  # fmt: skip
def test_interval_of_a_standard_deviation_against_printed_limits(
    n: int, low: float, high: float
) -> None:
    """Boost C++ Libraries, chi-squared examples, 'Confidence Intervals on the Standard Deviation',
    output for a standard deviation of 1 at 95 %; the formula is that of the NIST/SEMATECH
    e-Handbook, 7.2.3.1."""
    found = [math.sqrt(end) for end in variance_interval(1.0, n - 1, 0.95)]
    assert found == pytest.approx([low, high], abs=5e-5 + 1e-5 * high)


def test_interval_of_a_standard_deviation_of_ten_observations() -> None:
    """The same source: N = 10, standard deviation 13.97, at 95 and 90 %."""
    found = [math.sqrt(end) for end in variance_interval(13.97**2, 9, 0.95)]
    assert found == pytest.approx([9.60906, 25.50377], abs=1e-5)
    found = [math.sqrt(end) for end in variance_interval(13.97**2, 9, 0.90)]
    assert found == pytest.approx([10.18898, 22.98341], abs=1e-5)


def test_interval_of_a_share_against_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook, 7.2.4.1: 4 defective of 20, exact 90 % interval."""
    assert share_interval(4, 20, 0.90) == pytest.approx((0.071354, 0.401029), abs=1e-6)


def test_interval_of_a_share_where_none_or_all_failed() -> None:
    """By hand: the upper end p solves (1 - p)^4 = 0.025."""
    assert share_interval(0, 4, 0.95) == pytest.approx((0.0, 1 - 0.025**0.25))
    assert share_interval(4, 4, 0.95) == pytest.approx((0.025**0.25, 1.0))


@pytest.mark.parametrize(("k", "n"), [(k, n) for n in (1, 4, 11, 50) for k in range(0, n + 1, 3)])
def test_interval_of_a_share_agrees_with_statsmodels(k: int, n: int) -> None:
    other = proportion_confint(k, n, alpha=0.05, method="beta")
    assert share_interval(k, n, 0.95) == pytest.approx(other, abs=1e-12)


@pytest.mark.parametrize(("items", "meter"), [(1.0, 0.2), (1.0, 1.0), (0.3, 1.0)])
def test_the_interval_of_the_spread_holds_it_as_often_as_it_says(
    items: float, meter: float
) -> None:
    """Two makers, two items each, three readings: 2,000 simulated runs."""
    rng = np.random.default_rng(1)
    repeats = 2_000
    total = (items**2 + meter**2 / 3) * rng.chisquare(2, repeats) / 2
    reading = meter**2 * rng.chisquare(8, repeats) / 8
    ends = [
        difference_interval(t, r / 3, (2, 8), 0.95)
        for t, r in zip(total.tolist(), reading.tolist(), strict=True)
    ]
    holds = [low <= items**2 <= high for low, high in ends]
    assert np.mean(holds) == pytest.approx(0.95, abs=0.015)


def test_the_meters_share_has_the_interval_of_a_ratio_of_variances() -> None:
    """F with 2 and 8 degrees of freedom: 0.0254 and 6.06 (any printed table of F)."""
    left = Leftover(total=1.0, df=2, meter=0.1, reading=0.3, reading_df=8, ratio=False)
    found = meter_share(left, 0.95)
    assert found is not None
    share, (low, high) = found
    assert share == pytest.approx(0.1)
    assert low == pytest.approx(0.00254, rel=2e-2)
    assert high == pytest.approx(0.606, rel=2e-3)


# ---- whole runs ----------------------------------------------------------------------------------

GOOD: dict[str, list[float | None]] = {"M1": [1.0, 1.3], "M2": [1.5, 1.2]}


def test_all_of_it_from_four_items() -> None:
    found = practised(run(GOOD))
    assert (found.made, found.worked, found.lost) == (4, 4, 0)
    assert found.failing == 0
    assert found.spread is not None
    within = statistics.mean([statistics.variance([1.0, 1.3]), statistics.variance([1.5, 1.2])])
    assert found.spread.items == pytest.approx(math.sqrt(within - SD**2 / 3))
    assert found.meter_share == pytest.approx(SD**2 / 3 / within)
    low, high = difference_interval(within, SD**2 / 3, (2, 8), 0.95)
    assert found.spread.items_interval == pytest.approx((math.sqrt(low), math.sqrt(high)))


def test_how_many_show_half_as_much_again_from_the_logarithms() -> None:
    needed = practised(run(GOOD)).needed
    assert needed is not None
    assert (needed.compare, needed.difference, needed.declared) == ("ratio", 1.5, False)
    logs = statistics.mean(
        [statistics.variance([math.log(x) for x in pair if x]) for pair in GOOD.values()]
    )
    ends = [1.0, *variance_interval(1.0, 2, 0.95)]
    wanted = [
        math.ceil(
            TTestIndPower().solve_power(
                effect_size=math.log(1.5) / math.sqrt(logs * end), alpha=0.05, power=0.8
            )
        )
        for end in (ends[0], ends[2])
    ]
    assert [needed.count, needed.interval[1]] == wanted
    assert needed.interval[0] is not None
    assert 2 <= needed.interval[0] <= wanted[0]


def test_a_worthwhile_difference_of_its_own_is_used() -> None:
    needed = practised(run(GOOD, study("worthwhile = 0.4"))).needed
    assert needed is not None
    assert (needed.compare, needed.difference, needed.declared) == ("difference", 0.4, True)
    within = statistics.mean([statistics.variance([1.0, 1.3]), statistics.variance([1.5, 1.2])])
    exact = TTestIndPower().solve_power(effect_size=0.4 / math.sqrt(within), alpha=0.05, power=0.8)
    assert needed.count == math.ceil(exact)


def test_the_makers_difference_is_that_of_a_t_test() -> None:
    """Two makers: Student's t with 2 degrees of freedom, 4.303 at 5 % (any printed table)."""
    gap = practised(run(GOOD)).makers
    assert gap is not None
    assert gap.difference is not None
    within = statistics.mean([statistics.variance([1.0, 1.3]), statistics.variance([1.5, 1.2])])
    sign = 1 if gap.a == "M2" else -1
    assert gap.difference == pytest.approx(sign * 0.2)
    reach = 4.3027 * math.sqrt(within)
    assert gap.interval == pytest.approx((gap.difference - reach, gap.difference + reach), rel=1e-4)
    assert gap.sd is None  # the items alone explain it


def test_makers_that_differ_have_a_spread_of_their_own() -> None:
    gap = practised(run({"M1": [1.0, 1.1], "M2": [3.0, 3.1]})).makers
    assert gap is not None
    assert gap.sd == pytest.approx(math.sqrt(2.0 - 0.005 / 2))


def test_one_that_failed_leaves_hardly_any_information() -> None:
    found = practised(run({"M1": [1.0, 1.3], "M2": [1.5, None]}))
    assert (found.made, found.worked) == (4, 3)
    assert found.failing == 0.25
    assert found.spread is not None
    assert found.spread.items_df == 1
    needed = found.needed
    assert needed is not None
    assert needed.count is not None
    assert needed.to_make == needed.count + (spares(needed.count, 0.25) or 0)


@pytest.mark.parametrize(
    "values",
    [
        {"M1": [1.0, None], "M2": [1.5, None]},
        {"M1": [1.0, None], "M2": [None, None]},
        {"M1": [1.0, 1.0], "M2": [1.5, 1.5]},
    ],
)
def test_too_little_for_a_spread_still_counts_what_worked(
    values: dict[str, list[float | None]],
) -> None:
    found = practised(run(values))
    assert found.spread is None
    assert found.needed is None
    assert found.worked == sum(x is not None for x in itertools.chain(*values.values()))


def test_that_nothing_worked_is_a_finding() -> None:
    findings = run({"M1": [None, None], "M2": [None, None]})
    assert findings.responses == ()
    found = practised(findings)
    assert (found.made, found.worked, found.failing) == (4, 0, 1.0)
    assert found.failing_interval == pytest.approx((0.025**0.25, 1.0))


def test_nothing_measured_is_an_error() -> None:
    told = study()
    plan = draw(told, seed=3)
    nothing = tuple(
        ItemValue(row.item, "power", "unmeasured", None, None, None, 0) for row in plan.rows
    )
    with pytest.raises(AnalysisError) as problem:
        analyse_study(told, plan, Measured("ab" * 32, nothing))
    assert problem.value.code == "analysis.nothing_measured"


def test_values_below_zero_have_no_ratio_and_need_a_difference_said() -> None:
    found = practised(run({"M1": [-1.0, 1.3], "M2": [1.5, 1.2]}))
    assert found.spread is not None
    assert found.needed is None


def test_without_makers_there_is_no_gap() -> None:
    told = parse_study(PRACTICE.replace('role = "maker"', ""))
    assert practised(run(GOOD, told)).makers is None


def test_readings_that_explain_all_of_it_leave_zero_possible() -> None:
    found = practised(run(GOOD, sd=2.0))
    assert found.spread is not None
    assert found.meter_share == 1.0
    assert found.spread.items > 0.1
