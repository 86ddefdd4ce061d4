"""The entry workbook read back, and workbooks that are something else."""

from __future__ import annotations

import datetime
import io
import zipfile
from decimal import Decimal
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook

from tests.ingest.bench import (
    CELL_HEADINGS,
    CODES,
    VOC,
    cell_row,
    cell_rows,
    cells,
    plan_of,
    plants,
    workbook,
)
from trials.errors import IngestError
from trials.ingest import read_file
from trials.ingest import workbook as adapter
from trials.ingest.workbook_layout import headings_of, measuring_sheets, sheet_groups
from trials.record import Intake, Question, Row

STUDY = cells()
PLAN = plan_of(STUDY)
SHEETS = {sheet.title: sheet for sheet in measuring_sheets(STUDY, PLAN)}


def _filled(row: list[str], *, text: bool = False) -> list[Any]:
    numbers = [cell if text else float(cell) for cell in row[2:]]
    return [row[0], int(row[1]), *numbers, datetime.time(14, 5), "yes", None]


def _all() -> dict[str, list[list[Any]]]:
    return {
        title: [_filled(row) for row in cell_rows(sheet.items)] for title, sheet in SHEETS.items()
    }


def _read(content: bytes) -> Intake:
    return read_file(content, "w.xlsx", STUDY, PLAN)


def _row(intake: Intake, item: str, reading: int) -> Row:
    return next(row for row in intake.rows if (row.item, row.reading) == (item, reading))


def _value(row: Row, column: str) -> Decimal | None:
    cell = row.cell(column)
    return None if cell is None else cell.value


def test_layout_has_a_sheet_for_each_session_and_team_and_each_item_once() -> None:
    assert list(SHEETS) == ["1 alder", "1 birch", "2 alder", "2 birch"]
    assert sorted(item for sheet in SHEETS.values() for item in sheet.items) == sorted(CODES)
    assert sheet_groups(PLAN) == ("session", "team")
    assert headings_of(STUDY) == (
        "item", "reading", *CELL_HEADINGS, "time (hour:minute)", "did it work?", "note"
    )  # fmt: skip


def test_no_sheet_for_a_group_that_would_give_the_level_away() -> None:
    groups = tuple(g.model_copy(update={"role": None}) for g in PLAN.groups)
    (factor,) = PLAN.factors
    plan = PLAN.model_copy(
        update={"groups": groups, "factors": (factor.model_copy(update={"applied_to": "team"}),)}
    )
    assert sheet_groups(plan) == ("session",)


def test_a_filled_workbook_comes_back() -> None:
    intake = _read(workbook(STUDY, PLAN, _all()))
    assert intake.questions == ()
    assert len(intake.rows) == 24
    row = _row(intake, "BD27", 1)
    assert (row.time, row.worked, dict(row.groups)) == (
        "14:05", True, {"session": "1", "team": "alder"}
    )  # fmt: skip
    assert (row.place.sheet, row.place.row) == ("1 alder", 4)
    assert [(cell.text, cell.value) for cell in row.cells] == [
        (text, Decimal(text)) for text in ("0.403", "1.13", "0.281", "791")
    ]


def test_numbers_typed_as_text_with_commas() -> None:
    written = _all()
    written["1 alder"] = [
        _filled([c.replace(".", ",") if i > 1 else c for i, c in enumerate(row)], text=True)
        for row in cell_rows(SHEETS["1 alder"].items)
    ]
    intake = _read(workbook(STUDY, PLAN, written))
    assert intake.questions == ()
    assert _value(_row(intake, "BD27", 2), VOC) == Decimal("0.404")
    assert any("comma as the decimal mark" in note for note in intake.notes)


def test_an_item_on_the_sheet_of_another_session_is_found() -> None:
    written = _all()
    moved = [row for row in written["1 alder"] if row[0] == "BD27"]
    back = [row for row in written["2 alder"] if row[0] == "JL79"]
    written["1 alder"] = [row for row in written["1 alder"] if row[0] != "BD27"] + back
    written["2 alder"] = [row for row in written["2 alder"] if row[0] != "JL79"] + moved
    (question,) = _read(workbook(STUDY, PLAN, written)).questions
    assert (question.code, {question.item, question.partner}) == ("swapped", {"BD27", "JL79"})
    assert question.sheet in ("1 alder", "2 alder")


