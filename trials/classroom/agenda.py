"""The timetable of a plan as it is handed out: lesson by lesson, with times of day where known."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from trials.classroom.arrange import maker_group
from trials.classroom.materials import rows_taking
from trials.classroom.values import Room, Work
from trials.classroom.work import EVERYONE, job_of, room_of
from trials.design.values import Away, Missing, Plan, PlannedWork, PlanRow
from trials.quantities import as_decimal
from trials.study.check_lessons import start_of
from trials.study.values import Material, Step, Study
from trials.words.protection import WORN, is_worn, worn_once


@dataclass(frozen=True)
class Turn:
    """One work, and when it begins: minutes from the beginning of its part of the timetable."""

    step: Step
    work: Work
    start: int
    done: bool = False  # it was over when the rest was placed again

    @property
    def over(self) -> int:
        """The minute in which the hands are free again."""
        return self.start + self.work.minutes


@dataclass(frozen=True)
class Part:
    """One lesson, or the time before one (``between``), with its turns in order of beginning.

    ``lesson`` counts from 1; the part between that comes after the last lesson has a number more.
    ``begins``: day and time at which it begins; None where the study doesn't say. ``undated``: it
    says so of earlier lessons only.
    """

    lesson: int
    between: bool
    begins: datetime.datetime | None
    turns: tuple[Turn, ...]
    undated: bool = False

    def moment(self, minute: int) -> datetime.datetime | None:
        """Return day and time of a minute; None where the study doesn't say when lessons are."""
        return None if self.begins is None else self.begins + datetime.timedelta(minutes=minute)

    @property
    def in_a_row(self) -> tuple[tuple[Turn, ...], ...]:
        """Turns of one step that follow each other without a break, done by the same crew."""
        rows: list[list[Turn]] = []
        for turn in self.turns:
            last = rows[-1][-1] if rows else None
            same = last is not None and (last.step, last.work.crew) == (turn.step, turn.work.crew)
            if last and same and not turn.work.group and last.over == turn.start:
                rows[-1].append(turn)
            else:
                rows.append([turn])
        return tuple(tuple(row) for row in rows)

    @property
    def steps(self) -> tuple[Step, ...]:
        """The steps that begin here, in the order in which each begins first."""
        return steps_of(self.turns)


@dataclass(frozen=True)
class Agenda:
    """All parts of a timetable in the order of time, and the room they take place in."""

    parts: tuple[Part, ...]
    room: Room
    timed: bool  # the study says when lessons are
    left_out: tuple[str, ...] = ()  # items of the plan that nothing is done to any more
    away: tuple[Away, ...] = ()  # teams of which others finish what they made
    missing: tuple[Missing, ...] = ()  # equipment that is out of order
    since: int = 0  # the lesson from which on the rest was placed again

    @property
    def lessons(self) -> tuple[Part, ...]:
        """The lessons alone."""
        return tuple(part for part in self.parts if not part.between)

    @property
    def over(self) -> int:
        """How many lessons were over when the rest was placed again."""
        return max(0, self.since - 1)

    @property
    def ahead(self) -> tuple[Part, ...]:
        """What was still to come then: lessons, and of the time before each what isn't done."""
        left = (
            replace(part, turns=tuple(turn for turn in part.turns if not turn.done))
            if part.between
            else part
            for part in self.parts
            if part.lesson > self.over
        )
        return tuple(part for part in left if part.turns or not part.between)


def agenda_of(study: Study, plan: Plan) -> Agenda | None:
    """Return the timetable of a plan; None where it has none, or one of other steps or items.

    That is so where steps of the study were changed after the plan was drawn, and for the later
    part of an extended plan. A timetable of what was left to do holds fewer items than the plan,
    and others may do what a team was to do. What has passed stands as it was done, with items that
    were lost later.
    """
    table = plan.timetable
    if table is None or study.lessons is None:
        return None
    placed = {item for planned in table.works for item in planned.items}
    gone = tuple(row.item for row in plan.rows if row.item not in placed)
    works = {_key(work): work for work in job_of(study, plan, gone).works}
    if not placed or {_key(planned) for planned in table.works} != set(works):
        return None
    past = _past_works(study, plan, table.past)
    known = works | past
    whole = {(step, group) for step, _, group, *_ in past if group}
    told = [
        *(one for one in table.past if _key(one) in past),
        *(one for one in table.works if (one.step, one.group) not in whole),
    ]
    order = {step.name: place for place, step in enumerate(study.steps)}
    rank = {row.item: row.run for row in plan.rows}
    measured = {row.item: row.measure for row in plan.rows}
    room = room_of(study, plan, table.lessons)
    done = {*table.past, *map(table.works.__getitem__, table.over)}

    def place(planned: PlannedWork) -> tuple[int, int, int]:
        ranks = measured if study.steps[order[planned.step]].stage == "measure" else rank
        return planned.start, order[planned.step], ranks[planned.items[0]]

    parts = []
    for number in range(1, table.lessons + 2):
        for between in (True, False):
            mine = [w for w in told if (w.lesson, w.between) == (number, between)]
            if not mine and (between or number > table.lessons):
                continue
            turns = tuple(
                Turn(
                    study.steps[order[one.step]],
                    replace(known[_key(one)], crew=one.crew),
                    one.start,
                    one in done,
                )
                for one in sorted(mine, key=place)
            )
            undated = bool(table.starts) and min(number, table.lessons) > len(table.starts)
            begins = None if undated else _begins(table.starts, room, number, between=between)
            parts.append(Part(number, between, begins, turns, undated))
    return Agenda(
        tuple(parts), room, bool(table.starts), gone, table.away, table.missing, table.since
    )


