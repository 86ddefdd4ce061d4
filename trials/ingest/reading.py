"""Turning the lines of one sheet into readings and questions. Nothing is dropped in silence."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from trials.files import word_as_typed
from trials.ingest.asking import (
    UNUSABLE,
    about_item,
    about_working,
    unknown_code,
)
from trials.ingest.codes import alike, told_apart, turned_into_date
from trials.ingest.faults import Faulty, fault_questions, mark_questions, unit_questions
from trials.ingest.grid import Line, Raw, Sheet
from trials.ingest.headings import (
    Heading,
    Layout,
    Part,
    Vocabulary,
    kind_notes,
    refuse_columns,
    side_by_side,
    side_note,
    unit_notes,
)
from trials.ingest.missing import is_missing
from trials.ingest.numbers import (
    Mark,
    Read,
    comma_note,
    mark_of,
    read_cell,
    says_broken,
    typed_unit_note,
)
from trials.ingest.proposing import (
    Proposal,
    heading_questions,
    nameless_notes,
    proposals,
    unneeded_note,
)
from trials.ingest.refusing import refuse_exchanged, refuse_split, refuse_storeys
from trials.ingest.several import tables_on
from trials.ingest.shapes import Shaped
from trials.quantities import numeral
from trials.record.values import Question, Row, new_place, new_row
from trials.reduction.table import same_name
from trials.study.messages import nearest
from trials.words.keeping import kept

_SUMMARY = frozenset(
    ["mean", "average", "avg", "total", "sum", "sd", "stdev", "standarddeviation", "min", "max",
     "minimum", "maximum", "median", "count", "n", "se", "variance", "subtotal", "grandtotal",
     "ø", "mittel", "mittelwert", "summe", "zwischensumme", "standardabweichung", "moyenne",
     "somme", "soustotal", "écarttype"]
)  # fmt: skip
_MOST_KNOWN = 200_000  # numbers that are kept with what was read, so that none is read twice
_TOLD = 4  # codes written otherwise that are named
_YES = frozenset(["yes", "y", "true", "1", "x", "ok", "works", "worked", "sí", "si"])
_NO = frozenset(["no", "n", "false", "0", "failed", "broken"])


@dataclass
class Gathered:
    """What has been read of a file so far."""

    name: str
    codes: Mapping[str, str]  # code in small letters -> code of the plan
    rows: list[Row] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


_Under = tuple[Heading, int, dict[Raw | str, Read], list[Read]]


@dataclass
class _Page:
    """One sheet while it is read."""

    sheet: Sheet
    layout: Layout
    where: str
    into: Gathered
    marks: Mapping[int, Mark]  # by the place of the column
    reads: dict[int, list[Read]]  # the same -> what became of its cells
    kept: dict[int, int]  # row of the sheet -> readings in it
    asked: tuple[Proposal, ...] = ()  # headings that may mean a quantity
    carried: int = 0  # rows without a code that belong to the item above
    faulty: list[Faulty] = field(default_factory=list)
    under: list[tuple[Row, Line]] = field(default_factory=list)  # with numbers under `asked`
    codes: dict[str, tuple[str, str]] = field(default_factory=dict)  # as written -> as planned
    alone: bool = False  # each row is one reading, and nothing in it is asked about
    alike: dict[str, str] = field(default_factory=dict)  # as written otherwise -> as planned
    apart: dict[str, str] = field(init=False)  # what is alike in codes -> as planned
    # for each reading of a row: its headings, with the numbers known and the cells read of each
    columns: list[list[_Under]] = field(init=False)
    parts: tuple[Part, ...] = field(init=False)  # the readings of one row

    def __post_init__(self) -> None:
        self.parts = side_by_side(self.layout)
        self.alone = (
            self.alone and len(self.parts) == 1 and not (self.parts[0].number or self.asked)
        )
        self.apart = told_apart(self.into.codes.values())
        self.columns = [
            [(one, one.index, {}, self.reads[one.index]) for one in part.raw] for part in self.parts
        ]


def gather(sheet: Sheet, words: Vocabulary, into: Gathered) -> bool:
    """Read one sheet; return whether it has a heading row.

    Raises
    ------
    IngestError : its columns are not those of the study, or its lines can't be taken apart.
    """
    if sheet.note:
        into.notes.append(f"{_where(sheet, into)}: {sheet.note}")
    tables = tables_on(sheet, words, into.codes)
    kept: dict[int, int] = {}
    for number, table in enumerate(tables):
        if number:
            into.notes.append(
                f"{_where(sheet, into)}: another table begins in row {table.layout.line.number}, "
                f"at '{table.layout.line.at(table.layout.item).text}', and was read by its own "
                "headings."
            )
        _gather(table, words, into, kept, alone=len(tables) == 1)
    return bool(tables)


def _where(sheet: Sheet, into: Gathered) -> str:
    return f"{into.name}, sheet '{sheet.name}'" if sheet.name else into.name


def _gather(
    turned: Shaped, words: Vocabulary, into: Gathered, kept: dict[int, int], *, alone: bool
) -> None:
    """Read one table.

    Parameters
    ----------
    kept : how many readings each row of its sheet has given before. alone : no other table is on
        the sheet.
    """
    layout = turned.layout
    where = _where(turned.sheet, into)
    if turned.storeys:
        into.notes.append(f"{where}: {turned.storeys}")
    if turned.note:
        into.notes.append(f"{where}: {turned.note}")
        refuse_split(turned.before, turned.width, turned.head, turned.sheet, where)
    sheet = turned.sheet
    lines = [line for line in sheet.lines[sheet.lines.index(layout.line) + 1 :] if not line.empty]
    lines = _without_headings(lines, turned, into, where)
    asked = proposals(layout, words, lines)
    refuse_columns(layout, words, where, asked=bool(asked))
    refuse_storeys(lines, layout, into.codes, where)
    refuse_split(lines, len(layout.line.cells), 0, sheet, where)
    refuse_exchanged(lines, layout, where)
    raw = (*layout.raw, *(proposal.heading for proposal in asked))
    reads: dict[int, list[Read]] = {heading.index: [] for heading in raw}
    alone = alone and all(one.number < after.number for one, after in itertools.pairwise(lines))
    page = _Page(sheet, layout, where, into, _marks(lines, raw), reads, kept, asked, alone=alone)
    mine: list[Row] = []
    for line in lines:
        row = _row(line, page)
        if row is not None:
            mine.extend(_readings(_named(row, mine, page), line, page))
    into.rows.extend(mine)
    if page.carried:
        into.notes.append(
            f"{where}: {page.carried} rows without a code were read as further readings of the "
            "item above them."
        )
    if note := side_note(layout):
        into.notes.append(f"{where}: {note}")
    into.notes.extend((*kind_notes(layout), *unit_notes(layout)))
    into.notes.extend(unneeded_note(layout, asked, words, lines))
    for heading in layout.raw:
        mine_read = page.reads[heading.index]
        for note in (comma_note(heading, mine_read), typed_unit_note(heading, mine_read)):
            if note:
                into.notes.append(note)
    into.notes.extend(f"{where}: {note}" for note in nameless_notes(layout, lines))
    if page.alike:
        into.notes.append(f"{where}: {_alike_note(page.alike)}")
    into.questions.extend(fault_questions(page.faulty))
    _ask_who(mine, into)
    into.questions.extend(mark_questions(page.faulty))
    into.questions.extend(unit_questions(mine, layout))
    then = {proposal.heading.index: _brought(proposal, page) for proposal in asked}
    into.questions.extend(heading_questions(mine, asked, layout, then))


def _readings(row: Row, line: Line, page: _Page) -> list[Row]:
    """Return the readings of one line, each with its numbers; those that say nothing are left."""
    if page.alone:
        one = _with_numbers(row, line, page.columns[0], page)
        return [one] if one.cells or _says_something(one, page) else []
    found = []
    for place, part in enumerate(page.parts):
        one = row
        if place:  # a note is about the whole line, and told once
            at = replace(row.place, part=page.kept.get(line.number, 0))
            one = replace(row, place=at, note="")
        if part.number:
            one = replace(one, reading=part.number)
        one = _with_numbers(one, line, page.columns[place], page)
        if place == 0 and page.asked:
            one = _with_asked(one, line, page)
            page.under.append((one, line))
        if one.cells or (place == 0 and _says_something(one, page)):
            page.kept[line.number] = page.kept.get(line.number, 0) + 1
            found.append(one)
    return found


def _says_something(row: Row, page: _Page) -> bool:
    """Return whether a row without numbers tells of its item, or something in it is asked about."""
    # a question about one line has one place; those about a whole sheet have thousands
    asked = any((row.place,) == question.places for question in page.into.questions[-2:])
    return row.worked is not None or bool(row.note) or asked


def _without_headings(
    lines: Sequence[Line], turned: Shaped, into: Gathered, where: str
) -> list[Line]:
    """Leave out heading rows that come again, and say so."""
    layout = turned.layout
    head, *two = [_words(line) for line in (layout.line, *turned.heads)]
    units = next((_words(line) for line in lines if line.number == layout.units), None)
    kept = [line for line in lines if not _says(line, head)]
    if two:
        kept = [line for line in kept if not _says(line, two[1])]
    again = len(lines) - len(kept)
    if two and again:
        kept = [line for line in kept if not _says(line, two[0])]
    if units is not None:
        kept = [line for line in kept if not _says(line, units)]
    if again:
        into.notes.append(f"{where}: the heading row stands there {again + 1} times.")
    return kept


def _words(line: Line) -> list[str]:
    return [same_name(cell.text) for cell in line.cells]


def _says(line: Line, words: list[str]) -> bool:
    """Return whether a line says these words and nothing else."""
    if len(line.cells) != len(words) or same_name(line.cells[0].text) != words[0]:
        return False
    return _words(line) == words


def _marks(lines: Sequence[Line], raw: Sequence[Heading]) -> dict[int, Mark]:
    """Return the decimal mark of each column: what it proves itself, else what the file proves."""
    texts = {
        heading.index: {
            cell.text: cell for line in lines if (cell := line.at(heading.index)).kind == "text"
        }
        for heading in raw
    }
    whole = mark_of(cell for mine in texts.values() for cell in mine.values())
    marks: dict[int, Mark] = {}
    for index, mine in texts.items():
        own = mark_of(mine.values())
        marks[index] = whole if own == "unsaid" else own
    return marks


def _row(line: Line, page: _Page) -> Row | None:
    """Return the row without its numbers; None for a line that is no reading."""
    layout, into = page.layout, page.into
    written = line.at(layout.item).text
    code, known = page.codes.get(written) or _code(written, page)
    if known is None and (why := _no_reading(code, line, page)):
        into.notes.append(f"{page.where}, row {line.number}: {why}")
        return None
    groups = layout.above
    if layout.groups:
        said = {name: line.at(i).text for i, name in layout.groups if line.at(i).text}
        groups = tuple({**dict(groups), **said}.items())
    part = page.kept.get(line.number, 0) if page.kept else 0
    row = new_row(
        new_place(into.name, page.sheet.name, line.number, part),
        known or code,
        None if layout.reading is None else _reading_number(line.at(layout.reading)),
        (),
        groups,
        "" if layout.time is None else line.at(layout.time).text,
        None,
        "" if layout.note is None else line.at(layout.note).text,
    )
    return row if layout.worked is None else _with_working(row, line.at(layout.worked), into)


def _code(written: str, page: _Page) -> tuple[str, str | None]:
    """Return a code as it was written, and as the plan has it; None where it has none."""
    code = written.lstrip("'").strip()
    known = page.into.codes.get(code.casefold())
    if known is None and code and (known := page.apart.get(alike(code))) is not None:
        page.alike[written] = known
    if known is not None:
        page.codes[written] = code, known
    return code, known


def _alike_note(found: Mapping[str, str]) -> str:
    """Return a sentence on codes that were written otherwise than on the labels."""
    told = ", ".join(f"'{written}' as {code}" for written, code in list(found.items())[:_TOLD])
    more = f" and {len(found) - _TOLD} more" if len(found) > _TOLD else ""
    return f"codes with other blanks, strokes or dots than the plan's were read: {told}{more}."


def _no_reading(code: str, line: Line, page: _Page) -> str:
    """Return why a line whose code is not in the plan is no reading; empty where it is one."""
    if same_name(code) in _SUMMARY:
        return f"'{code}' is taken as a summary and was not read."
    if any(not is_missing(line.at(index).text) for index in page.reads):
        return ""
    text = " ".join(cell.text for cell in line.cells if cell.text)
    return f"no reading, kept only in the file itself: '{text[:80]}'."


def _named(row: Row, before: Sequence[Row], page: _Page) -> Row:
    """Give a row without a code that of the row above, if its reading number goes on from there."""
    if row.item:
        return row
    last = before[-1] if before else None
    if last is None or last.item.casefold() not in page.into.codes:
        return row
    if row.reading is None or last.reading is None or row.reading != last.reading + 1:
        return row
    page.carried += 1
    return replace(row, item=last.item)


def _reading_number(raw: Raw) -> int | None:
    number = numeral(raw.text.lstrip("#"))
    if number is None or number.point is None or number.point != int(number.point):
        return None
    return int(number.point) if 0 < number.point < 10_000 else None


def _with_working(row: Row, raw: Raw, into: Gathered) -> Row:
    said = raw.text.casefold().strip()
    if said in _YES or said in _NO:
        return replace(row, worked=said in _YES)
    if not said:
        return row
    if says_broken(said):
        return replace(row, worked=False)
    why = kept("This says neither yes nor no.")
    into.questions.append(about_working(row, found=raw.text, why=why))
    return row


def _with_numbers(row: Row, line: Line, columns: Sequence[_Under], page: _Page) -> Row:
    into = page.into
    cells = []
    faulty = []
    for heading, index, known, reads in columns:
        raw = line.at(index)
        key = raw.text if raw.kind == "text" and not raw.unit and raw.row is None else raw
        read = known.get(key)
        if read is None:
            if is_missing(raw.text):
                continue
            if raw.kind == "text" and says_broken(raw.text):
                row = replace(row, worked=False, note=row.note or raw.text)
                continue
            read = read_cell(raw, heading, page.marks[index])
            if raw.row is not None:
                read = replace(read, row=raw.row)
            if len(known) < _MOST_KNOWN:
                known[key] = read
        reads.append(read)
        cells.append(read.cell)
        if read.fault and (heading.fits or read.fault != "unit"):
            faulty.append((heading, read))
    row = row.having(tuple(cells))
    if row.note and row.worked is None and says_broken(row.note):
        if any(cell.value is not None for cell in cells):
            why = kept("The note says it did not work, and yet there are readings.")
            into.questions.append(about_working(row, found=row.note, why=why))
        else:
            row = replace(row, worked=False)
    if faulty:
        page.faulty.extend((row, heading, read) for heading, read in faulty)
    return row


def _with_asked(row: Row, line: Line, page: _Page) -> Row:
    """Return a row with what stands under headings that are asked about: kept, but no value yet."""
    cells = [
        replace(read_cell(raw, proposal.heading, page.marks[proposal.heading.index]).cell,
                value=None)
        for proposal in page.asked
        if not is_missing((raw := line.at(proposal.heading.index)).text)
    ]  # fmt: skip
    return replace(row, cells=(*row.cells, *cells))


def _ask_who(rows: Sequence[Row], into: Gathered) -> None:
    """Ask about the rows of a sheet whose item is not in the plan, once for each code."""
    strangers: dict[tuple[str, str], list[Row]] = {}
    before = ""
    for row in rows:
        if row.item and row.item.casefold() in into.codes:
            before = row.item
        elif row.cells:
            strangers.setdefault((row.item, "" if row.item else before), []).append(row)
    for (code, above), mine in strangers.items():
        if not code:
            into.questions.append(
                about_item(
                    mine,
                    "no_item",
                    found=kept(
                        "no item code" if len(mine) == 1 else "{n} rows without a code",
                        n=len(mine),
                    ),
                    why=kept("Numbers without a code belong to nobody yet."),
                    proposal=above,
                    must=True,
                    do=_whose(above),
                    answers=UNUSABLE,
                )
            )
            continue
        dated, near = turned_into_date(code, into.codes.values())
        near = near if dated else nearest(code, sorted(into.codes.values())) or ""
        into.questions.append(
            about_item(
                mine,
                "unknown_item",
                found=code,
                why=unknown_code(near, dated=dated),
                proposal=near,
                must=True,
                do=_whose(near),
                answers=UNUSABLE,
            )
        )


def _whose(near: str) -> str:
    first = f"correct {word_as_typed(near)}" if near else "correct and the right code"
    return f"{first}, if you know; set-aside if nobody knows. Until then it takes no part."


def _brought(proposal: Proposal, page: _Page) -> list[Question]:
    """Return what has to be asked of the numbers under a heading once they are a quantity."""
    index = proposal.heading.index
    found = []
    for column in proposal.choices:
        unit = proposal.heading.unit or column.unit
        heading = replace(proposal.heading, column=column, unit=unit)
        known: dict[Raw, Read] = {}
        faulty = []
        for row, line in page.under:
            raw = line.at(index)
            if is_missing(raw.text):
                continue
            if raw not in known:
                known[raw] = read_cell(raw, heading, page.marks[index])
            if known[raw].fault:
                faulty.append((row, heading, known[raw]))
        found += [*fault_questions(faulty), *mark_questions(faulty, factor=True)]
    return found


def numbered(rows: Sequence[Row]) -> tuple[Row, ...]:
    """Return the rows with a reading number each: those without get the next free ones."""
    used: dict[str, set[int]] = {row.item: set() for row in rows}
    for row in rows:
        if row.reading is not None:
            used[row.item].add(row.reading)
    free = {item: _not_in(taken) for item, taken in used.items()}
    return tuple(
        row
        if row.reading is not None
        else new_row(
            row.place,
            row.item,
            next(free[row.item]),
            row.cells,
            row.groups,
            row.time,
            row.worked,
            row.note,
        )
        for row in rows
    )


def _not_in(taken: Collection[int]) -> Iterator[int]:
    numbers = itertools.count(1)
    return (number for number in numbers if number not in taken) if taken else numbers
