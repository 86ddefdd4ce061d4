"""Tables of readings: separators, decimal marks, letters, headings, units, codes."""

from __future__ import annotations

import string
from decimal import Decimal

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
    changed,
    plan_of,
    plants,
    table,
)
from trials.errors import IngestError
from trials.ingest import read_file
from trials.ingest.text import decoded
from trials.record import Intake, Question

STUDY = cells()
PLAN = plan_of(STUDY)
ALL = ("item", "reading", *CELL_HEADINGS)


def _read(content: str | bytes, name: str = "a.csv") -> Intake:
    return read_file(content if isinstance(content, bytes) else content.encode(), name, STUDY, PLAN)


def _numbers(intake: Intake) -> dict[tuple[str, int | None], dict[str, Decimal | None]]:
    return {
        (row.item, row.reading): {cell.column: cell.value for cell in row.cells}
        for row in intake.rows
    }


CLEAN = {
    (row[0], int(row[1])): dict(zip((VOC, ISC, LOAD, LIGHT), map(Decimal, row[2:]), strict=True))
    for row in cell_rows()
}


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_separators_line_ends_and_letters(delimiter: str, ending: str, coding: str) -> None:
    text = table(cell_rows(), delimiter=delimiter).replace("\n", ending)
    intake = _read(text.encode(coding))
    assert _numbers(intake) == CLEAN
    assert intake.questions == ()


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_decimal_commas_are_read_and_told(delimiter: str) -> None:
    intake = _read(table(cell_rows(), delimiter=delimiter, decimal=","))
    assert _numbers(intake) == CLEAN
    assert intake.questions == ()
    assert f"'{VOC} (V)': 24 numbers were read with a comma as the decimal mark." in intake.notes
    assert intake.rows[0].cells[0].text == "0,403"


def test_decimal_commas_in_quotation_marks() -> None:
    rows = [[*row[:2], *(f'"{cell.replace(".", ",")}"' for cell in row[2:])] for row in cell_rows()]
    assert _numbers(_read(table(rows))) == CLEAN


def test_order_of_rows_and_columns_does_not_matter() -> None:
    order = [3, 5, 0, 2, 1, 4]
    rows = [[row[i] for i in order] for row in reversed(cell_rows())]
    assert _numbers(_read(table(rows, [ALL[i] for i in order]))) == CLEAN


@pytest.mark.parametrize("item", ["item", "Item", "code", "cell", "Cell code", "ITEM CODE"])
def test_names_of_the_item_column(item: str) -> None:
    assert _numbers(_read(table(cell_rows(), [item, *ALL[1:]]))) == CLEAN


def test_codes_in_small_letters_with_blanks_and_apostrophes() -> None:
    rows = [[f" '{row[0].lower()} ", *row[1:]] for row in cell_rows()]
    assert _numbers(_read(table(rows))) == CLEAN


def test_headings_by_short_names_and_other_units() -> None:
    rows = [
        [row[0], row[1], f"{Decimal(row[2]) * 1000:f}", f"{Decimal(row[3]) * 1000:f}", row[4],
         f"{Decimal(row[5]) / 10:f}"]
        for row in cell_rows()
    ]  # fmt: skip
    headings = ["item", "reading", "Voc [mV]", "isc_uA", "load_voltage_V", "irradiance (mW/cm²)"]
    intake = _read(table(rows, headings))
    assert _numbers(intake) == CLEAN
    assert intake.questions == ()
    assert "'isc_uA' was turned from µA into mA." in intake.notes
    assert "'irradiance (mW/cm²)' was turned from mW/cm² into W/m²." in intake.notes
    assert intake.rows[0].cells[1].text == "1130.00"
    assert intake.rows[0].cells[1].unit == "uA"


def test_a_heading_without_unit_is_taken_and_told() -> None:
    intake = _read(table(cell_rows(), ["item", "reading", VOC, *CELL_HEADINGS[1:]]))
    assert _numbers(intake) == CLEAN
    assert f"'{VOC}' gives no unit: its numbers are taken as V." in intake.notes


