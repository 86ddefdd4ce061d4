"""The logbook: numbered pages to write on, for each team and lesson or session."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from trials.classroom.agenda import Agenda
from trials.classroom.arrange import Sitting, maker_group, members_of, sittings
from trials.render.typeset import pdf, template
from trials.sheets.class_times import crew_text, signs
from trials.sheets.parts import Job, Line
from trials.words import logbook as words
from trials.words.gone import nothing_left, printed_again
from trials.words.numbers import capital

CODES_ON_A_PAGE = 6  # items that find room on one page, with lines to write on


def logbook(job: Job) -> bytes:
    """Return logbook.pdf: a page or two for each team and lesson, with the codes of their items.

    Without a timetable: for each team and session.
    """
    agenda = job.agenda
    pages = list(_by_session(job) if agenda is None else _by_lesson(job, agenda))
    left = [one for n, page in enumerate(pages, 1) if (one := _of_what_is(job, page, n))]
    data: dict[str, Any] = {
        "foot": job.foot(blind=True),
        "rules": [*words.RULES, *([printed_again()] if job.changed else [])],
        "fields": list(words.FIELDS),
        "none": "" if left else nothing_left(job.study.item_name),
        "pages": left,
        "last": len(pages),
    }
    return pdf(template("logbook.typ", "trials.sheets"), data, title="Logbook", paper=job.paper)


def _of_what_is(job: Job, page: Line, number: int) -> Line | None:
    """Return a page with its number and what there is of its items; None where nothing is.

    Numbers are those of all items, so that no page gets the number of another one.
    """
    untimed = job.agenda.left_out if job.agenda is not None else ()
    codes = [row for row in page["codes"] if row[0] not in {*job.gone, *untimed}]
    return {**page, "codes": codes, "number": number} if codes else None


def _by_session(job: Job) -> Iterator[Line]:
    for sitting in sittings(job.study, job.plan):
        whose = sitting.title if sitting.maker or sitting.session else f"All {job.items}"
        yield from _pages(job, sitting, whose, {})


def _by_lesson(job: Job, agenda: Agenda) -> Iterator[Line]:
    """Yield pages team by team, so that each team gets its own in one piece."""
    maker = maker_group(job.plan)
    rows = sorted(job.plan.rows, key=lambda row: row.run)
    sign = signs(job.study)
    for team in members_of(rows, maker) if maker else ("",):
        for part in agenda.lessons:
            steps: dict[str, list[str]] = {}
            for turn in part.turns:
                for item in turn.work.items:
                    steps.setdefault(item, []).append(sign[turn.step.name])
            mine = tuple(
                row
                for row in rows
                if row.item in {*steps, *agenda.left_out}
                and (maker is None or row.groups[maker.name] == team)
            )
            whose = crew_text(job, team) if team else f"all {job.items}"
            if mine:  # of what is left out too, so that the pages keep their numbers
                title = f"{capital(whose)}: lesson {part.lesson}"
                yield from _pages(job, Sitting(team, "", mine), title, steps)


def _pages(job: Job, sitting: Sitting, title: str, steps: dict[str, list[str]]) -> Iterator[Line]:
    rows = sitting.rows
    for at in range(0, len(rows), CODES_ON_A_PAGE):
        here = rows[at : at + CODES_ON_A_PAGE]
        yield {
            "title": title if not at else words.continued(title),
            "columns": [capital(job.study.item_name), *(["Steps"] if steps else []), "Notes"],
            "codes": [
                [row.item, *([", ".join(steps.get(row.item, ()))] if steps else [])] for row in here
            ],
        }
