"""A table that was put right and saved under another name: asked about once, as a whole."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from openpyxl import Workbook

from tests.ingest.bench import CELL_HEADINGS, CODES, VOC, cell_rows, cells, changed, plan_of, table
from trials.errors import RecordError
from trials.ingest import asked_of_all, collect, read_again
from trials.record import Decision, Question, Store, Taken, measured

STUDY = cells()
PLAN = plan_of(STUDY)
ALL = ("item", "reading", *CELL_HEADINGS)
OLD = changed(changed(cell_rows(), "DG41", 1, 2, "409"), "FH58", 2, 3, "")  # a slip, and a gap
NEW = cell_rows()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "record.db") as opened:
        yield opened


def _take(store: Store, rows: Sequence[Sequence[str]], name: str) -> Taken:
    return collect(store, table(rows, ALL).encode(), name, STUDY, PLAN)


def _answer(store: Store, question: str, verb: str, value: str = "") -> Question:
    again = (
        lambda content, name: read_again(content, name, STUDY, PLAN),
        lambda rows: asked_of_all(rows, STUDY, PLAN),
    )
    return store.answer(question, Decision(verb, value, "so they said", "T1"), CODES, again)


def _asked(store: Store) -> list[tuple[str, str]]:
    return [(q.code, q.file) for q in store.questions(only_open=True)]


def _voltage(store: Store) -> list[float | None]:
    return [value.value for value in measured(store, STUDY, PLAN).of("voltage")]


def test_it_is_one_question_and_counts_for_nothing_until_then(store: Store) -> None:
    """Each reading of it was asked about: 'entered twice', 'other numbers for one reading'."""
    _take(store, OLD, "alder.csv")
    before = _voltage(store), _asked(store)
    taken = _take(store, NEW, "alder put right.csv")
    (question,) = [q for q in taken.questions if q.code == "newer_copy"]
    assert (taken.status, taken.readings) == ("new", 0)
    assert any("is it a newer copy of it?" in note for note in taken.notes)
    told = "94 of 95 numbers stand in alder.csv too (version 1 there, 1 here)"
    assert question.found == told
    assert question.do.startswith("correct alder.csv, if it is a newer copy of that file")
    assert question.must
    assert (_voltage(store), _asked(store)[:1]) == (before[0], before[1])
    assert _asked(store)[1:] == [("newer_copy", "alder put right.csv")]
    again = _take(store, NEW, "alder put right.csv")  # the same once more: nothing new
    assert (again.status, [q.id for q in again.questions]) == ("same", [question.id])


def test_it_takes_the_place_of_the_other_file(store: Store) -> None:
    _take(store, OLD, "alder.csv")
    _take(store, NEW, "alder put right.csv")
    (question,) = [q for q in store.questions() if q.code == "newer_copy"]
    settled = _answer(store, question.id, "correct", question.proposal)
    assert (settled.answer, settled.answer_value) == ("correct", "alder.csv")
    assert _asked(store) == []  # the slip is mended, and nothing stands there twice
    with Store.open(store._path.parent / "plain.db") as plain:
        _take(plain, NEW, "alder.csv")
        assert _voltage(store) == _voltage(plain)
        assert store.rows() == plain.rows()
    files = [(f.name, f.revision, f.current, f.readings) for f in store.files()]
    assert files == [
        ("alder.csv", 1, False, 24), ("alder put right.csv", 1, True, 0), ("alder.csv", 2, True, 24)
    ]  # fmt: skip
    newer = [c for c in store.history() if c.file == "alder.csv" and c.what in ("changed", "added")]
    changes = [(c.item, c.column, c.before, c.after) for c in newer]
    assert changes[0] == ("DG41", VOC, "409 V", "0.409 V")
    assert len(changes) == 2
    assert _take(store, NEW, "alder put right.csv").status == "same"
    with pytest.raises(RecordError) as problem:
        _answer(store, question.id, "keep")
    assert problem.value.code == "answer.copy_taken"


def test_what_was_answered_about_the_older_one_holds_for_the_newer(store: Store) -> None:
    """As it does where a file comes again under its own name."""
    _take(store, changed(OLD, "JL79", 1, 2, "0.95"), "alder.csv")
    (unusual,) = [q for q in store.questions() if q.item == "JL79"]
    store.answer(unusual.id, Decision("keep", "", "read again", "T1"), CODES)
    _take(store, changed(NEW, "JL79", 1, 2, "0.95"), "b.csv")
    (question,) = [q for q in store.questions() if q.code == "newer_copy"]
    _answer(store, question.id, "correct", "alder.csv")
    assert _asked(store) == []


def test_both_count_where_all_of_it_was_measured_once_more(store: Store) -> None:
    _take(store, NEW, "alder.csv")
    other = changed(NEW, "DG41", 1, 2, "0.411")
    _take(store, other, "once more.csv")
    assert _asked(store) == [("newer_copy", "once more.csv")]
    settled = _answer(store, store.questions()[0].id, "keep")
    assert settled.answer == "keep"
    assert {code for code, _ in _asked(store)} == {"entered_twice", "read_twice"}
    assert len(store.rows()) == 48


def test_it_may_be_left_out_and_taken_all_the_same_later(store: Store) -> None:
    _take(store, OLD, "alder.csv")
    _take(store, NEW, "alder put right.csv")
    (question,) = [q for q in store.questions() if q.code == "newer_copy"]
    _answer(store, question.id, "set-aside")
    assert [code for code, _ in _asked(store)] == ["slip"]
    assert len(store.rows()) == 24
    _answer(store, question.id, "correct", "alder.csv")
    assert _asked(store) == []


def test_a_newer_file_under_the_same_other_name_is_asked_about_anew(store: Store) -> None:
    _take(store, OLD, "alder.csv")
    _take(store, changed(NEW, "DG41", 1, 2, "0.4"), "b.csv")
    (first,) = [q for q in store.questions() if q.code == "newer_copy"]
    _answer(store, first.id, "set-aside")
    _take(store, NEW, "b.csv")
    (second,) = [q for q in store.questions(only_open=True) if q.code == "newer_copy"]
    assert second.id != first.id


def test_a_workbook_saved_from_a_table_is_a_copy_too(store: Store) -> None:
    _take(store, OLD, "alder.csv")
    book = Workbook()
    for row in (ALL, *NEW):
        book.active.append([float(x) if x[:1].isdigit() else x for x in row])  # type: ignore[union-attr]  # it has one
    out = io.BytesIO()
    book.save(out)
    collect(store, out.getvalue(), "alder.xlsx", STUDY, PLAN)
    assert _asked(store)[-1] == ("newer_copy", "alder.xlsx")


@pytest.mark.parametrize(
    "rows",
    [
        NEW[:6],  # a few of them
        [[*row[:2], "", "", "", row[5]] for row in NEW],  # one quantity
        [[row[0], str(int(row[1]) + 2), *row[2:]] for row in NEW],  # further readings
        [[*row[:2], *(f"{float(x) * 1.01:.5f}" for x in row[2:])] for row in NEW],  # all other
    ],
    ids=["few", "one quantity", "further readings", "other numbers"],
)
def test_other_readings_are_no_copy(store: Store, rows: list[list[str]]) -> None:
    _take(store, NEW, "alder.csv")
    _take(store, rows, "b.csv")
    assert "newer_copy" not in {code for code, _ in _asked(store)}
    assert len(store.rows()) == 24 + len(rows)


def test_what_it_may_be_a_copy_of_is_that_one_file(store: Store) -> None:
    _take(store, OLD, "alder.csv")
    _take(store, NEW, "b.csv")
    (question,) = [q for q in store.questions() if q.code == "newer_copy"]
    with pytest.raises(RecordError) as problem:
        _answer(store, question.id, "correct", "hazel.csv")
    assert (problem.value.code, problem.value.allowed) == ("answer.copy", "alder.csv")


def test_it_is_not_settled_without_reading_it_again(store: Store) -> None:
    _take(store, OLD, "alder.csv")
    _take(store, NEW, "b.csv")
    (question,) = [q for q in store.questions() if q.code == "newer_copy"]
    with pytest.raises(ValueError, match="read again"):
        store.answer(question.id, Decision("keep", "", "w", "T1"), CODES)
    assert question.id in {q.id for q in store.questions(only_open=True)}


def test_a_file_of_other_items_leaves_the_one_that_waits_alone(store: Store) -> None:
    """Two teams call their file readings.csv; the first one's waits for an answer."""
    _take(store, changed(cell_rows(CODES[:6]), "DG41", 1, 2, "0.4"), "first.csv")
    _take(store, cell_rows(CODES[:6]), "readings.csv")
    (question,) = [q for q in store.questions() if q.code == "newer_copy"]
    taken = _take(store, cell_rows(CODES[6:]), "readings.csv")
    assert (taken.name, taken.status, taken.readings) == ("readings (2).csv", "new", 12)
    assert any("this one is kept as readings (2).csv" in note for note in taken.notes)
    assert _asked(store) == [("newer_copy", "readings.csv")]
    _answer(store, question.id, "correct", "first.csv")
    with Store.open(store._path.parent / "plain.db") as plain:
        _take(plain, NEW, "all.csv")
        assert _voltage(store) == _voltage(plain)


