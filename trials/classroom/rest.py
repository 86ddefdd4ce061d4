"""What is left to do when the day went otherwise: placed again, and what helps where it won't fit.

Nothing is told to help that wasn't tried: each change is made to a copy of study or room, and the
rest is placed once more with it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from types import MappingProxyType

from trials.classroom.arrange import maker_group
from trials.classroom.lessons import (
    MORE_MINUTES,
    MOST_LESSONS,
    TRIAL_EFFORT,
    Cure,
    Helps,
    Price,
    Schedule,
    cheapest_first,
    one_more,
)
from trials.classroom.loads import (
    Hurried,
    chains_too_long,
    hurried_in,
    loads,
    most_at_once,
    rush_together,
    rushes,
    stuck_in,
)
from trials.classroom.readers import NOBODY, Helpers, read_again
from trials.classroom.timetable import EFFORT, most_items, place
from trials.classroom.values import Fitting, Placement, Room
from trials.classroom.work import Job, job_of, lessons_of, room_of
from trials.design.values import Plan, PlannedWork, missing_in
from trials.errors import StudyError
from trials.study.check_lessons import pieces_in_all
from trials.study.checks import check_study
from trials.study.values import Study

EXCHANGES = 200  # of one item left out for one kept: no more are reckoned through at a time
MORE_TRIALS = 6  # of cheaper items to leave out that are placed
MORE_LESSONS = 8  # than there are, at the most, that are tried
_SLACK = 1e-9  # of shares
Dear = Callable[[Collection[str]], tuple[float, ...] | None]  # of items left out: what that costs
_NONE: Mapping[str, int] = MappingProxyType({})


@dataclass(frozen=True)
class Within:
    """What the rest is to fit into, and what it costs where not all of it does.

    ``lessons`` to be had in all; None: one after another until it fits. ``dear`` says what it costs
    to leave items out; larger is dearer, and None an answer that is lost. Without it, or where one
    is, only balance counts.
    """

    lessons: int | None = None
    dear: Dear | None = None


ANYHOW = Within()


def schedule_rest(
    study: Study,
    plan: Plan,
    *,
    since: int,
    gone: Collection[str] = (),
    fewer: Mapping[str, int] = _NONE,
    helpers: Helpers = NOBODY,
    open_steps: Collection[str] = (),
    within: Within = ANYHOW,
) -> Schedule:
    """Place again what is left to do from a lesson on; what was done before stays as it was.

    Where it can't be done, it is found how much can be, and what would help is tried.

    Parameters
    ----------
    since : first lesson, from 1, that isn't over yet. What the timetable has before it is done,
        but for works between lessons right before it whose equipment there is less of now than it
        reckoned with.
    gone : codes of items that are lost or not made.
    fewer : of each equipment, how many pieces less there are now; none left is allowed.
    helpers : who makes and reads what is left, where teams are away.
    open_steps : steps that are not done yet where the timetable has them right before ``since``.
    within : lessons to be had, and what leaving out costs.

    Raises
    ------
    ValueError : the plan has no timetable.
    """
    most = within.lessons
    rest = _Rest(study, plan, since, tuple(gone), dict(fewer), most, helpers, tuple(open_steps))
    found = rest.placed()
    if not found.placement.placed:
        return rest.advised(found, within.dear)
    return found if most is not None else rest.sparing(found)


def hand_over(
    plan: Plan,
    away: Collection[str],
    gone: Collection[str],
    absent: Collection[str] = (),
    missed: Mapping[str, Collection[str]] = MappingProxyType({}),
) -> dict[str, str]:
    """Return for each item of teams that are away who does the rest: the other teams in turn.

    Parameters
    ----------
    away : teams that aren't there any more.
    gone : items that nobody does anything on.
    absent : other teams that aren't there.
    missed : of an item the teams that aren't there for its session; one of these is asked only
        where there is no other.
    """
    maker = maker_group(plan)
    if maker is None or not away:
        return {}
    there = [team for team in maker.members if team not in {*away, *absent}]
    left = [
        row.item
        for row in sorted(plan.rows, key=lambda row: row.run)
        if row.groups[maker.name] in away and row.item not in gone
    ]
    found: dict[str, str] = {}
    for item in left if there else ():
        team = next((one for one in there if one not in missed.get(item, ())), there[0])
        there.remove(team)  # it is the last to be asked again
        there.append(team)
        found[item] = team
    return found


@dataclass(frozen=True)
class _Rest:
    """What is left, and what there is to do it with; see :func:`schedule_rest`."""

    study: Study
    plan: Plan
    since: int
    gone: tuple[str, ...]
    fewer: Mapping[str, int]
    most: int | None
    helpers: Helpers
    open_steps: tuple[str, ...] = ()
    hands: int = 0  # more than the study says
    effort: float = EFFORT
    least: int = 0  # fewer lessons in all aren't tried
    job: Job = field(init=False)
    done: Mapping[int, int] = field(init=False)

    def __post_init__(self) -> None:
        if self.plan.timetable is None:
            raise ValueError("the plan has no timetable")
        job = job_of(self.study, self.plan, self.gone)
        done = _done(self, job)
        object.__setattr__(self, "done", done)
        object.__setattr__(self, "job", _handed_over(self, job, done))

    def room(self, count: int) -> Room:
        """Return what there is in so many lessons, without what there is less of.

        What each team had for itself is shared by all, where a piece of it is out of order.
        """
        room = room_of(self.study, self.plan, count)
        places, shared = {}, set()
        for one in self.study.equipment:
            less = self.fewer.get(one.name, 0)
            there = pieces_in_all(self.study, one) if less > 0 else one.count
            shared |= {one.name} if less > 0 else set()
            places[one.name] = max(0, there - less) * one.holds
        makers = maker_group(self.plan)
        teams = makers.members if makers else ()
        crews = {c: n + (self.hands if c in teams else 0) for c, n in room.crews.items()}
        return replace(room, places=places, crews=crews, own=room.own - shared)

    def placed(self) -> Schedule:
        """Return the rest in the fewest lessons, or why it can't be done."""
        end = max(self.since, self.most or MOST_LESSONS)
        room = self.room(end)
        cant = Schedule(
            self.job, room, Placement("impossible"), True, (), over=tuple(sorted(self.done))
        )
        stuck = stuck_in(self.job, room, self.done)
        if stuck:
            return replace(cant, stuck=stuck)
        hurried = hurried_in(self.job, self.room(self.since + 1), self.done, self.since)
        found = rushes(self.job, self.room(self.since + 1), hurried, self.since)
        if not found and not self._fits_now(hurried):
            found = (rush_together(self.job, hurried, self.since),)
        if found:
            return replace(cant, rushes=found)
        return self._fewest(end)

    def _fits_now(self, hurried: Hurried) -> bool:
        """Whether what must begin in the first lesson can: False only where it surely can't."""
        if not hurried.works:
            return True
        wanted = [at for at in range(len(self.job.works)) if at in self.done or at in hurried.works]
        place_of = {at: new for new, at in enumerate(wanted)}
        works = tuple(
            replace(
                self.job.works[at],
                after=tuple(place_of[b] for b in self.job.works[at].after if b in place_of),
            )
            for at in wanted
        )
        orders = tuple(
            tuple(place_of[at] for at in order if at in place_of) for order in self.job.orders
        )
        now = Job(works, orders, self.job.sessions)
        room = self.room(self.since)
        done = {place_of[at]: begun for at, begun in self.done.items()}
        begin = room.gap(self.since - 1)[0]
        told = place(now, room, whole=False, done=done, since=begin, effort=TRIAL_EFFORT,
                     trial=True)  # fmt: skip
        return told.status != "impossible"

    def _fewest(self, end: int) -> Schedule:
        left = replace(
            self.job, works=tuple(w for at, w in enumerate(self.job.works) if at not in self.done)
        )
        surely, trial = True, self.effort < EFFORT
        for count in range(max(self.since, self.least), end + 1):
            room = self.room(count)
            if self._too_much(left, room):
                continue
            for whole in (True, False) if any(self.job.sessions) else (True,):
                begin = room.gap(self.since - 1)[0]
                placement = place(self.job, room, whole=whole, effort=self.effort,
                                  trial=trial, done=self.done, since=begin)  # fmt: skip
                if placement.placed:
                    over = tuple(sorted(self.done))
                    told = loads(left, room)
                    return Schedule(self.job, room, placement, whole, told, over=over)
                surely = surely and placement.status == "impossible"
        lasting = replace(room, starts=room.starts[self.since - 1 :])  # the lessons that are left
        return Schedule(
            self.job,
            room,
            Placement("impossible" if surely else "not found"),
            True,
            loads(left, lasting),
            chains_too_long(self.job, room),
            over=tuple(sorted(self.done)),
        )

    def _too_much(self, left: Job, room: Room) -> bool:
        """Whether hands or equipment are wanted for longer than the lessons that are left last."""
        lasting = replace(room, starts=room.starts[self.since - 1 :])
        told = [load for load in loads(left, lasting) if load.kind in ("crew", "equipment")]
        return any(load.share > 1 + _SLACK for load in told)

    # ---- what helps ------------------------------------------------------------------------

    def advised(self, found: Schedule, dear: Dear | None = None) -> Schedule:
        """Return what was found with how much can be done, and what would make all of it fit."""
        count = self._lessons()
        room = self.room(count)
        next_one = self.room(self.since + 1)
        hurried = hurried_in(self.job, next_one, self.done, self.since)
        fitting: Fitting | None = most_items(
            self.job,
            room,
            alike=_alike(self.plan),
            at_most=most_at_once(self.job, next_one, hurried),
            done=self.done,
            since=room.gap(self.since - 1)[0],
        )
        without: Schedule | None = None
        if fitting is not None and fitting.kept:
            fitting = self._cheaper(fitting, count, dear)
            gone = (*self.gone, *fitting.left_out)
            without = replace(self, gone=gone, most=count).placed()
            if not without.placement.placed:  # the search for it stopped first
                fitting, without = None, None
        over = self.since - 1
        taught = lessons_of(self.study).minutes
        cures = cheapest_first(self._cures(found, count), count, taught, over)
        return replace(found, fitting=fitting, without=without, cures=cures)

    def _cheaper(self, fitting: Fitting, count: int, dear: Dear | None) -> Fitting:
        """Return as many items that fit, with cheaper ones left out where exchanges find some."""
        trials = MORE_TRIALS
        while dear is not None and 0 < len(fitting.kept) * len(fitting.left_out) <= EXCHANGES:
            price = dear(fitting.left_out)
            if price is None:
                break
            others = [
                tuple(kept if item == out else item for item in fitting.left_out)
                for out in fitting.left_out
                for kept in fitting.kept
            ]
            told = [(cost, one) for one in others if (cost := dear(one)) is not None]
            ranked = sorted(one for one in told if one[0] < price)
            for _, left_out in ranked[:trials]:
                trials -= 1
                gone = (*self.gone, *left_out)
                then = replace(self, gone=gone, most=count, effort=TRIAL_EFFORT)
                if then.placed().placement.placed:
                    items = (*fitting.kept, *fitting.left_out)
                    kept = tuple(item for item in items if item not in left_out)
                    fitting = replace(fitting, kept=kept, left_out=left_out)
                    break
            else:
                break
        return fitting

    def sparing(self, found: Schedule) -> Schedule:
        """Return what was placed with what would spare the lessons that it takes more than before.

        ``cures`` stays empty where it takes no more, or where all that is left is after them.
        """
        before = self._lessons()
        if found.placement.lessons <= before:
            return found
        taught = lessons_of(self.study).minutes
        cures = cheapest_first(self._cures(found, before), before, taught, self.since - 1)
        return replace(found, cures=cures)

    def _lessons(self) -> int:
        """Return the lessons that are tried: those asked for, or those of the timetable so far."""
        table = self.plan.timetable
        return max(self.since, self.most or (table.lessons if table is not None else 1))

    def _cures(self, found: Schedule, count: int) -> Iterator[Cure]:
        """Yield what makes all of it fit, each tried by itself."""
        trial = replace(self, most=count, effort=TRIAL_EFFORT)
        left = [work for at, work in enumerate(self.job.works) if at not in self.done]
        for one in self.study.equipment:
            more = dict(self.fewer) | {one.name: self.fewer.get(one.name, 0) - 1}
            placed = replace(trial, fewer=more).placed().placement
            if placed.placed:
                yield one_more(left, self.room(count), one.name, placed.lessons)
        yield from _tried("hands", "", 1, replace(trial, hands=1))
        if found.stuck:
            yield from self._mended(trial, found)
            return
        yield from self._longer(trial)
        yield from self._shorter(trial)
        yield from self._later(trial, found)
        if self.most is not None and not found.rushes:
            for lessons in range(count + 1, min(count + MORE_LESSONS, MOST_LESSONS) + 1):
                then = replace(trial, most=lessons, least=lessons)
                cure = next(_tried("lessons", "", lessons - count, then), None)
                if cure is not None:
                    yield cure
                    return

    def _mended(self, trial: _Rest, found: Schedule) -> Iterator[Cure]:
        """Yield that the next lesson is put off until a piece is mended, where all can lie so long.

        That is so where a step right before that lesson waits for it, and nothing is on its way
        that keeps for a while only.
        """
        (first, *others) = found.stuck
        works = self.job.works
        keeps = all(
            works[before].keeps is None
            for at, work in enumerate(works)
            if at not in self.done
            for before in work.after
            if before in self.done
        )
        if others or not keeps or first.step not in self._right_before():
            return
        fewer = dict(self.fewer) | {first.equipment: self.fewer.get(first.equipment, 0) - 1}
        then = replace(trial, fewer=fewer, open_steps=(*self.open_steps, first.step))
        yield from _tried("mended", first.step, 0, then)

    def _right_before(self) -> set[str]:
        """Return the steps that the timetable so far has between lessons, right before the next."""
        table = self.plan.timetable
        works = table.works if table is not None else ()
        return {work.step for work in works if work.between and work.lesson == self.since}

    def _longer(self, trial: _Rest) -> Iterator[Cure]:
        lessons = self.study.lessons
        if lessons is None:
            return
        for minutes in MORE_MINUTES:
            longer = lessons.model_copy(update={"minutes": lessons.minutes + minutes})
            study = self.study.model_copy(update={"lessons": longer})
            cure = next(_tried("minutes", "", minutes, replace(trial, study=study)), None)
            if cure is not None:
                yield cure
                return

    def _shorter(self, trial: _Rest) -> Iterator[Cure]:
        """Yield with how many readings of each it fits, if a step takes as much less time."""
        planned = max((one.readings for one in self.study.responses), default=1)
        measured = [step for step in self.study.steps if step.stage == "measure" and step.minutes]
        if len(measured) != 1:
            return
        (step,) = measured
        for readings in range(planned - 1, 0, -1):
            minutes = math.ceil((step.minutes or 0) * readings / planned)
            changed = tuple(
                one.model_copy(update={"minutes": minutes}) if one is step else one
                for one in self.study.steps
            )
            fewer = tuple(
                one.model_copy(update={"readings": min(one.readings, readings)})
                for one in self.study.responses
            )
            study = self.study.model_copy(update={"steps": changed, "responses": fewer})
            if not _holds(study):
                continue
            cure = next(_tried("shorter", step.name, readings, replace(trial, study=study)), None)
            if cure is not None:
                price = Price("readings", planned - readings)
                yield replace(cure, minutes=minutes, price=price)
                return

    def _later(self, trial: _Rest, found: Schedule) -> Iterator[Cure]:
        """Yield a step right before the lesson after which things can't lie, if it can wait."""
        waits = self._right_before()
        for name in dict.fromkeys(step for rush in found.rushes for step in rush.after):
            if name in waits and name not in self.open_steps:
                for more in (0, 1, 2):
                    then = replace(
                        trial, open_steps=(*self.open_steps, name), most=self._lessons() + more
                    )
                    cure = next(_tried("waiting", name, 0, then), None)
                    if cure is not None:
                        yield cure
                        break


