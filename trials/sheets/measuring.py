"""The measuring sheets: codes only, in measuring order, with a line for every reading.

Whoever measures must not know how an item was made, so nothing here names a version.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from trials.classroom.agenda import latest_starts
from trials.classroom.arrange import (
    Sitting,
    bare_unit,
    heading,
    measuring_sittings,
    measuring_steps,
    response_label,
)
from trials.design.values import PlanRow
from trials.ingest.workbook_layout import measuring_sheets as workbook_sheets
from trials.ingest.workbook_layout import raw_columns, readings_per_item
from trials.quantities import nice
from trials.reduction import Column, reducer_of
from trials.reduction.table import same_name
from trials.render.typeset import pdf, template
from trials.sheets.class_times import measurer, when_text
from trials.sheets.parts import Job, Line, step_block
from trials.sheets.readers import pieces, stranger
from trials.study.check_lessons import used_at
from trials.study.values import Equipment, Study
from trials.words import class_times as words
from trials.words.gone import not_listed
from trials.words.language import say
from trials.words.numbers import capital, count
from trials.words.quantity_names import quantity_name


@dataclass(frozen=True)
class _Part:
    """What is read with one piece of equipment; ``piece``: "" where a sheet isn't parted so."""

    piece: str
    rows: tuple[PlanRow, ...]


def measuring_sheets(job: Job) -> bytes:
    """Return measuring-sheets.pdf."""
    study = job.study
    columns = raw_columns(study)
    data: dict[str, Any] = {
        "foot": job.foot(blind=True),
        "rules": _rules(job),
        "steps": [
            {**step_block(job, n, step, ()), "settings": []}
            for n, step in enumerate(measuring_steps(study), 1)
        ],
        "failed": _failed(study),
        "words": _words(),
        "which": _which(job)[0],
        "narrow": job.agenda is None,
        "columns": [_column(column) for column in columns],
        "sheets": _sheets(job),
    }
    return pdf(
        template("measuring.typ", "trials.sheets"),
        data,
        title=say("Measuring sheets"),
        paper=job.paper,
        mark=job.mark,
    )


def _rules(job: Job) -> list[str]:
    item, agenda = job.study.item_name, job.agenda
    limits = latest_starts(agenda) if agenda is not None else {}
    measured = {step.name for step in measuring_steps(job.study)}
    late = [say(words.LATE_READING)] if any(step in measured for step, _ in limits) else []
    rules = [
        say(
            "Measure in the order of this list, from the top. It was drawn by chance, so that "
            "things that drift (light, warmth, tired people) favour no kind of {item}.",
            item=item,
        ),
        say(
            "Write down what the instrument shows, with all its digits. Take the first steady "
            "number, never the best one."
        ),
        " ".join([say("One line is one reading. Write the time beside each."), *late]),
        say(
            "A number outside 'usual' isn't wrong: check range and unit, then write what you read."
        ),
        say("Don't ask how a {item} was made. Whoever measures shouldn't know.", item=item),
        say("Broken, or never measured? Write 'lost' and the reason in the note."),
    ]
    if agenda is not None and any(
        turn.step.stage == "measure" and stranger(job, turn)
        for part in agenda.ahead
        for turn in part.turns
    ):
        rules.append(words.in_twos(item))
    if len(workbook_sheets(job.study, job.plan)) > 1:
        rules.append(say("The small word under a code is its page in the entry workbook."))
    return rules


def _words() -> dict[str, str]:
    """Return the fixed words of the page."""
    return {
        "rules": say("Rules"),
        "worked": say("Did it work?"),
        "tick no": say(
            "Tick 'no' if it is like this, also after you have checked everything and tried once "
            "more. Still write the numbers you read. One that doesn't work is a result too."
        ),
        "order": say("Order"),
        "code": say("Code"),
        "reading": say("Reading"),
        "if you can": say("(if you can)"),
        "time": say("Time"),
        "note": say("Note"),
        "yes": say("yes"),
        "no": say("no"),
    }


