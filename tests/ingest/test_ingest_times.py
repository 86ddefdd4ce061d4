"""Times beside readings: none, too early, or running backwards.

All numbers here are made up for the purpose.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ingest.bench import CODES, cell_rows, cells, plan_of, table
from tests.ingest.raised import ALL, timed
from trials.errors import RecordError
from trials.ingest import collect, read_file
from trials.record import Decision, Question, Store, measured
from trials.record.clock import clock_text, moment

STUDY, PLAN = cells(), plan_of(cells())


def _asked(times: list[str], codes: tuple[str, ...] = CODES[:6]) -> tuple[Question, ...]:
    rows = [[*row, time] for row, time in zip(cell_rows(codes), times, strict=True)]
    text = table(rows, (*ALL, "time"))
    return read_file(text.encode(), "a.csv", STUDY, PLAN).questions


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("9:05", 545), ("09.05", 545), ("9h05", 545), ("2:05 pm", 845), ("2.05 P.M.", 845),
     ("12:10 am", 10), ("12:10 pm", 730), ("17.05.2030 09:05", 545), ("2030-05-17T09:05:30", 545.5),
     ("17/05/2030 9:05", 545), ("14:05 Uhr", 845), ("25:70", None), ("13:05 pm", None),
     ("soon", None), ("", None), ("1234", None)],
)  # fmt: skip
def test_times_as_people_write_them(text: str, minutes: float | None) -> None:
    """ISO 8601 writes 2030-05-17T09:05; the others are common practice, no source."""
    assert moment(text).minutes == minutes


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 100), min_size=12, max_size=12))
def test_times_that_go_on_raise_no_question(steps: list[int]) -> None:
    minutes, times = 360, []
    for step in steps:
        minutes += step % 60
        times.append(clock_text(min(minutes, 1439)))
    assert _asked(times) == ()


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.integers(2, 10), st.integers(1, 6), st.data())
def test_one_time_that_goes_back_is_asked_and_no_other(at: int, pace: int, data: st.DataObject
                                                       ) -> None:  # fmt: skip
    times = [600 + pace * n for n in range(12)]
    back = data.draw(st.integers(10, 300))
    said = [clock_text(t - back if n == at else t) for n, t in enumerate(times)]
    found = [q for q in _asked(said) if q.code == "time_back"]
    fell = times[at] - back < times[at - 1] - 5
    assert len(found) == fell
    if fell and times[at] - back < 600 - 5:
        assert [q.row for q in found] == [at + 2]


def test_a_table_in_the_order_of_codes_says_nothing_about_time() -> None:
    times = [clock_text(600 + (37 * n) % 120) for n in range(12)]
    assert _asked(times) == ()


def test_sessions_may_be_on_different_days() -> None:
    times = [clock_text(600 + 4 * (n % 12)) for n in range(24)]
    assert _asked(times, CODES) == ()


def test_after_noon_twelve_hours_are_added_to_all_of_them(tmp_path: Path) -> None:
    case = timed(["12:40", "12:43", "12:47", "12:51", "12:55", "1:05", "1:09", "1:12", "1:16",
                  "1:20", "1:24", "1:28"])  # fmt: skip
    with Store.open(tmp_path / "r.db") as store:
        collect(store, case.files[0][1], "a.csv", STUDY, PLAN)
        (asked,) = store.questions()
        assert (asked.code, asked.row, len(asked.places), asked.proposal) == (
            "time_back", 7, 7, "+12:00",
        )  # fmt: skip
        assert asked.found == "1:05 after 12:55 in row 6, and 6 more like it"
        with pytest.raises(RecordError) as problem:
            store.answer(asked.id, Decision("correct", "14:05", "w", "T1"), CODES)
        assert problem.value.code == "answer.time"
        store.answer(asked.id, Decision("correct", "+12:00", "w", "T1"), CODES)
        values = {v.item: v.clock for v in measured(store, STUDY, PLAN).of("voltage")}
        assert values["DG41"] == (12 * 60 + 55 + 13 * 60 + 5) / 2
        assert [row.time for row in store.rows()][5] == "1:05"  # as it was written


def test_past_midnight_is_said() -> None:
    times = [clock_text(23 * 60 + 30 + 5 * n) for n in range(12)]
    (asked,) = _asked(times)
    assert (asked.code, asked.proposal) == ("time_back", "")
    assert "past midnight" in asked.why
    assert _asked([f"2030-05-{17 + (n > 5)} {time}" for n, time in enumerate(times)]) == ()


def test_what_was_read_before_the_sheets_were_printed_is_asked() -> None:
    plan = PLAN.model_copy(update={"locked": "2030-05-17"})
    rows = [[*row, "2030-05-16 10:00" if row[0] == "BD27" else "2030-05-17 10:00"]
            for row in cell_rows()]  # fmt: skip
    text = table(rows, (*ALL, "time")).encode()
    (asked,) = read_file(text, "a.csv", STUDY, plan).questions
    assert (asked.code, asked.item, asked.found) == ("too_early", "BD27", "read on 2030-05-16")
    assert read_file(text, "a.csv", STUDY, PLAN).questions == ()
