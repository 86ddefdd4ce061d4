"""Who measures what and with which piece, as the timetable has it.

A measuring stands in the line of the team that reads, which is another one than that which made the
item. No name of a version is here: the measuring sheets print it.
"""

from __future__ import annotations

from trials.classroom.agenda import Part, Turn, lanes
from trials.classroom.arrange import maker_group
from trials.sheets.parts import Job
from trials.sheets.tools import is_own, left_in
from trials.words import class_times as words


def stranger(job: Job, turn: Turn) -> str:
    """Return the team that measures, if it neither made nor finished what it measures; else ""."""
    maker, crew = maker_group(job.plan), turn.work.crew
    if maker is None or crew not in maker.members or turn.step.stage != "measure":
        return ""
    items = turn.work.items
    own = {job.plan.row(item).groups[maker.name] for item in items}
    return "" if crew in own | {job.finishers[item] for item in items} else crew


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


def ring_of(job: Job, part: Part) -> list[tuple[str, list[str]]]:
    """Return each team that reads in a lesson, and for which: in the order of the teams."""
    teams = makers_of(job)
    found: dict[str, set[str]] = {team: set() for team in teams}
    for turn in part.turns:
        if reader := stranger(job, turn):
            found[reader] |= {job.finishers[item] for item in turn.work.items}
    return [(one, [team for team in teams if team in mine]) for one, mine in found.items() if mine]
