"""When each step of each item of one making sheet begins, lesson by lesson."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from trials.classroom.agenda import Part, Turn
from trials.classroom.arrange import step_label
from trials.sheets.class_times import crew_text, part_name, signs, when_text
from trials.sheets.parts import Job
from trials.sheets.readers import makers_of, reader_of
from trials.sheets.shares import Share, other_teams
from trials.words import class_times as words
from trials.words.language import say

_Column = tuple[Part, str]  # the part of the timetable, and the step's name


def team_times(job: Job, share: Share) -> dict[str, Any] | None:
    """Return the table of a making sheet's times to come; None where the plan has none."""
    agenda = job.agenda
    if agenda is None:
        return None
    ahead = agenda.ahead
    begun: dict[tuple[int, bool, str, str], Turn] = {
        (part.lesson, part.between, turn.step.name, item): turn
        for part in ahead
        for turn in part.turns
        for item in turn.work.items
    }
    own = {row.item for row in share.sitting.rows}
    mine = (*share.left, *share.taken)
    others = other_teams(job, share.team)
    columns: list[_Column] = [
        (part, step.name)
        for part in ahead
        for step in job.study.steps
        if any((part.lesson, part.between, step.name, row.item) in begun for row in mine)
    ]
    if not columns:
        return None
    sign = signs(job.study)
    labels = {step.name: step_label(step) for step in job.study.steps}
    by = {step.name: step.by for step in job.study.steps}
    rows = []
    for row in mine:
        cells = []
        for part, step in columns:
            turn = begun.get((part.lesson, part.between, step, row.item))
            crew = turn.work.crew if turn else ""
            if turn is None or (row.item not in own and crew in others):
                cells.append("–")
                continue
            reads = reader_of(job, part, turn) if turn.step.stage == "measure" else ""
            doing = reads or (crew if crew in others else "")
            who = f" ({doing})" if doing else ""
            cells.append(f"{when_text(agenda, part, turn.start)}{who}")
        rows.append([row.item, *cells])
    return {
        "title": say(words.YOUR_TIMES),
        "note": say(words.TIMES_ARE_PLANNED),
        "parts": [
            [part_name(agenda, part), len(list(same))]
            for part, same in groupby((part for part, _ in columns), lambda part: part)
        ],
        "columns": [
            f"{sign[step]}. {labels[step]}" + (f" ({crew_text(job, by[step])})" if by[step] else "")
            for _, step in columns
        ],
        "rows": rows,
    }


def reads_for(job: Job, team: str) -> str:
    """Return for whom a team reads in what is to come, when and what; empty where it doesn't."""
    agenda = job.agenda
    found: dict[str, list[str]] = {}
    ahead = agenda.ahead if agenda is not None else ()
    several = len({p.lesson for p in ahead if any(s.stage == "measure" for s in p.steps)}) > 1
    for part in ahead:
        for turn in part.turns:
            if agenda is None or turn.step.stage != "measure":
                continue
            if team and reader_of(job, part, turn) == team:
                when = when_text(agenda, part, turn.start)
                when = say("lesson {n}, {when}", n=part.lesson, when=when) if several else when
                what = " ".join((when, *turn.work.items))
                found.setdefault(turn.work.crew, []).append(what)
    return words.reads_for([(crew, found[crew]) for crew in makers_of(job) if crew in found])