def test_other_readings_of_the_same_items_leave_it_alone_too(store: Store) -> None:
    _take(store, OLD, "first.csv")
    _take(store, NEW, "readings.csv")
    further = [[row[0], str(int(row[1]) + 2), *row[2:]] for row in NEW]
    taken = _take(store, further, "readings.csv")
    assert (taken.name, taken.readings) == ("readings (2).csv", 24)
    assert ("newer_copy", "readings.csv") in _asked(store)


def test_the_file_that_waits_put_right_once_more_waits_in_its_place(store: Store) -> None:
    _take(store, OLD, "alder.csv")
    _take(store, changed(NEW, "DG41", 1, 2, "0.4"), "b.csv")
    (first,) = [q for q in store.questions() if q.code == "newer_copy"]
    taken = _take(store, NEW, "b.csv")
    assert (taken.name, taken.revision, taken.readings) == ("b.csv", 2, 0)
    (second,) = [q for q in store.questions(only_open=True) if q.code == "newer_copy"]
    assert (second.file, second.id != first.id) == ("b.csv", True)


@pytest.mark.parametrize("before", ["", "set-aside"])
def test_older_numbers_are_not_put_back(store: Store, before: str) -> None:
    """The other file was put right while the copy of its first version was waiting."""
    _take(store, OLD, "a.csv")
    _take(store, changed(OLD, "BD27", 1, 2, "0.4"), "b.csv")
    (question,) = [q for q in store.questions() if q.code == "newer_copy"]
    _take(store, NEW, "a.csv")
    right = _voltage(store)
    if before:
        _answer(store, question.id, before)
    with pytest.raises(RecordError) as problem:
        _answer(store, question.id, "correct", "a.csv")
    assert problem.value.code == "answer.copy_overtaken"
    assert problem.value.found == "version 2 of a.csv came after b.csv"
    assert ("b.csv once more" if not before else "into a.csv") in problem.value.do
    assert (_voltage(store), len(store.rows())) == (right, 24)
    (kept,) = [q for q in store.questions() if q.code == "newer_copy"]
    assert (kept.id, kept.answer) == (question.id, before or None)


