"""``trials lessons``: place what is left to do again when the day went otherwise."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from trials.classroom.agenda import agenda_of
from trials.classroom.arrange import maker_group, session_group
from trials.classroom.left import past_works
from trials.classroom.lessons import Schedule, timetable_of
from trials.classroom.readers import Helpers
from trials.classroom.rest import Dear, Within, hand_over, schedule_rest
from trials.design.judging import costs_from
from trials.design.values import Away, Loss, Plan, PlannedWork, Timetable
from trials.errors import PlanError
from trials.files import as_typed
from trials.progress import progress
from trials.record import StandIns, State, Store, plan_as_made
from trials.service.lessons_said import Less, away_teams, back_again, less_equipment
from trials.service.lessons_text import cure_lines, kept_lines, lesson_lines, reasons, sparing_lines
from trials.service.offers import cost_lines, cost_to_dict
from trials.service.opening import Opened, held_plan
from trials.service.taken import with_spread_if_there
from trials.service.tally import made_by_others, tally
from trials.study.check_lessons import used_at
from trials.study.values import Study
from trials.words import lessons as words
from trials.words.class_times import day
from trials.words.lessons_left import can_be_done, left_out
from trials.words.numbers import count, listing
from trials.workspace import save_timetable


@dataclass(frozen=True)
class Replaced:
    """What is left to do, placed again; ``timetable`` None: it can't be done so."""

    opened: Opened
    since: int
    gone: tuple[str, ...]
    before: Timetable
    timetable: Timetable | None
    schedule: Schedule
    less: Less  # equipment that there is less of
    asked: int | None = None  # lessons to be had in all
    away: tuple[Away, ...] = ()
    there: tuple[Away, ...] = ()  # said to be away from a later lesson on, and no longer so
    handed: dict[str, str] = field(default_factory=dict)  # item -> who does the rest of it
    cost: tuple[Loss, ...] = ()  # of what would be left out where not all of it can be done
    counted: tuple[str, ...] = ()  # steps right before that lesson that count as done
    known: tuple[Away, ...] = ()  # said to be away, and known to be
    # equipment said to be out of order -> steps that would count as done if it weren't
    reopened: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        after = self.timetable
        problem = self.problem()
        return {
            **({"error": problem.to_dict()} if problem else {}),
            "since": self.since,
            "left_out": list(self.gone),
            "counted_as_done": list(self.counted),
            "away": [one.model_dump() for one in self.away],
            "missing": [one.model_dump() for one in (after or self.before).missing],
            "finished_by": dict(self.handed),
            "lessons_before": self.before.lessons,
            "timetable": None if after is None else after.model_dump(mode="json"),
            "stuck": [asdict(one) for one in self.schedule.stuck],
            "rushes": [asdict(one) for one in self.schedule.rushes],
            "can_be_done": self._can_be_done(),
            "cures": [asdict(one) for one in self.schedule.cures],
        }

    def _can_be_done(self) -> dict[str, Any] | None:
        """Return how much of what is left can be done, where not all of it can."""
        fitting, then = self.schedule.fitting, self.schedule.without
        if fitting is None:
            return None
        return {
            "items": list(fitting.kept),
            "left_out": list(fitting.left_out),
            "at_most": fitting.bound,
            "lessons": then.placement.lessons if then is not None else None,
            "cost": [cost_to_dict(loss) for loss in self.cost],
        }

    def problem(self) -> PlanError | None:
        """Return that it can't be done so, as programs are told; None where it was placed."""
        if self.timetable is not None:
            return None
        told = [line.strip() for line in self._why_not(as_typed(self.opened.here.folder))]
        end = told.index("")  # what can be done stands below
        return PlanError(
            words.NO_WAY,
            code="lessons.no_way",
            where=f"--since {self.since}",
            found=" ".join(told[:end]),
            do=" ".join(told[end:]).strip(),
        )

    def text(self) -> list[str]:
        """Return how many lessons it takes now, and what that costs."""
        folder = as_typed(self.opened.here.folder)
        if self.timetable is None:
            return [*self._why_not(folder), words.NO_WAY]
        return [
            *self._done_before(),
            words.left_over(len(self.gone), self.since),
            *words.added_later(_added_later(self.opened.plan)),
            *self._counted(),
            *self._done_late(),
            *self._handed_over(folder),
            *self._missing(folder),
            words.longer(self.before.lessons, self.timetable.lessons),
            *lesson_lines(self.opened.study, replace(self.schedule, cures=())),
            *self._undated(),
            *self._sparing(),
            words.KEPT_BEFORE,
            "",
            f"Next: trials sheets {folder}",
        ]

    def _counted(self) -> list[str]:
        """Return which steps right before the lesson count as done, and what to say if they aren't.

        A step that isn't done takes all that come after it along.
        """
        labels = {step.name: step.label or step.name for step in self.opened.study.steps}
        if not self.counted:
            return []
        keys = [as_typed(Path(step)) for step in self.counted]
        return [words.counts_as_done([labels[step] for step in self.counted], keys, self.since)]

    def _done_late(self) -> list[str]:
        """Return what isn't done yet right before the lesson, and that it is placed late."""
        table, study = self.timetable, self.opened.study
        over = {table.works[at] for at in table.over} if table is not None else set()
        late = [
            work
            for work in (table.works if table is not None else ())
            if work.between and work.lesson == self.since and work not in over
        ]
        if not late or study.lessons is None:
            return []
        labels = [s.label or s.name for s in study.steps if s.name in {w.step for w in late}]
        agenda = agenda_of(study, self.opened.plan.model_copy(update={"timetable": table}))
        parts = [p for p in (agenda.ahead if agenda else ()) if p.between]
        begins = [part.moment(part.turns[0].start) for part in parts if part.lesson == self.since]
        first = day(begins[0]) if begins and begins[0] is not None else ""
        return [words.done_late(labels, self.since, first, study.lessons.between)]

    def _done_before(self) -> list[str]:
        """Return of each thing said to be out of order now which steps count as open by that.

        Nothing where it was tried and is no help that they are over.
        """
        tried = {cure.name for cure in self.schedule.cures if cure.kind == "equipment"}
        lines = []
        for one in self.opened.study.equipment:
            steps = [
                step.label or step.name
                for step in self.opened.study.steps
                if step.name in self.reopened.get(one.name, ())
            ]
            if steps and (self.timetable is not None or one.name in tried):
                name, key = one.label or one.name, as_typed(Path(one.name))
                lines.append(words.leave_out_without(steps, name, key))
        return lines

    def _handed_over(self, folder: str) -> list[str]:
        lines = [words.not_away_yet(one.team, one.since, self.since) for one in self.there]
        lines += [words.known_away(one.team, one.since) for one in self.known]
        for team, since in ((one.team, one.since) for one in self.away):
            mine = {
                row.item: self.handed[row.item]
                for row in self.opened.plan.rows
                if row.item in self.handed and team in row.groups.values()
            }
            shares = [
                (other, [item for item, who in mine.items() if who == other])
                for other in sorted(set(mine.values()))
            ]
            lines += words.handed_over(team, self.since, shares)
            lines.append(words.kept_away(folder, team, since, self.since))
        return lines

    def _missing(self, folder: str) -> list[str]:
        """Return which equipment the timetable keeps as out of order."""
        named = {one.name: one for one in self.opened.study.equipment}
        lines = [words.known_missing(named[name].label or name) for name in self.less.known]
        lines += [
            words.not_missing_yet(
                named[one.equipment].label or one.equipment, as_typed(Path(one.equipment)),
                one.since, self.since,
            )
            for one in self.less.there
            if one.equipment in named
        ]  # fmt: skip
        return lines + kept_lines(folder, self.opened.study, self.less.kept, self.since)

    def _undated(self) -> list[str]:
        """Return which lessons have no date yet, where those before them have one."""
        table, lessons = self.timetable, self.opened.study.lessons
        if table is None or lessons is None or not 0 < len(table.starts) < table.lessons:
            return []
        later = range(len(table.starts) + 1, table.lessons + 1)
        return [words.no_date(later, counted=lessons.count is not None)]

    def _sparing(self) -> list[str]:
        """Return what would spare the lessons that it takes more than before, where it was tried.

        It was where nobody said how many lessons there are to be.
        """
        after = self.timetable.lessons if self.timetable is not None else 0
        if self.asked is not None or after <= max(self.before.lessons, self.since):
            return []
        return sparing_lines(self.opened.study, self.schedule, self.less.fewer)

    def _why_not(self, folder: str) -> list[str]:
        """Return why what is left can't be done, and what to do about that."""
        study, found = self.opened.study, self.schedule
        if found.stuck or found.rushes:
            lines = [words.no_lessons_help(self.asked), *reasons(study, found)]
        else:
            lines = lesson_lines(study, replace(found, cures=()))
        lines = [*self._done_before(), *lines]
        lines += [f"  {line}" for line in self._counted()]
        fitting, then = found.fitting, found.without
        if fitting is not None:
            several = count(len(fitting.kept) + len(fitting.left_out), study.item_name)
            lessons = then.placement.lessons if then is not None else 0
            told = can_be_done(len(fitting.kept), several, lessons=lessons, proved=fitting.proved)
            lines.append(f"  {told}")
        kept = [one for one in self.before.missing if one.equipment in self.less.fewer]
        lines += kept_lines(folder, study, kept, self.since)
        known = set(self.less.fewer) - set(self.less.said)
        lines += ["", *cure_lines(study, found, self.less.said, known)]
        if fitting is not None:
            cost = cost_lines(study, self.cost)
            lines += left_out(folder, fitting.left_out, cost, len(fitting.kept))
        return [*lines, ""]


