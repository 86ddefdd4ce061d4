"""Values only known as 'at least': ranked, told as such, and never dropped.

Remission times of leukaemia patients in weeks, 6-mercaptopurine and placebo (E. J. Freireich et
al., 1963, Blood 21, 699-716, as given by E. A. Gehan, 1965, Biometrika 52, 203-223; times and the
statistic W = 271 from memory). A patient still well when the study ended is 'at least'.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import rankdata
from statsmodels.duration.survfunc import survdiff  # type: ignore[import-untyped]  # it ships no types

from tests.report.whole import TWO_BY_TWO, Whole, whole
from trials.analysis import analyse_study
from trials.analysis.at_least import sure_ranks
from trials.analysis.findings import Findings
from trials.design.values import PlanRow
from trials.errors import AnalysisError
from trials.record.values import ItemValue, Measured
from trials.service.findings_text import findings_lines
from trials.words.forbidden import find_forbidden
from trials.words.numbers import NBSP

TREATED = (6, 6, 6, 7, 10, 13, 16, 22, 23)
TREATED_STILL = (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
PLACEBO = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)


def item(value: float, *, still: bool = False) -> ItemValue:
    if still:
        return ItemValue("", "", "at least", None, None, None, 1, at_least=value)
    return ItemValue("", "", "measured", value, None, None, 1)


def test_ranks_give_the_published_statistic() -> None:
    patients = [item(t) for t in TREATED] + [item(t, still=True) for t in TREATED_STILL]
    ranks = sure_ranks([*patients, *map(item, PLACEBO)])
    scores = 2 * (ranks - (len(ranks) + 1) / 2)
    w = float(scores[: len(patients)].sum())
    assert w == 271
    # the permutation variance is another than that of the risk sets, so only near (4 %)
    n, first = len(ranks), len(patients)
    variance = first * (n - first) * float(scores @ scores) / (n * (n - 1))
    times = np.array([*TREATED, *TREATED_STILL, *PLACEBO], dtype=np.float64)
    ended = np.repeat([1, 0, 1], [len(TREATED), len(TREATED_STILL), len(PLACEBO)])
    outside, _ = survdiff(times, ended, np.repeat([0, 1], [first, n - first]), weight_type="gb")
    assert w * w / variance == pytest.approx(float(outside), rel=0.04)


@given(st.lists(st.integers(0, 9), min_size=1, max_size=30))
def test_without_any_they_are_the_ranks_of_the_values(values: list[int]) -> None:
    assert sure_ranks([item(float(v)) for v in values]).tolist() == rankdata(values).tolist()


@given(st.lists(st.tuples(st.integers(0, 9), st.booleans()), min_size=1, max_size=30))
def test_ranks_are_shared_out_and_nobody_who_outlasted_another_stands_below(
    seen: list[tuple[int, bool]],
) -> None:
    ranks = sure_ranks([item(float(v), still=still) for v, still in seen])
    assert ranks.sum() == pytest.approx(len(seen) * (len(seen) + 1) / 2)
    for (value, still), rank in zip(seen, ranks, strict=True):
        below = [r for (v, s), r in zip(seen, ranks, strict=True) if not s and v < value]
        assert all(rank > other for other in below) or not still


# ---- a study of them ---------------------------------------------------------------------------


def lasted(row: PlanRow, place: int) -> float:
    """Soft water lasts about twice as long as hard; invented numbers."""
    return (60.0 if row.factors["water"] == "soft" else 30.0) + 3.1 * place


def watched(told: Whole, until: float, failed: Collection[str] = ()) -> Whole:
    """Return the study with every value above ``until`` known only as at least that."""
    values = []
    for v in told.measured.values:
        if v.item in failed:
            values.append(replace(v, status="failed", value=None, exact=None))
        elif v.value is not None and v.value > until:
            still = (f"still above half after {until:g} h",)
            values.append(replace(v, status="at least", value=None, exact=None, at_least=until,
                                  notes=still))  # fmt: skip
        else:
            values.append(v)
    measured = replace(told.measured, values=tuple(values))
    return replace(told, measured=measured, findings=_found(told, measured))


def _found(told: Whole, measured: Measured) -> Findings:
    return analyse_study(told.study, told.plan, measured)


@pytest.mark.parametrize("compare", ["difference", "ratio"])
def test_the_best_are_not_dropped_and_no_average_is_made_up(compare: str) -> None:
    margin = "worthwhile = 20\nexpected = 50"
    ratio = 'compare = "ratio"\nworthwhile = 1.3\nexpected = 2'
    toml = TWO_BY_TWO
    if compare == "ratio":
        toml = toml.replace(margin, ratio).replace("items = 10", "items = 0.1")
    told = watched(whole(toml, lasted), 65.0)
    (found,) = told.findings.responses
    assert (found.n_items, found.unit, found.scale) == (24, "rank", "difference")
    assert found.ranked is not None
    assert (found.ranked.unit, len(found.ranked.items)) == ("µS/cm", 8)
    assert {one.value for one in found.ranked.items} == {65.0}
    assert {mean.term: mean.mean for mean in found.means if mean.levels == {"water": "soft"}} == {
        "water": pytest.approx(18.5)
    }
    soft, hard = (one for one in found.ranked.levels if one.factor == "water")
    assert (soft.count, soft.at_least, soft.median, soft.exact) == (12, 8, 65.0, False)
    assert (hard.at_least, hard.exact) == (0, True)
    assert hard.median == pytest.approx(37.75)  # of 30 to 45.5 in steps of 3.1, twice
    water, bag = found.verdicts
    assert (water.verdict, water.reason, water.a) == ("not settled", "at_least", {"water": "soft"})
    assert (water.largest_difference, water.interval) == (None, None)
    assert water.p_ranks is not None
    assert water.p_ranks < 0.01
    assert bag.p_ranks is not None
    assert bag.p_ranks > 0.5
    assert "stand higher than with hard, and hardly by chance" in water.sentence
    assert "but chance alone could do that" in bag.sentence
    assert found.method.notes[0] == "by_ranks:8"
    assert "no_worthwhile" not in found.method.notes
    effect = next(one for one in found.effects if one.term == "water")
    assert effect.exact
    assert water.p_ranks == effect.p_randomisation


def test_two_best_only_known_so_are_as_two_best_known_exactly() -> None:
    """The two longest are alike; whether they are read to the end or not, the order is the same."""
    told = whole(TWO_BY_TWO, lasted)
    (short,) = watched(told, 74.0).findings.responses
    (long,) = watched(told, 75.6).findings.responses
    assert short.ranked is not None
    assert long.ranked is None
    assert long.unit == "µS/cm"
    order = rankdata([point.value for point in long.points]).tolist()
    assert [point.value for point in short.points] == order


def test_failed_items_are_worst_and_those_at_least_best_in_one_test() -> None:
    told = whole(TWO_BY_TWO, lasted)
    hard = [row.item for row in told.plan.rows if row.factors["water"] == "hard"][:3]
    seen = watched(told, 65.0, failed=hard)
    (found,) = seen.findings.responses
    assert (found.n_items, found.n_failed) == (21, 3)
    (table,) = [one for one in found.failures if one.factor == "water"]
    assert table.made == {"soft": 12, "hard": 12}
    water = found.verdicts[0]
    assert water.p_ranks == table.p_as_worst


def test_report_and_terminal_tell_it_in_plain_words() -> None:
    told = watched(whole(TWO_BY_TWO, lasted), 65.0)
    answer = told.text("answer")
    assert "Strength is told by ranks" in answer
    assert "Of 8 of 24 cups we only know that their strength is at least as much" in answer
    assert "at least" in answer
    assert "Watch longer next time" in told.text("next")
    assert find_forbidden(answer) == ()
    assert "gave no value" not in told.text("trouble")
    lines = "\n".join(findings_lines(told.findings)).replace(NBSP, " ")
    assert "water soft: half reached at least 65.0 µS/cm (8 of 12 only known as at least)." in lines
    assert "water hard: half reached 37.8 µS/cm (0 of 12 only known as at least)." in lines
    (table,) = [t for t in told.document().data if t.name == "strength-items"]
    remarks = {row[-1] for row in table.rows if row[-2] == "at least"}
    assert remarks == {"still above half after 65 h"}


def test_where_all_outlasted_the_watching_there_is_nothing_to_compare_yet() -> None:
    told = whole(TWO_BY_TWO, lasted)
    with pytest.raises(AnalysisError) as problem:
        watched(told, 1.0)
    assert "outlasted the watching" in str(problem.value)


def test_findings_hold_no_number_without_end() -> None:
    found = watched(whole(TWO_BY_TWO, lasted), 65.0).findings.to_dict()["responses"][0]
    ends = [one["median"] for one in found["ranked"]["levels"]]
    assert all(math.isfinite(end) for end in ends)