def _failed(study: Study) -> list[Line]:
    lines = []
    for response in study.responses:
        if response.failed is not None:
            unit = bare_unit(nice(response.unit))
            below = f"{response.failed.below:g} {unit}".strip()
            lines.append(
                {
                    "label": heading(response_label(response)),
                    "text": response.failed.text
                    or say("The result is below {number}.", number=below),
                }
            )
    return lines


def _column(column: Column) -> Line:
    unit = bare_unit(nice(column.unit))
    return {
        "name": heading(quantity_name(column.name)),
        "unit": f"({unit})" if unit and not column.name.endswith(unit) else "",
        "about": column.about and say(column.about),
        "usual": range_text(column),
        "once": column.per == "item",
        "needed": column.required,
    }


def range_text(column: Column) -> str:
    """Return the believable range of a column in words; empty where there is none.

    Examples
    --------
    >>> range_text(Column("height", "mm", believable=(Decimal("0.0"), Decimal("400"))))
    'usual: 0 to 400'
    >>> range_text(Column("height", "mm", believable=(None, Decimal("1.50"))))
    'usual: up to 1.5'
    """
    low, high = column.believable
    if low is not None and high is not None:
        return say("usual: {low} to {high}", low=_digits(low), high=_digits(high))
    if high is not None:
        return say("usual: up to {high}", high=_digits(high))
    return say("usual: from {low}", low=_digits(low)) if low is not None else ""


def _digits(number: Decimal) -> str:
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def column_readings(study: Study) -> tuple[int, ...]:
    """Return how many readings of an item each raw column wants, in the order of the columns."""
    wanted: dict[str, int] = {}
    for response in study.responses:
        for column in reducer_of(response).columns(response):
            key = same_name(column.name)
            wanted[key] = max(wanted.get(key, 1), response.readings)
    return tuple(
        1 if column.per == "item" else wanted[same_name(column.name)]
        for column in raw_columns(study)
    )


@dataclass(frozen=True)
class Planned:
    """Of one item when it is measured, who reads, and with which piece of equipment."""

    lines: tuple[str, ...]  # as a sheet prints them
    pieces: frozenset[str]
    at: tuple[int, int]  # part of the timetable and minute of it


def planned(job: Job) -> dict[str, Planned]:
    """Return of each item when it is measured, who reads, and with which piece of equipment.

    Where it can't lie long, by when at the latest stands beside when.

    Of a lesson that is over, only that it is. Nothing where the plan has no timetable.
    """
    agenda = job.agenda
    told: dict[str, Planned] = {}
    parts = agenda.parts if agenda else ()
    several = len({p.lesson for p in parts if any(s.stage == "measure" for s in p.steps)}) > 1
    latest = latest_starts(agenda) if agenda else {}
    for place, part in enumerate(parts):
        which = pieces(job, part)
        for turn in part.turns:
            if agenda is None or turn.step.stage != "measure":
                continue
            lines = [say("lesson {n}, over", n=part.lesson)]
            with_which = which.get((turn.step.name, turn.work.items), [])
            if part.lesson > agenda.over:
                when = when_text(agenda, part, turn.start)
                limit = latest.get((turn.step.name, turn.work.items[0]))
                if limit is not None:
                    by = when_text(agenda, part, limit)
                    when = say("{when}, by {latest}", when=when, latest=by)
                lines = [
                    say("lesson {n}, {when}", n=part.lesson, when=when) if several else when,
                    measurer(job, turn),
                    *with_which,
                ]
            for item in turn.work.items:
                had = told.get(item, Planned((), frozenset(), (place, turn.start)))
                told[item] = Planned(
                    (*had.lines, *filter(None, lines)), had.pieces | {*with_which}, had.at
                )
    return told


