"""A team that was not there: recorded for ever, and what it did not make counts like what broke."""

from __future__ import annotations

import datetime
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from tests.ingest.bench import CODES, VOC, cell_rows, cells, csv_bytes, plan_of
from trials.errors import RecordError
from trials.ingest import collect
from trials.record import Decision, StandIns, Store, items_for, items_of, measured
from trials.record.schema import EVENTS, FORMAT_VERSION

STUDY = cells()
PLAN = plan_of(STUDY)
WHO = ("team", "birch", "session", "2")
HIT = ("KM86", "MP16", "PR38")  # every second item of the second half
NEVER = ("team", "birch", "", "")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "record.db"


def _table(*left_out: str) -> bytes:
    return csv_bytes([row for row in cell_rows() if row[0] not in left_out])


def test_the_items_of_a_team_in_a_session() -> None:
    assert items_for(WHO, PLAN) == HIT
    assert items_for(NEVER, PLAN) == CODES[1::2]


def test_what_an_absent_team_did_not_make_is_lost_until_it_is_read(path: Path) -> None:
    with Store.open(path) as store:
        collect(store, _table(*HIT), "a.csv", STUDY, PLAN)
        before = store.digest()
        store.be_absent(WHO, HIT, why="ill", by="T1")
        found = measured(store, STUDY, PLAN)
        lost = {value.item: value.reason for value in found.values if value.status == "lost"}
        assert lost == dict.fromkeys(HIT, "birch was absent: ill")
        assert found.departures[-1] == (
            "team birch was absent in session 2: ill (T1). KM86, MP16 and PR38 were not made"
        )
        assert store.digest() != before
        collect(store, csv_bytes(cell_rows(["KM86"])), "b.csv", STUDY, PLAN)
        found = measured(store, STUDY, PLAN)
        assert {v.item for v in found.values if v.status == "lost"} == {"MP16", "PR38"}
        assert found.departures[-1].endswith("KM86 has readings, which count")


def test_it_can_be_taken_back_and_stays_in_the_record(path: Path) -> None:
    with Store.open(path) as store:
        before = store.digest()
        store.be_absent(WHO, HIT, why="ill", by="T1")
        store.be_absent(WHO, HIT, why="came late", by="T1", undo=True)
        assert store.state().absences == ()
        assert store.digest() == before
        rows = store._connection.execute("SELECT stands, why FROM absences").fetchall()
        assert rows == [(1, "ill"), (0, "came late")]
        with pytest.raises(sqlite3.IntegrityError):
            store._connection.execute("DELETE FROM absences")


@pytest.mark.parametrize(
    ("why", "by", "undo", "code"),
    [
        ("", "T1", False, "absent.why"),
        ("ill", "somebody@home", False, "absent.by"),
        ("ill", "T1", True, "absent.unknown"),
    ],
)
def test_refused_in_words(path: Path, why: str, by: str, undo: bool, code: str) -> None:
    with Store.open(path) as store:
        with pytest.raises(RecordError) as problem:
            store.be_absent(WHO, HIT, why=why, by=by, undo=undo)
        assert problem.value.code == code
        assert problem.value.do
        assert store.state().absences == ()


def test_the_same_absence_is_told_once(path: Path) -> None:
    with Store.open(path) as store:
        store.be_absent(WHO, HIT, why="ill", by="T1")
        with pytest.raises(RecordError) as problem:
            store.be_absent(WHO, HIT, why="ill", by="T1")
        assert problem.value.code == "absent.known"


def test_what_is_planned_later_for_the_team_was_not_missed(path: Path) -> None:
    with Store.open(path) as store:
        store.be_absent(NEVER, CODES[1:6:2], why="ill", by="T1")
        (absence,) = store.state().absences
    assert items_of(absence, PLAN) == CODES[1:6:2]
    other = plan_of(STUDY, CODES[1:] + CODES[:1])  # a plan drawn anew: other items are the team's
    assert items_of(absence, other) == ()


def _as_format_2(path: Path) -> None:
    """Take from a record what its second format did not have."""
    old = sqlite3.connect(path, isolation_level=None)
    for name in EVENTS:
        old.execute(f"DROP TRIGGER {name}_step")
    old.execute("DROP TABLE steps")
    old.execute("DROP TABLE absences")
    old.execute("DROP TABLE away")
    old.execute("DROP TABLE equipment")
    old.execute("DROP TRIGGER losses_no_update")
    old.execute("DROP TRIGGER losses_no_delete")
    old.execute("ALTER TABLE losses DROP COLUMN stands")
    old.execute("""CREATE TABLE older (
        id INTEGER PRIMARY KEY AUTOINCREMENT, file INTEGER NOT NULL REFERENCES files,
        sheet TEXT NOT NULL, row INTEGER NOT NULL, item TEXT NOT NULL, reading INTEGER,
        member_of TEXT NOT NULL, time TEXT NOT NULL, worked INTEGER, note TEXT NOT NULL,
        UNIQUE (file, sheet, row))""")
    old.execute("""INSERT INTO older SELECT id, file, sheet, row + part * 4294967296, item, reading,
        member_of, time, worked, note FROM readings""")
    old.execute("DROP TABLE readings")
    old.execute("ALTER TABLE older RENAME TO readings")
    old.execute("PRAGMA user_version = 2")
    old.close()