def test_handed_in_once_more_it_is_compared_with_the_newer_one(store: Store) -> None:
    copy = changed(NEW, "BD27", 1, 2, "0.4")
    _take(store, OLD, "a.csv")
    _take(store, copy, "b.csv")
    (first,) = [q for q in store.questions() if q.code == "newer_copy"]
    _take(store, NEW, "a.csv")
    taken = _take(store, copy, "b.csv")
    assert not any("counts now" in note for note in taken.notes)
    (second,) = taken.questions
    assert second.id != first.id
    assert second.found == "95 of 96 numbers stand in a.csv too (version 2 there, 2 here)"
    assert _take(store, copy, "b.csv").status == "same"  # that is what is asked now
    _answer(store, second.id, "correct", "a.csv")
    assert [(f.name, f.revision) for f in store.files() if f.readings and f.current] == [
        ("a.csv", 3)
    ]
    with Store.open(store._path.parent / "plain.db") as plain:
        _take(plain, copy, "a.csv")
        assert _voltage(store) == _voltage(plain)


def test_one_that_was_set_aside_stays_so_when_all_is_handed_in_again(store: Store) -> None:
    _take(store, OLD, "a.csv")
    _take(store, changed(OLD, "BD27", 1, 2, "0.4"), "b.csv")
    (question,) = [q for q in store.questions() if q.code == "newer_copy"]
    _answer(store, question.id, "set-aside")
    _take(store, NEW, "a.csv")
    assert _take(store, changed(OLD, "BD27", 1, 2, "0.4"), "b.csv").status == "same"
    assert _asked(store) == []
