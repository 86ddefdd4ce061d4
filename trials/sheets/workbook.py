"""The entry workbook: one page a team and session, made to be typed into without harm.

What stands where is said in ``ingest/workbook_layout.py``, which reads it back. Codes and reading
numbers stand there already; only the cells to fill in are unlocked. A number outside the usual
range is asked about, never refused, so nothing that was read is lost. No page names a version of
anything.
"""

from __future__ import annotations

import datetime
import io
import re
import zipfile
from copy import copy
from decimal import Decimal
from typing import Any, Final, cast

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from trials.classroom.arrange import bare_unit, check_code
from trials.files import safe_cell
from trials.ingest import workbook_layout as layout
from trials.quantities import nice
from trials.reduction import Column
from trials.sheets.measuring import column_readings, range_text
from trials.sheets.parts import Job
from trials.words import gone
from trials.words import workbook as words
from trials.words.language import say
from trials.words.numbers import count, listing
from trials.words.quantity_names import quantity_name

SPARE_ROWS: Final = 12  # lines for further readings, their code chosen from a list
_EPOCH: Final = datetime.datetime(1980, 1, 1)  # the earliest date a zip file can hold
_HEAD: Final = PatternFill("solid", fgColor="DCE7ED")
_BAND: Final = PatternFill("solid", fgColor="F1F5F7")
_NOT_NEEDED: Final = PatternFill("solid", fgColor="D9D9D9")
_EDGE: Final = Side("thin", color="8FA3AD")
_LINE: Final = Border(left=_EDGE, right=_EDGE, top=_EDGE, bottom=_EDGE)
_BOLD: Final = Font(bold=True)
_CODE: Final = Font(bold=True, strike=False)
_STRUCK: Final = Font(bold=True, strike=True)
_TOP: Final = Alignment(wrap_text=True, vertical="top")
_MIDDLE: Final = Alignment(wrap_text=True, vertical="center")
_LONGEST_PROMPT: Final = 250  # a spreadsheet's own limit is 255
_WIDE: Final = {words.ITEM: 11.0, words.READING: 9.0, words.NOTE: 44.0}


def entry_workbook(job: Job) -> bytes:
    """Return entry-workbook.xlsx; the same plan gives the same bytes."""
    book = Workbook()
    about = book.active
    if not isinstance(about, Worksheet):  # a new workbook always has one page
        raise TypeError("a new workbook came without a page")
    _about(job, about)
    styles = _Styles()
    for sheet in layout.measuring_sheets(job.study, job.plan):
        _measuring_page(job, book.create_sheet(sheet.title), sheet, styles)
    book.properties.creator = "trials"
    book.properties.created = _EPOCH
    raw = io.BytesIO()
    book.save(raw)
    return _without_dates(raw.getvalue())


def _about(job: Job, page: Worksheet) -> None:
    page.title = words.told(words.ABOUT)
    rows: list[tuple[str, str | int]] = [
        (words.STUDY, "" if _blind(job) else job.study.title),
        (words.REMARK, job.study.note),
        (words.PLAN, job.plan.digest()),
        (words.CHECK_CODE, check_code(job.plan)),
        (words.FORMAT, layout.FORMAT_VERSION),
    ]
    for row, (name, value) in enumerate(rows, 1):
        _write(_cell(page, row, 1), words.told(name)).font = _BOLD
        _write(_cell(page, row, 2), value)
    for number, line in enumerate(_how_to(job), 1):
        row = len(rows) + 1 + number
        if number == 1:
            _write(_cell(page, row, 1), words.told(words.HOW_TO)).font = _BOLD
        cell = _write(_cell(page, row, 2), f"{number}. {line}")
        cell.alignment = _TOP
    page.column_dimensions["A"].width = 24
    page.column_dimensions["B"].width = 100
    _protect(page)


def _blind(job: Job) -> bool:
    return job.study.title not in job.foot(blind=True)


def _how_to(job: Job) -> list[str]:
    pages = len(layout.measuring_sheets(job.study, job.plan))
    item = job.study.item_name
    groups = listing(layout.sheet_groups(job.plan))
    return [
        say(
            "There are {pages} for readings, one for each {groups}: their names stand below.",
            pages=count(pages, say("page")),
            groups=groups,
        )
        if pages > 1
        else say("The readings go on the page named below."),
        say(
            "One line is one reading of one {item}. Its code stands there already: find the code, "
            "then type what you read.",
            item=item,
        ),
        say("Type only the number. Its unit stands in the heading. A comma or a point both work."),
        say(
            "Click on an empty cell to see what is usual there. If your number is outside, you are "
            "asked once: check range and unit, then keep what you read."
        ),
        say("Grey cells stay empty."),
        *filter(None, [gone.struck_out(*job.gone_among(job.plan.rows))]),
        say(
            "'{worked}' once for each {item} is enough: choose yes or no from the list.",
            worked=words.told(words.WORKED),
            item=item,
        ),
        say(
            "Further readings of the same {item}: use the lines at the end and choose its code.",
            item=item,
        ),
        say("Broken or never measured? Leave the numbers empty and write why under 'note'."),
        say(
            "Save the file under its own name and give it back as it is. You can hand it in before "
            "it is complete, and again later: nothing is counted twice."
        ),
    ]


