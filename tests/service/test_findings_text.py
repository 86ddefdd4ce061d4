"""The findings of a table as lines on a terminal: answers first, how they were worked out last."""

from __future__ import annotations

import pandas as pd
import pytest

import trials
from trials.service.findings_text import HOW, findings_lines

ROWS = pd.DataFrame(
    {
        "feed": list("aaabbbccc"),
        "bench": list("123123123"),
        "gain": [1.0, 2.2, 3.0, 4.0, float("nan"), 6.0, 2.0, 3.5, 4.0],
    }
)


def lines(**options: object) -> list[str]:
    chosen = trials.Options.model_validate({"resamples": 0, **options})
    return findings_lines(trials.analyse_table(ROWS, trials.Structure(["feed"], ["bench"]), chosen))


def test_a_cell_without_a_value_is_told_and_in_the_findings() -> None:
    found = trials.analyse_table(
        ROWS, trials.Structure(["feed"], ["bench"]), trials.Options(resamples=0)
    )
    assert [(one.item, one.reason) for one in found.responses[0].set_aside] == [
        ("row 5", "missing")
    ]
    assert "  Left out, for want of a value: 1 row (row 5)." in findings_lines(found)


def test_methods_stand_below_the_answer() -> None:
    told = lines()
    how = told.index(f"  {HOW}:")
    assert any("fitted as fixed" in line for line in told[how:])
    assert not any("fitted as fixed" in line for line in told[:how])
    assert any("gave 3.05 more" in line for line in told[:how])


@pytest.mark.parametrize("worthwhile", [None, 1.0])
def test_with_a_control_the_pairs_that_count_are_told(worthwhile: float | None) -> None:
    """The answer rests on all pairs, each version against the control has its own range."""
    told = lines(control=[("feed", "a")], worthwhile=worthwhile)
    at = told.index("  Each version against the control alone:")
    assert [line.split(" (")[0] for line in told[at + 1 : at + 3]] == [
        "    Feed b gave 3.05 more than feed a",
        "    Feed c gave 1.10 more than feed a",
    ]
    assert ("  Pairs that the answer rests on:" in told) == (worthwhile is not None)
    assert sum("Feed b gave 1.95 more than feed c" in line for line in told) == bool(worthwhile)
