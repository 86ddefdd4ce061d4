"""What all readings together bring up: asked of a person, never decided here.

The checks know the field of work only through what the reducers declare of their columns.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from trials.design.values import Plan
from trials.ingest.asking import about_cell, about_item, bundles, place_text, several_text
from trials.ingest.places import misplaced
from trials.ingest.slips import slips
from trials.ingest.workbook_layout import raw_columns
from trials.quantities import as_decimal, nice, shown
from trials.record.reduce import item_readings
from trials.record.values import Question, Row
from trials.reduction import Column, Flag, Range, reducer_of
from trials.study.values import Response, Study

_FEWEST_COPIED = 4  # numbers that must agree before two items look copied
_FEWEST_FIGURES = 10  # significant figures in them


def questions_about(rows: Sequence[Row], study: Study, plan: Plan) -> tuple[Question, ...]:
    """Return every question that a set of readings raises.

    Parameters
    ----------
    rows : all current readings. Those of items that are not in the plan have their own questions
        from reading the file, and are left out here.
    """
    codes = {row.item for row in plan.rows}
    known = [row for row in rows if row.item in codes]
    broken = {row.item for row in known if row.worked is False}
    working = [row for row in known if row.item not in broken]
    columns = raw_columns(study)
    questions = [*doubled(known, plan), *copied(working), *misplaced(known, plan)]
    questions += slips(columns, working, _failed_below(study))
    questions += _ranges(columns, working, _asked_of(questions))
    questions += _missing(columns, working, study)
    questions += _contradictions(working, study, _asked_of(questions))
    return tuple(questions)


def _asked_of(questions: Iterable[Question]) -> set[tuple[object, str]]:
    """Return the numbers that some question is about, as (place, column)."""
    return {(place, q.column) for q in questions if q.column for place in q.places}


def _failed_below(study: Study) -> dict[str, Decimal]:
    """Return the failed rule of responses that are one column as it is read."""
    found = {}
    for response in study.responses:
        columns = reducer_of(response).columns(response)
        if response.failed is not None and len(columns) == 1:
            found[columns[0].name] = as_decimal(response.failed.below)
    return found


# ---- the same thing twice --------------------------------------------------------------------


def doubled(rows: Sequence[Row], plan: Plan) -> list[Question]:
    """Return the questions about readings that stand there twice.

    Two rows with the same item and reading number are one reading entered twice if all their
    numbers agree, else two readings that were given one number, or one of them has a wrong code.
    """
    first: dict[tuple[str, int | None], Row] = {}
    again: dict[tuple[str, str, str, str], list[tuple[Row, Row]]] = {}
    for row in rows:
        before = first.setdefault((row.item, row.reading), row)
        shared = [c for c in row.cells if before.cell(c.column) is not None]
        if before is row or not shared:
            continue
        same = all(c.value == _value(before, c.column) for c in shared)
        code = "entered_twice" if same else "read_twice"
        key = (code, row.item, row.place.file, row.place.sheet)
        again.setdefault(key, []).append((row, before))
    unread = sorted({row.item for row in plan.rows} - {row.item for row in rows})
    return [_doubled(code, pairs, unread) for (code, *_), pairs in again.items()]


def _doubled(code: str, pairs: Sequence[tuple[Row, Row]], unread: Sequence[str]) -> Question:
    rows = [row for row, _ in pairs]
    numbers = ", ".join(str(row.reading) for row in rows)
    found = f"reading {numbers} a second time" if len(rows) == 1 else f"readings {numbers} again"
    at = place_text(pairs[0][1].place)
    if code == "entered_twice":
        return about_item(
            rows,
            code,
            found=found,
            must=True,
            why=f"The same numbers stand in {at}; they count once until you say otherwise.",
            do="set-aside, if it is one reading; keep, if it was read again with the same result; "
            "correct and the right code, if it belongs to another item.",
        )
    near = unread[0] if len(unread) == 1 else ""
    return about_item(
        rows,
        code,
        found=found,
        proposal=near,
        why=f"Other numbers for the same reading stand in {at}. Both are used so far."
        + (f" {near} has no readings yet." if near else ""),
    )


def copied(rows: Sequence[Row]) -> list[Question]:
    """Return the questions about items all of whose numbers are those of another item."""
    by_item: dict[str, list[Row]] = {}
    for row in rows:
        by_item.setdefault(row.item, []).append(row)
    seen: dict[tuple[object, ...], str] = {}
    questions = []
    for item, mine in by_item.items():
        numbers = [
            (row.reading, cell.column, cell.value)
            for row in mine
            for cell in row.cells
            if cell.value is not None
        ]
        figures = sum(len(value.normalize().as_tuple().digits) for _, _, value in numbers)
        if len(numbers) < _FEWEST_COPIED or figures < _FEWEST_FIGURES:
            continue
        other = seen.setdefault(tuple(sorted(numbers, key=str)), item)
        if other != item:
            questions.append(
                about_item(
                    mine,
                    "copied",
                    found=f"the same {len(numbers)} numbers as {other}",
                    why="Two items hardly ever agree in every figure: were these rows copied?",
                )
            )
    return questions


def _value(row: Row, column: str) -> Decimal | None:
    cell = row.cell(column)
    return None if cell is None else cell.value


# ---- single numbers --------------------------------------------------------------------------


def _ranges(
    columns: Sequence[Column], rows: Sequence[Row], asked: set[tuple[object, str]]
) -> Iterable[Question]:
    for column in columns:
        found: dict[str, list[Row]] = {}
        for row in rows:
            value = _value(row, column.name)
            if value is None or (row.place, column.name) in asked:
                continue
            if _outside(value, column.possible):
                found.setdefault("negative" if value < 0 else "impossible", []).append(row)
            elif _outside(value, column.believable):
                found.setdefault("unusual", []).append(row)
        for code, mine in found.items():
            for bundle in bundles(mine):
                yield _out_of_range(code, bundle, column)


def _out_of_range(code: str, rows: Sequence[Row], column: Column) -> Question:
    cells = [cell for row in rows if (cell := row.cell(column.name)) is not None]
    found = several_text(rows, [cell.text for cell in cells])
    if code == "unusual":
        why = f"Usual is {_between(column.believable, column.unit)}."
        return about_cell(rows, column, code, found=found, why=why)
    why = f"This can only be {_between(column.possible, column.unit)}."
    proposal = ""
    if code == "negative":
        why += " Is the sign right?"
        value = cells[0].value
        proposal = shown(-value) if len(cells) == 1 and value is not None else "x-1"
    return about_cell(rows, column, code, found=found, why=why, proposal=proposal, must=True)


def _missing(columns: Sequence[Column], rows: Sequence[Row], study: Study) -> Iterable[Question]:
    """Ask for numbers without which a reading can't be used: one by one, or a whole column."""
    wanted = _wanted_readings(study)
    has = {(row.item, row.reading, c.column) for row in rows for c in row.cells}
    once = {(row.item, c.column) for row in rows for c in row.cells}
    sheets: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        if row.cells:
            sheets.setdefault((row.place.file, row.place.sheet), []).append(row)
    for column in columns:
        if not column.required:
            continue
        for mine in sheets.values():
            lacking = [
                row
                for row in mine
                if (row.reading or 1) <= wanted.get(column.name, 1)
                and (row.item, row.reading, column.name) not in has
                and not (column.per == "item" and (row.item, column.name) in once)
            ]
            if column.per == "item":
                lacking = list({row.item: row for row in reversed(lacking)}.values())[::-1]
            if any(row.cell(column.name) is not None for row in mine):
                for bundle in bundles(lacking):
                    items = ", ".join(dict.fromkeys(row.item for row in bundle))
                    many = f"nothing in {len(bundle)} readings of {items}"
                    yield about_cell(
                        bundle,
                        column,
                        "missing",
                        found="nothing" if len(bundle) == 1 else many,
                        why="Without it a reading can't be used for every response.",
                        usable=False,
                    )
            elif lacking:
                yield about_cell(
                    lacking,
                    column,
                    "missing_column",
                    found=f"no '{column.header}' anywhere",
                    why="Without it these readings can't be used for every response.",
                    usable=False,
                )


