"""What is worn in a lesson, or in the time before one, and for how many people."""

from __future__ import annotations

from decimal import Decimal

from trials.classroom.agenda import Agenda, Part, crews_of, used_up, worn_in
from trials.classroom.arrange import maker_group
from trials.classroom.work import EVERYONE
from trials.sheets.parts import Job
from trials.study.values import Material
from trials.words import protection


def protection_lines(job: Job, agenda: Agenda, part: Part) -> list[str]:
    """Return what the cautions of the steps of one part ask to wear, and for how many.

    How many gloves there are is told by the materials, where these name them: as many stand in
    materials.pdf and in what is used up. Else there is one for each student who is there.
    """
    maker = maker_group(job.plan)
    teams = maker.members if maker else (EVERYONE,)
    students = _students(job, agenda, part)
    lines = []
    for code in worn_in(part.steps):
        steps = [step for step in part.steps if any(code in one.iso7010 for one in step.cautions)]
        crews = crews_of((t for t in part.turns if t.step in steps), teams)
        others = [crew for crew in crews if crew not in teams]
        who = others if len(others) == len(crews) else []
        listed = sum(
            protection.worn_number(code, amount, one.unit)
            for one, amount in used_in(job, agenda, part).items()
            if protection.is_worn(code, one.name)
        )
        whole = all(any(protection.is_worn(code, m.name) for m in s.materials) for s in steps)
        lines.append(protection.to_wear(code, students, who, listed=listed, whole=whole))
    return lines


def _students(job: Job, agenda: Agenda, part: Part) -> int | None:
    """Return how many students are there in a lesson; None where the study doesn't say."""
    maker = maker_group(job.plan)
    students = job.study.lessons.students if job.study.lessons else None
    if students is None or maker is None:
        return students
    away = {one.team for one in agenda.away if one.since <= part.lesson}
    return -(-students * (len(maker.members) - len(away)) // len(maker.members))


def used_in(job: Job, agenda: Agenda, part: Part) -> dict[Material, Decimal]:
    """Return what is used up in one part of the timetable, and how much of it in all."""
    maker = maker_group(job.plan)
    team_of = {row.item: row.groups[maker.name] for row in job.plan.rows} if maker else {}
    place = part.lesson, not part.between  # the time before a lesson, then the lesson
    earlier = [one for one in agenda.parts if (one.lesson, not one.between) < place]
    before = [turn for one in earlier for turn in one.turns]
    return used_up(part.turns, job.plan.rows, team_of, before)