def test_a_workbook_of_another_plan_is_refused() -> None:
    with pytest.raises(IngestError) as problem:
        _read(workbook(STUDY, PLAN, _all(), digest="0" * 64))
    assert problem.value.code == "ingest.other_plan"
    assert problem.value.where == "w.xlsx, sheet 'about this file'"
    assert problem.value.found == "0" * 12
    assert problem.value.allowed.startswith(PLAN.digest()[:12])


def test_locking_the_plan_does_not_make_it_another() -> None:
    locked = PLAN.model_copy(update={"locked": "2031-03-03"})
    content = workbook(STUDY, locked, _all())
    assert len(_read(content).rows) == 24


def test_a_date_where_a_number_was_typed_is_asked() -> None:
    written = _all()
    written["1 alder"][0][2] = datetime.datetime(2031, 12, 3)
    (question,) = _read(workbook(STUDY, PLAN, written)).questions
    assert (question.code, question.column, question.must) == ("date", VOC, True)
    assert question.found == "2031-12-03 00:00:00"


def test_a_formula_is_never_worked_out() -> None:
    written = _all()
    written["1 alder"][0][2] = "=0.2+0.203"
    (question,) = _read(workbook(STUDY, PLAN, written)).questions
    assert (question.code, question.found) == ("formula", "=0.2+0.203")
    assert question.why == "This is a formula, and the file doesn't hold its result."


def test_the_result_that_a_spreadsheet_left_beside_its_formula_is_read() -> None:
    written = _all()
    written["1 alder"][0][2] = "=0.2+0.203"
    content = _patched(workbook(STUDY, PLAN, written), b"<f>0.2+0.203</f><v></v>",
                       b"<f>0.2+0.203</f><v>0.403</v>")  # fmt: skip
    intake = _read(content)
    assert intake.questions == ()
    assert _value(_row(intake, "BD27", 1), VOC) == Decimal("0.403")


def test_texts_that_look_like_formulas_stay_texts() -> None:
    written = _all()
    written["1 alder"][0][-1] = "'=HYPERLINK(1)"
    intake = _read(workbook(STUDY, PLAN, written))
    assert _row(intake, "BD27", 1).note == "=HYPERLINK(1)"


def test_an_empty_workbook_has_no_readings_and_no_questions() -> None:
    blank = {
        title: [[item, n, None, None, None, None, None, None, None]
                for item in sheet.items for n in (1, 2)]
        for title, sheet in SHEETS.items()
    }  # fmt: skip
    intake = _read(workbook(STUDY, PLAN, blank))
    assert (intake.rows, intake.questions) == ((), ())
    assert "w.xlsx: no readings are filled in yet." in intake.notes


def test_a_note_alone_is_kept() -> None:
    written = {"1 alder": [["BD27", 1, None, None, None, None, None, "no", "cracked"]]}
    (row,) = _read(workbook(STUDY, PLAN, written)).rows
    assert (row.item, row.worked, row.note, row.cells) == ("BD27", False, "cracked", ())


def _own_workbook(rows: list[list[Any]]) -> bytes:
    book = Workbook()
    sheet: Any = book.active
    sheet.title = "ours"
    for row in rows:
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_workbook_of_ones_own_is_a_plain_table() -> None:
    rows: list[list[Any]] = [["our readings"], [], ["cell", *CELL_HEADINGS]]
    rows += [[r[0], *map(float, r[2:])] for r in cell_rows()]
    intake = _read(_own_workbook(rows))
    assert intake.questions == ()
    assert [row.reading for row in intake.rows[:4]] == [1, 2, 1, 2]
    assert "w.xlsx: not this study's entry workbook, read as a plain table." in intake.notes


