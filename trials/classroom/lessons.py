"""The timetable of a class: the fewest lessons in which everything can be done, and what helps."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Literal, get_args

from trials.classroom.loads import (
    Chain,
    Load,
    Rush,
    Stuck,
    chains_too_long,
    loads,
)
from trials.classroom.timetable import place
from trials.classroom.values import Fitting, Placement, Room, Work
from trials.classroom.work import EVERYONE, Job, job_of, lessons_of, room_of
from trials.design.values import Plan, PlannedWork, Timetable
from trials.study.values import Study

MOST_LESSONS = 40
TRIAL_EFFORT = 1.5  # CP-SAT's deterministic units for one thing that may help
_SLACK = 1e-9  # of shares
MORE_MINUTES = (10, 20, 30, 45, 60)  # longer lessons that are tried

Helps = Literal[
    "equipment", "lessons", "minutes", "hands", "fewer", "hours", "shorter", "waiting", "mended"
]


Costs = Literal["agreement", "minutes", "hands", "equipment", "readings", "items"]
DEAR: tuple[Costs, ...] = get_args(Costs)  # from the cheapest on


@dataclass(frozen=True)
class Price:
    """What a cure costs, and how much of it; any amount of one kind is less than the next kind.

    "agreement": nothing but that; "minutes": of lessons, in all; more pairs of "hands" in every
    team; pieces of "equipment" to borrow or buy; "readings" less of each item; "items" less. The
    last two cost evidence, and of these items more. (Common practice, no source.)
    """

    kind: Costs
    amount: int = 0

    @property
    def rank(self) -> tuple[int, int]:
        """The place of a price among all: small is cheap."""
        return DEAR.index(self.kind), self.amount


@dataclass(frozen=True)
class Cure:
    """One change with which the work fits: one more of a thing, more lessons, fewer items.

    ``amount``: how many more (or, for "fewer", how many items less). ``lessons``: taken then.
    ``crews``: each of them gets one more piece of equipment; empty: the class gets one.
    Of what is left to do there is also "shorter": each measuring takes so many readings, and the
    ``minutes`` of its step; "waiting": the step isn't done yet before the next lesson; and
    "mended": the next lesson is put off until there is equipment for the step again.
    ``price``: what it costs; None: not worked out yet.
    """

    kind: Helps
    name: str
    amount: int
    lessons: int
    minutes: int = 0
    price: Price | None = field(default=None, compare=False)
    crews: tuple[str, ...] = ()


def one_more(works: Iterable[Work], room: Room, name: str, lessons: int) -> Cure:
    """Return one more piece of equipment: for the class, or for each who has its own.

    ``works``: what is to be done with it; who does none of it needs no more.
    """
    mine = [work.crew for work in works if name in dict(work.places) and name in room.own]
    crews = tuple(dict.fromkeys(mine))
    return Cure("equipment", name, len(crews) or 1, lessons, crews=crews)


def cheapest_first(
    cures: Iterable[Cure], lessons: int, minutes: float, over: int = 0
) -> tuple[Cure, ...]:
    """Return cures with their prices, the cheapest first; of equal ones as they came.

    Parameters
    ----------
    lessons : that there are in all, of so many ``minutes``.
    over : of these, lessons that are over.
    """
    kinds: dict[Helps, Costs] = {"equipment": "equipment", "hands": "hands", "fewer": "items"}
    found = []
    for cure in cures:
        more = round(max(0, cure.lessons - lessons) * minutes)
        if cure.kind == "minutes":
            more += cure.amount * (cure.lessons - over)
        price = Price("minutes", more) if more else Price("agreement")
        if cure.kind in kinds:
            price = Price(kinds[cure.kind], cure.amount)
        found.append(replace(cure, price=cure.price or price))
    return tuple(sorted(found, key=lambda one: one.price.rank if one.price else (0, 0)))


@dataclass(frozen=True)
class Schedule:
    """What came of placing a plan in time.

    ``whole``: each session is measured within one lesson. ``loads`` and ``chains`` say what is
    tight; ``cures`` what would make it fit or, where it fits, save a lesson, the cheapest first.
    ``stuck`` and
    ``rushes``: why what is left to do can't be done in any number of lessons. ``over``: places in
    ``job.works`` of what was done before.
    """

    job: Job
    room: Room
    placement: Placement
    whole: bool
    loads: tuple[Load, ...]
    chains: tuple[Chain, ...] = ()
    cures: tuple[Cure, ...] = ()
    stuck: tuple[Stuck, ...] = ()
    rushes: tuple[Rush, ...] = ()
    over: tuple[int, ...] = ()
    fitting: Fitting | None = None  # of what is left, where not all of it can be done
    without: Schedule | None = None  # and that placed, without what is left out


def schedule(study: Study, plan: Plan, *, advise: bool | None = True) -> Schedule:
    """Place a drawn plan in the lessons of a class; no item changes its version, team or order.

    Parameters
    ----------
    advise : try what would help, too; None: only where it can't be done.

    Raises
    ------
    ValueError : the study says nothing of lessons.
    """
    job = job_of(study, plan)
    most = lessons_of(study).count or len(lessons_of(study).starts) or MOST_LESSONS
    for whole in (True, False):
        placement, room = _fewest(study, plan, job, most, whole=whole)
        if placement.placed:
            break
    told = loads(job, room)
    chains = () if placement.placed else chains_too_long(job, room)
    trial = _Trial(study, plan, job, whole and placement.placed)
    wanted = not placement.placed if advise is None else advise
    there = placement.lessons - 1 if placement.placed else len(room.starts)
    found = trial.cures(there, more=not placement.placed) if wanted else ()
    cures = cheapest_first(found, there, lessons_of(study).minutes)
    return Schedule(job, room, placement, whole, told, chains, cures)


def timetable_of(study: Study, found: Schedule) -> Timetable | None:
    """Return the timetable to keep with the plan; None where nothing could be placed."""
    placement, room = found.placement, found.room
    if not placement.placed:
        return None
    works = []
    for work, slot in zip(found.job.works, placement.slots, strict=True):
        begin = room.gap(slot.lesson)[0] if work.between else room.starts[slot.lesson]
        works.append(
            PlannedWork(
                step=work.step,
                items=work.items,
                group=work.group,
                crew=work.crew,
                lesson=slot.lesson + 1,
                between=work.between,
                start=slot.start - begin,
                minutes=work.minutes,
                waiting=work.waiting,
            )
        )
    return Timetable(
        lessons=placement.lessons,
        minutes=room.minutes,
        ends=placement.ends,
        bound=placement.bound,
        proved=placement.status == "proved",
        whole=found.whole,
        starts=lessons_of(study).starts[: placement.lessons],
        works=tuple(works),
        over=found.over,
    )


def _fewest(
    study: Study, plan: Plan, job: Job, most: int, *, whole: bool
) -> tuple[Placement, Room]:
    """Return the placement in the fewest lessons, and its room; the last tried where none fits."""
    room = room_of(study, plan, most)
    if chains_too_long(job, room_of(study, plan, max(2, most))):
        return Placement("impossible"), room
    surely = True
    for count in range(_at_least(job, room), most + 1):
        room = room_of(study, plan, count)
        placement = place(job, room, whole=whole)
        if placement.placed:
            return placement if surely else replace(placement, status="found"), room
        surely = surely and placement.status == "impossible"
    return Placement("impossible" if surely else "not found"), room


def _at_least(job: Job, room: Room) -> int:
    """Return lessons without which it can't be done: those that the tightest load fills."""
    wanted = [load.wanted for load in loads(job, room) if load.kind in ("crew", "equipment")]
    sessions = len([one for one in job.sessions if one])
    return max(1, sessions, *(-(-int(minutes) // room.working) for minutes in wanted))


def lessons_at_least(study: Study, plan: Plan) -> int:
    """Return lessons without which a plan can't be done, from what it takes of everything.

    Nothing is placed in time, so it may take more. At most ``MOST_LESSONS`` are told.

    Raises
    ------
    ValueError : the study says nothing of lessons.
    """
    job = job_of(study, plan)
    first = _at_least(job, room_of(study, plan, 1))
    for count in range(first, MOST_LESSONS):
        found = loads(job, room_of(study, plan, count))
        if all(load.share <= 1 + _SLACK for load in found if load.kind != "session"):
            return count
    return MOST_LESSONS


@dataclass(frozen=True)
class _Trial:
    """Trying changes, each by itself."""

    study: Study
    plan: Plan
    job: Job
    whole: bool

    def cures(self, target: int, *, more: bool) -> Iterator[Cure]:
        """Yield what makes it fit into so many lessons; ``more``: more lessons are tried, too."""
        if target < 1:
            return
        there = room_of(self.study, self.plan, target)
        for one in self.study.equipment:
            larger = {**there.places, one.name: there.places[one.name] + one.holds}
            if self._fits(replace(there, places=larger)):
                yield one_more(self.job.works, there, one.name, target)
        teams = {c: hands + 1 for c, hands in there.crews.items() if _is_team(self.study, c)}
        if self._fits(replace(there, crews=there.crews | teams)):
            yield Cure("hands", "", 1, target)
        for minutes in MORE_MINUTES:
            if self._fits(replace(there, minutes=there.minutes + minutes)):
                yield Cure("minutes", "", minutes, target)
                break
        if there.hours and self._fits(replace(there, hours=())):
            yield Cure("hours", "", 0, target)
        if more:
            yield from self._more_lessons(target)
        for each in (1, 2):
            fewer = _last_of_each(self.plan, each)
            left = job_of(self.study, self.plan, fewer, refill=True)
            if len(fewer) < len(self.plan.rows) and self._fits(there, left):
                yield Cure("fewer", "", len(fewer), target)
                break

    def _more_lessons(self, target: int) -> Iterator[Cure]:
        for count in range(target + 1, MOST_LESSONS + 1):
            if self._fits(room_of(self.study, self.plan, count)):
                yield Cure("lessons", "", count - target, count)
                return

    def _fits(self, room: Room, job: Job | None = None) -> bool:
        job = job or self.job
        tight = [load for load in loads(job, room) if self.whole or load.kind != "session"]
        if chains_too_long(job, room) or any(load.share > 1 for load in tight):
            return False
        return place(job, room, whole=self.whole, effort=TRIAL_EFFORT, trial=True).placed


def _is_team(study: Study, crew: str) -> bool:
    return crew == EVERYONE or crew not in {step.by for step in study.steps}


def _last_of_each(plan: Plan, each: int) -> list[str]:
    """Return the items that each team makes last, ``each`` of them."""
    maker = next((group.name for group in plan.groups if group.role == "maker"), None)
    teams: dict[str, list[str]] = {}
    for row in sorted(plan.rows, key=lambda row: row.run):
        teams.setdefault(row.groups[maker] if maker else EVERYONE, []).append(row.item)
    return [item for mine in teams.values() for item in mine[-each:]]