def _holds(study: Study) -> bool:
    """Whether a changed study is one that can be carried out."""
    try:
        check_study(study)
    except StudyError:
        return False
    return True


def _tried(kind: Helps, name: str, amount: int, rest: _Rest) -> Iterator[Cure]:
    """Yield a cure if with it all that is left can be done."""
    found = rest.placed().placement
    if found.placed:
        yield Cure(kind, name, amount, found.lessons)


def _alike(plan: Plan) -> list[tuple[str, ...]]:
    """Return the items of each recipe, version and member of a group: they should stay balanced.

    So should those of a version within a member of a group: where a firing loses one version, the
    versions can no longer be compared in it.
    """
    found: dict[tuple[str, ...], list[str]] = {}
    for row in plan.rows:
        found.setdefault(("", repr(sorted(row.factors.items()))), []).append(row.item)
        for member in (*row.factors.items(), *row.groups.items()):
            found.setdefault(member, []).append(row.item)
        for version, member in product(row.factors.items(), row.groups.items()):
            found.setdefault((*version, *member), []).append(row.item)
    return [tuple(items) for items in found.values() if len(items) > 1]


def _handed_over(rest: _Rest, job: Job, done: Collection[int]) -> Job:
    """Return the works with those who did them, and those who make and read what is left."""
    plan, helpers = rest.plan, rest.helpers
    told = plan.timetable.works if plan.timetable is not None else ()
    did = {(planned.step, item): planned.crew for planned in told for item in planned.items}
    maker = maker_group(plan)
    teams = maker.members if maker else ()
    crews = {}
    for index, work in enumerate(job.works):
        if index in done:
            crews[index] = did.get((work.step, work.items[0]), work.crew)
        elif work.crew in teams:
            crews[index] = helpers.makers.get(work.items[0], work.crew)
    works = read_again(rest.study, plan, job.works, crews, done=done, helpers=helpers)
    return replace(job, works=works)