class _Styles:
    """The looks of framed cells, each worked out once for a workbook and then taken over."""

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], Any] = {}

    def framed(
        self,
        cell: Cell,
        fill: PatternFill | None,
        *,
        locked: bool = True,
        font: Font | None = None,
        alignment: Alignment | None = None,
    ) -> Cell:
        """Frame a new cell; the parts of its look are constants of this module."""
        styled: Any = cell  # the library's annotations leave out what a cell keeps its look in
        key = (id(fill), locked, id(font), id(alignment))
        if key in self._known:
            styled._style = copy(self._known[key])
            return cell
        cell.border = _LINE
        if fill is not None:
            cell.fill = fill
        cell.protection = Protection(locked=locked)
        if font is not None:
            cell.font = font
        if alignment is not None:
            cell.alignment = alignment
        self._known[key] = copy(styled._style)
        return cell


def _measuring_page(
    job: Job, page: Worksheet, sheet: layout.MeasuringSheet, styles: _Styles
) -> None:
    for row, (group, member) in enumerate(sheet.groups, 1):
        _write(_cell(page, row, 1), group).font = _BOLD
        _write(_cell(page, row, 2), member)
    head = len(sheet.groups) + 1
    _headings(job, page, head, styles)
    wanted = column_readings(job.study)
    row = head
    for k, code in enumerate(sheet.items):
        for reading in range(1, sheet.readings + 1):
            row += 1
            out = code in job.gone
            fill = _NOT_NEEDED if out else _BAND if k % 2 else None
            font = _STRUCK if out else _CODE
            _write(styles.framed(_cell(page, row, 1), fill, font=font), code)
            _write(styles.framed(_cell(page, row, 2), fill), reading)
            for place, times in enumerate(wanted, 3):
                gap = out or reading > times
                styles.framed(_cell(page, row, place), _NOT_NEEDED if gap else fill, locked=gap)
            _entry_end(styles, page, row, 3 + len(wanted), fill, locked=out)
            if out:  # beside the table, so that it is never read as somebody's note
                why = say(gone.LOST if code in job.lost else gone.UNMADE)
                _write(_cell(page, row, 6 + len(wanted)), why)
    last = row + SPARE_ROWS
    for spare in range(row + 1, last + 1):
        for place in range(1, 3 + len(wanted)):
            styles.framed(_cell(page, spare, place), None, locked=False)
        _entry_end(styles, page, spare, 3 + len(wanted), None)
    _validate(job, page, first=head + 1, last=last, spare=row + 1)
    page.freeze_panes = _cell(page, head + 1, 3).coordinate
    _protect(page)
    _printed(page, head)


def _headings(job: Job, page: Worksheet, row: int, styles: _Styles) -> None:
    wide = {words.told(word): width for word, width in _WIDE.items()}
    for place, text in enumerate(layout.headings_of(job.study), 1):
        cell = styles.framed(_cell(page, row, place), _HEAD, font=_BOLD, alignment=_MIDDLE)
        _write(cell, text)
        letter = get_column_letter(place)
        page.column_dimensions[letter].width = wide.get(text, min(max(len(text) * 0.75, 13), 24))
    page.row_dimensions[row].height = 34


def _entry_end(
    styles: _Styles,
    page: Worksheet,
    row: int,
    place: int,
    fill: PatternFill | None,
    *,
    locked: bool = False,
) -> None:
    """Write the cells that end each line: time, did it work, note."""
    styles.framed(_cell(page, row, place), fill, locked=locked).number_format = "hh:mm"
    styles.framed(_cell(page, row, place + 1), fill, locked=locked)
    note = styles.framed(_cell(page, row, place + 2), fill, locked=locked, alignment=_TOP)
    note.number_format = "@"


