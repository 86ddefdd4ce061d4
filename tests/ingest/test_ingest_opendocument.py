"""OpenDocument spreadsheets: as LibreOffice writes them, made by hand, and made to do harm.

The format is OASIS Open Document Format 1.2, part 1 (ISO/IEC 26300-1:2015).
"""

from __future__ import annotations

import contextlib
import datetime
import io
import time
from decimal import Decimal
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from tests.ingest.bench import (
    CELL_HEADINGS,
    CODES,
    VOC,
    cell_rows,
    cells,
    ods,
    ods_body,
    ods_parts,
    plan_of,
    resaved,
    workbook,
)
from trials.errors import IngestError
from trials.ingest import opendocument as adapter
from trials.ingest import read_file, workbook_layout
from trials.ingest.grid import MOST_COLUMNS, MOST_ROWS, Line, Raw, Sheet
from trials.ingest.workbook import sheets_of

STUDY = cells()
PLAN = plan_of(STUDY)
ROWS: list[list[str | float]] = [[row[0], int(row[1]), *map(float, row[2:])] for row in cell_rows()]
TABLE: list[list[str | float]] = [["item", "reading", *CELL_HEADINGS], *ROWS]


def _xlsx(fill: Any) -> bytes:
    book = Workbook()
    fill(book.active)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _texts(sheet: Sheet) -> list[list[str]]:
    return [[cell.text for cell in line.cells] for line in sheet.lines]


def test_a_table_made_by_hand_reads_as_the_same_table_in_the_other_format() -> None:
    def fill(page: Any) -> None:
        for row in TABLE:
            page.append(row)

    other = read_file(_xlsx(fill), "a.xlsx", STUDY, PLAN)
    mine = read_file(ods({"Sheet": TABLE}), "a.xlsx", STUDY, PLAN)
    assert mine.rows == other.rows
    assert (mine.kind, mine.questions, mine.notes) == ("workbook", (), other.notes)


@pytest.mark.needs("soffice")
def test_what_libreoffice_writes_reads_back_exactly(tmp_path: Path) -> None:
    """Every kind of cell, against the same workbook read by openpyxl and by pandas."""
    # up to 15 figures, which is what LibreOffice keeps of a number
    numbers = [0.403, 1e-7, 123456.789, 0.333333333333333, -2.5e-12, 6.02e23, 123456789012345, 0.0]

    def fill(page: Any) -> None:
        page.append(["kind", "cell"])
        for number in numbers:
            page.append(["number", number])
        page.append(["sum", "=B2*10"])
        page.append(["text", "  two  blanks\nand a line "])
        page.append(["worked", True])
        page.append(["day", datetime.date(2031, 5, 17)])
        page.append(["moment", datetime.datetime(2031, 5, 17, 9, 5)])
        page.append(["clock", datetime.time(14, 5)])
        page.append(["share", 0.125])
        page.cell(page.max_row, 2).number_format = "0.0%"
        page.cell(40, 5).value = "far away"
        page.merge_cells("B2:C2")
        page.parent.create_sheet("more <&>'\"")["A1"] = "µ Ω ² − 漢"

    typed = _xlsx(fill)
    ours = sheets_of(resaved(typed, "kinds.xlsx", "ods", tmp_path), "kinds.ods")
    assert [sheet.name for sheet in ours] == ["Sheet", "more <&>'\""]
    assert _texts(ours[1]) == [["µ Ω ² − 漢"]]
    page, *_ = ours
    found = {line.cells[0].text: line.at(1) for line in page.lines if line.cells[0].text}
    cells_ = [line.at(1) for line in page.lines[1 : 1 + len(numbers)]]
    assert {cell.kind for cell in cells_} == {"number"}
    assert [float(cell.text) for cell in cells_] == numbers
    frame = pd.read_excel(io.BytesIO(typed), sheet_name="Sheet", header=None)
    assert [float(cell.text) for cell in cells_] == frame[1].tolist()[1 : 1 + len(numbers)]
    assert found["sum"] == Raw("4.03", "number")  # worked out by the program that saved it
    assert found["text"].text == "two  blanks\nand a line"
    assert found["worked"].text == "1"  # LibreOffice makes =TRUE() of it, which is 1
    assert found["day"] == Raw("2031-05-17 00:00:00", "date")
    assert found["moment"] == Raw("2031-05-17 09:05:00", "date")
    assert found["clock"] == Raw("14:05", "date")
    assert found["share"] == Raw("0.125", "number")
    assert page.lines[-1] == Line(40, (*[Raw("")] * 4, Raw("far away")))
    back: Any = load_workbook(
        io.BytesIO(resaved(typed, "kinds.xlsx", "xlsx", tmp_path)), data_only=True
    )
    assert [float(cell.text) for cell in cells_] == [
        back.worksheets[0].cell(row, 2).value for row in range(2, 2 + len(numbers))
    ]