def _by_piece(job: Job, sitting: Sitting, when: Mapping[str, Planned]) -> list[_Part]:
    """Return what is read where: a part for each piece of what the class measures with.

    Each has its items in the order of time. Only where each item is read with one piece; else, and
    where each team has its own, there is one part, which names no piece.
    """
    left = tuple(row for row in sitting.rows if row.item not in job.gone)
    shared = _shared(job)
    timed = sorted((row for row in left if row.item in when), key=lambda row: when[row.item].at)
    if shared is None or any(len(when[row.item].pieces) != 1 for row in timed):
        return [_Part("", left)]
    found: dict[str, list[PlanRow]] = {}
    for row in timed:
        (piece,) = when[row.item].pieces
        found.setdefault(piece, []).append(row)
    names = [words.which_piece(shared.name, n) for n in range(1, shared.count + 1)]
    if len(found) < 2:
        return [_Part("", left)]
    parts = [_Part(name, tuple(found[name])) for name in names if name in found]
    rest = tuple(row for row in left if row.item not in when)
    return [*parts, *([_Part(say("not in the timetable"), rest)] if rest else [])]


def _shared(job: Job) -> Equipment | None:
    """Return what the class measures with, if there are several pieces and of nothing else."""
    used = {name for step in measuring_steps(job.study) for name in used_at(step)}
    several = [one for one in job.study.equipment if one.count > 1 and one.name in used]
    return several[0] if [one.per for one in several] == ["class"] else None


def parted_by(job: Job) -> str:
    """Return of what each piece has a measuring sheet of its own; empty where none has."""
    when, shared = planned(job), _shared(job)
    sittings = measuring_sittings(job.study, job.plan)
    parted = any(part.piece for one in sittings for part in _by_piece(job, one, when))
    return shared.name if shared and parted else ""


def _which(job: Job) -> tuple[str, str]:
    """Return the heading of the column on when, who and with what, and what it means.

    Without a timetable it is for what was used, where there are several; else there is none.
    """
    if job.agenda is not None:
        return say(words.PLANNED), say(words.PIECES)
    used = {name for step in measuring_steps(job.study) for name in used_at(step)}
    several = any(one.count > 1 and one.name in used for one in job.study.equipment)
    return (say(words.WITH), say(words.PIECE_LINE)) if several else ("", "")


def _sheets(job: Job) -> list[Line]:
    when = planned(job)
    return [
        _sheet(job, sitting, part, when, gone=not at)
        for sitting in measuring_sittings(job.study, job.plan)
        for at, part in enumerate(_by_piece(job, sitting, when))
    ]


def _sheet(
    job: Job, sitting: Sitting, part: _Part, when: Mapping[str, Planned], *, gone: bool
) -> Line:
    """Return one sheet; ``gone``: it names those of the sitting that there is nothing of."""
    study = job.study
    titles = [*([sitting.title] if sitting.session else []), *filter(None, [part.piece])]
    title = ", ".join(titles) or say("all {items}", items=job.items)
    tabs = {item: sheet.title for sheet in workbook_sheets(study, job.plan) for item in sheet.items}
    several = len(set(tabs.values())) > 1
    readings = readings_per_item(study)
    wanted = column_readings(study)
    return {
        "title": say("Measuring sheet: {title}", title=f"{title[0].lower()}{title[1:]}"),
        "count": " ".join(
            filter(
                None,
                [
                    say(
                        "{items}, {readings} of each.",
                        items=capital(count(len(part.rows), study.item_name)),
                        readings=count(readings, say("reading")),
                    ),
                    say(words.PARTED, piece=part.piece) if part.piece else _which(job)[1],
                ],
            )
        ),
        "without": not_listed(*job.gone_among(sitting.rows)) if gone else "",
        "items": [
            {
                "measure": str(row.measure),
                "code": row.item,
                "planned": list(when[row.item].lines) if row.item in when else [],
                "tab": tabs[row.item] if several else "",
                "readings": [
                    [reading <= times for times in wanted] for reading in range(1, readings + 1)
                ],
            }
            for row in part.rows
        ],
    }
