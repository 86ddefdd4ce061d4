"""Equipment that was out of order: how many pieces, since which lesson, and as the report says."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.ingest.bench import cells, plan_of
from trials.design.values import Missing, in_short, missing_in
from trials.record import Store, measured
from trials.record.equipment import missing_told
from trials.study.values import Equipment

STUDY = cells()
PLAN = plan_of(STUDY)
TOLD = st.lists(
    st.builds(
        Missing,
        equipment=st.sampled_from(["oven", "meter"]),
        pieces=st.integers(0, 2),
        since=st.integers(1, 4),
    ),
    max_size=6,
    unique_by=lambda one: (one.equipment, one.since),
)


def _missing(*told: tuple[str, int, int]) -> tuple[Missing, ...]:
    return tuple(Missing(equipment=name, pieces=n, since=lesson) for name, n, lesson in told)


@given(TOLD)
def test_in_short_it_says_the_same_of_every_lesson(told: list[Missing]) -> None:
    short = in_short(told)
    for lesson in range(1, 6):
        assert missing_in(short, lesson) == missing_in(told, lesson)
    for at, one in enumerate(short):  # and nothing of it could be left out
        rest = (*short[:at], *short[at + 1 :])
        assert missing_in(rest, one.since) != missing_in(short, one.since)


@given(st.lists(TOLD, min_size=1, max_size=3))
def test_the_record_says_what_was_told_last_whatever_was_before(
    told: list[list[Missing]],
) -> None:
    with Store.open(Path(":memory:")) as store:
        for one in told:
            store.be_missing(one)
            steps = len(store.history())
            store.be_missing(one)
            assert len(store.history()) == steps  # the same is told once
        assert store.state().missing == in_short(told[-1])


def test_every_change_stays_in_the_record(tmp_path: Path) -> None:
    with Store.open(tmp_path / "record.db") as store:
        before = store.digest()
        store.be_missing(_missing(("oven", 1, 2)))
        assert store.digest() != before
        store.be_missing(_missing(("oven", 1, 2), ("oven", 0, 3)))
        told = measured(store, STUDY, PLAN).departures
        assert told[-1:] == ("Out of order: oven, 1 from lesson 2 on and none from lesson 3 on",)
        store.be_missing(())
        assert store.digest() == before
        found = [(c.what, c.column, c.before, c.after) for c in store.history()]
        assert found == [
            ("equipment", "oven from lesson 2 on", "0 out of order", "1 out of order"),
            ("equipment", "oven from lesson 3 on", "1 out of order", "0 out of order"),
            ("equipment", "oven from lesson 2 on", "1 out of order", "0 out of order"),
        ]
        with pytest.raises(sqlite3.IntegrityError):
            store._connection.execute("DELETE FROM equipment")


def test_the_report_calls_it_as_the_study_does() -> None:
    study = STUDY.model_copy(update={"equipment": (Equipment(name="mp", label="meter pair"),)})
    told = missing_told(_missing(("mp", 2, 3), ("gone", 1, 2)), study)
    assert told == [
        "Out of order: meter pair, 2 from lesson 3 on",
        "Out of order: gone, 1 from lesson 2 on",
    ]
