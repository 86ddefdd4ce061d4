"""The logbook: numbered pages to write on, for each team and lesson or session."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from trials.classroom.agenda import Agenda, Part
from trials.classroom.arrange import maker_group, sittings
from trials.render.typeset import pdf, template
from trials.sheets.class_times import crew_text, signs
from trials.sheets.parts import Job, Line
from trials.sheets.readers import pieces, stranger
from trials.words import logbook as words
from trials.words.gone import nothing_left, printed_again
from trials.words.language import say
from trials.words.numbers import capital

CODES_ON_A_PAGE = 6  # items that find room on one page, with lines to write on
MOST_ON_A_PAGE = 10  # with those that a team finishes for another one


def logbook(job: Job) -> bytes:
    """Return logbook.pdf: a page or two for each team and lesson, with the codes of their items.

    Without a timetable: for each team and session. Pages of lessons that are over aren't printed
    again, and the others keep their numbers.
    """
    agenda = job.agenda
    pages = list(_by_session(job) if agenda is None else _by_lesson(job, agenda))
    own = [page for page in pages if not page["more"]]
    more = [page for page in pages if page["more"]]
    numbers = {id(page): number for number, page in enumerate((*own, *more), 1)}
    left = [
        {
            **page,
            "number": say(
                "Logbook page {number} of {last}", number=numbers[id(page)], last=len(pages)
            ),
        }
        for page in pages
        if page["codes"] and not page["over"]
    ]
    data: dict[str, Any] = {
        "foot": job.foot(blind=True),
        "rules": [
            *(say(rule) for rule in words.RULES),
            *([printed_again()] if job.changed else []),
        ],
        "fields": [say(field) for field in words.FIELDS],
        "none": "" if left else nothing_left(job.study.item_name),
        "title": say("Logbook"),
        "pages": left,
    }
    return pdf(
        template("logbook.typ", "trials.sheets"),
        data,
        title=say("Logbook"),
        paper=job.paper,
        mark=job.mark,
    )


def _by_session(job: Job) -> Iterator[Line]:
    for sitting in sittings(job.study, job.plan):
        named = sitting.maker or sitting.session
        whose = sitting.title if named else capital(say("all {items}", items=job.items))
        codes = [[row.item] if row.item not in job.gone else [] for row in sitting.rows]
        yield from _pages(job, whose, codes, [])


def _by_lesson(job: Job, agenda: Agenda) -> Iterator[Line]:
    """Yield pages team by team, so that each team gets its own in one piece."""
    maker = maker_group(job.plan)
    rows = sorted(job.plan.rows, key=lambda row: row.run)
    team_of = {row.item: row.groups[maker.name] if maker else "" for row in rows}
    for team in maker.members if maker else ("",):
        own = [row.item for row in rows if team_of[row.item] == team]
        for part in agenda.lessons:
            steps = _steps(job, part, team_of)
            making = [turn.work for turn in part.turns if turn.step.stage == "make"]
            made = {item for work in making for item in work.items} - job.gone
            mine = [item for item in own if item in {*made, *agenda.left_out}]
            more = [row.item for row in rows if row.item not in own and (team, row.item) in steps]
            whose = crew_text(job, team) if team else say("all {items}", items=job.items)
            codes = [
                [item, ", ".join(steps[team, item])] if (team, item) in steps else []
                for item in mine  # of what is gone too, so that the pages keep their numbers
            ]
            if not codes and any(item in own for _, item in steps):  # it may read, or have read
                codes = [[]]
            others = [
                [f"{item} ({crew_text(job, team_of[item])})", ", ".join(steps[team, item])]
                for item in more
            ]
            title = say("{who}: lesson {n}", who=capital(whose), n=part.lesson)
            pages = _pages(job, title, codes, others)
            yield from ({**page, "over": part.lesson <= agenda.over} for page in pages)


def _steps(job: Job, part: Part, team_of: Mapping[str, str]) -> dict[tuple[str, str], list[str]]:
    """Return the signs of the steps of a lesson by the team that writes about them, and item."""
    sign, teams, which = signs(job.study), {*team_of.values()}, pieces(job, part)
    found: dict[tuple[str, str], list[str]] = {}
    for turn in part.turns:
        for item in turn.work.items:
            if item in job.gone:  # it may be placed still
                continue
            team = turn.work.crew if turn.work.crew in teams else team_of[item]
            found.setdefault((team, item), []).append(sign[turn.step.name])
            if stranger(job, turn):  # it goes there to read
                found[team, item] += which.get((turn.step.name, turn.work.items), ())
    return found


def _pages(
    job: Job, title: str, codes: Sequence[list[str]], others: Sequence[list[str]]
) -> Iterator[Line]:
    """Yield the pages of a team: with the lines of its items, empty where there is nothing of one.

    What it does for ``others`` stands on its last page as far as there is room, and then on more.
    """
    columns = [
        capital(job.study.item_name),
        *([say("Steps")] if job.agenda else []),
        say("Notes"),
    ]
    own = [list(codes[at : at + CODES_ON_A_PAGE]) for at in range(0, len(codes), CODES_ON_A_PAGE)]
    room = MOST_ON_A_PAGE - len(own[-1]) if own else 0
    if own:
        own[-1] += others[:room]
    rest = others[room:]
    more = [list(rest[at : at + CODES_ON_A_PAGE]) for at in range(0, len(rest), CODES_ON_A_PAGE)]
    for number, page in enumerate((*own, *more)):
        yield {
            "title": words.continued(title) if number else title,
            "columns": columns,
            "codes": [line for line in page if line],
            "over": False,
            "more": number >= len(own),  # pages that come to those there were at first
        }
