"""What all readings together bring up: asked of a person, never decided here.

The checks know the field of work only through what the reducers declare of their columns.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from trials.design.values import Plan
from trials.ingest.asking import about_cell, about_item, bundles, nothing_text, several_text
from trials.ingest.conditions import condition_questions
from trials.ingest.copies import copied, copied_runs, doubled, filled_down
from trials.ingest.crossed import crossed_first
from trials.ingest.digits import digit_slips
from trials.ingest.labels import Name, exchanged_labels
from trials.ingest.noted import noted_deviations
from trials.ingest.places import misplaced
from trials.ingest.slips import slips
from trials.ingest.times import time_questions
from trials.ingest.workbook_layout import raw_columns
from trials.quantities import as_decimal, nice, shown
from trials.record.otherwise import level_text
from trials.record.reduce import item_readings
from trials.record.values import Place, Question, Row
from trials.reduction import Column, Flag, Range, reducer_of
from trials.reduction.ranges import kept_range, outside
from trials.reduction.table import same_name
from trials.study.values import Response, Study
from trials.words.keeping import Kept, kept, kept_list

_Asked = dict[str, set[Place]]  # the numbers that some question is about: column -> places


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
    asked: _Asked = {}
    questions: list[Question] = []
    _ask(questions, [*doubled(known, plan), *copied(working), *misplaced(known, plan)], asked)
    moved = {item for q in questions for item in (q.item, q.partner)}
    still = [row for row in working if row.item not in moved]
    _ask(questions, copied_runs(columns, still), asked)
    _ask(questions, filled_down(columns, working), asked)
    _ask(questions, digit_slips(columns, working), asked)
    _ask(questions, slips(columns, _without(working, asked), _failed_below(study)), asked)
    _ask(questions, list(_ranges(columns, working, study, asked)), asked)
    questions = crossed_first(columns, working, questions)
    _ask(questions, _missing(columns, working, study), asked)
    _ask(questions, list(_contradictions(_without(working, asked), study)), asked)
    plain = _without(working, asked)
    questions += condition_questions(columns, plain)
    questions += [*time_questions(known, plan), *noted_deviations(known)]
    moved |= {q.item for q in questions if q.code == "copied_run"}
    fixed = [row for row in plain if row.item not in moved]
    questions += exchanged_labels(columns, fixed, plan, _names(study, plan))
    return tuple(questions)


def _without(rows: Sequence[Row], asked: _Asked) -> list[Row]:
    """Return the rows without the numbers that some question is about."""
    if not asked:
        return list(rows)
    # the number of a line is known much faster than a place
    lines = {column: {place.row for place in places} for column, places in asked.items()}

    def is_asked(row: Row, column: str) -> bool:
        return row.place.row in lines.get(column, ()) and row.place in asked[column]

    return [
        row.having(tuple(cell for cell in row.cells if not is_asked(row, cell.column)))
        if any(is_asked(row, cell.column) for cell in row.cells)
        else row
        for row in rows
    ]


def _names(study: Study, plan: Plan) -> Name:
    """Return how a sentence names a version of a factor, or a member of a group."""
    factors = {factor.name: factor for factor in plan.factors}
    labels = {group.name: group.label or group.name for group in study.groups}

    def name(part: str, one: str) -> str:
        if part in factors:
            return level_text(factors[part], one, study)
        return f"{labels.get(part, part)} {one}"

    return name


def _ask(questions: list[Question], more: Iterable[Question], asked: _Asked) -> None:
    """Add questions, and to ``asked`` the numbers that they are about."""
    for question in more:
        questions.append(question)
        if question.column:
            asked.setdefault(question.column, set()).update(question.places)


def _failed_below(study: Study) -> dict[str, Decimal]:
    """Return the failed rule of responses that are one column as it is read."""
    found = {}
    for response in study.responses:
        columns = reducer_of(response).columns(response)
        if response.failed is not None and len(columns) == 1:
            found[columns[0].name] = as_decimal(response.failed.below)
    return found


def _value(row: Row, column: str) -> Decimal | None:
    cell = row.cell(column)
    return None if cell is None else cell.value


# ---- single numbers --------------------------------------------------------------------------


def _ranges(
    columns: Sequence[Column], rows: Sequence[Row], study: Study, asked: _Asked
) -> Iterable[Question]:
    for column in columns:
        found: dict[str, list[Row]] = {}
        if all(end is None for end in (*column.possible, *column.believable)):
            continue
        for row in rows:
            value = _value(row, column.name)
            if value is None:
                continue
            impossible = outside(value, column.possible)
            if not impossible and not outside(value, column.believable):
                continue
            if row.place in asked.get(column.name, ()):
                continue
            code = "unusual"
            if impossible:
                code = "negative" if value < 0 else "impossible"
            found.setdefault(code, []).append(row)
        for code, mine in found.items():
            for bundle in bundles(mine):
                yield _out_of_range(code, bundle, column, _declared(column, study))


def _declared(column: Column, study: Study) -> str | Kept:
    """Return which lines of study.toml say what is usual in a column, or an empty text."""
    said: list[str | Kept] = []
    for response in study.responses:
        own = {same_name(c.name): c.believable for c in reducer_of(response).columns(response)}
        if own.get(same_name(column.name)) != _ends(response):
            continue
        ends = zip(("low", "high"), _ends(response), column.believable, strict=True)
        lines = [name for name, end, usual in ends if end is not None and end == usual]
        if lines:
            said.append(
                kept(
                    "{lines} of [responses.{response}]",
                    lines=kept_list(lines),
                    response=response.name,
                )
            )
    return kept("{lines} in study.toml", lines=kept_list(said)) if said else ""


def _out_of_range(code: str, rows: Sequence[Row], column: Column, declared: str | Kept) -> Question:
    cells = [cell for row in rows if (cell := row.cell(column.name)) is not None]
    found = several_text(rows, [cell.text for cell in cells])
    if code == "unusual":
        why = kept(
            "Usual is {range} ({declared})." if declared else "Usual is {range}.",
            range=kept_range(column.believable, column.unit),
            declared=declared,
        )
        return about_cell(rows, column, code, found=found, why=why)
    why = kept("This can only be {range}.", range=kept_range(column.possible, column.unit))
    proposal = ""
    if code == "negative":
        why += kept("Is the sign right?")
        value = cells[0].value
        proposal = shown(-value) if len(cells) == 1 and value is not None else "x-1"
    return about_cell(rows, column, code, found=found, why=why, proposal=proposal, must=True)


def _missing(columns: Sequence[Column], rows: Sequence[Row], study: Study) -> Iterable[Question]:
    """Ask for numbers without which a reading can't be used: one by one, or a whole column."""
    wanted = _wanted_readings(study)
    sheets: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        if row.cells:
            sheets.setdefault((row.place.file, row.place.sheet), []).append(row)
    for column in columns:
        if not column.required:
            continue
        most = wanted.get(column.name, 1)
        without = {
            sheet: [
                row for row in mine if (row.reading or 1) <= most and row.cell(column.name) is None
            ]
            for sheet, mine in sheets.items()
        }
        if not any(without.values()):
            continue
        having = [row for row in rows if row.cell(column.name) is not None]
        has = {(row.item, row.reading) for row in having}
        once = {row.item for row in having}
        for sheet, mine in sheets.items():
            lacking = [
                row
                for row in without[sheet]
                if (row.item, row.reading) not in has
                and not (column.per == "item" and row.item in once)
            ]
            if column.per == "item":
                lacking = list({row.item: row for row in reversed(lacking)}.values())[::-1]
            if any(row.cell(column.name) is not None for row in mine):
                for bundle in bundles(lacking):
                    yield about_cell(
                        bundle,
                        column,
                        "missing",
                        found=nothing_text(bundle),
                        why=kept("Without it a reading can't be used for every response."),
                        usable=False,
                    )
            elif lacking:
                yield about_cell(
                    lacking,
                    column,
                    "missing_column",
                    found=kept("no '{heading}' anywhere", heading=column.header),
                    why=kept("Without it these readings can't be used for every response."),
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


def _contradictions(rows: Sequence[Row], study: Study) -> Iterable[Question]:
    by_item: dict[str, list[Row]] = {}
    for row in rows:
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
            if flags or len(columns) < 2:
                continue
            value = reducer_of(response).reduce(response, readings).value
            if value is None:
                continue
            if outside(as_decimal(value), _ends(response)):
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
    if not found:
        return
    values = {row.item: value for row, value in found}
    unit = f" {nice(response.unit)}" if nice(response.unit) else ""
    for rows in bundles([row for row, _ in found]):
        items = list(dict.fromkeys(row.item for row in rows))
        texts = [f"{item}: {values[item]:.4g}{unit}" for item in items[:6]]
        yield about_item(
            rows,
            "unusual_result",
            found=kept(
                "{response} of {items}",
                response=response.label or response.name,
                items=", ".join(texts) + (" ..." if len(items) > 6 else ""),
            ),
            why=kept(
                "By low and high of [responses.{response}] in study.toml these readings give a "
                "value outside what the study calls usual: {range}.",
                response=response.name,
                range=kept_range(_ends(response), response.unit),
            ),
        )
