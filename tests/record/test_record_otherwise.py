"""Labels that were exchanged, and items made otherwise: told, used, taken back, never erased."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ingest.bench import CODES, VOC, cell_row, cell_rows, cells, csv_bytes, plan_of
from trials.errors import RecordError
from trials.ingest import collect
from trials.record import Decision, Measured, Store, measured
from trials.record.schema import TABLES, TRIGGERS

STUDY = cells()
PLAN = plan_of(STUDY)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "record.db") as opened:
        collect(opened, csv_bytes(), "a.csv", STUDY, PLAN)
        yield opened


def now(store: Store) -> Measured:
    return measured(store, STUDY, PLAN)


def numbers(result: Measured) -> dict[str, float | None]:
    return {value.item: value.value for value in result.of("voltage")}


def exchange(store: Store, one: str, other: str, *, undo: bool = False) -> None:
    store.exchange(one, other, why="the photo shows it", by="T3", undo=undo)


def test_two_items_trade_their_readings(store: Store) -> None:
    before, rows = now(store), store.rows()
    exchange(store, "BD27", "GJ65")
    after = now(store)
    wanted = numbers(before)
    wanted["BD27"], wanted["GJ65"] = wanted["GJ65"], wanted["BD27"]
    assert numbers(after) == wanted
    assert store.rows() == rows  # as they were read, for ever
    assert after.departures == (
        "BD27 and GJ65 had each other's label, and their readings were put right: the photo shows "
        "it (T3)",
    )
    reasons = {value.item: value.reason for value in after.of("voltage") if value.reason}
    assert set(reasons) == {"BD27", "GJ65"}
    assert after.digest != before.digest


def test_readings_that_come_later_are_exchanged_too(store: Store) -> None:
    exchange(store, "BD27", "GJ65")
    rows = [["BD27", "3", *cell_row("BD27", 1)[2:]]]
    collect(store, csv_bytes(rows), "later.csv", STUDY, PLAN)
    counts = {value.item: value.readings for value in now(store).of("voltage")}
    assert (counts["BD27"], counts["GJ65"]) == (2, 3)


PAIRS = st.lists(
    st.permutations(CODES).map(lambda codes: (codes[0], codes[1])), min_size=1, max_size=6
)


@settings(derandomize=True, max_examples=20, deadline=None)
@given(pairs=PAIRS, order=st.randoms(use_true_random=False))
def test_whatever_is_taken_back_leaves_nothing_behind(
    tmp_path_factory: pytest.TempPathFactory, pairs: list[tuple[str, str]], order: object
) -> None:
    """Random exchanges of labels, taken back in any order, give the same values and digest."""
    with Store.open(tmp_path_factory.mktemp("any") / "r.db") as store:
        collect(store, csv_bytes(), "a.csv", STUDY, PLAN)
        before = now(store)
        told: list[tuple[str, str]] = []
        for one, other in pairs:
            if not {one, other} & {code for pair in told for code in pair}:
                exchange(store, one, other)
                told.append((one, other))
        assert sorted(map(str, numbers(now(store)).values())) == sorted(
            map(str, numbers(before).values())
        )
        order.shuffle(told)  # type: ignore[attr-defined]  # a random.Random
        for one, other in told:
            exchange(store, other, one, undo=True)
        assert now(store) == before


def test_an_answer_that_moved_a_reading_comes_first(tmp_path: Path) -> None:
    """The file says CF34 twice; by answer the second is DG41. An exchange would turn that round."""
    rows = [row for row in cell_rows() if row[0] != "DG41"]
    rows += [["CF34", *row[1:]] for row in cell_rows(["DG41"])]
    with Store.open(tmp_path / "record.db") as store:
        collect(store, csv_bytes(rows), "a.csv", STUDY, PLAN)
        twice = next(q for q in store.questions() if q.code == "read_twice")
        store.answer(twice.id, Decision("correct", "DG41", "the label", "T1"), CODES)
        with pytest.raises(RecordError) as problem:
            exchange(store, "CF34", "DG41")
        assert problem.value.code == "swapped.answered"
        assert f"trials answer {tmp_path} {twice.id} keep" in problem.value.do


def test_lost_items_are_asked_about_by_the_right_label(store: Store) -> None:
    rows = [row for row in cell_rows() if row[0] != "DG41"]
    collect(store, csv_bytes(rows), "a.csv", STUDY, PLAN)
    store.lose(["DG41"], "cracked before it was measured")
    assert "lost_with_readings" not in {q.code for q in store.questions()}
    exchange(store, "DG41", "HK72")
    (question,) = [q for q in store.questions() if q.code == "lost_with_readings"]
    assert question.item == "DG41"
    exchange(store, "DG41", "HK72", undo=True)
    assert "lost_with_readings" not in {q.code for q in store.questions()}


@pytest.mark.parametrize(
    ("pair", "undo", "code"),
    [
        (("BD27", "GJ65"), False, "swapped.known"),
        (("GJ65", "BD27"), False, "swapped.known"),
        (("BD27", "CF34"), False, "swapped.crosses"),
        (("CF34", "CF34"), False, "swapped.same"),
        (("CF34", "DG41"), True, "swapped.unknown"),
    ],
)
def test_what_can_not_be_told(store: Store, pair: tuple[str, str], undo: bool, code: str) -> None:
    exchange(store, "BD27", "GJ65")
    before = now(store)
    with pytest.raises(RecordError) as problem:
        exchange(store, *pair, undo=undo)
    assert problem.value.code == code
    assert problem.value.do
    assert now(store) == before


@pytest.mark.parametrize(
    ("why", "by", "code"),
    [(" ", "T3", "swapped.why"), ("seen", "", "swapped.by"), ("seen", "Ann Example", "swapped.by")],
)
def test_it_needs_a_reason_and_a_code(store: Store, why: str, by: str, code: str) -> None:
    with pytest.raises(RecordError) as problem:
        store.exchange("BD27", "GJ65", why=why, by=by)
    assert problem.value.code == code
    assert store.state().exchanges == ()


def test_what_was_made_otherwise_counts_as_told_last(store: Store) -> None:
    before = now(store)
    store.make_otherwise([("BD27", "factor", "recipe", "b")], "wrong jar", "T3")
    store.make_otherwise([("BD27", "factor", "recipe", "")], "no jar of ours", "T3")
    told = now(store)
    assert [(one.item, one.made) for one in told.otherwise] == [("BD27", "")]
    assert told.departures == (
        "BD27 was made with a version of recipe that the plan does not have, instead of a: no jar "
        "of ours (T3)",
    )
    store.make_otherwise([("BD27", "group", "session", "2")], "absent", "T3")
    assert now(store).departures[-1] == "BD27 went into session 2 instead of 1: absent (T3)"
    store.make_otherwise(
        [("BD27", "factor", "recipe", None), ("BD27", "group", "session", None)], "as planned", "T3"
    )
    assert now(store) == before


def test_what_another_plan_had_is_passed_over(store: Store) -> None:
    before = now(store)
    store.make_otherwise([("BD27", "factor", "heat", "oven"), ("XX99", "factor", "recipe", "b")],
                         "w", "T3")  # fmt: skip
    assert now(store).otherwise == before.otherwise == ()


def test_a_record_of_the_first_format_gets_the_new_tables(tmp_path: Path) -> None:
    """A record that was begun before labels could be exchanged goes on."""
    path = tmp_path / "old.db"
    old = sqlite3.connect(path)
    later = ("exchanges", "otherwise", "absences", " away", "steps")
    for statement in (*TABLES, *TRIGGERS):
        if not any(name in statement for name in later):
            old.execute(statement)
    old.execute("PRAGMA user_version = 1")
    old.commit()
    old.close()
    with Store.open(path) as store:
        collect(store, csv_bytes(), "a.csv", STUDY, PLAN)
        exchange(store, "BD27", "GJ65")
        assert len(store.state().exchanges) == 1
    with Store.open(path) as store:
        assert len(store.state().exchanges) == 1


def test_a_question_about_the_two_comes_first(store: Store, tmp_path: Path) -> None:
    text = f"item,reading,session,{VOC} (V)\nBD27,3,2,0.405\nLN93,3,1,0.428\n"
    collect(store, text.encode(), "where.csv", STUDY, PLAN)
    (question,) = [q for q in store.questions() if q.code == "swapped"]
    with pytest.raises(RecordError) as problem:
        exchange(store, "BD27", "LN93")
    assert (problem.value.code, problem.value.found) == ("swapped.asked", question.id)
    assert f"trials answer {tmp_path} {question.id} correct LN93" in problem.value.do
    store.answer(question.id, Decision("correct", "LN93", "seen", "T1"), CODES)
    with pytest.raises(RecordError) as problem:
        exchange(store, "BD27", "LN93")
    assert problem.value.code == "swapped.known"
