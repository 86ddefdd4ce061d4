"""A record written out as text and made again is the same record, row by row, whatever it holds."""

from __future__ import annotations

import contextlib
import datetime
import itertools
import sqlite3
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ingest.bench import CODES, VOC, cell_rows, cells, changed, csv_bytes, plan_of
from trials.design.values import Missing
from trials.errors import RecordError, TrialsError
from trials.ingest import collect
from trials.record import Decision, Intake, Place, Row, StandIns, Store, measured
from trials.record.dump import Dumped, contents_of, dumped, fill, lines_of
from trials.record.schema import FORMAT_VERSION, NAMES
from trials.record.values import Cell

STUDY = cells()
PLAN = plan_of(STUDY)
ODD = st.sampled_from(["=1+1", "a\r\nb", "\r", '"', "naïve µ Ω", "\x00\x1b", "NULL", "\\N", " x "])
Step = Callable[[Store], object]


def _file(name: str, column: int, text: str) -> Step:
    rows = changed(cell_rows(), "DG41", 1, column, text)
    return lambda store: collect(store, csv_bytes(rows), name, STUDY, PLAN)


def _odd(text: str) -> Step:
    """Take in a row whose every text is odd, as no reader would give it."""
    place = Place("odd.csv", text, 2)
    row = Row(place, text, None, (Cell(text, text, text, None, None),), ((text, text),), text,
              None, text)  # fmt: skip
    intake = Intake("odd.csv", "table", text.encode() * 3, (row,), notes=(text,))
    return lambda store: store.take_in(intake)


def _beside(name: str, code: str) -> Step:
    """Take in a table with two readings side by side in each row."""
    text = f"item,{VOC} 1 (V),{VOC} 2 (V)\nBD27,0.41,0.42\n{code},0.43,0.44\n"
    return lambda store: collect(store, text.encode(), name, STUDY, PLAN)


def _answer(question: str, verb: str, value: str) -> Step:
    return lambda store: store.answer(question, Decision(verb, value, "seen", "T1"), CODES)


CODE = st.sampled_from(CODES[:5])
STEPS = st.one_of(
    st.builds(_file, st.sampled_from(["a.csv", "b.csv"]), st.integers(2, 5),
              st.sampled_from(["0.409", "409", "4,09", "?!", "", "0.409 V"])),
    st.builds(_odd, ODD),
    st.builds(_beside, st.sampled_from(["a.csv", "c.csv"]), st.sampled_from(CODES[1:4])),
    st.builds(_answer, st.sampled_from(["Q1", "Q2", "Q3", "Q4", "Q7"]),
              st.sampled_from(["keep", "set-aside"]), st.just("")),
    st.builds(_answer, st.sampled_from(["Q1", "Q2", "Q3"]), st.just("correct"),
              st.sampled_from(["0.41", "mV", "x0.1", "BD27", "yes"])),
    st.builds(lambda item, why: lambda store: store.lose([item], why, "T1"), CODE, ODD),
    st.builds(lambda item, undo: lambda store: store.lose([item], "typo", "T1", undo=undo), CODE,
              st.booleans()),
    st.builds(lambda team, lesson, until, stands: lambda store: store.be_away(
        StandIns("team", team, lesson, (("KM86", "alder"),), until), stands=stands),
              ODD, st.integers(1, 3), st.sampled_from([None, 4]), st.booleans()),
    st.builds(lambda lesson, item: lambda store: store.be_placed(lesson, [item], (2, 3)),
              st.integers(1, 3), CODE),
    st.builds(lambda name, pieces, lesson: lambda store: store.be_missing(
        [Missing(equipment=name, pieces=pieces, since=lesson)]),
              ODD, st.integers(0, 2), st.integers(1, 3)),
    st.builds(lambda one, other, undo: lambda store: store.exchange(
        one, other, why="film", by="T1", undo=undo), CODE, CODE, st.booleans()),
    st.builds(lambda item, made: lambda store: store.make_otherwise(
        [(item, "factor", "recipe", made)], "jar", "T1"), CODE,
              st.sampled_from(["a", "b", "", None])),
    st.builds(lambda undo: lambda store: store.be_absent(
        ("team", "birch", "session", "2"), ["KM86"], why="ill", by="T1", undo=undo),
              st.booleans()),
)  # fmt: skip


