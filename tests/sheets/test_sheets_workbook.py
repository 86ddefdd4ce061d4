"""The entry workbook, read back with openpyxl: what stands there, what may be filled in.

Outside sources: ECMA-376 (Office Open XML), part 1: 18.3.1.32 (dataValidation), 18.3.1.85
(sheetProtection), 18.3.1.66 (frozen pane), and the limit of 31 letters for a sheet name. Text
that starts with =, +, - or @ can run as a formula (OWASP, "CSV Injection").
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from trials.design.values import Plan
from trials.ingest import workbook_layout as layout
from trials.sheets import make_sheets
from trials.sheets.parts import Job
from trials.sheets.workbook import SPARE_ROWS, entry_workbook
from trials.study.values import Response, Study, StudyFactor, StudyGroup
from trials.words import workbook as words

DemoStudy = Callable[[str], Study]
HandPlan = Callable[[Study, int], Plan]
SIZES = {"cells": 48, "greenhouse": 48, "planes": 8, "tea": 48}


def _book(study: Study, plan: Plan) -> Workbook:
    return load_workbook(io.BytesIO(entry_workbook(Job(study, plan, "a4"))))


def _page(book: Workbook, name: str) -> Worksheet:
    page = book[name]
    assert isinstance(page, Worksheet)
    return page


def _head_row(page: Worksheet) -> int:
    return next(row for row in range(1, 9) if page.cell(row, 1).value == words.ITEM)


def _rules_at(page: Worksheet, cell: str) -> list[DataValidation]:
    return [rule for rule in page.data_validations.dataValidation if cell in rule.sqref]


@pytest.fixture(scope="module", params=sorted(SIZES))
def any_book(
    request: pytest.FixtureRequest, demo_study: DemoStudy, hand_plan: HandPlan
) -> tuple[Study, Plan, Workbook]:
    study = demo_study(request.param)
    plan = hand_plan(study, SIZES[request.param])
    return study, plan, _book(study, plan)


def test_the_first_page_says_which_plan_and_how_to_fill_it_in(
    any_book: tuple[Study, Plan, Workbook],
) -> None:
    study, plan, book = any_book
    about = _page(book, book.sheetnames[0])
    assert about.title == words.ABOUT
    said = {about.cell(row, 1).value: about.cell(row, 2).value for row in range(1, 9)}
    assert said[words.PLAN] == plan.digest()
    assert said[words.FORMAT] == layout.FORMAT_VERSION
    assert said[words.STUDY] == study.title
    assert said["remark"] == study.note
    lines = [about.cell(row, 2).value for row in range(7, 17)]
    assert any("Type only the number" in str(line) for line in lines)


def test_pages_rows_and_headings_are_those_of_the_layout(
    any_book: tuple[Study, Plan, Workbook],
) -> None:
    study, plan, book = any_book
    sheets = layout.measuring_sheets(study, plan)
    assert book.sheetnames == [words.ABOUT, *(sheet.title for sheet in sheets)]
    for sheet in sheets:
        page = _page(book, sheet.title)
        head = _head_row(page)
        groups = [(page.cell(row, 1).value, page.cell(row, 2).value) for row in range(1, head)]
        assert groups == list(sheet.groups)
        width = len(layout.headings_of(study))
        heads = tuple(page.cell(head, place).value for place in range(1, width + 1))
        assert heads == layout.headings_of(study)
        rows = [
            (page.cell(row, 1).value, page.cell(row, 2).value)
            for row in range(head + 1, page.max_row + 1)
            if page.cell(row, 1).value is not None
        ]
        assert rows == [
            (item, reading)
            for item in sheet.items
            for reading in range(1, layout.readings_per_item(study) + 1)
        ]


def test_no_cell_names_a_version(any_book: tuple[Study, Plan, Workbook]) -> None:
    study, _, book = any_book
    texts = [
        str(cell.value)
        for page in book.worksheets
        for row in page.iter_rows()
        for cell in row
        if cell.value is not None
    ]
    for page in book.worksheets:
        for rule in page.data_validations.dataValidation:
            texts += [rule.prompt or "", rule.promptTitle or "", rule.error or ""]
    text = " ".join([*texts, *book.sheetnames])
    for factor in study.factors:
        assert not any(how in text for how in factor.how.values())
        if factor.kind == "category":
            for level in factor.levels:
                assert not re.search(rf"(?<!\w){re.escape(level)}(?!\w)", text, re.IGNORECASE)


def test_only_what_is_to_be_filled_in_is_unlocked(any_book: tuple[Study, Plan, Workbook]) -> None:
    study, plan, book = any_book
    for sheet in layout.measuring_sheets(study, plan):
        page = _page(book, sheet.title)
        assert page.protection.sheet
        assert not page.protection.password
        head = _head_row(page)
        last = head + len(sheet.items) * sheet.readings
        assert page.cell(head, 1).protection.locked
        assert page.cell(last, 1).protection.locked
        assert page.cell(last, 2).protection.locked
        assert not page.cell(head + 1, 3).protection.locked
        for place in range(1, len(layout.headings_of(study)) + 1):
            assert not page.cell(last + SPARE_ROWS, place).protection.locked
        assert page.freeze_panes == page.cell(head + 1, 3).coordinate
    assert _page(book, words.ABOUT).protection.sheet


def test_pick_lists_and_ranges(cells: tuple[Study, Plan]) -> None:
    page = _page(_book(*cells), "1 alder")
    head = _head_row(page)
    names = [page.cell(head, place).value for place in range(1, 10)]

    def rule(heading: str, row: int = head + 1) -> DataValidation:
        letter = get_column_letter(names.index(heading) + 1)
        (found,) = _rules_at(page, f"{letter}{row}")
        return found

    worked = rule(words.WORKED)
    assert (worked.type, worked.formula1, worked.errorStyle) == ("list", '"yes,no"', "stop")
    voltage = rule("open-circuit voltage (V)")
    assert (voltage.type, voltage.operator) == ("decimal", "between")
    assert float(voltage.formula1 or "nan") == 0.0
    assert float(voltage.formula2 or "nan") == 0.8
    # nothing that was read may be refused: the person is asked once, then it stands
    assert voltage.errorStyle == "warning"
    assert "usual: 0 to 0.8" in (voltage.prompt or "")
    assert rule(words.TIME).type == "time"
    spare = head + 4 * 3 + 1
    codes = rule(words.ITEM, spare)
    assert codes.formula1 == f"$A${head + 1}:$A${spare - 1}"
    for every in page.data_validations.dataValidation:
        assert len(every.prompt or "") <= 255
        assert len(every.promptTitle or "") <= 32


def test_readings_that_nobody_asks_for_are_grey_and_locked(
    demo_study: DemoStudy, hand_plan: HandPlan
) -> None:
    study = demo_study("greenhouse")  # two readings of the height, one count of the leaves
    page = _page(_book(study, hand_plan(study, 48)), "readings")
    head = _head_row(page)
    assert not page.cell(head + 1, 4).protection.locked
    assert page.cell(head + 2, 4).protection.locked
    assert page.cell(head + 2, 4).fill.fgColor.rgb == "00D9D9D9"
    assert not page.cell(head + 2, 3).protection.locked


def test_no_text_runs_as_a_formula(hand_plan: HandPlan) -> None:
    study = Study(
        title="=1+1",
        question="?",
        note="@SUM(A1)",
        item_name="+cell",
        factors=(StudyFactor(name="knot", levels=("a", "b")),),
        groups=(StudyGroup(name="team", count=2, role="maker", members=("=cmd|x", "-2+3")),),
        responses=(Response(name="=HYPERLINK(1)", unit="kg", low=0, high=1),),
    )
    plan = hand_plan(study, 4)
    content = make_sheets(study, plan).files["entry-workbook.xlsx"]
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        for name in parts.namelist():
            if name.startswith("xl/worksheets/"):
                assert b"<f>" not in parts.read(name)
    for page in load_workbook(io.BytesIO(content)).worksheets:
        for row in page.iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                assert not str(cell.value or "").startswith(("=", "+", "@"))


def test_letters_that_a_workbook_cannot_hold(hand_plan: HandPlan) -> None:
    study = Study(
        title="\x00 bell \x07 🧪 中文",
        question="?",
        factors=(StudyFactor(name="knot", levels=("a", "b")),),
        groups=(StudyGroup(name="team", count=2, role="maker", members=("a/b:*?[]", "x" * 60)),),
        responses=(Response(name="weight", unit="kg"),),
    )
    book = _book(study, hand_plan(study, 4))
    assert "🧪 中文" in str(_page(book, words.ABOUT).cell(1, 2).value)
    assert all(len(name) <= 31 for name in book.sheetnames)


def test_a_title_that_names_a_version_is_left_out(
    cells: tuple[Study, Plan], hand_plan: HandPlan
) -> None:
    study = cells[0].model_copy(update={"title": "Is hibiscus best?"})
    about = _page(_book(study, hand_plan(study, 48)), words.ABOUT)
    assert about.cell(1, 1).value == words.STUDY
    assert about.cell(1, 2).value in (None, "")


def test_the_same_plan_gives_the_same_bytes(cells: tuple[Study, Plan]) -> None:
    assert entry_workbook(Job(*cells, "a4")) == entry_workbook(Job(*cells, "a4"))
