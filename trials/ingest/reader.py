"""Reading one file of measurements: the entry workbook, or a table of readings."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path, PurePath

from trials.design.planned import printed_plans
from trials.design.values import Plan
from trials.errors import IngestError, TrialsError
from trials.files import read_bytes
from trials.ingest.checks import questions_about
from trials.ingest.grid import TAKEN, Sheet
from trials.ingest.headings import (
    Vocabulary,
    refuse_without_headings,
    with_item,
)
from trials.ingest.proposing import item_hint, quantities_asked
from trials.ingest.reading import Gathered, gather, numbered
from trials.ingest.shapes import shaped
from trials.ingest.text import MOST_LOGGED, decoded, table_of, tables_of
from trials.ingest.workbook import is_workbook, sheets_of
from trials.ingest.workbook_layout import FORMAT_VERSION, raw_columns
from trials.record.store import Store
from trials.record.values import Intake, Question, Row, Taken
from trials.study.values import Study
from trials.tables import kind_of
from trials.words.workbook import ABOUT, FORMAT, PLAN, told_in_all


def read_file(source: Path | bytes, name: str, study: Study, plan: Plan) -> Intake:
    """Read one file and return its readings, the questions they raise and what was understood.

    Parameters
    ----------
    source : the file, or its bytes.
    name : what the file is called in questions and in the record.

    Raises
    ------
    IngestError : the file can't be taken in at all; nothing was taken in.
    FileError : the file can't be opened.
    """
    intake = read_again(source, name, study, plan)
    own = asked_of_all(intake.rows, study, plan)
    questions = (*intake.questions, *own)
    return replace(
        intake, questions=tuple(replace(q, id=f"Q{n}") for n, q in enumerate(questions, start=1))
    )


def read_again(source: Path | bytes, name: str, study: Study, plan: Plan) -> Intake:
    """Return the readings of a file with the questions that reading it raised, and no others.

    Raises
    ------
    IngestError, FileError : as :func:`read_file`.
    """
    content = source if isinstance(source, bytes) else read_bytes(source, MOST_LOGGED)
    words = Vocabulary.of(study, plan)
    into = Gathered(name, {row.item.casefold(): row.item for row in plan.rows})
    if is_workbook(content):
        _gather_workbook(content, words, plan, into)
    elif what := kind_of(content):
        raise IngestError(
            "This kind of file can't be read.",
            code="ingest.kind",
            where=name,
            found=what,
            allowed=TAKEN,
            do="Save the table as XLSX or CSV and collect that file.",
        )
    else:
        _gather_text(content, words, into)
    _refuse_strangers(into)
    rows = numbered(into.rows)
    if not rows:
        into.notes.append(f"{name}: no readings are filled in yet.")
    return Intake(
        name=name,
        kind="workbook" if is_workbook(content) else "table",
        content=content,
        rows=rows,
        questions=tuple(_renumbered(into.questions, into.rows, rows)),
        notes=tuple(dict.fromkeys(into.notes)),
    )


def collect(store: Store, source: Path | bytes, name: str, study: Study, plan: Plan) -> Taken:
    """Read one file into the record, and ask of all readings together what it brings up.

    Raises
    ------
    IngestError : the file can't be taken in at all.
    RecordError : the record can't be written.
    """
    (taken,) = collect_all(store, [(source, name)], study, plan)
    if isinstance(taken, TrialsError):
        raise taken
    return taken


def collect_all(
    store: Store,
    sources: Iterable[tuple[Path | bytes, str]],
    study: Study,
    plan: Plan,
) -> tuple[Taken | TrialsError, ...]:
    """Read several files into the record, and ask once what all readings together bring up.

    Parameters
    ----------
    sources : each file, or its bytes, and what it is called. What is wrong with one stands in its
        place in the result, and the others are taken in all the same.

    Raises
    ------
    RecordError : the record can't be written; nothing of these files was taken in.
    """
    return store.take_in_all(
        (partial(read_again, source, name, study, plan) for source, name in sources),
        lambda rows: asked_of_all(rows, study, plan),
    )


def asked_of_all(rows: Sequence[Row], study: Study, plan: Plan) -> tuple[Question, ...]:
    """Return every question that a set of readings raises, beside those from reading the files.

    A quantity that has no column is not asked for while a heading is asked about that may be it.

    Parameters
    ----------
    rows : all current readings. What stands under a heading that is still asked about is a cell of
        that heading.
    """
    columns = raw_columns(study)
    names = {column.name for column in columns}
    if {cell.column for row in rows for cell in row.cells} <= names:
        return questions_about(rows, study, plan)
    strange: dict[tuple[str, str], dict[str, None]] = {}
    known: dict[tuple[str, str], set[str]] = {}
    for row in rows:
        sheet = (row.place.file, row.place.sheet)
        for cell in row.cells:
            if cell.column in names:
                known.setdefault(sheet, set()).add(cell.column)
            else:
                strange.setdefault(sheet, {})[cell.column] = None
    maybe = {
        (*sheet, column.name)
        for sheet, texts in strange.items()
        for choices, _ in quantities_asked(
            texts, [c for c in columns if c.name not in known.get(sheet, ())]
        ).values()
        for column in choices
    }
    plain = [
        replace(row, cells=tuple(cell for cell in row.cells if cell.column in names))
        for row in rows
    ]
    return tuple(
        question
        for question in questions_about(plain, study, plan)
        if question.code != "missing_column"
        or (question.file, question.sheet, question.column) not in maybe
    )


def _gather_text(content: bytes, words: Vocabulary, into: Gathered) -> None:
    text, note = decoded(content, into.name)

    def fits(sheet: Sheet) -> int:
        turned = shaped(sheet, words)
        return turned.layout.understood if turned is not None else 0

    sheet = table_of(text, into.name, fits)
    if note:
        into.notes.append(f"{into.name}: {note}.")
    own = into.codes.get(PurePath(into.name).stem.casefold())
    if fits(sheet) == 0 and own is not None:  # a file named after its item
        sheet = table_of(text, into.name, lambda one: fits(with_item(one, own, words)))
        sheet = with_item(sheet, own, words)
        into.notes.append(f"{into.name}: all of it was read as {own}, as its name says.")
    if not gather(sheet, words, into):
        first = next((line for line in sheet.lines if not line.empty), None)
        found = " | ".join(cell.text for cell in first.cells) if first is not None else ""
        hint = item_hint(tables_of(text, into.name), words)
        raise refuse_without_headings(found, words, into.name, hint)
    into.notes.append(f"{into.name}: columns parted by {_spoken(sheet.delimiter)}.")


def _spoken(delimiter: str) -> str:
    names = {";": "semicolons", "\t": "tabs", ",": "commas", "|": "upright strokes"}
    return names.get(delimiter, delimiter)


def _gather_workbook(content: bytes, words: Vocabulary, plan: Plan, into: Gathered) -> None:
    sheets = _told_apart(sheets_of(content, into.name))
    ours = told_in_all(ABOUT)
    about = next((sheet for sheet in sheets if sheet.name.casefold() in ours), None)
    if about is not None:
        _refuse_other_plan(about, plan, into.name)
    else:
        into.notes.append(f"{into.name}: not this study's entry workbook, read as a plain table.")
    found = False
    for sheet in sheets:
        if sheet is not about:
            read = gather(sheet, words, into)
            own = into.codes.get(sheet.name.casefold())
            if not read and own is not None and gather(with_item(sheet, own, words), words, into):
                read = True
                into.notes.append(
                    f"{into.name}: all of sheet '{sheet.name}' was read as {own}, as its name says."
                )
            found = found or read
            if not read and sheet.lines:
                into.notes.append(
                    f"{into.name}: sheet '{sheet.name}' has no heading row and was not read."
                )
    if not found:
        names = ", ".join(sheet.name for sheet in sheets)
        raise refuse_without_headings(
            f"sheets: {names}", words, into.name, item_hint(sheets, words)
        )


def _told_apart(sheets: Sequence[Sheet]) -> list[Sheet]:
    """Return the sheets, a second one of the same name with a number behind it, and a note."""
    names = {sheet.name for sheet in sheets}
    used: set[str] = set()
    found = []
    for place, sheet in enumerate(sheets, start=1):
        if sheet.name in used:
            numbers = itertools.count(2)
            new = next(n for k in numbers if (n := f"{sheet.name} ({k})".strip()) not in names)
            names.add(new)
            told = f"this is sheet {place}; its name in the file is another sheet's name as well."
            found.append(replace(sheet, name=new, note=f"{told} {sheet.note}".strip()))
        else:
            used.add(sheet.name)
            found.append(sheet)
    return found


def _refuse_other_plan(about: Sheet, plan: Plan, name: str) -> None:
    lines = {line.at(0).text: line.at(1).text for line in about.lines}

    def said(word: str) -> str | None:
        return next((lines[name] for name in told_in_all(word) if name in lines), None)

    version = str(FORMAT_VERSION) if (one := said(FORMAT)) is None else one
    if version != str(FORMAT_VERSION):
        raise IngestError(
            "This workbook was made by another version of the program.",
            code="ingest.layout_version",
            where=f"{name}, sheet '{about.name}'",
            found=version,
            allowed=str(FORMAT_VERSION),
            do="Make the sheets again and copy the readings into the new workbook.",
        )
    if said(PLAN) not in {part.digest() for part in printed_plans(plan)}:
        raise IngestError(
            "This workbook belongs to another plan.",
            code="ingest.other_plan",
            where=f"{name}, sheet '{about.name}'",
            found=(said(PLAN) or "no plan named")[:12],
            allowed=f"{plan.digest()[:12]} (this study's plan)",
            do="Look for the workbook that was made with this plan; if the plan was made again, "
            "make the sheets again and copy the readings into the new workbook.",
        )


def _refuse_strangers(into: Gathered) -> None:
    """Refuse a file none of whose items is in the plan."""
    codes = {row.item for row in into.rows if row.item}
    if codes and not any(code.casefold() in into.codes for code in codes):
        raise IngestError(
            "None of the items in this file is in the plan.",
            code="ingest.other_items",
            where=into.name,
            found=", ".join(sorted(codes)[:6]),
            allowed=", ".join(sorted(into.codes.values())[:6]) + " ...",
            do="Check that this is the file of this study, and that the column 'item' holds the "
            "codes on the labels.",
        )


def _renumbered(
    questions: Sequence[Question], before: Sequence[Row], after: Sequence[Row]
) -> list[Question]:
    """Give questions that were asked while reading the reading numbers found afterwards."""
    if not questions:
        return []
    numbers: Mapping[object, int | None] = {
        new.place: new.reading for old, new in zip(before, after, strict=True)
    }

    def told(question: Question) -> Question:
        then = tuple(told(one) for one in question.then)
        if len(question.places) != 1:
            return replace(question, then=then)
        place = question.places[0]
        return replace(question, reading=numbers.get(place, question.reading), then=then)

    return [told(question) for question in questions]