@pytest.mark.needs("soffice")
def test_our_own_entry_workbook_saved_as_ods_knows_its_plan(tmp_path: Path) -> None:
    sheets = workbook_layout.measuring_sheets(STUDY, PLAN)
    written = {
        sheet.title: [
            [*row, "14:05", "yes", "fine"]
            for row in ROWS
            if row[0] in sheet.items
        ]
        for sheet in sheets
    }  # fmt: skip
    typed = workbook(STUDY, PLAN, written)
    before = read_file(typed, "alder.xlsx", STUDY, PLAN)
    after = read_file(resaved(typed, "alder.xlsx", "ods", tmp_path), "alder.xlsx", STUDY, PLAN)
    assert after.rows == before.rows
    assert (after.questions, after.notes) == (before.questions, before.notes)
    other = workbook(STUDY, PLAN, written, digest="0" * 64)
    with pytest.raises(IngestError) as problem:
        read_file(resaved(other, "other.xlsx", "ods", tmp_path), "other.ods", STUDY, PLAN)
    assert problem.value.code == "ingest.other_plan"


def test_numbers_are_exact_and_keep_their_text() -> None:
    cell = '<table:table-cell office:value-type="float" office:value="{}"/>'
    values = ["0.403000000000000001", "4.03E-1", "1000", "0.1"]
    rows = "".join(
        f"<table:table-row><table:table-cell><text:p>{code}</text:p></table:table-cell>"
        f"{cell.format(value)}</table:table-row>"
        for code, value in zip(CODES, values, strict=False)
    )
    head = (
        "<table:table-row><table:table-cell><text:p>item</text:p></table:table-cell>"
        f"<table:table-cell><text:p>{VOC} (mV)</text:p></table:table-cell></table:table-row>"
    )
    intake = read_file(
        ods_body(f'<table:table table:name="S">{head}{rows}</table:table>'), "a.ods", STUDY, PLAN
    )
    assert [row.cells[0].number for row in intake.rows] == list(map(Decimal, values))
    assert [row.cells[0].text for row in intake.rows] == [values[0], "0.403", "1000", "0.1"]


def test_what_stands_beside_the_cells_is_no_cell() -> None:
    """Pinned notes, sheets copied from other files, deleted cells, tables inside cells."""
    inner = '<table:table table:name="inner"><table:table-row/></table:table>'
    body = (
        '<table:tracked-changes><table:table-cell office:value-type="float" office:value="9"/>'
        "</table:tracked-changes>"
        '<table:table table:name="copy"><table:table-source/><table:table-row><table:table-cell>'
        "<text:p>elsewhere</text:p></table:table-cell></table:table-row></table:table>"
        '<table:table table:name="S"><table:table-row>'
        "<table:table-cell><office:annotation><text:p>a note</text:p></office:annotation>"
        '<text:p>it<text:s text:c="2"/>em \n x<text:span>y</text:span></text:p>'
        f"{inner}</table:table-cell>"
        '<table:table-cell table:formula="of:=[.A1]" office:value-type="string">'
        "<text:p>#REF!</text:p></table:table-cell>"
        '<table:table-cell office:value-type="float" office:value="nan"/>'
        "</table:table-row></table:table>"
    ).replace(
        '<table:table-cell office:value-type="float" office:value="nan"/>',
        "<table:covered-table-cell><text:p>hidden</text:p></table:covered-table-cell>",
    )
    assert sheets_of(ods_body(body), "a.ods") == (
        Sheet("S", (Line(1, (Raw("it  em xy"), Raw("=[.A1]", "formula"), Raw("hidden"))),)),
    )


def test_empty_cells_and_rows_repeated_without_end_cost_nothing() -> None:
    row = "<table:table-row{}>{}</table:table-row>"
    far = ' table:number-rows-repeated="1048570"'
    wide = '<table:table-cell table:number-columns-repeated="16380"/>'
    body = '<table:table table:name="S">' + (
        row.format("", "<table:table-cell><text:p>a</text:p></table:table-cell>" + wide)
        + row.format(' table:number-rows-repeated="3"',
                     '<table:table-cell table:number-columns-repeated="2"><text:p>b</text:p>'
                     "</table:table-cell>")
        + row.format(far, wide)
    ) + "</table:table>"  # fmt: skip
    start = time.process_time()
    (sheet,) = sheets_of(ods_body(body), "a.ods")
    assert _texts(sheet) == [["a"], ["b", "b"], ["b", "b"], ["b", "b"]]
    assert [line.number for line in sheet.lines] == [1, 2, 3, 4]
    assert time.process_time() - start < 1


def _sheet(row: str, cell: str = "<text:p>a</text:p>", columns: str = "") -> str:
    return (
        f'<table:table table:name="S"><table:table-row {row}><table:table-cell {columns}>{cell}'
        "</table:table-cell></table:table-row></table:table>"
    )