def place_again(
    folder: Path,
    *,
    since: int,
    without: Sequence[str] = (),
    lessons: int | None = None,
    away: Sequence[str] = (),
    back: Sequence[str] = (),
    not_yet: Sequence[str] = (),
) -> Replaced:
    """Place what is left to do again, from a lesson on.

    Items that are lost, or that an absent team did not make, are left out. Nothing changes its
    version, team or order.

    Parameters
    ----------
    since : the first lesson that isn't over yet, from 1.
    without : equipment that there is one piece less of than is known, as often as it is named. The
        timetable keeps that, too.
    lessons : lessons to be had in all; None: as many as it takes.
    away : teams that aren't there from that lesson on. What they made stays, and the other teams
        do the rest. The timetable keeps that: the next one goes on from it.
    back : teams of which that is kept, and that are there again from that lesson on; and equipment
        of which one piece is in order again, as often as it is named.
    not_yet : steps that the timetable has right before that lesson and that aren't done yet.

    Raises
    ------
    FileError, StudyError : no study.
    PlanError : no plan, or none with a timetable; no such lesson, equipment or team.
    """
    with held_plan(folder) as opened:
        told = _told(opened, since)
        _refuse_too_few(lessons, since)
        steps = _steps(opened, told, since, not_yet)
        with Store.open(opened.here.record) as store:
            rows = {row.item for row in store.rows()}
            state = store.state()
        found = tally(rows, state, opened.plan)
        again, whole = back_again(opened, told, since, back, state.absences)
        less = less_equipment(opened.study, told, since, without, whole)
        teams, there, known = away_teams(opened, told, since, (away, again), state.absences)
        made = made_by_others(found, state)
        gone = (*found.lost, *(item for item in found.unmade if item not in made))
        missing = [one.team for one in state.absences if not one.session]
        out = (*gone, *_added_later(opened.plan))
        gone_home = [one.team for one in teams]
        missed = _missed(opened, state)
        others = made | hand_over(opened.plan, gone_home, out, missing, missed)
        with progress("placing the work in the lessons"):
            rest = schedule_rest(
                opened.study,
                opened.plan,
                since=since,
                gone=out,
                fewer=less.fewer,
                helpers=Helpers(others, (*gone_home, *missing), missed, made),
                open_steps=steps,
                within=Within(lessons, _dear(opened, state, gone)),
            )
        after = timetable_of(opened.study, rest)
        if after is not None:
            past = past_works(told, after, since, found.lost)
            kept = {"away": teams, "missing": less.kept, "past": past, "since": since}
            after = _numbered(told, after.model_copy(update=kept))
            if _placed_otherwise(told, after):  # before the timetable, which the next call sees
                with Store.open(opened.here.record) as store:
                    store.be_placed(since, gone, (told.lessons, after.lessons))
            save_timetable(opened.here, opened.plan.model_copy(update={"timetable": after}))
        handed = _handed(opened.study, after, since, others)
        if after is not None:
            _remember(opened, state, handed, (after, since))
    cost = _cost(opened, state, gone, rest)
    return Replaced(
        opened, since, gone, told, after, rest, less, lessons, teams, there, handed, cost,
        _counted(told, rest, since), known, _reopened(opened.study, told, (since, steps), less),
    )  # fmt: skip