def test_a_heading_with_a_unit_of_another_kind_is_asked() -> None:
    intake = _read(table(cell_rows(), ["item", "reading", f"{VOC} (mA)", *CELL_HEADINGS[1:]]))
    question = next(q for q in intake.questions if q.code == "other_unit")
    assert (question.column, question.proposal, question.must) == (VOC, "V", True)
    assert len(question.places) == 24
    assert {row.cells[0].value for row in intake.rows} == {None}
    assert intake.rows[0].cells[0].number == Decimal("0.403")


def test_units_behind_the_numbers() -> None:
    rows = [[*row[:2], f"{Decimal(row[2]) * 1000:f} mV", f"{row[3]}mA", *row[4:]]
            for row in cell_rows()]  # fmt: skip
    intake = _read(table(rows))
    assert _numbers(intake) == CLEAN
    (told,) = [note for note in intake.notes if "into V" in note]
    assert told.startswith(
        f"'{VOC} (V)': typed with another unit and turned into V: 403.000 mV = 0.403000 V"
    )
    assert told.endswith("and 20 more.")
    assert not any("into mA" in note for note in intake.notes)  # the column's own unit


def test_readings_without_numbers_are_counted() -> None:
    rows = [[row[0], *row[2:]] for row in cell_rows()]
    assert _numbers(_read(table(rows, ["item", *CELL_HEADINGS]))) == CLEAN


def test_lines_above_headings_again_blank_lines_and_footers() -> None:
    lines = table(cell_rows()).splitlines()
    text = "\n".join(
        ["Readings of the third lesson,,,", "", *lines[:9], "", lines[0], *lines[9:],
         "", "mean,,0.42,1.2,0.3,800", "measured by team T3 on a cloudy day,,,"]
    )  # fmt: skip
    intake = _read(text)
    assert _numbers(intake) == CLEAN
    assert intake.questions == ()
    assert "a.csv: the heading row stands there 2 times." in intake.notes
    assert "a.csv, row 31: 'mean' is taken as a summary and was not read." in intake.notes
    assert any("measured by team T3" in note for note in intake.notes)


def test_row_numbers_are_those_of_the_lines_also_after_broken_cells() -> None:
    lines = table(cell_rows(), [*ALL, "note"]).splitlines()
    lines[1] += ',"two\nlines"'
    intake = _read("\n".join(lines))
    assert [row.place.row for row in intake.rows[:3]] == [2, 4, 5]
    assert intake.rows[0].note == "two\nlines"


def test_unneeded_columns_are_named() -> None:
    rows = [[*row, "blue"] for row in cell_rows()]
    intake = _read(table(rows, [*ALL, "colour"]))
    assert "Not needed here, and kept only in the file itself: 'colour'." in intake.notes


def test_missing_marks_are_no_numbers() -> None:
    for mark in ("", "-", "–", "n/a", "NA", "?"):
        rows = changed(cell_rows(), "DG41", 2, 3, mark)  # the current is not needed for anything
        intake = _read(table(rows))
        assert intake.questions == ()
        assert ISC not in _numbers(intake)["DG41", 2]


@pytest.mark.parametrize(
    ("text", "proposal"),
    [("O.409", "0.409"), ("~0.409", "0.409"), ("0.4o9", "0.409"), ("abc", ""), ("<0.01", ""),
     ("0.4.1", ""), ("0.41 ok", ""), ("12/3", "")],
)  # fmt: skip
def test_texts_where_a_number_should_be(text: str, proposal: str) -> None:
    intake = _read(table(changed(cell_rows(), "DG41", 1, 2, text)))
    (question,) = intake.questions
    assert (question.code, question.found, question.row, question.item, question.reading) == (
        "not_a_number", text, 6, "DG41", 1
    )  # fmt: skip
    assert (question.column, question.must, question.proposal) == (VOC, True, proposal)
    assert question.why == "A number is needed here."
    do = f"correct {proposal}" if proposal else "correct and the right number in V"
    assert question.do == f"{do}, if you know; set-aside goes on without it."
    assert question.answers == ("correct", "set-aside")
    assert intake.rows[4].cells[0].text == text