def _validate(job: Job, page: Worksheet, *, first: int, last: int, spare: int) -> None:
    columns = layout.raw_columns(job.study)
    for place, column in enumerate(columns, 3):
        _add(page, _number_rule(column, f"{get_column_letter(place)}{first}"), place, first, last)
    place = 3 + len(columns)
    time = DataValidation(type="time", operator="between", formula1="0", formula2="0.999999")
    _prompt(
        time,
        say("Time"),
        say("When you read it, such as 14:05."),
        say("This is not a time such as 14:05."),
    )
    _add(page, time, place, first, last)
    choices = ",".join(words.told(word) for word in (words.YES, words.NO))
    worked = DataValidation(type="list", formula1=f'"{choices}"', allow_blank=True)
    choose = say("Choose yes or no.")
    _prompt(worked, say("Did it work?"), choose, choose)
    worked.errorStyle = "stop"
    _add(page, worked, place + 1, first, last)
    if spare > first:
        code = DataValidation(type="list", formula1=f"$A${first}:$A${spare - 1}", allow_blank=True)
        _prompt(
            code,
            say("Code"),
            say("Choose the code of the item."),
            say("There is no such code on this page."),
        )
        _add(page, code, 1, spare, last)


def _number_rule(column: Column, cell: str) -> DataValidation:
    """Return the rule of a column whose first cell is ``cell``."""
    low, high = column.believable
    if low is None:
        low = column.possible[0]
    if high is None:
        high = column.possible[1]
    rule = DataValidation(type="decimal", allow_blank=True)
    if column.endless:
        ends = [f",{cell}>={_plain(low)}"] if low is not None else []
        ends += [f",{cell}<={_plain(high)}"] if high is not None else []
        rule.type = "custom"
        rule.formula1 = (
            f'OR({cell}="{words.told(words.OPEN)}",AND(ISNUMBER({cell}){"".join(ends)}))'
        )
    elif low is not None and high is not None:
        rule.operator, rule.formula1, rule.formula2 = "between", _plain(low), _plain(high)
    elif low is not None:
        rule.operator, rule.formula1 = "greaterThanOrEqual", _plain(low)
    elif high is not None:
        rule.operator, rule.formula1 = "lessThanOrEqual", _plain(high)
    else:
        rule.operator, rule.formula1, rule.formula2 = "between", "-1E+300", "1E+300"
    unit = bare_unit(nice(column.unit))
    hint = [
        column.about and say(column.about),
        say("in {unit}", unit=unit) if unit else "",
        range_text(column),
        say("or open") if column.endless else "",
        "" if column.required else say("may stay empty"),
    ]
    usual = range_text(column)
    _prompt(
        rule,
        quantity_name(column.name),
        "; ".join(part for part in hint if part) or say("a number"),
        say(
            "Not a number, or not {usual}. Right all the same? Keep it.",
            usual=f"{usual} {unit}".rstrip(),
        )
        if usual
        else say("Not a number. Right all the same? Keep it."),
    )
    return rule


def _plain(number: Decimal) -> str:
    return f"{number:f}"


def _prompt(rule: DataValidation, title: str, prompt: str, error: str) -> None:
    rule.promptTitle = _text(title)[:31]
    rule.prompt = _text(prompt)[:_LONGEST_PROMPT]
    rule.errorTitle = say("Is this right?")
    rule.error = _text(error)[:_LONGEST_PROMPT]
    rule.errorStyle = "warning"
    rule.showInputMessage = True
    rule.showErrorMessage = True


def _add(page: Worksheet, rule: DataValidation, place: int, first: int, last: int) -> None:
    if last < first:
        return
    letter = get_column_letter(place)
    rule.add(f"{letter}{first}:{letter}{last}")
    page.add_data_validation(rule)


def _cell(page: Worksheet, row: int, place: int) -> Cell:
    return cast("Cell", page.cell(row, place))  # no cells are merged here


def _write(cell: Cell, value: str | int) -> Cell:
    """Put a value into a cell so that no spreadsheet takes it for a formula."""
    if isinstance(value, str):
        cell.value = safe_cell(_text(value))
        cell.data_type = "s"
        cell.number_format = "@"
    else:
        cell.value = value
    return cell


def _text(text: str) -> str:
    return ILLEGAL_CHARACTERS_RE.sub(" ", text)


def _protect(page: Worksheet) -> None:
    """Lock what isn't to be filled in; without a password, for it guards against slips only."""
    page.protection.sheet = True
    page.protection.formatColumns = False
    page.protection.formatRows = False


def _printed(page: Worksheet, head: int) -> None:
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToWidth = 1
    page.page_setup.fitToHeight = 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    page.print_title_rows = f"{head}:{head}"


def _without_dates(content: bytes) -> bytes:
    """Return the workbook with every date of saving set to one fixed day."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as source,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for name in source.namelist():
            part = source.read(name)
            if name == "docProps/core.xml":
                part = re.sub(
                    rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>1980-01-01T00:00:00Z", part
                )
            entry = zipfile.ZipInfo(name, _EPOCH.timetuple()[:6])
            entry.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(entry, part)
    return out.getvalue()