def _key(work: Work | PlannedWork) -> tuple[object, ...]:
    return work.step, work.items, work.group, work.minutes, work.waiting, work.between


def _past_works(
    study: Study, plan: Plan, past: Sequence[PlannedWork]
) -> dict[tuple[object, ...], Work]:
    """Return what was done with items that are lost by now, by its key."""
    every = job_of(study, plan).works if past else ()
    single = {(work.step, work.group or work.items): work for work in every}
    found = {}
    for one in past:
        work = single.get((one.step, one.group or one.items))
        if work is not None:
            found[_key(one)] = replace(
                work, items=one.items, minutes=one.minutes, waiting=one.waiting
            )
    return found


def _begins(
    starts: Sequence[str], room: Room, number: int, *, between: bool
) -> datetime.datetime | None:
    first = start_of(starts[0]) if starts else None
    if first is None:
        return None
    offset = room.gap(number - 1)[0] if between else room.starts[number - 1]
    return first + datetime.timedelta(minutes=offset)


def lanes(turns: Iterable[Turn], name: str | None = None) -> Iterator[tuple[Turn, int]]:
    """Yield each turn with the hand that does it, counted from 0; the first that is free.

    Parameters
    ----------
    name : a piece of equipment that is taken, instead of hands.
    """
    free: list[int] = []
    for turn in turns:
        lasts = turn.work.minutes if name is None else turn.work.lasts(name)
        hand = next((at for at, over in enumerate(free) if over <= turn.start), len(free))
        free[hand : hand + 1] = [turn.start + lasts]
        yield turn, hand


def at_once(turns: Iterable[Turn], name: str, rows: Sequence[PlanRow]) -> int:
    """Return the largest number of works that need a thing at the same time, busy waiting and all.

    Parameters
    ----------
    rows : the items of the plan: some things are needed under one level only.
    """
    levels = {row.item: row.factors.values() for row in rows}
    moments: list[tuple[int, int]] = []
    for turn in turns:
        given = {level for item in turn.work.items for level in levels.get(item, ())}
        if name in needed(turn.step, given):
            moments += [(turn.start, 1), (turn.start + max(1, turn.work.lasts(name)), -1)]
    most = now = 0
    for _, change in sorted(moments):  # what is laid down can be taken up in the same minute
        now += change
        most = max(most, now)
    return most


def tools_of(turns: Sequence[Turn], rows: Sequence[PlanRow]) -> dict[str, int]:
    """Return each thing that some turns need, in order, and how many of it are in use at once."""
    levels = {row.item: row.factors.values() for row in rows}
    named: dict[str, None] = {}
    for turn in turns:
        given = [level for item in turn.work.items for level in levels.get(item, ())]
        named.update(dict.fromkeys(needed(turn.step, given)))
    return {name: at_once(turns, name, rows) for name in named}


def counted_on(study: Study, plan: Plan) -> dict[str, int]:
    """Return what a timetable uses at once, at most, of each tool of no number in study.toml.

    Nothing where the plan has no timetable. In the order in which the tools are first needed. What
    is worn isn't among them: of that there is one for each who works.
    """
    agenda = agenda_of(study, plan)
    return _most_of(study, plan, [part.turns for part in agenda.parts] if agenda else ())


def counted_on_by_team(study: Study, plan: Plan) -> dict[str, int]:
    """Return what one team uses at once, at most, of each such tool; nothing without teams."""
    agenda, maker = agenda_of(study, plan), maker_group(plan)
    mine = [
        [turn for turn in part.turns if turn.work.crew == team]
        for part in (agenda.parts if agenda else ())
        for team in (maker.members if maker else ())
    ]
    return _most_of(study, plan, mine)