def test_a_unit_of_another_kind_behind_a_number() -> None:
    (question,) = _read(table(changed(cell_rows(), "DG41", 1, 2, "0.409 mA"))).questions
    assert (question.code, question.found) == ("other_unit", "0.409 mA")
    assert question.why == "This unit can't be turned into V."


def test_numbers_that_can_be_read_in_two_ways() -> None:
    # nothing else in the file says what a comma is
    rows = [[code, f"1,{234 + i}"] for i, code in enumerate(CODES)]
    intake = _read(table(rows, ["item", f"{ISC} (mA)"], ";"))
    question = next(q for q in intake.questions if q.code == "decimal_mark")
    assert (len(question.places), question.proposal, question.must) == (12, "x1000", False)
    assert intake.rows[0].cells[0].value == Decimal("1.234")
    # a proven decimal comma elsewhere in the file settles it
    rows[0][1] = "1,23"
    intake = _read(table(rows, ["item", f"{ISC} (mA)"], ";"))
    assert "decimal_mark" not in [q.code for q in intake.questions]
    # so does a proven decimal point, the other way
    rows[0][1] = "1230.5"
    intake = _read(table(rows, ["item", f"{ISC} (mA)"], ";"))
    assert "decimal_mark" not in [q.code for q in intake.questions]
    assert intake.rows[1].cells[0].value == 1235


def test_a_point_with_three_places_in_a_file_of_commas_is_asked() -> None:
    rows = changed(cell_rows(), "DG41", 1, 3, "1 201")
    text = table(rows, delimiter=";", decimal=",").replace("1 201", "1.201")
    (question,) = _read(text).questions
    assert (question.code, question.found, question.proposal) == ("decimal_mark", "1.201", "1201")


@pytest.mark.parametrize(
    ("code", "near"), [("DG4I", "DG41"), ("D641", "DG41"), ("DG14", "DG41"), ("ZZZZ", "")]
)
def test_unknown_codes_are_asked_with_the_nearest(code: str, near: str) -> None:
    rows = [[code if cell == "DG41" else cell for cell in row] for row in cell_rows()]
    (question,) = _read(table(rows)).questions
    assert (question.code, question.item, question.proposal) == ("unknown_item", code, near)
    assert (question.row, len(question.places), question.must) == (6, 2, True)


def test_rows_without_code_go_on_from_the_row_above_or_are_asked() -> None:
    rows = [[row[0] if row[1] == "1" else "", *row[1:]] for row in cell_rows()]
    intake = _read(table(rows))
    assert _numbers(intake) == CLEAN
    assert any("12 rows without a code were read as further" in note for note in intake.notes)
    intake = _read(table([[row[0], *row[2:]] for row in rows], [ALL[0], *ALL[2:]]))
    assert {q.code for q in intake.questions} == {"no_item"}
    assert [q.proposal for q in intake.questions] == list(CODES)


def test_did_it_work() -> None:
    said = {"BD27": "yes", "CF34": "no", "DG41": "did not work", "FH58": "maybe", "GJ65": ""}
    rows = [[*row, said.get(row[0], "x")] for row in cell_rows(readings=1)]
    intake = _read(table(rows, [*ALL, "did it work?"]))
    assert [row.worked for row in intake.rows[:6]] == [True, False, False, None, None, True]
    (question,) = intake.questions
    assert (question.code, question.found, question.acts_on) == (
        "worked_unclear", "maybe", "worked"
    )  # fmt: skip


def test_a_word_in_place_of_a_number_can_say_that_it_did_not_work() -> None:
    rows = changed(cell_rows(readings=1), "DG41", 1, 2, "did not work")
    intake = _read(table(rows))
    assert intake.rows[2].worked is False
    assert intake.questions == ()


