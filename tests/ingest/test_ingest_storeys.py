"""Headings in two rows: which of two equal names is meant is asked, or said in study.toml.

All numbers here are made up for the purpose.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.ingest.bench import CODES, ISC, VOC, cells, plan_of
from trials.errors import RecordError
from trials.ingest import collect, read_file
from trials.record import Decision, Store
from trials.record.answers import with_headings

STUDY = cells()
PLAN = plan_of(STUDY)
LAMPS = f";first lamp;;second lamp;\nitem;{VOC};{ISC} (mA);{VOC};{ISC} (mA)\n" + "".join(
    f"{code};0.41{k % 9};1.3{k % 7};0.43{k % 8};1.4{k % 6}\n" for k, code in enumerate(CODES)
)


def test_one_of_two_lamps_is_said_to_be_meant_and_the_other_is_left(tmp_path: Path) -> None:
    with Store.open(tmp_path / "record.sqlite") as store:
        collect(store, LAMPS.encode(), "a.csv", STUDY, PLAN)
        asked = {q.column: q for q in store.questions() if q.code == "heading"}
        assert list(asked) == [
            f"first lamp: {VOC}", f"first lamp: {ISC} (mA)",
            f"second lamp: {VOC}", f"second lamp: {ISC} (mA)",
        ]  # fmt: skip
        assert not any(q.code == "missing_column" and q.column == VOC for q in store.questions())
        second = asked[f"second lamp: {VOC}"]
        store.answer(second.id, Decision("correct", VOC, "the lamp we planned", "T1"), CODES)
        rows = with_headings(store.state().rows, store.questions())
        voltage = rows[0].cell(VOC)
        assert voltage is not None
        assert str(voltage.value) == "0.430"
        first = asked[f"first lamp: {VOC}"]
        with pytest.raises(RecordError) as problem:
            store.answer(first.id, Decision("correct", VOC, "this too", "T1"), CODES)
        assert problem.value.code == "answer.quantity_twice"


def test_study_toml_says_what_a_name_under_a_group_is() -> None:
    declared = {
        f"first lamp: {VOC}": "not needed",
        f"first lamp: {ISC}": "not needed",
        f"second lamp: {VOC}": VOC,
        f"second lamp: {ISC}": f"{ISC} (mA)",
    }
    intake = read_file(
        LAMPS.encode(), "a.csv", STUDY.model_copy(update={"columns": declared}), PLAN
    )
    assert not any(question.code == "heading" for question in intake.questions)
    assert [str(cell.value) for cell in intake.rows[0].cells] == ["0.430", "1.40"]


@pytest.mark.parametrize(
    "first",
    [f";0.41;1.3\n{CODES[1]};0.42;1.4\n", f";1;2\n{CODES[1]};2;3\n", f";1;1\n{CODES[1]};2;2\n"],
)
def test_readings_that_lack_their_code_are_no_headings(first: str) -> None:
    text = f"item;{VOC};{ISC}\n{first}"
    intake = read_file(text.encode(), "a.csv", STUDY, PLAN)
    assert len(intake.rows) == 2
    assert "no_item" in {question.code for question in intake.questions}
    assert not any("they were read together" in note for note in intake.notes)


def test_two_rows_of_headings_stand_above_a_second_table_too() -> None:
    half = len(CODES) // 2
    tables = [
        f";first reading;second reading\nitem;{VOC} (V);{VOC} (V)\n",
        f";reading 1;reading 2\nitem;{VOC} (mV);{VOC} (mV)\n",
    ]
    text = tables[0] + "".join(f"{code};0.41{k};0.42{k}\n" for k, code in enumerate(CODES[:half]))
    text += tables[1] + "".join(f"{code};41{k};42{k}\n" for k, code in enumerate(CODES[half:]))
    intake = read_file(text.encode(), "a.csv", STUDY, PLAN)
    found = {(row.item, row.reading): str(row.cells[0].value) for row in intake.rows}
    assert found == {(code, n): f"0.4{n}{k % half}" for k, code in enumerate(CODES) for n in (1, 2)}


def test_each_reading_of_two_tables_side_by_side_has_a_place_of_its_own() -> None:
    line = ";".join(["item", f"{VOC} (V)"] * 2)
    text = f"{line}\n" + "".join(
        f"{one};0.41{k};{two};0.42{k}\n"
        for k, (one, two) in enumerate(zip(CODES[::2], CODES[1::2], strict=True))
    )
    rows = read_file(text.encode(), "a.csv", STUDY, PLAN).rows
    assert sorted(row.item for row in rows) == sorted(CODES)
    assert len({row.place for row in rows}) == len(CODES)