def _missed(opened: Opened, state: State) -> dict[str, set[str]]:
    """Return of each item the teams that aren't there for its session."""
    session = session_group(opened.study, opened.plan, measuring=True)
    if session is None:
        return {}
    return {
        row.item: {
            one.team
            for one in state.absences
            if (one.session_of, one.session) == (session.name, row.groups[session.name])
        }
        for row in opened.plan.rows
    }


def _added_later(plan: Plan) -> tuple[str, ...]:
    """Return the items by which a plan was extended: its timetable is without them."""
    return tuple(row.item for row in plan.rows[plan.parts[0].items :]) if plan.parts else ()


def _counted(told: Timetable, rest: Schedule, since: int) -> tuple[str, ...]:
    """Return the steps between lessons right before one that count as done, as they come."""
    right_before = {
        (work.step, item)
        for work in told.works
        if work.between and work.lesson == since
        for item in work.items
    }
    works = [rest.job.works[at] for at in rest.over]
    return tuple(
        dict.fromkeys(work.step for work in works if (work.step, work.items[0]) in right_before)
    )


def _reopened(
    study: Study, told: Timetable, before: tuple[int, Collection[str]], less: Less
) -> dict[str, tuple[str, ...]]:
    """Return which steps right before a lesson are open only as one piece was said to be missing.

    By that equipment; ``before``: the lesson, and steps that were said not to be done yet.
    """
    since, open_steps = before
    waits = {work.step for work in told.works if work.between and work.lesson == since}
    names = [step.name for step in study.steps]
    first = min((names.index(step) for step in open_steps), default=len(names))
    found = {
        name: tuple(
            step.name
            for step in study.steps[:first]
            if step.name in waits and name in used_at(step)
        )
        for name, pieces in less.said.items()
        if pieces == 1
    }
    return {name: steps for name, steps in found.items() if steps}