def test_an_older_record_is_brought_up_to_date_and_says_the_same(path: Path) -> None:
    with Store.open(path) as store:
        collect(store, _table(), "a.csv", STUDY, PLAN)
        question = collect(store, _table() + b"ZZ99,1,0.4,1,0.3,800\n", "a.csv", STUDY, PLAN)
        store.answer(question.questions[0].id, Decision("set-aside", "", "a test", "T1"), CODES)
        beside = f"item,{VOC} 1 (V),{VOC} 2 (V)\nBD27,0.41,0.42\n"
        collect(store, beside.encode(), "b.csv", STUDY, PLAN)
        store.lose(["BD27"], "fell")
        store.exchange("CF34", "DG41", why="film", by="T1")
        state = store.state()
        steps = store._connection.execute("SELECT what, number FROM steps ORDER BY id").fetchall()
    _as_format_2(path)
    with Store.open(path) as store:
        assert store._connection.execute("PRAGMA user_version").fetchone() == (FORMAT_VERSION,)
        assert store.state() == state
        again = store._connection.execute("SELECT what, number FROM steps ORDER BY id").fetchall()
        assert sorted(again) == sorted(steps)
        for name in EVENTS:  # each table in its own order
            assert [n for what, n in again if what == name] == sorted(
                n for what, n in steps if what == name
            )
        assert [row.place.part for row in store.rows() if row.place.file == "b.csv"] == [0, 1]
        run = store._connection.execute
        assert run("PRAGMA foreign_keys").fetchone() == (1,)
        assert run("PRAGMA foreign_key_check").fetchall() == []
        store.lose(["CF34"], "fell too")
        last = store._connection.execute("SELECT what FROM steps ORDER BY id DESC").fetchone()
        assert last in [("losses",), ("raised",)]


AWAY = StandIns("team", "birch", 2, (("KM86", "alder"), ("MP16", "cedar")))


LOST_FIRST = (
    "On 2031-03-03 DG41 was recorded as lost: cracked. On 2031-03-05, before readings "
    "were in, that was taken back: "
)


def test_a_loss_taken_back_is_told_with_both_dates(path: Path) -> None:
    days = iter(range(3, 30, 2))
    at = datetime.datetime(2031, 3, 3, 9, 30, tzinfo=datetime.UTC)
    with Store.open(path, now=lambda: at.replace(day=next(days))) as store:
        before = store.digest()
        store.lose(["DG41"], "cracked", "T1")
        store.lose(["DG41"], "the wrong code", "T2", undo=True)
        assert store.digest() == before  # what counts is as it was
        told = measured(store, STUDY, PLAN).departures
        assert told == (f"{LOST_FIRST}the wrong code (T2)",)
        collect(store, _table(), "a.csv", STUDY, PLAN)
        told = measured(store, STUDY, PLAN).departures
        assert told == (f"{LOST_FIRST}the wrong code (T2). Its readings count",)
        store.lose(["DG41"], "cracked", "T1")  # it is lost after all, and both are told
        told = measured(store, STUDY, PLAN).departures
        assert told == ("DG41 was lost: cracked", f"{LOST_FIRST}the wrong code (T2)")
        store.lose(["DG41"], "no, whole", "T1", undo=True)
        first, second = measured(store, STUDY, PLAN).departures
        assert first.startswith(LOST_FIRST)
        assert ", when first readings were in, that was taken back: no, whole (T1)" in second
        assert [one.loss.item for one in store.state().taken_back] == ["DG41", "DG41"]