def test_formulas_in_texts_stay_texts() -> None:
    rows = [[*row, '"=HYPERLINK(""http://x"")"'] for row in cell_rows()]
    intake = _read(table(rows, [*ALL, "note"]))
    assert intake.rows[0].note == '=HYPERLINK("http://x")'
    (question,) = _read(table(changed(cell_rows(), "DG41", 1, 2, "=1+1"))).questions
    assert (question.code, question.found) == ("not_a_number", "=1+1")


def test_groups_in_columns_are_read() -> None:
    rows = [[*row, "2", "Birch"] for row in cell_rows(["KM86"])]
    intake = _read(table(rows, [*ALL, "session", "team"]))
    assert dict(intake.rows[0].groups) == {"session": "2", "team": "Birch"}
    assert intake.questions == ()


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "ingest.empty"),
        (b" \n \n", "ingest.empty"),
        (b"\xef\xbb\xbf", "ingest.empty"),
        (bytes(range(256)) * 4, "ingest.binary"),
        (b"%PDF-1.7 ...", "ingest.kind"),
        (b"\x89PNG....", "ingest.kind"),
        (b"\xd0\xcf\x11\xe0....", "ingest.kind"),
        (b"\xff\xfea", "ingest.letters"),
        (b"hello there\nthis is a letter\n", "ingest.no_headings"),
        (b"item,colour\nBD27,blue\n", "ingest.no_headings"),
        (b"item,reading,colour\nBD27,1,blue\n", "ingest.no_columns"),
        (b"item,Voc (V),voc_mV\nBD27,0.4,400\n", "ingest.column_twice"),
        (b"item,Voc (V)\nXX,0.4\nYY,0.4\n", "ingest.other_items"),
        (b"item,Voc (V)\nBD27,0,403\nCF34,0,41\n", "ingest.split_lines"),
        (b'item,Voc (V)\nBD27,"0.4' + b"x" * 200_000, "ingest.long_cell"),
        (b"item," + b"," * 300, "ingest.too_wide"),
        (b"item,Voc (V)\n" + b"BD27,0.4\n" * 1_500_001, "ingest.too_long"),
        (b"item,Voc (V)\n" + b"BD27,0.4\r" * 1_500_001, "ingest.too_large"),
        (b"item,Voc (V)\n" + b"x" * 10_000_001, "ingest.too_large"),
    ],
)
def test_files_that_can_not_be_taken_in(content: bytes, code: str) -> None:
    with pytest.raises(IngestError) as problem:
        _read(content)
    assert problem.value.code == code
    assert problem.value.where.startswith("a.csv")
    assert problem.value.found
    assert problem.value.allowed
    assert problem.value.do


def test_the_message_about_missing_headings_names_the_right_ones() -> None:
    with pytest.raises(IngestError) as problem:
        _read(b"hello,there\n1,2\n")
    assert problem.value.found == "hello | there"
    assert problem.value.allowed == (
        "a row of headings with 'item' and at least one of 'open-circuit voltage (V)', "
        "'short-circuit current (mA)', 'load voltage (V)', 'light (W/m^2)'"
    )


def test_only_blanks_are_no_readings() -> None:
    rows = [[code, "1", "", "", "", ""] for code in CODES]
    intake = _read(table(rows))
    assert intake.rows == ()
    assert "a.csv: no readings are filled in yet." in intake.notes


def test_a_study_without_physics() -> None:
    study = plants()
    text = "pot;height (cm);leaves\nBD27;11,2;6\nBD27;11,3;\nCF34;9,8;5\n"
    intake = read_file(text.encode(), "b.csv", study, plan_of(study))
    assert _numbers(intake) == {
        ("BD27", 1): {"height": Decimal("112"), "leaves": Decimal(6)},
        ("BD27", 2): {"height": Decimal("113")},
        ("CF34", 1): {"height": Decimal("98"), "leaves": Decimal(5)},
    }
    assert intake.questions == ()


_NUMBER = st.decimals(-(10**4), 10**4, places=3)