def _placed_otherwise(before: Timetable, after: Timetable) -> bool:
    """Return whether anything is done at another time, by others or not at all."""
    return Counter(before.works) != Counter(after.works)


def _numbered(before: Timetable, after: Timetable) -> Timetable:
    """Return a timetable with how many came before it; an equal one is none more."""
    same = after.model_copy(update={"again": before.again})
    return same if same == before else after.model_copy(update={"again": before.again + 1})


def _handed(
    study: Study, after: Timetable | None, since: int, others: Mapping[str, str]
) -> dict[str, str]:
    """Return the items that another team makes ready from a lesson on, and which team."""
    return {
        item: work.crew
        for work in _making(study, after.works if after is not None else ())
        for item in work.items
        if work.lesson >= since and others.get(item) == work.crew
    }


def _making(study: Study, works: Iterable[PlannedWork]) -> list[PlannedWork]:
    """Return works without the measuring: who only reads finishes nothing."""
    making = {step.name for step in study.steps if step.stage == "make"}
    return [work for work in works if work.step in making]


def _remember(
    opened: Opened, state: State, handed: Mapping[str, str], rest: tuple[Timetable, int]
) -> None:
    """Put into the record what the timetable keeps, and that a team is there again.

    That is who is away and who finishes its items, and which equipment is out of order. It is all
    in the timetable, so the next one mends a record that wasn't written to after an earlier one.
    """
    after, since = rest
    if after.missing != state.missing:
        with Store.open(opened.here.record) as store:
            store.be_missing(after.missing)
    maker = maker_group(opened.plan)
    if maker is None or not (after.away or state.away):
        return
    known = {
        (one.team, one.lesson): one
        for one in state.away
        if one.until is None or one.until > since  # what was said of a later lesson counts no more
    }
    works = _making(opened.study, after.works)
    done = {(item, work.crew) for work in works for item in work.items if work.lesson < since}
    with Store.open(opened.here.record) as store:
        for one in after.away:
            known.pop((one.team, one.since), None)
            shares = {**handed, **_did(works, one, (since, maker.members))}
            mine = tuple(
                (row.item, shares[row.item])
                for row in opened.plan.rows
                if row.groups[maker.name] == one.team and row.item in shares
            )
            store.be_away(StandIns(maker.name, one.team, one.since, mine))
        for back in known.values():
            over = tuple(share for share in back.items if share in done)
            store.be_away(replace(back, items=over, until=since), stands=since > back.lesson)