def _wanted_readings(study: Study) -> dict[str, int]:
    """Return for each required column how many readings of an item should have it."""
    wanted: dict[str, int] = {}
    for response in study.responses:
        for column in reducer_of(response).columns(response):
            if column.required:
                wanted[column.name] = max(wanted.get(column.name, 0), response.readings)
    return wanted


# ---- numbers that don't go together ----------------------------------------------------------


def _contradictions(
    rows: Sequence[Row], study: Study, asked: set[tuple[object, str]]
) -> Iterable[Question]:
    by_item: dict[str, list[Row]] = {}
    places = {place for place, _ in asked}
    for row in rows:
        if row.place in places:
            cells = tuple(c for c in row.cells if (row.place, c.column) not in asked)
            by_item.setdefault(row.item, []).append(row.having(cells))
        else:
            by_item.setdefault(row.item, []).append(row)
    told: set[tuple[object, ...]] = set()
    for response in study.responses:
        columns = {c.name: c for c in reducer_of(response).columns(response)}
        flagged: dict[tuple[str, str | None], list[tuple[Row, Flag]]] = {}
        strange: list[tuple[Row, float]] = []
        for item, mine in by_item.items():
            pairs = item_readings(mine, tuple(columns.values()))
            readings = [reading for _, reading in pairs]
            flags = reducer_of(response).check(response, readings)
            for flag in flags:
                about = pairs[1:] if flag.reading is None else [pairs[flag.reading]]
                if (flag.code, item, flag.reading, flag.found) not in told:
                    told.add((flag.code, item, flag.reading, flag.found))
                    mates = flagged.setdefault((flag.code, flag.column), [])
                    mates.extend((row, flag) for row, _ in about)
            value = reducer_of(response).reduce(response, readings).value
            if value is None or flags or len(columns) < 2:
                continue
            if _outside(as_decimal(value), _ends(response)):
                strange.extend((row, value) for row, _ in pairs)
        for (_, column), found in flagged.items():
            yield from _flagged(found, columns[column] if column is not None else None)
        yield from _strange(response, strange)