@settings(derandomize=True, max_examples=60)
@given(
    st.lists(_NUMBER, min_size=12, max_size=12),
    st.sampled_from([(",", "."), (";", ","), ("\t", ","), (";", ".")]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    st.permutations(range(12)),
)
def test_what_is_written_is_read(
    numbers: list[Decimal], marks: tuple[str, str], coding: str, order: list[int]
) -> None:
    delimiter, decimal = marks
    rows = [[CODES[i], f"{numbers[i]:f}"] for i in order]
    rows.append([CODES[0], "0.5"])  # settles what the decimal mark is
    text = table(rows, ["item", f"{VOC} (V)"], delimiter, decimal=decimal)
    read = {(r.item, r.reading): r.cells[0].value for r in _read(text.encode(coding)).rows}
    assert read == {(CODES[i], 1): numbers[i] for i in range(12)} | {(CODES[0], 2): Decimal("0.5")}


def _survives(content: bytes) -> None:
    """Only an IngestError may come out, with all that is needed to mend the file."""
    told: IngestError | None = None
    questions: tuple[Question, ...] = ()
    try:
        questions = _read(content).questions
    except IngestError as problem:
        told = problem
    assert told is None or (told.code.startswith("ingest.") and told.do)
    assert all(question.do and question.why for question in questions)


@settings(derandomize=True, max_examples=150, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes(content: bytes) -> None:
    _survives(content)
    _survives(b"item;reading;Voc (V);light (W/m2)\n" + content)


@settings(derandomize=True, max_examples=150, deadline=None)
@given(
    st.lists(
        st.lists(
            st.one_of(
                st.sampled_from([*CODES, "1", "0,41", "1,234", "-1", "1e9", "4e-20", "item", "no",
                                 "410 mV", "mean", "?", "0.41", "800", "NaN", "inf", "1E400"]),
                st.text(string.printable, max_size=6),
            ),
            min_size=1,
            max_size=7,
        ),
        max_size=12,
    ),
    st.sampled_from(",;\t"),
)  # fmt: skip
def test_any_table(rows: list[list[str]], delimiter: str) -> None:
    _survives(table(rows, [*ALL, "note"], delimiter).encode())


def test_a_time_is_kept_as_written() -> None:
    rows = [[*cell_row("BD27"), "14:05"]]
    assert _read(table(rows, [*ALL, "time"])).rows[0].time == "14:05"


@pytest.mark.parametrize(
    ("heads", "said"),
    [
        (("time", "clock"), ("14:05", "14:09")),
        (("note", "comment"), ("scratched", "warm")),
        (("time", "time"), ("14:05", "14:09")),
        (("did it work?", "works"), ("yes", "no")),
    ],
)
def test_of_two_columns_for_the_same_the_first_is_read_and_that_is_told(
    heads: tuple[str, str], said: tuple[str, str]
) -> None:
    intake = _read(table([[*cell_row("BD27"), *said]], [*ALL, *heads]))
    (row,) = intake.rows
    assert said[0] in (row.time, row.note) or row.worked is True
    (told,) = [note for note in intake.notes if "only the first was read" in note]
    assert told.startswith(f"The columns '{heads[0]}' and '{heads[1]}' are for the same thing")
    once = _read(table([[*cell_row("BD27"), said[0]]], [*ALL, heads[0]]))
    assert not any("the first was read" in note for note in once.notes)


def test_a_logger_may_write_one_short_line_a_reading() -> None:
    """Long tables are taken if each line is a row of its own; anything else of that size is not."""
    line = f"BD27,12:00:00,{'0.4031':>80}\n"
    content = f"item,time,{VOC} (V)\n{line * 110_000}".encode()
    assert len(content) > 10_000_000
    text, note = decoded(content, "a.csv")
    assert (len(text), note) == (len(content), "")
    for spoiled in (
        content.replace(b"\n", b";", 2000),  # one line of many thousand letters
        content.replace(b"\nBD27", b'\n"BD27', 1),  # a cell that goes on over lines
        content + b"\x00",
    ):
        with pytest.raises(IngestError) as problem:
            decoded(spoiled, "a.csv")
        assert (problem.value.code, problem.value.found) == ("ingest.too_large", "more than 10 MB")