def _patched(content: bytes, old: bytes, new: bytes) -> bytes:
    out = io.BytesIO()
    found = False
    with zipfile.ZipFile(io.BytesIO(content)) as source, zipfile.ZipFile(out, "w") as target:
        for part in source.namelist():
            data = source.read(part).replace(b"<v />", b"<v></v>")  # as another library writes it
            found = found or old in data
            target.writestr(part, data.replace(old, new))
    assert found
    return out.getvalue()


def _zip(parts: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for name, data in parts.items():
            target.writestr(name, data)
    return out.getvalue()


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"PK\x03\x04 and nothing else", "ingest.broken_workbook"),
        (_zip({"a.txt": b"a text in a zip"}), "ingest.not_a_workbook"),
        (_zip({"[Content_Types].xml": b"<x/>"}), "ingest.broken_workbook"),
        (_own_workbook([["nothing", "to"], ["see", "here"]]), "ingest.no_headings"),
        (_own_workbook([["item", f"{VOC} (V)"], ["QQ11", 0.4]]), "ingest.other_items"),
    ],
)
def test_workbooks_that_can_not_be_taken_in(content: bytes, code: str) -> None:
    with pytest.raises(IngestError) as problem:
        _read(content)
    assert problem.value.code == code
    assert problem.value.do


def test_a_workbook_that_unfolds_to_something_monstrous(monkeypatch: pytest.MonkeyPatch) -> None:
    content = workbook(STUDY, PLAN, _all())
    bomb = io.BytesIO(content)
    with zipfile.ZipFile(bomb, "a", zipfile.ZIP_DEFLATED) as target:
        target.writestr("xl/media/image1.png", bytes(210_000_000))
    assert len(bomb.getvalue()) < 400_000
    with pytest.raises(IngestError) as problem:
        _read(bomb.getvalue())
    assert (problem.value.code, problem.value.where) == ("ingest.too_large", "w.xlsx")
    assert "211 MB" in problem.value.found or "210 MB" in problem.value.found
    monkeypatch.setattr(adapter, "MOST_BYTES", 100)
    with pytest.raises(IngestError) as problem:
        _read(content)
    assert problem.value.code == "ingest.too_large"


def test_a_workbook_cut_off_anywhere_is_an_error_not_a_crash() -> None:
    content = workbook(STUDY, PLAN, _all())
    for share in range(1, 20):
        with pytest.raises(IngestError):
            _read(content[: len(content) * share // 20])


def test_damage_inside_is_an_error_not_a_crash() -> None:
    content = workbook(STUDY, PLAN, _all())
    with pytest.raises(IngestError) as problem:
        _read(_patched(content, b"<sheetData>", b"<sheetData"))
    assert problem.value.code == "ingest.broken_workbook"


def test_saved_again_by_another_program_it_still_knows_its_plan() -> None:
    book = load_workbook(io.BytesIO(workbook(STUDY, PLAN, _all())))
    out = io.BytesIO()
    book.save(out)
    assert len(_read(out.getvalue()).rows) == 24


def test_one_sheet_where_the_plan_has_no_groups() -> None:
    study = plants().model_copy(update={"groups": ()})
    plain = plan_of(study)
    rows = tuple(row.model_copy(update={"groups": {}}) for row in plain.rows)
    plan = plain.model_copy(update={"groups": (), "rows": rows})
    (sheet,) = measuring_sheets(study, plan)
    assert (sheet.title, sheet.groups, len(sheet.items), sheet.readings) == (
        "readings", (), 12, 2
    )  # fmt: skip
    content = workbook(study, plan, {"readings": [["BD27", 1, 110, 5, None, None, None]]})
    (row,) = read_file(content, "w.xlsx", study, plan).rows
    assert (row.item, row.groups) == ("BD27", ())


def test_questions_name_the_sheet() -> None:
    written = _all()
    written["2 birch"][1][3] = "oops"
    questions: tuple[Question, ...] = _read(workbook(STUDY, PLAN, written)).questions
    (question,) = questions
    assert (question.file, question.sheet, question.row) == ("w.xlsx", "2 birch", 5)
    assert question.item == cell_row("KM86")[0]
