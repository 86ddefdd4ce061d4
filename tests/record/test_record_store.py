"""The record: nothing acknowledged is lost, nothing is changed, the same file counts once."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import partial
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ingest.bench import (
    CELL_HEADINGS,
    CODES,
    cell_row,
    cell_rows,
    cells,
    changed,
    csv_bytes,
    plan_of,
    table,
)
from trials.design.values import Missing
from trials.errors import IngestError, RecordError
from trials.ingest import collect, read_file
from trials.record import Decision, Intake, Place, Question, Row, StandIns, Store, Taken
from trials.record.schema import NAMES

STUDY = cells()
PLAN = plan_of(STUDY)
THEN = datetime.datetime(2031, 3, 3, 12, tzinfo=datetime.UTC)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "record.db", now=lambda: THEN) as opened:
        yield opened


def test_files_are_kept_byte_for_byte(store: Store) -> None:
    content = csv_bytes() + b"\r\n# \xff odd bytes at the end\x00"
    intake = replace(read_file(csv_bytes(), "a.csv", STUDY, PLAN), content=content)
    store.take_in(intake)
    assert store.content("a.csv", 1) == content
    (kept,) = store.files()
    assert (kept.name, kept.revision, kept.current, kept.readings) == ("a.csv", 1, True, 24)
    assert kept.taken_at == "2031-03-03T12:00:00+00:00"


def test_readings_keep_their_text_place_and_unit(store: Store) -> None:
    collect(store, csv_bytes(), "a.csv", STUDY, PLAN)
    row = store.rows()[0]
    assert row.place == Place("a.csv", "", 2)
    cell = row.cells[0]
    assert (row.item, row.reading, cell.text, cell.unit) == ("BD27", 1, "0.403", "V")
    assert cell.value == Decimal("0.403")


def test_the_same_bytes_again_change_nothing(store: Store) -> None:
    collect(store, csv_bytes(), "a.csv", STUDY, PLAN)
    before = store.digest(), store.rows(), store.questions()
    again = collect(store, csv_bytes(), "a.csv", STUDY, PLAN)
    renamed = collect(store, csv_bytes(), "copy of a.csv", STUDY, PLAN)
    assert (again.status, renamed.status, renamed.name) == ("same", "same", "a.csv")
    assert (store.digest(), store.rows(), store.questions()) == before
    assert len(store.files()) == 1


def test_a_changed_file_is_a_new_revision_and_the_old_one_stays(store: Store) -> None:
    old = csv_bytes(cell_rows(readings=1))
    collect(store, old, "a.csv", STUDY, PLAN)
    taken = collect(store, csv_bytes(), "a.csv", STUDY, PLAN)
    assert (taken.status, taken.revision, taken.readings) == ("revision", 2, 24)
    assert len(store.rows()) == 24
    assert store.content("a.csv", 1) == old
    assert [(f.revision, f.current) for f in store.files()] == [(1, False), (2, True)]


def test_going_back_to_an_older_file_is_a_revision_too(store: Store) -> None:
    first, second = csv_bytes(cell_rows(readings=1)), csv_bytes()
    for content in (first, second, first):
        taken = collect(store, content, "a.csv", STUDY, PLAN)
    assert (taken.status, taken.revision) == ("revision", 3)
    assert len(store.rows()) == 12


def test_items_gone_from_a_newer_file_are_asked_about(store: Store) -> None:
    collect(store, csv_bytes(), "a.csv", STUDY, PLAN)
    taken = collect(store, csv_bytes(cell_rows(CODES[1:])), "a.csv", STUDY, PLAN)
    (question,) = taken.questions
    assert (question.code, question.item) == ("readings_gone", "BD27")
    assert question.found == "2 readings before, none now"


def test_a_code_that_an_answer_put_right_is_not_missed_when_the_file_says_it_too(
    store: Store,
) -> None:
    """Its readings are those of the right code since the answer, and that one has them."""
    wrong = [["B2D7", *row[1:]] if row[0] == "BD27" else row for row in cell_rows()]
    collect(store, csv_bytes(wrong), "a.csv", STUDY, PLAN)
    (asked,) = store.questions()
    store.answer(asked.id, Decision("correct", "BD27", "misread", "T1"), CODES)
    collect(store, csv_bytes(cell_rows()), "a.csv", STUDY, PLAN)
    assert store.questions(only_open=True) == ()
    collect(store, csv_bytes(cell_rows(CODES[1:])), "a.csv", STUDY, PLAN)
    assert [(q.code, q.item) for q in store.questions(only_open=True)] == [
        ("readings_gone", "BD27")
    ]


def test_one_reading_that_is_gone_is_told_as_one(store: Store) -> None:
    collect(store, csv_bytes(cell_rows(readings=1)), "a.csv", STUDY, PLAN)
    collect(store, csv_bytes(cell_rows(CODES[1:], readings=1)), "a.csv", STUDY, PLAN)
    assert [q.found for q in store.questions()] == ["one reading before, none now"]


def test_two_teams_with_one_file_name_both_count(store: Store) -> None:
    collect(store, csv_bytes(cell_rows(CODES[:6])), "readings.csv", STUDY, PLAN)
    taken = collect(store, csv_bytes(cell_rows(CODES[6:])), "readings.csv", STUDY, PLAN)
    assert (taken.name, taken.status) == ("readings (2).csv", "new")
    assert len(store.rows()) == 24
    more = csv_bytes([*cell_rows(CODES[6:]), cell_row("LN93", 3)])
    later = collect(store, more, "readings.csv", STUDY, PLAN)
    assert (later.name, later.revision) == ("readings (2).csv", 2)
    assert len(store.rows()) == 25


def test_a_question_keeps_its_name_and_answer_when_its_row_moves(store: Store) -> None:
    odd = changed(cell_rows(), "DG41", 1, 2, "n0t yet")
    collect(store, csv_bytes(odd), "a.csv", STUDY, PLAN)
    (asked,) = store.questions()
    store.answer(asked.id, Decision("correct", "0.41", "looked again", "T1"), CODES)
    more = [cell_row("BD27", 3), *odd]
    collect(store, csv_bytes(more), "a.csv", STUDY, PLAN)
    (later,) = store.questions()
    assert (later.id, later.answer, later.answer_value) == (asked.id, "correct", "0.41")
    assert later.row == (asked.row or 0) + 1
    mended = changed(more, "DG41", 1, 2, "0.410")
    collect(store, csv_bytes(mended), "a.csv", STUDY, PLAN)
    assert store.questions() == ()


def test_an_answer_changes_no_reading_and_the_last_one_counts(store: Store) -> None:
    collect(store, csv_bytes(changed(cell_rows(), "DG41", 1, 2, "?!")), "a.csv", STUDY, PLAN)
    before = store.rows()
    store.answer("q1", Decision("set-aside", "", "nobody knows", "T1"), CODES)
    answered = store.answer("Q1", Decision("correct", "409 mV", "found the note", "T2"), CODES)
    assert store.rows() == before
    assert (answered.answer, answered.answer_value, answered.answer_by) == (
        "correct", "409 mV", "T2"
    )  # fmt: skip
    assert answered.answer_when == "2031-03-03T12:00:00+00:00"
    assert store.questions(only_open=True) == ()


@pytest.mark.parametrize(
    ("said", "code", "allowed"),
    [
        (("maybe", "", "w", "T1"), "answer.verb", "correct, set-aside"),
        (("keep", "", "w", "T1"), "answer.not_here", "correct, set-aside"),
        (("set-aside", "", " ", "T1"), "answer.why", "a few words on how you know"),
        (("set-aside", "", "w", "Ada Adair"), "answer.by", "1 to 12 letters or figures"),
        (("set-aside", "5", "w", "T1"), "answer.value", "set-aside"),
        (("correct", "", "w", "T1"), "answer.number", "a number in V"),
        (("correct", "5 mA", "w", "T1"), "answer.number", "a number in V"),
        (("correct", "412", "w", "T1"), "answer.impossible", "0 to 3 V"),
        (("correct", "2.5", "w", "T1"), "answer.unusual", "0 to 0.8 V"),
        (("correct", "mV", "w", "T1"), "answer.number", "a number in V"),
        (("correct", "x0.1", "w", "T1"), "answer.number", "a number in V"),
        (("correct", "1,234", "w", "T1"), "answer.comma", "1.234 or 1234"),
    ],
)
def test_answers_that_can_not_be(
    store: Store, said: tuple[str, str, str, str], code: str, allowed: str
) -> None:
    collect(store, csv_bytes(changed(cell_rows(), "DG41", 1, 2, "?!")), "a.csv", STUDY, PLAN)
    with pytest.raises(RecordError) as problem:
        store.answer("Q1", Decision(*said), CODES)
    assert problem.value.code == code
    assert allowed in problem.value.allowed
    assert problem.value.where == "question Q1"
    assert store.questions(only_open=True)[0].id == "Q1"


def test_an_unknown_question_names_the_open_ones(store: Store) -> None:
    collect(store, csv_bytes(changed(cell_rows(), "DG41", 1, 2, "?!")), "a.csv", STUDY, PLAN)
    with pytest.raises(RecordError) as problem:
        store.answer("Q9", Decision("keep", "", "w", "T1"), CODES)
    assert (problem.value.code, problem.value.allowed) == ("record.unknown_question", "Q1")


def test_losses_need_item_and_reason_and_the_first_word_stands(store: Store) -> None:
    store.lose(["BD27", "CF34"], why="fell  down", by="T1")
    store.lose(["BD27"], why="again")
    assert [(loss.item, loss.why, loss.by) for loss in store.losses()] == [
        ("BD27", "fell down", "T1"),
        ("CF34", "fell down", "T1"),
    ]
    for items, why in (([], "x"), (["BD27"], " ")):
        with pytest.raises(RecordError) as problem:
            store.lose(items, why=why)
        assert problem.value.code == "record.loss"


def _same(moment: datetime.datetime) -> datetime.datetime:
    return moment


def test_digest_follows_what_counts_and_not_when_or_who(tmp_path: Path) -> None:
    digests = []
    for day, by in ((1, "T1"), (2, "T2")):
        moment = datetime.datetime(2031, 1, day, tzinfo=datetime.UTC)
        with Store.open(tmp_path / f"{day}.db", now=partial(_same, moment)) as store:
            empty = store.digest()
            collect(store, csv_bytes(changed(cell_rows(), "DG41", 1, 2, "?")), "a.csv", STUDY, PLAN)
            taken = store.digest()
            store.answer("Q1", Decision("set-aside", "", "w", by), CODES)
            answered = store.digest()
            store.lose(["CF34"], "w", by)
            digests.append((empty, taken, answered, store.digest()))
    assert digests[0] == digests[1]
    assert len(set(digests[0])) == 4


@pytest.mark.parametrize("table", NAMES)
def test_the_file_itself_refuses_changes(store: Store, tmp_path: Path, table: str) -> None:
    collect(store, csv_bytes(changed(cell_rows(), "DG41", 1, 2, "?!")), "a.csv", STUDY, PLAN)
    store.answer("Q1", Decision("set-aside", "", "w", "T1"), CODES)
    store.lose(["BD27"], "w")
    store.exchange("CF34", "GJ65", why="w", by="T1")
    store.make_otherwise([("CF34", "factor", "recipe", "b")], "w", "T1")
    store.be_absent(("team", "birch", "", ""), why="w", by="T1")
    store.be_away(StandIns("team", "birch", 2, (("CF34", "alder"),)))
    store.be_placed(2, ["BD27"], (2, 3))
    store.be_missing([Missing(equipment="oven", pieces=1, since=2)])
    other = sqlite3.connect(tmp_path / "record.db")
    for statement in (f"DELETE FROM {table}", f"UPDATE {table} SET rowid = rowid + 1"):
        with pytest.raises(sqlite3.IntegrityError, match="the record only grows"):
            other.execute(statement)
    other.close()


def test_no_record_and_a_newer_record_are_told_apart(tmp_path: Path) -> None:
    (tmp_path / "no.db").write_bytes(b"this is no record, but a text of some length" * 50)
    with pytest.raises(RecordError) as problem:
        Store.open(tmp_path / "no.db")
    assert problem.value.code == "record.damaged"
    newer = sqlite3.connect(tmp_path / "new.db")
    newer.execute("PRAGMA user_version = 99")
    newer.close()
    with pytest.raises(RecordError) as problem:
        Store.open(tmp_path / "new.db")
    assert (problem.value.code, problem.value.allowed) == ("record.version", "up to format 6")


def test_unknown_file(store: Store) -> None:
    with pytest.raises(RecordError) as problem:
        store.content("a.csv", 1)
    assert problem.value.code == "record.unknown_file"


_TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=12)


@settings(derandomize=True, max_examples=25, deadline=None)
@given(content=st.binary(min_size=1, max_size=60), item=_TEXT, note=_TEXT, found=_TEXT)
def test_whatever_is_taken_in_comes_back(
    tmp_path_factory: pytest.TempPathFactory, content: bytes, item: str, note: str, found: str
) -> None:
    place = Place("any.csv", "", 2)
    row = Row(place, item, 1, groups=(("team", note),), worked=False, note=note)
    question = Question("", "odd", "any.csv", 2, item, None, found, "why", "do", places=(place,))
    with Store.open(tmp_path_factory.mktemp("any") / "r.db") as store:
        store.take_in(Intake("any.csv", "table", content, (row,), (question,)))
        assert store.rows() == (row,)
        assert store.content("any.csv", 1) == content
        assert store.questions() == (replace(question, id="Q1"),)


def test_several_files_are_taken_in_together_and_checked_once(store: Store) -> None:
    looked: list[int] = []

    def check(rows: Sequence[Row]) -> list[Question]:
        looked.append(len(rows))
        place = rows[-1].place
        return [Question("", "odd", place.file, 2, None, None, "x", "y", "z", places=(place,))]

    def torn() -> Intake:
        raise IngestError("No table.", code="ingest.broken")

    files = [
        partial(read_file, csv_bytes(cell_rows(codes)), name, STUDY, PLAN)
        for name, codes in (("a.csv", CODES[:6]), ("b.csv", CODES[6:]))
    ]
    first, bad, second, again = store.take_in_all([files[0], torn, files[1], files[0]], check)
    assert looked == [24]
    assert isinstance(first, Taken)
    assert isinstance(bad, IngestError)
    assert isinstance(second, Taken)
    assert isinstance(again, Taken)
    assert [first.status, second.status, again.status] == ["new", "new", "same"]
    assert first.questions == ()
    assert [question.code for question in second.questions] == ["odd"]
    assert store.take_in_all([files[0]], check)[0] == again
    assert looked == [24]  # nothing is new


def test_where_one_of_several_can_not_be_written_none_is_taken_in(
    store: Store, tmp_path: Path
) -> None:
    def check(rows: Sequence[Row]) -> list[Question]:
        raise OSError(28, f"No space left on device for {len(rows)} rows")

    with pytest.raises(RecordError):
        store.take_in_all([partial(read_file, csv_bytes(), "a.csv", STUDY, PLAN)], check)
    assert store.files() == ()
    assert store.take_in(read_file(csv_bytes(), "a.csv", STUDY, PLAN)).status == "new"
    rows = store.rows()
    assert len(rows) == 24
    with Store.open(tmp_path / "record.db") as other:
        assert other.rows() == rows


def test_groups_in_any_order_are_the_same_when_the_file_comes_again(tmp_path: Path) -> None:
    text = table(
        [[row[0], row[1], "birch", "1", *row[2:]] for row in cell_rows()],
        ("item", "reading", "team", "session", *CELL_HEADINGS),
    )
    path = tmp_path / "r.db"
    with Store.open(path) as store:
        collect(store, text.encode(), "a.csv", STUDY, PLAN)
        read, digest = store.rows(), store.digest()
        assert [name for name, _ in read[0].groups] == ["team", "session"]
    with Store.open(path) as store:
        assert [dict(row.groups) for row in store.rows()] == [dict(row.groups) for row in read]
        assert store.digest() == digest
        again = collect(store, text.encode(), "a.csv", STUDY, PLAN)
        assert (again.status, again.revision) == ("same", 1)
        assert again.readings == len(read)
        assert len(store.files()) == 1