def _clock() -> Callable[[], datetime.datetime]:
    start, seconds = datetime.datetime(2031, 3, 3, tzinfo=datetime.UTC), itertools.count()
    return lambda: start + datetime.timedelta(seconds=next(seconds) // 3)  # some at one time


def _do(store: Store, steps: list[Step]) -> None:
    for step in steps:
        with contextlib.suppress(TrialsError):  # refused in words: part of the game
            step(store)


def _copy(store: Store, path: Path) -> None:
    with store.dumping() as connection:
        tables = {name: list(lines_of(connection, name)) for name in NAMES}
        contents = dict(contents_of(connection))
        fill(path, dumped(connection), tables, contents.__getitem__)


def _all(path: Path) -> dict[str, object]:
    connection = sqlite3.connect(path)
    try:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        found: dict[str, object] = {
            name: connection.execute(f"SELECT * FROM {name} ORDER BY rowid").fetchall()
            for name in NAMES
        }
        found["numbers"] = dict(connection.execute("SELECT name, seq FROM sqlite_sequence"))
        made = "SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY type, name"
        return found | {"schema": connection.execute(made).fetchall()}
    finally:
        connection.close()


@settings(max_examples=25, deadline=None)
@given(st.lists(STEPS, max_size=12), st.lists(STEPS, max_size=3))
def test_a_copy_is_the_same_row_by_row_and_goes_on_the_same(
    steps: list[Step], later: list[Step]
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        one, other = Path(folder) / "one.db", Path(folder) / "other.db"
        with Store.open(one, now=_clock()) as store:
            _do(store, steps)
            _copy(store, other)
            state, history = store.state(), store.history()
            found = measured(store, STUDY, PLAN)
        assert _all(one) == _all(other)
        with Store.open(other) as copy:
            assert (copy.state(), copy.history()) == (state, history)
            assert copy.digest() == state.digest()
            assert measured(copy, STUDY, PLAN) == found
            copy.recheck()
        for path in (one, other):  # numbers and names of questions go on alike
            with Store.open(path, now=_clock()) as store:
                _do(store, later)
        assert _all(one) == _all(other)


def test_every_change_is_numbered_and_each_is_by_somebody_or_a_file(tmp_path: Path) -> None:
    with Store.open(tmp_path / "r.db", now=_clock()) as store:
        _do(store, [_file("a.csv", 2, "409"), _answer("Q1", "correct", "mV"),
                    lambda s: s.lose(["BD27"], "fell", "T1")])  # fmt: skip
        found = store.history()
    assert [change.number for change in found] == list(range(1, len(found) + 1))
    assert all(change.by or change.file for change in found)


def test_a_record_of_a_newer_format_is_not_made(tmp_path: Path) -> None:
    with pytest.raises(RecordError) as problem:
        fill(tmp_path / "r.db", Dumped(FORMAT_VERSION + 1, {}), {}, lambda _: b"")
    assert problem.value.code == "record.version"
    assert not (tmp_path / "r.db").exists()


@pytest.mark.parametrize("line", ['{"id": 1, "odd": 2}\n', "[1, 2]\n"])
def test_rows_of_something_else_are_refused_and_nothing_is_made(tmp_path: Path, line: str) -> None:
    with pytest.raises(RecordError) as problem:
        fill(tmp_path / "r.db", Dumped(FORMAT_VERSION, {}), {"losses": [line]}, lambda _: b"")
    assert (problem.value.code, problem.value.where) == ("record.rows", "table losses")
    with Store.open(tmp_path / "r.db") as store:
        assert store.losses() == ()