def _did(
    works: Iterable[PlannedWork], away: Away, before: tuple[int, Collection[str]]
) -> dict[str, str]:
    """Return which other team did which of some works, from when one was away until a lesson."""
    since, teams = before
    then = [work for work in works if away.since <= work.lesson < since]
    return {
        item: work.crew
        for work in sorted(then, key=lambda work: (-work.lesson, work.between, -work.start))
        for item in work.items
        if work.crew in teams and work.crew != away.team
    }


def _cost(opened: Opened, state: State, gone: Sequence[str], rest: Schedule) -> tuple[Loss, ...]:
    """Return what it costs the answers to leave out what can't be done."""
    if rest.fitting is None or not rest.fitting.kept:
        return ()
    return _costs(opened, state, gone)(rest.fitting.left_out)


def _costs(
    opened: Opened, state: State, gone: Sequence[str]
) -> Callable[[Collection[str]], tuple[Loss, ...]]:
    """Return what says of items what it costs the answers to leave them out, too."""
    made = plan_as_made(opened.plan, state.otherwise).plan
    left = {row.item for row in made.rows} - set(gone)
    study = with_spread_if_there(opened.here, opened.study)
    costs = costs_from(study, made, left, made)
    return lambda out: costs(left - set(out))


def _dear(opened: Opened, state: State, gone: Sequence[str]) -> Dear:
    """Return what tells which items cost the answers more: the weakest counts first, then all.

    None where an answer is lost. Rounded, so that equal ones are equal on every machine.
    """
    costs: list[Callable[[Collection[str]], tuple[Loss, ...]]] = []  # made when first asked

    def dear(out: Collection[str]) -> tuple[float, ...] | None:
        if not costs:
            costs.append(_costs(opened, state, gone))
        growths = [loss.growth for loss in costs[0](out)]
        known = [growth for growth in growths if growth is not None]
        if len(known) < len(growths):
            return None
        return round(max(known, default=0.0), 6), round(sum(known), 6)

    return dear


def _steps(opened: Opened, told: Timetable, since: int, names: Sequence[str]) -> tuple[str, ...]:
    """Return steps by their name or what people call them, which may be still to be done."""
    waits = dict.fromkeys(w.step for w in told.works if w.between and w.lesson == since)
    called = {
        text.casefold(): step.name
        for step in opened.study.steps
        if step.name in waits
        for text in (step.name, step.label or step.name)
    }
    for name in names:
        if name.strip().casefold() not in called:
            raise PlanError(
                f"There is no such step right before lesson {since}.",
                code="lessons.not_yet",
                where="--not-yet",
                found=name,
                allowed=listing(list(waits), "or") or "none is done between lessons there",
                do="Name a step between lessons that isn't done yet, as in study.toml.",
            )
    return tuple(dict.fromkeys(called[name.strip().casefold()] for name in names))


def _refuse_too_few(lessons: int | None, since: int) -> None:
    if lessons is not None and lessons < since:
        raise PlanError(
            "There is no such lesson among so many.",
            code="lessons.count",
            where="--count",
            found=f"{count(lessons, 'lesson')} in all, from lesson {since} on",
            allowed=f"{since} or more: --count counts the lessons that are over, too",
            do="Say how many lessons there are in all.",
        )


def _told(opened: Opened, since: int) -> Timetable:
    told = opened.plan.timetable
    if told is None:
        raise PlanError(
            "This plan has no timetable.",
            code="lessons.none",
            where=str(opened.here.plan),
            allowed="a plan drawn for a study that says something under [lessons]",
            do="Write [lessons] into study.toml, and draw the plan again if nothing is made yet.",
        )
    if not 1 <= since <= told.lessons + 1:
        raise PlanError(
            "There is no such lesson.",
            code="lessons.since",
            where="--since",
            found=str(since),
            allowed=f"1 to {told.lessons + 1}",
            do="Say which lesson is the first that isn't over yet.",
        )
    return told
