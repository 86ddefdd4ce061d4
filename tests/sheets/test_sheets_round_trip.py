"""The entry workbook, filled in as a class would, and read back by the reader of measurements."""

from __future__ import annotations

import datetime
import io
import subprocess
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from trials.design.values import Plan
from trials.errors import IngestError
from trials.files import csv_text
from trials.ingest.reader import read_file
from trials.sheets.parts import Job
from trials.sheets.workbook import entry_workbook
from trials.study.values import Study
from trials.words import workbook as words

VOC = "open-circuit voltage"
TAB = "1 alder"


def _opened(cells: tuple[Study, Plan]) -> tuple[Any, Any, int]:
    book: Any = load_workbook(io.BytesIO(entry_workbook(Job(*cells, "a4"))))
    page = book[TAB]
    head = next(row for row in range(1, 9) if page.cell(row, 1).value == words.ITEM)
    return book, page, head


def _saved(book: Any) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_an_empty_workbook_holds_no_reading(cells: tuple[Study, Plan]) -> None:
    intake = read_file(entry_workbook(Job(*cells, "a4")), "empty.xlsx", *cells)
    assert intake.rows == ()
    assert intake.questions == ()


def test_what_is_typed_comes_back(cells: tuple[Study, Plan]) -> None:
    book, page, head = _opened(cells)
    item = page.cell(head + 1, 1).value
    for reading, volts in enumerate((0.412, 0.41, "0,409")):  # one with a decimal comma, as text
        row = head + 1 + reading
        for place, value in enumerate((volts, 1.25, 0.3, 801), start=3):
            page.cell(row, place).value = value
        page.cell(row, 7).value = datetime.time(14, 5 + reading)
    page.cell(head + 1, 8).value = "yes"
    page.cell(head + 1, 9).value = "=cmd"
    page.cell(head + 1, 9).data_type = "s"
    spare = head + 1 + 12  # four cells of three readings each, then the spare lines
    page.cell(spare, 1).value = item
    page.cell(spare, 3).value = 0.411
    intake = read_file(_saved(book), "alder.xlsx", *cells)
    rows = [row for row in intake.rows if row.item == item]
    typed = [cell.value for row in rows if (cell := row.cell(VOC)) is not None]
    assert typed == [
        Decimal("0.412"),
        Decimal("0.41"),
        Decimal("0.409"),
        Decimal("0.411"),
    ]
    assert {row.item for row in intake.rows} == {item}
    assert rows[0].time == "14:05"
    assert rows[0].worked is True
    assert rows[0].note.endswith("=cmd")
    assert dict(rows[0].groups) == {"session": "1", "team": "alder"}


def test_a_struck_line_is_no_reading_and_what_was_typed_before_counts(
    cells: tuple[Study, Plan],
) -> None:
    book, page, head = _opened(cells)
    for row in range(head + 1, head + 7):  # two cells of three readings each
        page.cell(row, 3).value = 0.4 + row / 1000
    typed = _saved(book)
    lost, unmade, kept = (page.cell(head + at, 1).value for at in (1, 4, 7))
    job = Job(*cells, "a4", (lost,), (unmade,))
    after = load_workbook(io.BytesIO(entry_workbook(job)))[TAB]
    for at, strikes in ((1, True), (3, True), (4, True), (7, False)):
        assert bool(after.cell(head + at, 1).font.strike) == strikes
        assert all(after.cell(head + at, c).protection.locked == strikes for c in range(3, 10))
    assert [after.cell(head + at, 10).value for at in (1, 4, 7)] == ["lost", "not made", None]
    intake = read_file(entry_workbook(job), "empty.xlsx", *cells)
    assert (intake.rows, intake.questions) == ((), ())
    assert intake.notes == ("empty.xlsx: no readings are filled in yet.",)
    # every code stands where it stood, so the workbook of before reads as ever
    codes = [page.cell(row, 1).value for row in range(head, head + 13)]
    assert codes == [after.cell(row, 1).value for row in range(head, head + 13)]
    before = read_file(typed, "before.xlsx", *cells)
    assert {row.item for row in before.rows} == {lost, unmade}
    # and there is a line to type a reading that there is all the same
    again: Any = load_workbook(io.BytesIO(entry_workbook(job)))
    again[TAB].cell(head + 13, 1).value = lost
    again[TAB].cell(head + 13, 3).value = 0.411
    again[TAB].cell(head + 7, 3).value = 0.42
    rows = read_file(_saved(again), "after.xlsx", *cells).rows
    assert [row.item for row in rows] == [kept, lost]
    about = " ".join(str(cell.value) for (cell,) in again[words.ABOUT]["B1:B30"])
    assert f"Lost: {lost}. Not made, as the team was absent: {unmade}." in about


