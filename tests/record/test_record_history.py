"""Every change has its before and its after, in the order in which it was told."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.ingest.bench import CODES, VOC, cell_rows, cells, changed, csv_bytes, plan_of
from trials.ingest import collect
from trials.record import Change, Decision, Store

STUDY = cells()
PLAN = plan_of(STUDY)
THEN = datetime.datetime(2031, 3, 3, 12, tzinfo=datetime.UTC)  # all in one second


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "record.db", now=lambda: THEN) as opened:
        yield opened


def _told(store: Store, *whats: str) -> list[tuple[str, str, str | None, str | None]]:
    return [(c.item, c.column, c.before, c.after) for c in store.history() if c.what in whats]


def _take(store: Store, rows: list[list[str]], name: str = "a.csv") -> None:
    collect(store, csv_bytes(rows), name, STUDY, PLAN)


def test_each_answer_tells_what_counted_before_it(store: Store) -> None:
    _take(store, changed(cell_rows(), "DG41", 1, 2, "409"))
    (asked,) = store.questions()
    for decision in (
        Decision("correct", "mV", "seen", "T1"),
        Decision("correct", "0.41", "looked again", "T2"),
        Decision("keep", "", "right after all", "T3", sure=True),
        Decision("set-aside", "", "nobody knows", "T4"),
    ):
        store.answer(asked.id, decision, CODES)
    assert _told(store, "corrected", "kept", "set aside") == [
        ("DG41", VOC, "409 V", "0.409 V"),
        ("DG41", VOC, "0.409 V", "0.41 V"),
        ("DG41", VOC, "0.41 V", "409 V"),
        ("DG41", VOC, "409 V", None),
    ]
    assert [c.what for c in store.history()][2:] == ["corrected", "corrected", "kept", "set aside"]
    by = [(c.by, c.why, c.question) for c in store.history() if c.by]
    assert by == [
        ("T1", "seen", "Q1"),
        ("T2", "looked again", "Q1"),
        ("T3", "right after all", "Q1"),
        ("T4", "nobody knows", "Q1"),
    ]


def test_a_newer_file_tells_number_by_number(store: Store) -> None:
    rows = cell_rows()
    _take(store, rows)
    newer = changed(rows, "DG41", 1, 2, "0.410")[:-1]
    newer[0], newer[5] = newer[5], newer[0]  # moving rows changes nothing
    _take(store, newer)
    assert _told(store, "changed") == [("DG41", VOC, "0.409 V", "0.410 V")]
    gone = _told(store, "gone")
    assert len(gone) == 4
    assert {(item, after) for item, _, _, after in gone} == {("PR38", None)}
    whats = [c.what for c in store.history()]
    assert (whats[0], whats[1]) == ("file", "newer file")
    assert [c.number for c in store.history()] == list(range(1, len(whats) + 1))


def test_what_was_told_comes_in_its_order_although_the_clock_stood(store: Store) -> None:
    store.lose(["BD27"], "fell", "T1")
    _take(store, cell_rows())
    store.exchange("CF34", "DG41", why="film", by="T1")
    store.exchange("CF34", "DG41", why="other film", by="T1", undo=True)
    store.make_otherwise([("FH58", "factor", "recipe", "b")], "wrong jar", "T2")
    store.make_otherwise([("FH58", "factor", "recipe", None)], "right jar", "T2")
    store.be_absent(("team", "birch", "session", "2"), ["KM86"], why="ill", by="T3")
    planned = {("FH58", "recipe"): "a"}
    order = list(dict.fromkeys(c.what for c in store.history(planned)))
    assert order == ["lost", "file", "question", "exchanged", "not exchanged", "made", "absent"]
    made = [(c.before, c.after) for c in store.history(planned) if c.what == "made"]
    assert made == [("a", "b"), ("b", "a")]
    moved = [(c.item, c.before, c.after) for c in store.history() if c.what == "exchanged"][1:]
    assert moved == [("CF34", "CF34", "DG41")] * 2 + [("DG41", "DG41", "CF34")] * 2


def test_an_answer_that_moves_readings_to_another_item(store: Store) -> None:
    _take(store, [["ZZ99", *row[1:]] if row[0] == "BD27" else row for row in cell_rows()])
    (asked,) = [q for q in store.questions() if q.code == "unknown_item"]
    store.answer(asked.id, Decision("correct", "BD27", "label", "T1"), CODES)
    assert _told(store, "corrected") == [("ZZ99", "item", "ZZ99", "BD27")] * 2


def test_replaying_the_last_change_of_each_number_gives_what_counts_now(store: Store) -> None:
    rows = changed(cell_rows(), "DG41", 1, 2, "409")
    _take(store, rows)
    store.answer("Q1", Decision("correct", "0.41", "seen", "T1"), CODES)
    last: dict[tuple[str, str], Change] = {}
    for change in store.history():
        if change.what in ("changed", "corrected"):
            last[change.item, change.column] = change
    assert last["DG41", VOC].after == "0.41 V"