def _most_of(study: Study, plan: Plan, sets: Iterable[Sequence[Turn]]) -> dict[str, int]:
    """Return how many tools of no number are in use at once in the set of turns that has most."""
    counted = {one.name for one in study.equipment}
    most: dict[str, int] = {}
    for turns in sets:
        worn = worn_in(steps_of(turns))
        for name, number in tools_of(turns, plan.rows).items():
            if name not in counted and not any(is_worn(code, name) for code in worn):
                most[name] = max(number, most.get(name, 0))
    return most


def worn_in(steps: Iterable[Step]) -> list[str]:
    """Return the signs, by ISO 7010, of what is to be worn at some steps."""
    said = {code for step in steps for one in step.cautions for code in one.iso7010}
    return sorted(said & WORN.keys())


def needed(step: Step, levels: Collection[str]) -> tuple[str, ...]:
    """Return the equipment that a step needs for what has these levels."""
    more = (name for level in levels for name in step.equipment_for.get(level, ()))
    return tuple(dict.fromkeys((*step.equipment, *more)))


def steps_of(turns: Iterable[Turn]) -> tuple[Step, ...]:
    """Return the steps of some turns, each once, in the order in which they come."""
    return tuple({turn.step.name: turn.step for turn in turns}.values())


def latest_starts(agenda: Agenda) -> dict[tuple[str, str], int]:
    """Return by when a step of an item begins at the latest, as what it follows can't lie longer.

    By step and item, in minutes of the lesson; only where it can't lie until the lesson is over.
    What is done to several at once is due with the first of them.
    """
    room = agenda.room
    found: dict[tuple[str, str], int] = {}
    limits: dict[str, int] = {}  # of each item, for its next step: minutes from the first lesson's
    for part in agenda.parts:
        number = part.lesson - 1
        begin = room.gap(number)[0] if part.between else room.starts[number]
        for turn in part.turns:
            due = [limits.pop(item) for item in turn.work.items if item in limits]
            if not part.between and due and min(due) - begin <= room.minutes:
                last = room.minutes - room.tidy - turn.work.minutes
                keys = [(turn.step.name, item) for item in turn.work.items]
                found |= dict.fromkeys(keys, min(min(due) - begin, last))
            if turn.work.keeps is not None:
                over = begin + turn.over + turn.work.waiting + turn.work.keeps
                limits |= dict.fromkeys(turn.work.items, over)
    return found


def crews_of(turns: Iterable[Turn], everyone: Sequence[str]) -> tuple[str, ...]:
    """Return who has something to do, teams in their order and then others."""
    busy = {turn.work.crew for turn in turns}
    others = sorted(busy - set(everyone))
    return (*(name for name in everyone if name in busy), *others)


def is_someone(crew: str) -> bool:
    """Whether a crew has a name of its own, which a page can print."""
    return crew != EVERYONE


def used_up(
    turns: Sequence[Turn],
    rows: Sequence[PlanRow],
    team_of: Mapping[str, str],
    before: Sequence[Turn] = (),
) -> dict[Material, Decimal]:
    """Return how much of each material the turns of one lesson take, in the order of the steps.

    What several steps take of one material in one unit is told once, under the first of them.

    Parameters
    ----------
    turns : all of one lesson.
    rows : the items of the plan: some materials are for those with one level.
    team_of : the team of each item; empty where there are none. It counts where somebody who is no
        team does a step.
    before : all turns before: a team takes its share of a step once, when it first comes to it;
        what is worn once, in each lesson.
    """
    teams = set(team_of.values())

    def takers(some: Iterable[Turn], step: Step, taking: set[str]) -> set[str]:
        return {
            turn.work.crew if turn.work.crew in teams else team_of.get(item, "")
            for turn in some
            if turn.step == step
            for item in taking & {*turn.work.items}
        }

    found: dict[tuple[str, str], tuple[Material, Decimal]] = {}
    for step in steps_of(turns):
        for one in step.materials:
            taking = {row.item for row in rows_taking(one, rows)}
            mine = [t for t in turns if t.step == step and taking & set(t.work.items)]
            times = {
                "item": sum(len(taking & set(turn.work.items)) for turn in mine),
                "group": len(mine),
                "team": len(
                    takers(mine, step, taking)
                    - (set() if worn_once(one.name) else takers(before, step, taking))
                ),
                "lesson": 1 if mine else 0,
            }
            amount = as_decimal(one.amount) * times[one.per]
            if amount:
                key = one.name.strip().casefold(), one.unit
                first, sofar = found.get(key, (one, Decimal(0)))
                found[key] = first, sofar + amount
    return dict(found.values())