LAUGHS = "<!DOCTYPE x [" + '<!ENTITY a "ha">' + "".join(
    f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi", strict=True)
) + "]>"  # fmt: skip


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (ods_body(_sheet(f'table:number-rows-repeated="{MOST_ROWS + 1}"')), "ingest.too_long"),
        (ods_body(_sheet('table:number-rows-repeated="1048576"')), "ingest.too_long"),
        (ods_body(_sheet("", columns=f'table:number-columns-repeated="{MOST_COLUMNS + 1}"')),
         "ingest.too_wide"),
        (ods_body(_sheet('table:number-rows-repeated="-1"')), "ingest.broken_workbook"),
        (ods_body(_sheet('table:number-rows-repeated="9999999999999"')), "ingest.broken_workbook"),
        (ods_body(_sheet("", "<a>" * 100_000 + "</a>" * 100_000)), "ingest.broken_workbook"),
        (ods_body(_sheet("", "<text:p>&i;</text:p>"), before=LAUGHS), "ingest.broken_workbook"),
        (ods_body(_sheet("", "<text:p>&x;</text:p>"),
                  before='<!DOCTYPE x [<!ENTITY x SYSTEM "file:///etc/hostname">]>'),
         "ingest.broken_workbook"),
        (ods_body("<table:table>"), "ingest.broken_workbook"),
        (ods_body("".join(f'<table:table table:name="{n}"/>' for n in range(300))),
         "ingest.too_large"),
        (ods_parts({"content.xml": "<a/>"}, "application/vnd.oasis.opendocument.text"),
         "ingest.not_a_workbook"),
        (ods_parts({"styles.xml": "<a/>"}), "ingest.broken_workbook"),
        (ods_parts({"content.xml": "x",
                    "META-INF/manifest.xml": "<manifest:encryption-data/>"}), "ingest.encrypted"),
        (ods_parts({"encrypted-package": "x"}), "ingest.encrypted"),
        (ods_body(""), "ingest.no_headings"),
    ],
)  # fmt: skip
def test_files_that_can_not_be_taken_in(content: bytes, code: str) -> None:
    start = time.process_time()
    with pytest.raises(IngestError) as problem:
        read_file(content, "a.ods", STUDY, PLAN)
    assert problem.value.code == code
    assert problem.value.allowed
    assert problem.value.do
    assert time.process_time() - start < 1


BOMBS = {
    "one part": "<a>" + " " * 70_000_000 + "</a>",
    "a long name": f'<table:table table:name="{"x" * 30_000_000}"/>',
    "empty rows": f'<table:table table:name="S">{"<table:table-row/>" * 2_000_000}</table:table>',
    "lines in a cell": _sheet("", "<text:p/>" * 2_000_000),
    "cells": '<table:table table:name="S">'
    + ("<table:table-row>" + "<table:table-cell><text:p>a</text:p></table:table-cell>" * 200
       + "</table:table-row>") * 2000 + "</table:table>",
}  # fmt: skip


@pytest.mark.parametrize("name", BOMBS)
def test_a_file_that_unfolds_to_far_too_much_is_refused_at_once(name: str) -> None:
    content = ods_body(BOMBS[name])
    start = time.process_time()
    with pytest.raises(IngestError) as problem:
        read_file(content, "a.ods", STUDY, PLAN)
    assert problem.value.code == "ingest.too_large"
    assert time.process_time() - start < 1


def test_parts_are_counted_while_they_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """As they would be in a file too jumbled to shrink much."""
    for limit in ("MOST_CELLS", "MOST_ELEMENTS", "MOST_CONTENT"):
        with monkeypatch.context() as patch:
            patch.setattr(adapter, limit, 100)
            with pytest.raises(IngestError) as problem:
                read_file(WHOLE, "a.ods", STUDY, PLAN)
            assert problem.value.code == "ingest.too_large"


def test_a_cell_of_too_many_lines_is_refused() -> None:
    with pytest.raises(IngestError) as problem:
        read_file(ods_body(_sheet("", "<text:p/>" * 40_000)), "a.ods", STUDY, PLAN)
    assert problem.value.code == "ingest.too_large"


@settings(max_examples=300, deadline=None)
@given(place=st.integers(0, 10_000), byte=st.integers(0, 255), cut=st.booleans())
def test_damage_anywhere_is_an_error_not_a_crash(place: int, byte: int, cut: bool) -> None:
    content = bytearray(WHOLE)
    place %= len(content)
    if cut:
        del content[place:]
    else:
        content[place] = byte
    with contextlib.suppress(IngestError):
        read_file(bytes(content), "a.ods", STUDY, PLAN)


WHOLE = ods({"S": TABLE})


@settings(max_examples=200, deadline=None)
@given(
    text=st.lists(
        st.sampled_from([*'<>&/="ab: ', "<table:table-row>", "<text:p>", "</text:p>", "<b/>"]),
        max_size=30,
    ).map("".join)
)
def test_any_xml_is_an_error_not_a_crash(text: str) -> None:
    with contextlib.suppress(IngestError):
        read_file(ods_body(_sheet("", text)), "a.ods", STUDY, PLAN)


def test_a_workbook_of_the_other_format_beyond_the_limits_is_refused_not_cut() -> None:
    def long(page: Any) -> None:
        page.cell(MOST_ROWS + 1, 1).value = "x"

    def wide(page: Any) -> None:
        page.cell(3, MOST_COLUMNS + 1).value = "x"

    for fill, code in ((long, "ingest.too_long"), (wide, "ingest.too_wide")):
        with pytest.raises(IngestError) as problem:
            read_file(_xlsx(fill), "a.xlsx", STUDY, PLAN)
        assert problem.value.code == code
