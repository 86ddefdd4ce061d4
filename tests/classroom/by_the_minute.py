"""A timetable looked through minute by minute, sharing no code with what made it."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Collection, Sequence

from trials.classroom.values import Placement, Room, Work
from trials.classroom.work import Job
from trials.design.values import Plan, PlannedWork


def faults(job: Job, room: Room, placement: Placement, *, whole: bool = True) -> list[str]:
    """Return everything in which a timetable breaks a rule, in words; empty where it keeps all."""
    starts = [slot.start for slot in placement.slots]
    found = [*_crowded(job, room, starts), *_misplaced(job, room, starts, placement)]
    for number, work in enumerate(job.works):
        for index in work.after:
            before = job.works[index]
            ready = starts[index] + before.minutes + before.waiting
            if starts[number] < ready:
                found.append(f"{work.step} {work.items}: {ready - starts[number]} minutes early")
            if before.keeps is not None and starts[number] > ready + before.keeps:
                found.append(f"{work.step} {work.items}: lay too long after {before.step}")
    found += _unattended(job, room, starts)
    for order in job.orders:
        times = [starts[index] for index in order]
        if times != sorted(times):
            found.append(f"{job.works[order[0]].step}: not in the order of the list")
    return [*found, *_on_fire(job, starts), *_sessions(job, placement, whole=whole)]


def misread(
    plan: Plan,
    works: Sequence[Work | PlannedWork],
    *,
    away: Collection[str] = (),
    over: Collection[int] = (),
) -> list[str]:
    """Return every measuring still to come that the wrong team reads, in words.

    Who is away reads nothing. Of those who are there, nobody reads what their team made or did any
    step to, as long as there is another; nor what it made, as long as there is one that didn't.
    """
    made = {row.item: row.groups["team"] for row in plan.rows}
    teams = set(made.values())
    touched: dict[str, set[str]] = {item: {team} for item, team in made.items()}
    for work in works:
        for item in work.items if work.step != "measure" else ():
            touched[item] |= {work.crew} & teams
    found = []
    for at, work in enumerate(works):
        if work.step != "measure" or at in over:
            continue
        there = teams - {*away}
        others = there - {made[item] for item in work.items}
        blind = others - {team for item in work.items for team in touched[item]}
        if work.crew not in (blind or others or there):
            found.append(f"{work.crew} reads {work.items}")
    return found


def _on_fire(job: Job, starts: list[int]) -> list[str]:
    """In no minute, day or night, a flame burns while what catches fire is out, waiting and all."""
    lit: set[int] = set()
    out: set[int] = set()
    for work, start in zip(job.works, starts, strict=True):
        minutes = range(start, max(start + work.minutes + work.waiting, start + 1))
        lit.update(minutes if work.flame else ())
        out.update(minutes if work.flammable else ())
    both = sorted(lit & out)
    return [f"minute {both[0]}: a flame burns, and what catches fire is out"] if both else []


def _unattended(job: Job, room: Room, starts: list[int]) -> list[str]:
    """Nobody works while nobody is there, nor leaves something on that a day has time for."""
    if not room.hours:
        return []
    there = {minute for begin, end in room.hours for minute in range(begin, end)}
    longest = max(end - begin for begin, end in room.hours)
    found = []
    for work, start in zip(job.works, starts, strict=True):
        going_on = work.minutes + (
            work.waiting if {n for n, _ in work.places} & {*work.busy} else 0
        )
        watched = going_on if going_on <= longest else work.minutes
        if work.between and not there.issuperset(range(start, start + watched)):
            found.append(f"{work.step} {work.items}: while nobody is there")
    return found


def _crowded(job: Job, room: Room, starts: list[int]) -> list[str]:
    hands: Counter[tuple[int, str]] = Counter()
    people: Counter[tuple[int, str]] = Counter()
    places: Counter[tuple[int, str, str]] = Counter()
    for work, start in zip(job.works, starts, strict=True):
        for minute in range(start, start + work.minutes):
            hands[minute, work.crew] += 1
            people[minute, work.crew] += work.people
        for name, taken in work.places:
            lasts = work.minutes + (work.waiting if name in work.busy else 0)
            for minute in range(start, start + lasts):
                places[minute, name, work.crew if name in room.own else "all"] += taken
    return [
        *(f"minute {m}: {crew} does {n}" for (m, crew), n in hands.items() if n > room.crews[crew]),
        *(
            f"minute {m}: {crew} needs {n} people"
            for (m, crew), n in people.items()
            if n > room.people.get(crew, n)
        ),
        *(
            f"minute {m}: {n} in the {name} of {whose}"
            for (m, name, whose), n in places.items()
            if n > room.places[name]
        ),
    ]


def _misplaced(job: Job, room: Room, starts: list[int], placement: Placement) -> list[str]:
    found = []
    lit: dict[int, set[str]] = {}
    for work, start, slot in zip(job.works, starts, placement.slots, strict=True):
        minutes = set(range(start, start + work.minutes))
        taught = [range(begin, begin + room.minutes) for begin in room.starts]
        if work.between:
            if any(minutes & set(lesson) for lesson in taught):
                found.append(f"{work.step} {work.items}: inside a lesson")
            continue
        begin = room.starts[slot.lesson]
        if minutes - set(range(begin + room.put_out, begin + room.minutes - room.tidy)):
            found.append(f"{work.step} {work.items}: outside the working time of its lesson")
        ended = start + work.minutes + work.waiting
        if work.attended and ended > begin + room.minutes - room.tidy:
            found.append(f"{work.step} {work.items}: the waiting ends in the clearing up")
        kinds = lit.setdefault(slot.lesson, set())
        kinds |= {"flame"} if work.flame else set()
        kinds |= {"catches fire"} if work.flammable else set()
    found += [f"lesson {n}: a flame beside what catches fire" for n, k in lit.items() if len(k) > 1]
    return found


def _sessions(job: Job, placement: Placement, *, whole: bool) -> list[str]:
    lessons: dict[str, set[int]] = {name: set() for name in job.sessions if name}
    for work, slot in zip(job.works, placement.slots, strict=True):
        if work.session:
            lessons[work.session].add(slot.lesson)
    used = [mine for mine in lessons.values() if mine]
    found = [f"a session in lessons {mine}" for mine in used if whole and len(mine) > 1]
    for earlier, later in itertools.pairwise(used):
        if max(earlier) >= min(later):
            found.append("two sessions in one lesson, or in the wrong order")
    return found
