"""Who measures what, when and with which piece, as the timetable has it.

A measuring stands in the line of the team that made the item, and another team reads it. A ring
settles which one: each team reads for the one before it, so that all read as much as is read of
theirs. No name of a version is here: the measuring sheets print it.
"""

from __future__ import annotations

from trials.classroom.agenda import Part, Turn, lanes
from trials.classroom.arrange import maker_group
from trials.sheets.parts import Job
from trials.sheets.tools import is_own, left_in
from trials.words import class_times as words


def reader_of(job: Job, part: Part, turn: Turn) -> str:
    """Return the team that reads, another than the one in whose line it stands and the makers'.

    Empty where there is no other, or where it isn't a team that the line is of.
    """
    maker = maker_group(job.plan)
    teams = maker.members if maker else ()
    crew = turn.work.crew
    if maker is None or crew not in teams:
        return ""
    agenda = job.agenda
    away = {one.team for one in agenda.away if one.since <= part.lesson} if agenda else set()
    made = {row.groups[maker.name] for row in job.plan.rows if row.item in turn.work.items}
    at = teams.index(crew)
    ring = (*teams[at + 1 :], *teams[:at])
    return next((team for team in ring if team not in away | made), "")


def pieces(job: Job, part: Part) -> dict[tuple[str, tuple[str, ...]], list[str]]:
    """Return with which piece of what there are several of a work is done, by step and items."""
    found: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for one in job.study.equipment:
        used = [turn for turn in part.turns if one.name in dict(turn.work.places)]
        own = is_own(job, part, one)
        there = one.count if own else left_in(job, part)[one.name]
        for crew in dict.fromkeys(turn.work.crew if own else "" for turn in used):
            mine = [turn for turn in used if crew in ("", turn.work.crew)]
            for turn, lane in lanes(mine, one.name) if there > 1 else ():
                number = words.which_piece(one.name, lane // one.holds + 1)
                found.setdefault((turn.step.name, turn.work.items), []).append(number)
    return found


def makers_of(job: Job) -> tuple[str, ...]:
    """Return the teams that make the items; nothing where there are none."""
    maker = maker_group(job.plan)
    return maker.members if maker else ()


def ring_of(job: Job, part: Part) -> tuple[tuple[str, str], ...]:
    """Return each team that reads in a lesson, and for which: in the order of the teams."""
    pairs = {
        (reader_of(job, part, turn), turn.work.crew)
        for turn in part.turns
        if turn.step.stage == "measure"
    }
    teams = makers_of(job)
    known = [pair for pair in pairs if pair[0] and pair[1] in teams]
    return tuple(sorted(known, key=lambda pair: (teams.index(pair[0]), teams.index(pair[1]))))
