"""When each step of each item of one making sheet begins, lesson by lesson in the order of time."""

from __future__ import annotations

from typing import Any

from trials.classroom.agenda import Agenda, Part, Turn, latest_starts
from trials.classroom.arrange import step_label
from trials.sheets.class_times import crew_text, part_name, signs, when_text
from trials.sheets.parts import Job
from trials.sheets.readers import makers_of, pieces, stranger
from trials.sheets.shares import Share, other_teams
from trials.study.values import Step
from trials.words import class_times as words
from trials.words.language import say

_WIDE = 14  # columns that find room beside each other
_NARROW = 8  # letters of the narrowest column
_HIGH = 3  # lines that a heading takes, about


def team_times(job: Job, share: Share) -> dict[str, Any] | None:
    """Return the tables of a making sheet's times to come; None where the plan has none."""
    agenda = job.agenda
    if agenda is None:
        return None
    tables = [table for part in agenda.ahead if (table := _table(job, agenda, part, share))]
    if not tables:
        return None
    lines: list[list[dict[str, Any]]] = []
    for table in tables:
        wide = sum(len(one["columns"]) for one in (*(lines[-1] if lines else ()), table))
        if not lines or wide > _WIDE:
            lines.append([])
        lines[-1].append(table)
    late = [say(words.LATE)] if any(table["limited"] for table in tables) else []
    note = " ".join([say(words.TIMES_ARE_PLANNED), *late])
    return {"title": say(words.YOUR_TIMES), "note": note, "lines": lines}


def _table(job: Job, agenda: Agenda, part: Part, share: Share) -> dict[str, Any] | None:
    """Return the times of one part: steps and items in the order in which each begins first."""
    own = {row.item for row in share.sitting.rows}
    mine = [row.item for row in (*share.left, *share.taken)]
    others = other_teams(job, share.team)
    shown: dict[tuple[str, str], Turn] = {
        (turn.step.name, item): turn
        for turn in part.turns
        for item in turn.work.items
        if item in mine
        and (item in own or turn.work.crew not in others or turn.step.stage == "measure")
    }
    if not shown:
        return None

    def first(at: int, name: str) -> int:
        return min(turn.start for key, turn in shown.items() if key[at] == name)

    present = [step for step in job.study.steps if any(step.name == name for name, _ in shown)]
    steps = sorted(present, key=lambda step: first(0, step.name))
    items = sorted(
        (item for item in mine if any(item == one for _, one in shown)),
        key=lambda item: first(1, item),
    )
    latest = {key: minute for key, minute in latest_starts(agenda).items() if key in shown}
    hurried = {name for name, _ in latest}
    by_hand = {
        turn.step.name for turn in shown.values() if turn.step.ended_by_hand and turn.work.waiting
    }
    columns, rows = [say("Code")], [[item] for item in items]
    for step in steps:
        columns.append(_heading(job, step))
        columns += [_ends(step)] if step.name in by_hand else []
        columns += [say(words.AT_THE_LATEST)] if step.name in hurried else []
        for item, row in zip(items, rows, strict=True):
            turn = shown.get((step.name, item))
            row.append(_cell(job, agenda, part, turn, others) if turn else "–")
            if step.name in by_hand:
                row.append(_ended(agenda, part, turn) if turn else "–")
            if step.name in hurried:
                limit = latest.get((step.name, item))
                row.append("–" if limit is None else when_text(agenda, part, limit, short=True))
    return {
        "title": part_name(agenda, part),
        "columns": columns,
        "rows": rows,
        "limited": bool(latest),
        "wide": [
            max(_NARROW, len(name) // _HIGH, *map(len, cells))
            for name, *cells in zip(columns, *rows, strict=True)
        ],
    }


def _heading(job: Job, step: Step) -> str:
    who = f" ({crew_text(job, step.by)})" if step.by else ""
    return f"{signs(job.study)[step.name]}. {step_label(step)}{who}"


def _ends(step: Step) -> str:
    """Return what ends the waiting of a step, in the study's own words where it has any."""
    do = step.ended_by_hand
    return do if isinstance(do, str) else say("waiting is over")


def _ended(agenda: Agenda, part: Part, turn: Turn) -> str:
    """Return when somebody ends the waiting of a step by hand."""
    return when_text(agenda, part, turn.over + turn.work.waiting)


def _cell(job: Job, agenda: Agenda, part: Part, turn: Turn, others: tuple[str, ...]) -> str:
    when = when_text(agenda, part, turn.start, short=True)
    crew, reader = turn.work.crew, stranger(job, turn)
    if reader:
        return f"{when} ({say('{team} reads', team=reader)})"
    return f"{when} ({crew})" if crew in others else when


def reads_for(job: Job, share: Share) -> str:
    """Return for whom a team reads in what is to come, when and what; empty where it doesn't."""
    agenda, team = job.agenda, share.team
    taken = {row.item for row in share.taken}
    brought = False
    found: dict[str, list[str]] = {}
    ahead = agenda.ahead if agenda is not None else ()
    several = len({p.lesson for p in ahead if any(s.stage == "measure" for s in p.steps)}) > 1
    for part in ahead:
        which = pieces(job, part) if team else {}
        for turn in part.turns:
            brought = brought or bool(taken & {*turn.work.items} and stranger(job, turn))
            if agenda is not None and team and stranger(job, turn) == team:
                when = when_text(agenda, part, turn.start)
                when = say("lesson {n}, {when}", n=part.lesson, when=when) if several else when
                place = ", ".join(which.get((turn.step.name, turn.work.items), ()))
                what = " ".join((when, *turn.work.items, *([f"({place})"] if place else [])))
                found.setdefault(job.finishers[turn.work.items[0]], []).append(what)
    told = [(crew, found[crew]) for crew in makers_of(job) if crew in found]
    return words.reads_for(told, finished=brought)
