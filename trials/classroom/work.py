"""From a drawn plan and the steps of the making to the works that a class has to do."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from trials.classroom.arrange import bundles, maker_group, member_text, session_group
from trials.classroom.hazards import burning, safer
from trials.classroom.hours import open_spans
from trials.classroom.readers import reader_of
from trials.classroom.values import Room, Work
from trials.design.values import Plan, PlanRow
from trials.quantities import convert
from trials.study.check_lessons import start_of, used_at
from trials.study.values import Equipment, Lessons, Step, Study

READING = 2  # people: one reads, one writes; common practice, no source
EVERYONE = "everyone"  # who works where the study names no teams


@dataclass(frozen=True)
class Job:
    """All works of a plan, and the orders in which some must start: indices, first to last."""

    works: tuple[Work, ...]
    orders: tuple[tuple[int, ...], ...]
    sessions: tuple[str, ...]  # in the order in which they are measured


def room_of(study: Study, plan: Plan, count: int) -> Room:
    """Return what there is to work with in so many lessons.

    Parameters
    ----------
    count : lessons, at least as many as the study names starts for are used of these.
    """
    lessons = lessons_of(study)
    starts = [start for text in lessons.starts if (start := start_of(text)) is not None]
    apart = round(lessons.apart * 60)
    offsets = [round((start - starts[0]).total_seconds() / 60) for start in starts][:count]
    while len(offsets) < count:
        offsets.append(offsets[-1] + apart if offsets else 0)
    makers = maker_group(plan)
    crews = dict.fromkeys(makers.members if makers else (EVERYONE,), lessons.hands)
    crews |= {step.by: 1 for step in study.steps if step.by}
    return Room(
        tuple(offsets),
        math.floor(lessons.minutes),
        math.ceil(lessons.put_out),
        math.ceil(lessons.tidy),
        crews,
        {one.name: one.count * one.holds for one in study.equipment},
        open_spans(lessons, starts[0], tuple(offsets)) if starts else (),
        frozenset(one.name for one in study.equipment if one.per == "team"),
        _people(study, plan),
    )


def team_size(study: Study, plan: Plan) -> int | None:
    """Return how many people a team has, the smallest one; None where the study doesn't say."""
    makers = maker_group(plan)
    students = study.lessons.students if study.lessons is not None else None
    return None if makers is None or students is None else students // len(makers.members)


def _people(study: Study, plan: Plan) -> dict[str, int]:
    """Return how many people each team has, at least two; nothing where the study doesn't say."""
    makers, size = maker_group(plan), team_size(study, plan)
    return (
        {} if makers is None or size is None else dict.fromkeys(makers.members, max(READING, size))
    )


def lessons_of(study: Study) -> Lessons:
    """Return the lessons of a study that names them; ValueError if it doesn't."""
    if study.lessons is None:
        raise ValueError("the study says nothing of lessons")
    return study.lessons


def job_of(study: Study, plan: Plan, leave_out: Iterable[str] = (), *, refill: bool = False) -> Job:
    """Return the works of all items, but those that ``leave_out`` names.

    What goes together stays together, and keeps its number, however many are left of it; unless
    ``refill`` says that nothing is made yet, and others may move up. What burns or catches fire by
    the study's own texts counts as declared, until it is settled. The team that makes an item does
    all its steps, but another one measures it.
    """
    gone = set(leave_out)
    every = sorted(plan.rows, key=lambda row: row.run)
    rows = [row for row in every if row.item not in gone]
    study = safer(study)
    builder = _Builder(study, plan, rows, rows if refill else every)
    for step in study.steps:
        builder.add(step)
    return builder.job()


