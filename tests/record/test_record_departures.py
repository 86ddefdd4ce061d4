"""Notes of something done otherwise: asked, kept in the report, and never lost.

All numbers here are made up for the purpose.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.ingest.bench import CODES, cell_rows, cells, plan_of, table
from tests.ingest.raised import ALL
from tests.words.pseudo import made_up, speaking_made_up
from trials.ingest import collect
from trials.record import Decision, Question, Store, measured

STUDY, PLAN = cells(), plan_of(cells())


def _noted(store: Store, notes: dict[str, str], worked: dict[str, str] | None = None
           ) -> tuple[Question, ...]:  # fmt: skip
    rows = [[*row, (worked or {}).get(row[0], ""), notes.get(row[0], "")] for row in cell_rows()]
    collect(store, table(rows, (*ALL, "did it work?", "note")).encode(), "a.csv", STUDY, PLAN)
    return store.questions(only_open=True)


def test_an_open_question_is_a_departure_and_a_kept_one_says_why(tmp_path: Path) -> None:
    with Store.open(tmp_path / "r.db") as store:
        (asked,) = _noted(store, {"DG41": "heated twice"})
        assert (asked.code, asked.item, asked.found, asked.answers) == (
            "deviation", "DG41", "'heated twice'", ("keep", "set-aside"),
        )  # fmt: skip
        assert "trials made FOLDER DG41 --factor NAME=VERSION" in asked.do
        before = measured(store, STUDY, PLAN)
        assert before.departures == ("DG41: 'heated twice' was noted",)
        store.answer(asked.id, Decision("keep", "", "10 min more at most", "T1"), CODES)
        after = measured(store, STUDY, PLAN)
    assert after.departures == (
        "DG41: 'heated twice' was noted; counts as planned: 10 min more at most (T1)",
    )
    assert after.corrections == ()
    assert [v.value for v in before.values] == [v.value for v in after.values]


def test_one_set_aside_has_no_value_and_is_told(tmp_path: Path) -> None:
    with Store.open(tmp_path / "r.db") as store:
        (asked,) = _noted(store, {"DG41": "leaked"})
        store.answer(asked.id, Decision("set-aside", "", "no liquid left", "T1"), CODES)
        state = measured(store, STUDY, PLAN)
        assert {v.status for v in state.values if v.item == "DG41"} == {"set aside"}
        assert state.departures == ("DG41: 'leaked' was noted; set aside: no liquid left (T1)",)
        assert len(state.corrections) == 1
        assert {row.note for row in store.rows() if row.item == "DG41"} == {"leaked"}


def test_the_same_note_beside_a_whole_firing_is_one_question(tmp_path: Path) -> None:
    notes = dict.fromkeys(CODES[:4], "20 min too long in the oven") | {"PR38": "oubliée au four"}
    with Store.open(tmp_path / "r.db") as store:
        first, second = _noted(store, notes)
        assert (first.item, first.found) == (
            None, "BD27, CF34, DG41, FH58: '20 min too long in the oven'",
        )  # fmt: skip
        assert second.item == "PR38"
        assert measured(store, STUDY, PLAN).departures[0].startswith("BD27, CF34, DG41, FH58: '20")


@pytest.mark.parametrize(("note", "asked"), [("leaked", 0), ("heated twice then leaked", 1)])
def test_what_spoiled_an_item_that_failed_is_its_reason(
    tmp_path: Path, note: str, asked: int
) -> None:
    with Store.open(tmp_path / "r.db") as store:
        found = [q for q in _noted(store, {"DG41": note}, {"DG41": "no"}) if q.code == "deviation"]
        assert len(found) == asked
        values = [v for v in measured(store, STUDY, PLAN).values if v.item == "DG41"]
        assert {(v.status, v.reason) for v in values} == {("failed", f"it did not work ({note})")}


def test_made_otherwise_is_told_beside_it(tmp_path: Path) -> None:
    with Store.open(tmp_path / "r.db") as store:
        (asked,) = _noted(store, {"DG41": "other dye"})
        store.make_otherwise([("DG41", "factor", "recipe", "a")], "took the other bottle", "T1")
        store.answer(asked.id, Decision("keep", "", "told with 'made'", "T1"), CODES)
        told = measured(store, STUDY, PLAN).departures
    assert len(told) == 2
    assert told[0].startswith("DG41: 'other dye' was noted; counts as planned")
    assert told[1].startswith("DG41 was made with a instead of b")


def test_departures_and_corrections_are_told_in_the_language_in_use(tmp_path: Path) -> None:
    with Store.open(tmp_path / "r.db") as store:
        (asked,) = _noted(store, {"DG41": "heated twice"})
        with speaking_made_up():
            before = measured(store, STUDY, PLAN)
        store.answer(asked.id, Decision("set-aside", "", "too hot", "T1"), CODES)
        with speaking_made_up():
            after = measured(store, STUDY, PLAN)
    assert before.departures == (f"DG41: 'heated twice' {made_up('was noted')}",)
    counts = made_up("was noted; set aside:")
    assert after.departures == (f"DG41: 'heated twice' {counts} too hot (T1)",)