def _flagged(found: Sequence[tuple[Row, Flag]], column: Column | None) -> Iterable[Question]:
    flags = {row.place: flag for row, flag in found}
    for rows in bundles([row for row, _ in found]):
        first = flags[rows[0].place]
        text = first.found
        if len(rows) > 1:
            text = several_text(rows, [flags[row.place].found for row in rows])
        if column is None:
            yield about_item(rows, first.code, found=text, why=first.why)
        else:
            yield about_cell(rows, column, first.code, found=text, why=first.why)


def _ends(response: Response) -> Range:
    low, high = (None if e is None else as_decimal(e) for e in (response.low, response.high))
    return (low, high)


def _strange(response: Response, found: Sequence[tuple[Row, float]]) -> Iterable[Question]:
    """Ask about results outside what the study calls usual."""
    values = {row.item: value for row, value in found}
    unit = f" {nice(response.unit)}" if nice(response.unit) else ""
    for rows in bundles([row for row, _ in found]):
        items = list(dict.fromkeys(row.item for row in rows))
        texts = [f"{item}: {values[item]:.4g}{unit}" for item in items[:6]]
        yield about_item(
            rows,
            "unusual_result",
            found=f"{response.label or response.name} of {', '.join(texts)}"
            + (" ..." if len(items) > 6 else ""),
            why="These readings give a value outside what the study calls usual: "
            f"{_between(_ends(response), response.unit)}.",
        )


def _outside(value: Decimal, ends: Range) -> bool:
    low, high = ends
    return (low is not None and value < low) or (high is not None and value > high)


def _between(ends: Range, unit: str) -> str:
    low, high = ends
    after = f" {nice(unit)}" if unit and nice(unit) else ""
    if low is not None and high is not None:
        return f"{shown(low)} to {shown(high)}{after}"
    return (
        f"{shown(low)}{after} or more"
        if low is not None
        else f"up to {shown(high or Decimal(0))}{after}"
    )
