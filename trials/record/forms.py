"""Readings and questions as the record's file holds them, and what a newer file changes."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import fields, replace
from decimal import Decimal

from trials.errors import RecordError, TrialsError
from trials.record.values import Intake, Loss, Place, Question, Row, Taken, worded
from trials.words.keeping import Kept, kept, kept_form
from trials.words.language import marked

KEPT = ("found_kept", "why_kept")  # texts of a question that can be said in another language


def decimal(text: str | None) -> Decimal | None:
    """Return a number as it was kept, exactly."""
    return None if text is None else Decimal(text)


def body_of(question: Question) -> dict[str, object]:
    """Return a question as it is kept; it may have very many places."""
    body = {one.name: getattr(question, one.name) for one in fields(question)}
    then = {"then": [body_of(one) for one in question.then]} if question.then else {}
    del body["then"]
    places = [
        {"file": p.file, "sheet": p.sheet, "row": p.row, "part": p.part} for p in question.places
    ]
    for name in KEPT:
        text: Kept | None = getattr(question, name)
        body[name] = None if text is None else text.form()
    return body | {"places": places} | then


def question_of(body: dict[str, object]) -> Question:
    """Return a question as it was kept."""
    places = body["places"]
    if not isinstance(places, list):
        raise TypeError("places of a question")
    lists: dict[str, object] = {
        name: tuple(value) for name, value in body.items() if isinstance(value, list)
    }
    lists["places"] = tuple(
        Place(p["file"], p["sheet"], p["row"], p.get("part", 0)) for p in places
    )
    then = body.get("then")
    lists["then"] = tuple(question_of(one) for one in then) if isinstance(then, list) else ()
    for name in KEPT:
        form = body.get(name)
        lists[name] = kept_form(form) if isinstance(form, list) else None
    return Question(**{**body, **lists})  # type: ignore[arg-type]  # written by asdict


def row_value(row: Row) -> list[object]:
    """Return a reading as the digest of the record sees it."""
    cells = [
        [c.column, c.text, c.unit, None if c.value is None else str(c.value)] for c in row.cells
    ]
    return [
        row.place.file,
        row.place.sheet,
        row.place.row,
        row.item,
        row.reading,
        cells,
        dict(row.groups),
        row.worked,
        row.note,
    ]


def renamed(intake: Intake, name: str) -> Intake:
    """Return what was read under the name that the file is kept by, everywhere in it."""
    if name == intake.name:
        return intake

    def there(place: Place) -> Place:
        return replace(place, file=name) if place.file == intake.name else place

    def about(question: Question) -> Question:
        return replace(
            question,
            file=name if question.file == intake.name else question.file,
            places=tuple(there(place) for place in question.places),
            then=tuple(about(one) for one in question.then),
        )

    return replace(
        intake,
        name=name,
        rows=tuple(replace(row, place=there(row.place)) for row in intake.rows),
        questions=tuple(about(question) for question in intake.questions),
        notes=(
            *intake.notes,
            f"Another file is called {intake.name} already: this one is kept as {name}.",
        ),
    )


def gone(old: Sequence[Row], intake: Intake) -> list[Question]:
    """Ask about items that the older revision had and the newer one has not.

    Parameters
    ----------
    old : the readings of the older one as they counted, after all answers.
    """
    why = kept("The newer file has no readings of an item that the older one had.")
    one = marked("one reading before, none now")
    several = marked("{n} readings before, none now")
    still = {row.item for row in intake.rows}
    counts: dict[str, int] = {}
    for row in old:
        if row.item not in still:
            counts[row.item] = counts.get(row.item, 0) + 1
    return [
        Question(
            id="",
            code="readings_gone",
            file=intake.name,
            row=None,
            item=item,
            column=None,
            **worded(kept(several if count > 1 else one, n=count), why),
            do="keep, if that is right; else put them back into the file and collect it again.",
            answers=("keep",),
        )
        for item, count in counts.items()
    ]


def last_new(done: Sequence[tuple[Taken, list[str]] | TrialsError]) -> list[str]:
    """Return the questions of the last file that is new: those of all files go with it."""
    return next(
        one[1]
        for one in reversed(done)
        if not isinstance(one, TrialsError) and one[0].status != "same"
    )


def known_question(typed: str, asked: Mapping[str, Question]) -> str:
    """Return the id of a question as it was typed.

    Raises
    ------
    RecordError : there is no such question.
    """
    wanted = typed.strip().upper()
    if wanted in asked:
        return wanted
    still = [question.id for question in asked.values() if question.answer is None]
    raise RecordError(
        "There is no such question.",
        code="record.unknown_question",
        where="answer",
        found=typed,
        allowed=", ".join(still) or "no question is open",
        do="Take the name of the question from the list of questions.",
    )


LOST_WITH_READINGS = "lost_with_readings"


def lost_with_readings(loss: Loss, rows: Sequence[Row]) -> Question:
    """Ask whether the readings of an item that was recorded as lost are to count."""
    first, many = rows[0], len(rows) > 1
    why = kept(
        "It was recorded as lost ({cause}). Do these {n} readings of it count?"
        if many
        else "It was recorded as lost ({cause}). Does this reading of it count?",
        cause=loss.why,
        n=len(rows),
    )
    found = kept("readings of something that was recorded as lost")
    return Question(
        id="",
        code=LOST_WITH_READINGS,
        file=first.place.file,
        row=first.place.row,
        item=loss.item,
        column=None,
        **worded(found, why),
        do="keep, if it was measured before it got lost; set-aside, if it should not count; or "
        "correct and the right code, if the readings are of another one.",
        sheet=first.place.sheet,
        acts_on="identity",
        places=tuple(row.place for row in rows),
    )


def about_loss(question: Question, items: Collection[str]) -> bool:
    """Return whether a question asks about the readings of one of these lost items."""
    return question.code == LOST_WITH_READINGS and question.item in items


def without_covered(questions: Sequence[Question]) -> tuple[Question, ...]:
    """Leave out open questions whose numbers are all part of a wider question of the same kind."""
    sets = [(q, frozenset(q.places)) for q in questions]
    return tuple(
        q
        for q, places in sets
        if q.answer is not None
        or not places
        or not any(
            (wider.code, wider.column) == (q.code, q.column) and places < others
            for wider, others in sets
        )
    )


def standing_questions(
    run: Callable[..., sqlite3.Cursor], current: Collection[int]
) -> tuple[Question, ...]:
    """Return the questions whose files are all current, as they were last raised."""
    answers = {
        number: said
        for number, *said in run(
            "SELECT question, verb, value, why, by, at FROM answers ORDER BY id"
        )
    }
    last: dict[int, Question] = {}
    for number, files, body in run("SELECT question, files, body FROM raised ORDER BY id"):
        if not set(json.loads(files)) <= set(current):
            continue
        if body == "null":
            last.pop(number, None)
            continue
        question = question_of(json.loads(body))
        if number in answers:
            verb, value, why, by, at = answers[number]
            question = replace(question, answer=verb, answer_value=value, answer_why=why,
                               answer_by=by, answer_when=at)  # fmt: skip
        last[number] = question
    return without_covered([last[number] for number in sorted(last)])