def _done(rest: _Rest, job: Job) -> dict[int, int]:
    """Return the works that were done before a lesson, by index, and when each began."""
    table = rest.plan.timetable
    told = table.works if table is not None else ()
    most = max([rest.since, *(planned.lesson for planned in told)])
    room = room_of(rest.study, rest.plan, most)
    index = {(work.step, item): at for at, work in enumerate(job.works) for item in work.items}
    known = missing_in(table.missing if table is not None else (), rest.since)
    dead = {name for name, less in rest.fewer.items() if less > known.get(name, 0)}
    open_steps = _and_after(rest.study, rest.open_steps)
    done: dict[int, int] = {}

    def begun(planned: PlannedWork) -> int:
        number = planned.lesson - 1
        begin = room.gap(number)[0] if planned.between else room.starts[number]
        return begin + planned.start

    for planned in told:
        here = {index[planned.step, i] for i in planned.items if (planned.step, i) in index}
        waits = planned.between and planned.lesson == rest.since
        for at in here:
            uses = {name for name, _ in job.works[at].places}
            over = waits and not uses & dead and planned.step not in open_steps
            if planned.lesson < rest.since or over:
                done[at] = begun(planned)
    _as_far_as_the_others(told, job, done)
    for planned in rest.plan.timetable.past if rest.plan.timetable is not None else ():
        for item in planned.items:  # of what is back it is known when this began
            at = index.get((planned.step, item), -1)
            if at in done:
                done[at] = begun(planned)
    for at, work in enumerate(job.works):  # nothing is done before what it follows
        if at in done and not done.keys() >= {*work.after}:
            del done[at]
    return done


def _as_far_as_the_others(told: Sequence[PlannedWork], job: Job, done: dict[int, int]) -> None:
    """Add what is done of items that the timetable was placed without and that are back.

    They are taken to be as far as the others: a step is over for them that is over for all of
    these, and began when the last of these began it: when it did isn't known any more.
    """
    placed = {item for planned in told for item in planned.items}
    steps: dict[str, list[int]] = {}
    for at, work in enumerate(job.works):
        if placed & {*work.items}:
            steps.setdefault(work.step, []).append(at)
    for at, work in enumerate(job.works):
        others = steps.get(work.step, [])
        if not placed & {*work.items} and others and done.keys() >= set(others):
            done[at] = max(done[other] for other in others)


def _and_after(study: Study, steps: Collection[str]) -> set[str]:
    """Return steps and all that come after the first of them."""
    names = [step.name for step in study.steps]
    first = min((names.index(step) for step in steps), default=len(names))
    return set(names[first:])
