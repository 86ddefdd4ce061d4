"""Readings side by side, items side by side, one number a row: each is told, and keeps its rows."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ingest.bench import (
    CELL_HEADINGS,
    CODES,
    ISC,
    LIGHT,
    LOAD,
    VOC,
    cell_row,
    cell_rows,
    cells,
    plan_of,
    table,
)
from tests.sizes import examples
from trials.errors import IngestError
from trials.ingest import collect, read_file
from trials.record import Decision, Intake, Store
from trials.record.answers import applied

STUDY = cells()
PLAN = plan_of(STUDY)
NAMES = (VOC, ISC, LOAD, LIGHT)
CLEAN = {
    (row[0], int(row[1])): dict(zip(NAMES, map(Decimal, row[2:]), strict=True))
    for row in cell_rows()
}


def _read(text: str) -> Intake:
    return read_file(text.encode(), "a.csv", STUDY, PLAN)


def _numbers(intake: Intake) -> dict[tuple[str, int | None], dict[str, Decimal | None]]:
    return {
        (row.item, row.reading): {cell.column: cell.value for cell in row.cells}
        for row in intake.rows
    }


def _beside(form: str, units: Sequence[str] = ("V", "mA", "V", "W/m^2")) -> str:
    heads = [
        form.format(name=name, unit=unit, n=n)
        for name, unit in zip(NAMES, units, strict=True)
        for n in (1, 2)
    ]
    rows = [[code, *(cell_row(code, n)[2 + k] for k in range(4) for n in (1, 2))] for code in CODES]
    return table(rows, ["item", *heads], ";")


@pytest.mark.parametrize(
    "form",
    ["{name} {n} ({unit})", "{name}_{n} [{unit}]", "{name} ({unit}) #{n}", "{name} ({unit}) {n}",
     "{name}, reading {n} ({unit})", "{name} ({n})", "{name} ({unit}) ({n})", "{name} No. {n}",
     "{name}{n}"],
)  # fmt: skip
def test_readings_side_by_side(form: str) -> None:
    intake = _read(_beside(form))
    assert _numbers(intake) == CLEAN
    assert intake.questions == ()
    (told,) = [note for note in intake.notes if "side by side" in note]
    first, second = (form.format(name=VOC, unit="V", n=n) for n in (1, 2))
    assert told == (
        f"a.csv: Several readings stand side by side in each row: '{first}', '{second}' were read "
        "as readings 1, 2."
    )
    assert [(row.place.row, row.place.part) for row in intake.rows[:4]] == [
        (2, 0), (2, 1), (3, 0), (3, 1)
    ]  # fmt: skip


def test_what_is_read_once_beside_readings_belongs_to_the_first() -> None:
    intake = _read("item,Voc 1 (V),Voc 2 (mV),note,light (W/m^2)\nBD27,0.41,412,cloudy,800\n")
    assert _numbers(intake) == {
        ("BD27", 1): {VOC: Decimal("0.41"), LIGHT: Decimal(800)},
        ("BD27", 2): {VOC: Decimal("0.412")},
    }
    assert [row.note for row in intake.rows] == ["cloudy", ""]
    assert ("missing", "BD27", 2, LIGHT) in {
        (q.code, q.item, q.reading, q.column) for q in intake.questions
    }


def test_a_cell_that_is_no_number_among_readings_side_by_side(tmp_path: Path) -> None:
    """Its question finds the second reading of the row, in the record too."""
    text = _beside("{name} {n}").replace(";0.404;", ";0.4o4;", 1)
    with Store.open(tmp_path / "r.db") as store:
        taken = collect(store, text.encode(), "a.csv", STUDY, PLAN)
        (asked,) = taken.questions
        assert (asked.code, asked.row, asked.item, asked.reading) == ("not_a_number", 2, "BD27", 2)
        assert asked.places[0].part == 1
        items = [row.item for row in PLAN.rows]
        store.answer(asked.id, Decision("correct", "0.404", "on paper", "T3"), items)
        state = store.state()
        rows = applied(state.rows, state.questions).rows
        assert {
            (row.item, row.reading): {cell.column: cell.value for cell in row.cells} for row in rows
        } == CLEAN
        again = collect(store, text.encode(), "a.csv", STUDY, PLAN)
        assert again.status == "same"


def test_readings_numbered_in_a_column_and_in_the_headings_are_refused() -> None:
    with pytest.raises(IngestError) as problem:
        _read("item,reading,Voc 1,Voc 2\nBD27,1,0.41,0.42\n")
    assert problem.value.code == "ingest.column_twice"
    assert "numbered twice" in problem.value.what


def _across(corner: str = "", *, units: bool = False) -> str:
    rows = cell_rows()
    lines = [[corner, *(["unit"] if units else []), *(row[0] for row in rows)]]
    if units:
        heads = zip(NAMES, ("V", "mA", "V", "W/m²"), strict=True)
        lines += [[name, unit, *(row[2 + k] for row in rows)] for k, (name, unit) in
                  enumerate(heads)]  # fmt: skip
    else:
        lines += [[head, *(row[2 + k] for row in rows)] for k, head in enumerate(CELL_HEADINGS)]
    return "\n".join(",".join(line) for line in lines) + "\n"


@pytest.mark.parametrize("corner", ["", "item", "quantity", "cell"])
@pytest.mark.parametrize("units", [False, True])
def test_items_side_by_side(corner: str, units: bool) -> None:
    intake = _read(_across(corner, units=units))
    assert _numbers(intake) == CLEAN
    assert intake.questions == ()
    assert (
        "a.csv: The items stand side by side in row 1: each column was read as one reading of its "
        "item." in intake.notes
    )


def test_items_side_by_side_with_their_reading_numbers_below() -> None:
    lines = _across("item").splitlines()
    numbers = ",".join(["reading", *(["2", "1"] * len(CODES))])
    found = _numbers(_read("\n".join([lines[0], numbers, *lines[1:]])))
    assert found["BD27", 2] == CLEAN["BD27", 1]
    assert found["BD27", 1] == CLEAN["BD27", 2]


def test_a_question_names_the_row_in_which_a_number_of_an_item_stands() -> None:
    text = _across("item").replace("0.403", "0.4o3", 1)
    (question,) = _read(text).questions
    assert (question.code, question.row, question.item, question.column, question.proposal) == (
        "not_a_number", 2, "BD27", VOC, "0.403"
    )  # fmt: skip
    (other,) = _read(_across("item").replace("792", "about 792", 1)).questions
    assert (other.row, other.item, other.reading, other.column) == (5, "BD27", 2, LIGHT)


def test_an_unknown_code_among_items_side_by_side_is_asked() -> None:
    (question, *others) = _read(_across("item").replace("CF34", "CF3A")).questions
    assert (question.code, question.found, question.proposal) == ("unknown_item", "CF3A", "CF34")
    assert others == []


def _long(head: str, *, reading: bool, unit: str = "") -> str:
    lines = [head]
    for row in cell_rows():
        for k, name in enumerate(NAMES):
            cells_ = [row[0], *([row[1]] if reading else []), name, row[2 + k]]
            if unit == "column":
                cells_.append(("V", "mA", "V", "W/m^2")[k])
            if unit == "milli" and k == 0:
                cells_[-1] = f"{Decimal(row[2]) * 1000:f}"
                cells_.append("mV")
            elif unit == "milli":
                cells_.append("")
            lines.append(",".join(cells_))
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    ("head", "reading", "unit"),
    [
        ("item,reading,quantity,value", True, ""),
        ("item,quantity,value", False, ""),
        ("Code,variable,value,unit", False, "column"),
        ("cell,reading,parameter,result,units", True, "milli"),
    ],
)
def test_one_number_a_row(head: str, reading: bool, unit: str) -> None:
    intake = _read(_long(head, reading=reading, unit=unit))
    assert _numbers(intake) == CLEAN
    assert intake.questions == ()
    assert any("Each number has a row of its own" in note for note in intake.notes)
    assert intake.rows[0].cells[0].text == ("403.000" if unit == "milli" else "0.403")
    assert intake.rows[1].place.row == 6


def test_thousands_of_numbers_of_one_item_are_put_together() -> None:
    lines = "".join(f"BD27;Voc (V);{0.4 + i % 7 / 1000:.3f}\n" for i in range(6000))
    intake = _read("item;quantity;value\n" + lines)
    assert len(intake.rows) == 6000


def test_questions_of_a_long_table_name_the_row_of_the_number() -> None:
    text = _long("item,reading,quantity,value", reading=True).replace(
        f"BD27,2,{LIGHT},792", f"BD27,2,{LIGHT},many"
    )
    (question,) = _read(text).questions
    assert (question.code, question.row, question.item, question.reading, question.column) == (
        "not_a_number", 9, "BD27", 2, LIGHT
    )  # fmt: skip


def test_a_number_that_stands_twice_in_a_long_table_is_asked() -> None:
    text = _long("item,reading,quantity,value", reading=True) + f"BD27,1,{VOC},0.499\n"
    codes = {(q.code, q.item) for q in _read(text).questions}
    assert ("read_twice", "BD27") in codes


def test_units_in_a_row_of_their_own_below_the_headings() -> None:
    rows = [[*row[:2], f"{Decimal(row[2]) * 1000:f}", *row[3:]] for row in cell_rows()]
    text = table([["", "", "mV", "(mA)", "[V]", "W/m²"], *rows], ["item", "reading", *NAMES])
    intake = _read(text)
    assert _numbers(intake) == CLEAN
    assert intake.questions == ()
    assert "The units stand in row 2, below the headings." in intake.notes
    assert f"'{VOC}' was turned from mV into V." in intake.notes


HEADS = st.sampled_from(
    ["item", "reading", "quantity", "value", "unit", "note", "time", "did it work?", "team", "",
     "Voc", "Voc 1", "Voc 2 (mV)", "Isc/mA", "light #2", f"{VOC} (V)", "U (mV)", "volts", "load",
     "BD27", "CF34", "DG41", "Probe", "sep=;", "W/m^2", "(2)", "1"]
)  # fmt: skip
CELLS = st.sampled_from(
    ["BD27", "CF34", "bd27", "ZZ", "1", "2", "", "0.41", "0,41", "1.234", "412 mV", "V", "mV",
     "(mA)", "mean", "yes", "n/a", "did not work", VOC, "Isc", "light (lx)", "14:05", "x"]
)  # fmt: skip


@pytest.mark.long
@settings(max_examples=examples(120, 400), deadline=None)
@given(
    head=st.lists(HEADS, min_size=1, max_size=7),
    rows=st.lists(st.lists(CELLS | HEADS, max_size=8), max_size=8),
    declared=st.dictionaries(
        st.sampled_from(["U", "volts", "Probe", "Voc 1", "1"]),
        st.sampled_from(["item", "reading", f"{VOC} (mV)", LIGHT, "note", "team", "not needed"]),
    ),
)
def test_any_shape_is_read_or_refused_in_words_and_keeps_every_place_apart(
    head: list[str], rows: list[list[str]], declared: dict[str, str]
) -> None:
    text = "\n".join(";".join(line) for line in [head, *rows])
    study = STUDY.model_copy(update={"columns": declared})
    try:
        intake = read_file(text.encode(), "a.csv", study, PLAN)
    except IngestError as refused:
        told: tuple[str, ...] = (refused.what, refused.where, refused.do)
    else:
        places = [row.place for row in intake.rows]
        assert len(set(places)) == len(places)
        assert all(place in places for q in intake.questions for place in q.places)
        told = tuple(q.do for q in intake.questions)
    assert all(told)


@pytest.mark.parametrize(
    "rows",
    [
        "item;reading;{v};{i}\n(code);(no.);(mV);(mA)\n",
        "item;reading;{v};{i}\n;;mV;mA\n",
        ";;mV;mA\nitem;reading;{v};{i}\n",
    ],
)
def test_a_row_of_units_beside_the_headings_is_read(rows: str) -> None:
    text = rows.format(v=VOC, i=ISC) + "".join(f"{code};1;41{k % 9};1.3{k % 7}\n"
                                              for k, code in enumerate(CODES))  # fmt: skip
    intake = read_file(text.encode(), "a.csv", cells(), plan_of(cells()))
    assert [row.item for row in intake.rows] == list(CODES)
    assert [(cell.unit, str(cell.value)) for cell in intake.rows[0].cells] == [
        ("mV", "0.410"), ("mA", "1.30"),
    ]  # fmt: skip
    side = "above" if rows.startswith(";") else "below"
    number = 1 if rows.startswith(";") else 2
    assert any(f"The units stand in row {number}, {side} the headings." in n for n in intake.notes)


@pytest.mark.parametrize("above", [";;A;B", ";;T;T", ";;A;", "(code);;mV;lx"])
def test_a_row_above_the_headings_that_does_not_fit_all_columns_gives_no_units(above: str) -> None:
    """Letters of teams are symbols of units too: A ampere, B bel, T tesla (SI Brochure, 2019)."""
    text = f"{above}\nitem;reading;{VOC};{ISC}\n" + "".join(
        f"{code};1;0.41{k % 9};1.3{k % 7}\n" for k, code in enumerate(CODES)
    )
    intake = _read(text)
    assert not any(question.code == "other_unit" for question in intake.questions)
    assert [(cell.unit, str(cell.value)) for cell in intake.rows[0].cells] == [
        ("V", "0.410"), ("mA", "1.30"),
    ]  # fmt: skip
    (told,) = [note for note in intake.notes if note.startswith("Row 1, above the headings, ")]
    assert "in brackets behind its heading" in told


def test_a_row_above_that_fits_counts_beside_units_in_the_headings() -> None:
    """A unit in a heading that fits nothing is asked about by itself."""
    text = f";mV;\nitem;{VOC};{ISC} (lx)\nBD27;410;1.3\nCF34;412;1.4\n"
    intake = _read(text)
    assert [str(row.cells[0].value) for row in intake.rows] == ["0.410", "0.412"]
    assert "other_unit" in {question.code for question in intake.questions}
    assert not any("was not taken for units" in note for note in intake.notes)


@pytest.mark.parametrize(
    "rows",
    [
        "item;reading;open-circuit voltage;short-circuit current\n;;measured (V);measured (mA)\n",
        "item;reading;Voc;Isc\n;;mV;leaves\n",
    ],
)
def test_headings_in_two_rows_are_refused_with_what_to_do(rows: str) -> None:
    """The second row was taken as a reading without a code, and its words as numbers."""
    text = f"{rows}{CODES[0]};1;0.41;1.3\n{CODES[1]};1;0.42;1.4\n"
    with pytest.raises(IngestError) as problem:
        read_file(text.encode(), "a.csv", cells(), plan_of(cells()))
    assert problem.value.code == "ingest.two_rows_of_headings"
    assert problem.value.where == "a.csv, row 2"
    assert "'open-circuit voltage (V)'" in problem.value.do
