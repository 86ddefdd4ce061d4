"""A verdict among working items must stand with the failed ones counted as the worst."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.design.unchecked import draw
from trials.analysis.failed_worst import worst_ranks
from trials.analysis.findings import ResponseFindings
from trials.analysis.studies import analyse_study, study_data
from trials.record.values import ItemValue, Measured
from trials.study import Limits, Response, Study, StudyFactor

EACH = 8


def study(**response: Any) -> Study:
    return Study(
        title="t",
        question="q",
        factors=(StudyFactor(name="dye", levels=("a", "b")),),
        responses=(Response(name="y", worthwhile=1.0, primary=True, **response),),
        limits=Limits(items=2 * EACH, copies=EACH),
    )


PLAN = draw(study(), seed=3)


def record(means: dict[str, float], failed: dict[str, int]) -> Measured:
    """Readings near the mean of each level; the first few of each level failed."""
    rng = np.random.default_rng(2)
    seen = {"a": 0, "b": 0}
    values = []
    for row in PLAN.rows:
        level = row.factors["dye"]
        seen[level] += 1
        number = round(means[level] + float(rng.normal(scale=0.2)), 3)
        gone = seen[level] <= failed.get(level, 0)
        values.append(
            ItemValue(row.item, "y", "failed", None, None, None, 0)
            if gone
            else ItemValue(row.item, "y", "measured", number, None, None, 1)
        )
    return Measured(digest="0", values=tuple(values), open_questions=())


def found(means: dict[str, float], failed: dict[str, int], **response: Any) -> ResponseFindings:
    return analyse_study(study(**response), PLAN, record(means, failed)).responses[0]


@pytest.mark.parametrize(
    ("means", "failed", "verdict", "reason"),
    [
        ({"a": 10, "b": 8}, {}, "mattered", "beyond"),
        ({"a": 10, "b": 8}, {"a": 1}, "mattered", "beyond"),
        ({"a": 10, "b": 8}, {"b": 5}, "mattered", "beyond"),
        ({"a": 10, "b": 8}, {"a": 5}, "not settled", "failures_disagree"),
        ({"a": 8, "b": 8}, {"a": 1}, "made no practical difference", "inside"),
        ({"a": 8, "b": 8}, {"a": 5}, "not settled", "failures_disagree"),
    ],
)
def test_failures_can_unsettle_a_verdict(
    means: dict[str, float], failed: dict[str, int], verdict: str, reason: str
) -> None:
    result = found(means, failed)
    (one,) = result.verdicts
    assert (one.verdict, one.reason) == (verdict, reason)
    if reason == "failures_disagree":
        assert "Counting failed items as the worst, or only how many failed" in one.sentence
    assert (result.failures[0].p_as_worst is None) == (not failed)


def test_where_less_is_better_the_worst_is_the_most() -> None:
    means, failed = {"a": 10.0, "b": 8.0}, {"b": 5}
    (one,) = found(means, failed, better="low").verdicts
    assert (one.verdict, one.reason) == ("not settled", "failures_disagree")


def test_worst_ranks_by_hand() -> None:
    """Three failed of five: they share (1 + 2 + 3) / 3, the two others come after."""
    whole = record({"a": 10, "b": 8}, {})
    some = tuple(
        value if place < 2 else ItemValue(value.item, "y", "failed", None, None, None, 0)
        for place, value in enumerate(whole.values)
    )
    data = study_data(study(), PLAN, Measured("0", some, ()), study().responses[0])
    made = [row.item for row in PLAN.rows][:5]
    low, high = sorted(range(2), key=lambda place: whole.values[place].value or 0.0)
    ranks = worst_ranks(data, made)
    assert ranks[2:].tolist() == [2.0, 2.0, 2.0]
    assert (ranks[low], ranks[high]) == (4.0, 5.0)