def _resaved(content: bytes, name: str, folder: Path) -> bytes:
    """Return a file as LibreOffice saves it as XLSX, with a profile of its own."""
    (folder / name).write_bytes(content)
    out = folder / "saved"
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless",
         "--convert-to", "xlsx", "--outdir", str(out), str(folder / name)],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    return (out / name).with_suffix(".xlsx").read_bytes()


@pytest.mark.needs("soffice")
def test_a_workbook_saved_by_another_program_reads_the_same(
    cells: tuple[Study, Plan], tmp_path: Path
) -> None:
    book, page, head = _opened(cells)
    for row in range(head + 1, head + 13):
        read = (0.4 + row / 1000, 1.25 + row / 100, 0.3 + row / 1000, f"80{row % 10},5")
        for place, value in enumerate(read, start=3):
            page.cell(row, place).value = value
        page.cell(row, 7).value = datetime.time(14, row)
        page.cell(row, 8).value = "yes"
    page.cell(head + 1, 3).value = "=0.2+0.211"  # worked out by the program that saves it
    page.cell(head + 2, 9).value = "=1+1"
    page.cell(head + 2, 9).data_type = "s"
    typed = _saved(book)
    before = read_file(typed, "alder.xlsx", *cells)
    after = read_file(_resaved(typed, "alder.xlsx", tmp_path), "alder.xlsx", *cells)
    assert [q.code for q in before.questions] == ["formula"]
    assert after.questions == ()
    first = after.rows[0].cell(VOC)
    assert first is not None
    assert first.value == Decimal("0.411")
    assert len(after.rows) == 12
    assert after.rows[1:] == before.rows[1:]
    assert {row.time for row in after.rows} == {
        f"14:{row:02}" for row in range(head + 1, head + 13)
    }


@pytest.mark.needs("soffice")
def test_no_export_runs_a_formula_in_a_spreadsheet(tmp_path: Path) -> None:
    """Every way that test_files.py knows, opened by a spreadsheet program, stays a text."""
    signs = ["=", "\n=", "\t=", "\r=", " =", "\ufeff=", "\uff1d", "\n\uff1d", "+", "@", "-"]
    texts = [f"{sign}1+1" for sign in signs] + ["note\r=1+1", "a,=1+1", '"=1+1']
    content = csv_text(["first", "second"], [[text, text] for text in texts]).encode()
    for coding in (content, b"\xef\xbb\xbf" + content):
        book: Any = load_workbook(io.BytesIO(_resaved(coding, "export.csv", tmp_path)))
        values = [cell for row in book.worksheets[0].iter_rows() for cell in row]
        assert len([cell for cell in values if cell.value is not None]) == 2 * len(texts) + 2
        assert {cell.data_type for cell in values} == {"s"}


def test_a_workbook_of_another_plan_is_refused(cells: tuple[Study, Plan]) -> None:
    study, plan = cells
    other = plan.model_copy(update={"seed": 2})
    with pytest.raises(IngestError):
        read_file(entry_workbook(Job(study, other, "a4")), "old.xlsx", study, plan)