def test_a_timetable_made_anew_is_told_with_its_date_and_whether_readings_were_in(
    path: Path,
) -> None:
    days = iter(range(3, 30))
    at = datetime.datetime(2031, 3, 3, 9, 30, tzinfo=datetime.UTC)
    with Store.open(path, now=lambda: at.replace(day=next(days))) as store:
        before = store.digest()
        store.be_placed(2, ["KM86", "MP16"], (2, 3))
        assert store.digest() != before
        (told,) = measured(store, STUDY, PLAN).departures
        assert told == (
            "On 2031-03-03, before readings were in, the timetable was made anew from lesson "
            "2 on. It leaves out KM86 and MP16, which were lost or not made. It takes 3 lessons in "
            "all instead of 2. Versions, teams and order stayed as drawn"
        )
        store.be_placed(3, [], (3, 3))
        collect(store, _table(), "a.csv", STUDY, PLAN)
        store.be_placed(2, ["KM86"], (3, 2))
        late, again = measured(store, STUDY, PLAN).departures
        assert late.startswith("On 2031-03-04, before readings were in, the timetable was")
        assert late.endswith("from lesson 3 on. Versions, teams and order stayed as drawn")
        day = again.partition(",")[0].removeprefix("On 2031-03-")
        assert int(day) > 4
        assert again.endswith(
            ", when first readings were in, the timetable was made anew from lesson 2 on (the last "
            "of 2 times). It leaves out KM86, which was lost or not made. Versions, teams and "
            "order stayed as drawn"
        )
        changes = [(c.column, c.before, c.after) for c in store.history() if c.what == "placed"]
        first = ("from lesson 2 on, without KM86, MP16", "2 lessons in all", "3 lessons in all")
        assert changes[0] == first
        assert len(changes) == 3


def test_a_team_that_is_away_and_who_stands_in_for_it_stays_in_the_record(path: Path) -> None:
    with Store.open(path) as store:
        before = store.digest()
        for _ in range(2):  # said twice, told once
            store.be_away(AWAY)
        assert store.state().away == (AWAY,)
        assert store.digest() != before
        (told,) = measured(store, STUDY, PLAN).departures
        assert told == (
            "team birch was away from lesson 2 on. By the timetable others finished what it made: "
            "KM86 (team alder) and MP16 (team cedar)"
        )
        assert measured(store, STUDY, PLAN).finished == dict(AWAY.items)
        store.lose(["KM86"], "fell", "T1")
        assert measured(store, STUDY, PLAN).finished == {"MP16": "cedar"}
        told = measured(store, STUDY, PLAN).departures[-1]
        assert "MP16 (team cedar)" in told
        assert "KM86" not in told
        back = replace(AWAY, items=AWAY.items[1:], until=3)
        store.be_away(back)
        assert store.state().away == (back,)
        assert "and there again from lesson 3 on" in measured(store, STUDY, PLAN).departures[-1]
        store.be_away(replace(AWAY, lesson=4, items=()))
        assert len(store.state().away) == 2
        store.be_away(back, stands=False)
        store.be_away(replace(AWAY, lesson=4), stands=False)
        store.be_away(replace(AWAY, lesson=9), stands=False)  # nobody said that it was
        assert store.state().away == ()
        changes = [(c.what, c.item, c.before, c.after) for c in store.history()]
        assert changes == [
            ("away", "KM86", "birch", "alder"),
            ("away", "MP16", "birch", "cedar"),
            ("lost", "KM86", None, "lost"),
            ("away", "MP16", "birch", "cedar"),
            ("away", "", "birch", "away"),
            ("not away", "MP16", "cedar", "birch"),
            ("not away", "KM86", "alder", "birch"),
            ("not away", "MP16", "cedar", "birch"),
        ]
        with pytest.raises(sqlite3.IntegrityError):
            store._connection.execute("UPDATE away SET lesson = 1")


def test_a_loss_can_be_taken_back_and_its_readings_count_again(path: Path) -> None:
    with Store.open(path) as store:
        collect(store, _table(), "a.csv", STUDY, PLAN)
        before, values = store.digest(), measured(store, STUDY, PLAN).values
        store.lose(["BD27"], "fell", "T1")
        (question,) = store.questions(only_open=True)
        store.answer(question.id, Decision("set-aside", "", "not sure", "T1"), CODES)
        assert measured(store, STUDY, PLAN).values != values
        store.lose(["BD27"], "the wrong code", "T1", undo=True)
        assert store.losses() == ()
        assert store.questions() == ()
        assert store.digest() == before
        assert measured(store, STUDY, PLAN).values == values
        told = [(c.what, c.item, c.before, c.after, c.why) for c in store.history()]
        assert ("lost", "BD27", None, "lost", "fell") in told
        assert ("not lost", "BD27", "lost", None, "the wrong code") in told
        store.lose(["BD27"], "fell after all", "T1")
        assert [loss.why for loss in store.losses()] == ["fell after all"]


@pytest.mark.parametrize(
    ("item", "why", "by", "code"),
    [("BD27", "", "T1", "record.loss"), ("BD27", "typo", "", "lost.by"),
     ("CF34", "typo", "T1", "lost.unknown")],
)  # fmt: skip
def test_a_loss_is_taken_back_with_a_reason_and_by_somebody(
    path: Path, item: str, why: str, by: str, code: str
) -> None:
    with Store.open(path) as store:
        store.lose(["BD27"], "fell")
        with pytest.raises(RecordError) as problem:
            store.lose([item], why, by, undo=True)
        assert problem.value.code == code
        assert len(store.losses()) == 1
