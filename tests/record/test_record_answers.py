"""Answers: only those that make sense are offered and taken, and an unusual number is said twice.

All numbers here are made up for the purpose.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.ingest.bench import (
    CODES,
    VOC,
    cell_row,
    cell_rows,
    cells,
    changed,
    csv_bytes,
    plan_of,
    table,
)
from trials.errors import RecordError
from trials.ingest import collect
from trials.record import Decision, Question, Store, measured

STUDY = cells()
PLAN = plan_of(STUDY)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "record.db") as opened:
        yield opened


def _asked(store: Store, content: bytes, code: str) -> Question:
    collect(store, content, "a.csv", STUDY, PLAN)
    return next(q for q in store.questions(only_open=True) if q.code == code)


def _say(store: Store, asked: Question, verb: str, value: str = "", *, sure: bool = False) -> None:
    store.answer(asked.id, Decision(verb, value, "looked again", "T1", sure), CODES)


def _renamed(code: str) -> bytes:
    return csv_bytes([[code if cell == "DG41" else cell for cell in row] for row in cell_rows()])


_CHANGED = {
    "not_a_number": csv_bytes(changed(cell_rows(), "DG41", 1, 2, "0.4 or so")),
    "other_unit": csv_bytes(changed(cell_rows(), "DG41", 1, 2, "0.409 mA")),
    "missing": csv_bytes(changed(cell_rows(), "DG41", 1, 2, "")),
    "unknown_item": _renamed("XX99"),
    "no_item": _renamed(""),
}


@pytest.mark.parametrize("code", list(_CHANGED))
def test_what_can_not_be_used_as_it_stands_can_not_be_kept(store: Store, code: str) -> None:
    asked = _asked(store, _CHANGED[code], code)
    assert asked.answers == ("correct", "set-aside")
    assert "keep" not in asked.do
    with pytest.raises(RecordError) as problem:
        _say(store, asked, "keep")
    assert (problem.value.code, problem.value.found, problem.value.allowed) == (
        "answer.not_here", "keep", "correct, set-aside",
    )  # fmt: skip
    assert problem.value.do == asked.do
    assert asked in store.questions(only_open=True)
    _say(store, asked, "set-aside")
    assert asked.id not in {q.id for q in store.questions(only_open=True)}


def test_a_column_headed_with_a_wrong_unit_takes_the_right_one(store: Store) -> None:
    headings = ("item", "reading", f"{VOC} (mA)", *table([]).strip().split(",")[3:])
    asked = _asked(store, table(cell_rows(), headings).encode(), "other_unit")
    with pytest.raises(RecordError) as problem:
        _say(store, asked, "correct", "x0.001")  # of what?
    assert problem.value.code == "answer.number"
    _say(store, asked, "correct", "V")
    assert measured(store, STUDY, PLAN).of("voltage")[0].readings == 2


def test_readings_that_are_gone_are_kept_or_put_back(store: Store) -> None:
    collect(store, csv_bytes(), "a.csv", STUDY, PLAN)
    asked = _asked(store, csv_bytes(cell_rows(CODES[:-1])), "readings_gone")
    assert asked.answers == ("keep",)
    for verb, value in (("correct", "5"), ("set-aside", "")):
        with pytest.raises(RecordError) as problem:
            _say(store, asked, verb, value)
        assert problem.value.code == "answer.not_here"
    _say(store, asked, "keep")
    assert store.questions(only_open=True) == ()


@pytest.mark.parametrize(
    ("value", "said"), [("1.9", "1.9 V"), ("1900 mV", "1900 mV"), ("x0.9", "x0.9")]
)
def test_an_unusual_correction_is_taken_only_for_sure_and_is_told(
    store: Store, value: str, said: str
) -> None:
    """Usual is 0 to 0.8 V here; 3 V is the most that is possible."""
    rows = changed(changed(cell_rows(), "DG41", 1, 2, "0.19"), "DG41", 2, 2, "1.9")
    asked = _asked(store, csv_bytes([*rows, cell_row("DG41", 3)]), "unusual")
    assert asked.reading == 2
    before = store.digest()
    with pytest.raises(RecordError) as problem:
        _say(store, asked, "correct", value)
    assert problem.value.code == "answer.unusual"
    assert problem.value.allowed == "0 to 0.8 V"
    assert "--sure" in problem.value.do
    assert store.digest() == before
    assert asked in store.questions(only_open=True)
    _say(store, asked, "correct", value, sure=True)
    (told,) = measured(store, STUDY, PLAN).corrections
    assert told == (
        f"DG41, reading 2, {VOC}: '1.9 V' corrected to '{said}' (outside the usual 0 to 0.8 V), "
        "because: looked again (T1)"
    )


def test_being_sure_makes_nothing_impossible_possible(store: Store) -> None:
    asked = _asked(store, _CHANGED["not_a_number"], "not_a_number")
    for value in ("410", "-0.41"):
        with pytest.raises(RecordError) as problem:
            _say(store, asked, "correct", value, sure=True)
        assert problem.value.code == "answer.impossible"


def test_a_usual_correction_needs_no_such_word_and_is_told_plainly(store: Store) -> None:
    asked = _asked(store, _CHANGED["not_a_number"], "not_a_number")
    _say(store, asked, "correct", "0.41")
    (told,) = measured(store, STUDY, PLAN).corrections
    assert "outside" not in told