class _Builder:
    """Collects works step by step; every item remembers its last one."""

    def __init__(
        self, study: Study, plan: Plan, rows: Sequence[PlanRow], filling: Sequence[PlanRow]
    ) -> None:
        self.study, self.plan, self.rows, self.filling = study, plan, rows, filling
        self.makers = maker_group(plan)
        self.equipment = {one.name: one for one in study.equipment}
        self.bundles = bundles(study, plan)
        session = session_group(study, plan, measuring=True)
        self.session = {
            row.item: member_text(study, session, row.groups[session.name]) if session else ""
            for row in rows
        }
        self.works: list[Work] = []
        self.last: dict[str, int] = {}
        self.orders: list[list[int]] = []
        self.measured_in_order = _hurried(study)
        self.together: dict[str, tuple[str, ...]] = {row.item: () for row in rows}

    def add(self, step: Step) -> None:
        mine = [bundle for bundle in self.bundles if bundle.group.step == step.name]
        batches = [] if mine else self._batches(step)
        if mine:
            self._groups(step, [(b.label, b.rows, dict(b.settings)) for b in mine])
        elif batches:
            self._groups(step, batches)
        else:
            self._items(step)

    def _items(self, step: Step) -> None:
        rows = self.rows
        by_measure = step.name in self.measured_in_order
        if by_measure:
            rows = sorted(rows, key=lambda row: row.measure)
        line: dict[tuple[str, ...], list[int]] = {}
        for row in rows:
            index = self._work(step, (row,), "", row.factors)
            key = (self.session[row.item],) if by_measure else (
                self._crew(step, row), *self.together[row.item]
            )  # fmt: skip
            line.setdefault(key, []).append(index)
        self.orders += line.values()

    def _groups(
        self, step: Step, groups: Sequence[tuple[str, Sequence[PlanRow], Mapping[str, str]]]
    ) -> None:
        here = {row.item for row in self.rows}
        order: dict[str, list[int]] = {}
        apart = self._apart(step)
        for label, rows, settings in groups:
            left = [row for row in rows if row.item in here]
            if not left:
                continue
            index = self._work(step, left, label, settings)
            order.setdefault(self.works[index].crew if apart else "", []).append(index)
            for row in left:
                self.together[row.item] = (*self.together[row.item], label)
        self.orders += order.values()

    def _together(self, step: Step) -> list[Equipment]:
        """Return the equipment of a step of which all that is in it comes out together."""
        there = (self.equipment[name] for name in used_at(step) if name in self.equipment)
        return [one for one in there if one.together]

    def _apart(self, step: Step) -> bool:
        """Whether each team puts its items into equipment of its own."""
        return not step.by and any(one.per == "team" for one in self._together(step))

    def _batches(self, step: Step) -> list[tuple[str, Sequence[PlanRow], Mapping[str, str]]]:
        """Return what goes together into equipment that takes several at once.

        Each team's first items together, then its second ones: they are ready at the same time.
        What a team has for itself takes its items only.
        """
        full = [one.holds for one in self._together(step)]
        if not full or max(full) < 2:
            return []
        place: dict[str, int] = {}
        ranked = []
        for row in self.filling:
            team = self._team(row)
            place[team] = place.get(team, 0) + 1
            ranked.append((place[team], row.run, row))
        sets: dict[str, list[PlanRow]] = {}
        apart = self._apart(step)
        for _, _, row in sorted(ranked, key=lambda one: one[:2]):
            sets.setdefault(self._team(row) if apart else "", []).append(row)
        size = min(full)
        batches = [
            rows[at : at + size] for rows in sets.values() for at in range(0, len(rows), size)
        ]
        return [(f"{step.label or step.name} {n}", rows, {}) for n, rows in enumerate(batches, 1)]

    def _crew(self, step: Step, *rows: PlanRow) -> str:
        if step.by:
            return step.by
        if step.stage == "measure" and self.makers:
            return reader_of(self.makers.members, [self._team(row) for row in rows])
        return self._team(rows[0])

    def _team(self, row: PlanRow) -> str:
        return row.groups[self.makers.name] if self.makers else EVERYONE

    def _work(
        self, step: Step, rows: Sequence[PlanRow], group: str, levels: Mapping[str, str]
    ) -> int:
        alone = bool(group) and any(level in step.one_by_one for level in levels.values())
        named = {*step.equipment}
        for level in levels.values():
            named.update(step.equipment_for.get(level, ()))
        used = [one for name, one in self.equipment.items() if name in named]
        before = tuple(dict.fromkeys(self.last[r.item] for r in rows if r.item in self.last))
        measured = step.stage == "measure" and not group
        waiting = self._waiting(step, rows)
        hot = burning(self.study, step, {v for row in rows for v in row.factors.values()})
        work = Work(
            step=step.name,
            items=tuple(row.item for row in rows),
            crew=self._crew(step, *rows),
            minutes=math.ceil((step.minutes or 0) * (len(rows) if alone else 1)),
            waiting=waiting,
            attended=waiting if step.ended_by_hand else 0,
            keeps=None if step.keeps is None else math.floor(step.keeps),
            group=group,
            between=step.when == "between",
            places=tuple((one.name, _places(one, 1 if alone else len(rows))) for one in used),
            busy=step.busy,
            after=before,
            session=self.session[rows[0].item] if measured else "",
            flame="flame" in hot,
            flammable="flammable" in hot,
            people=READING if measured and not step.by else 1,
        )
        self.works.append(work)
        for row in rows:
            self.last[row.item] = len(self.works) - 1
        return len(self.works) - 1

    def _waiting(self, step: Step, rows: Sequence[PlanRow]) -> int:
        if step.waiting_is is None:
            return math.ceil(step.waiting or 0)
        factor = self.study.factor(step.waiting_is)
        levels = [Decimal(row.factors[factor.name]) for row in rows]
        return math.ceil(max(convert(level, factor.unit, "min") for level in levels))

    def job(self) -> Job:
        sessions = tuple(dict.fromkeys(
            self.session[row.item] for row in sorted(self.rows, key=lambda row: row.measure)
        ))  # fmt: skip
        orders = tuple(tuple(order) for order in self.orders if len(order) > 1)
        return Job(tuple(self.works), orders, sessions)


def _places(one: Equipment, items: int) -> int:
    """Return the places that items take: whole pieces of what they share until all are done."""
    if not one.together:
        return min(items, one.holds)
    return math.ceil(items / one.holds) * one.holds


def _hurried(study: Study) -> set[str]:
    """Return the steps that are done in the order of measuring.

    These are the measuring itself, and what comes so shortly before it that it can't lie over.
    """
    grouped = {group.step for group in study.groups}
    found: set[str] = set()
    following: Step | None = None
    for step in reversed(study.steps):
        hurried = following is not None and following.name in found and step.keeps is not None
        if step.name not in grouped and (step.stage == "measure" or hurried):
            found.add(step.name)
        following = step
    return found
