"""How many pieces of a tool are laid out: for the class, or for each team that has its own."""

from __future__ import annotations

from collections.abc import Collection

from trials.classroom.agenda import Part
from trials.classroom.arrange import group_label, maker_group
from trials.design.values import missing_in
from trials.sheets.parts import Job
from trials.study.check_lessons import pieces_in_all
from trials.study.values import Equipment
from trials.words import class_times as words
from trials.words.language import say


def left_in(job: Job, part: Part | None) -> dict[str, int]:
    """Return how many pieces of each equipment are in order, of all that there are.

    Parameters
    ----------
    part : of the timetable; None: before anything is out of order.
    """
    told = job.agenda.missing if job.agenda and part else ()
    less = missing_in(told, part.lesson if part else 0)
    return {
        one.name: max(0, pieces_in_all(job.study, one) - less.get(one.name, 0))
        for one in job.study.equipment
    }


def is_own(job: Job, part: Part | None, one: Equipment) -> bool:
    """Whether each team has its own: the class shares what is left where some is out of order.

    ``part``: as for :func:`left_in`.
    """
    return one.per == "team" and left_in(job, part)[one.name] == pieces_in_all(job.study, one)


def laid_out(
    job: Job, part: Part | None, one: Equipment, crews: Collection[str], *, label: str = ""
) -> str:
    """Return what is laid out of some equipment, for those who use it.

    Parameters
    ----------
    part : as for :func:`left_in`.
    crews : who uses it: teams, and others who do a step in their place.
    label : what the equipment is called; empty: its name.
    """
    label = label or one.name
    maker = maker_group(job.plan)
    if maker is None or not is_own(job, part, one):
        there, left = pieces_in_all(job.study, one), left_in(job, part)[one.name]
        told = words.laid_out(label, left, there, shared=one.per == "team")
        if there == left > 1 and part is not None and _named(part, one):
            return say("{thing} (number them 1 to {n})", thing=told, n=left)
        return told
    teams = [crew for crew in crews if crew in maker.members]
    others = sorted({*crews} - {*teams})
    team = group_label(job.study, maker.name)
    return words.laid_out_each(label, one.count, len(teams), team, others)


def _named(part: Part, one: Equipment) -> bool:
    """Whether the measuring sheet says which piece of it measures what."""
    return any(
        turn.step.stage == "measure" and one.name in turn.step.equipment for turn in part.turns
    )
