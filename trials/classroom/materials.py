"""What is used up: how much of each material for a team and for the class, with spares.

Spares are enough for what goes wrong in the making with a chance of 95 %, each item going wrong by
itself with one chance (exact binomial, ``design/spares``). Amounts are exact decimals; only what is
shown is rounded, always up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Final

from trials.classroom.arrange import maker_group, session_group
from trials.classroom.left import Left, left_of
from trials.design.spares import deciding, spares
from trials.design.values import Plan, PlanRow
from trials.quantities import as_decimal, convert, convertible, known, same, shown
from trials.study.values import Material, Step, Study
from trials.words.protection import worn_once

PLANNED_FAILING: Final = 0.25
"""Share of things made by hand that fail where nobody knows better: common practice, no source."""

_HANDY: Final = (("µL", "mL", "L"), ("µg", "mg", "g", "kg"), ("mm", "cm", "m"))
_DIGITS: Final = 2  # an amount is measured out to no more


@dataclass(frozen=True)
class Failing:
    """The share of items that is reckoned to fail, and where that is from.

    ``made`` and ``failed`` count the items of the practice run in ``folder``; without one ``made``
    is 0 and the share is a planning value.
    """

    share: float
    made: int = 0
    failed: int = 0
    folder: str = ""


@dataclass(frozen=True)
class Need:
    """One material at one step: how often it is taken, and how much each time.

    ``team``: fewest and most times that a team takes it; None where it is shared by teams.
    ``spare``: times more, for what goes wrong; None where no number would be enough.
    """

    step: Step
    material: Material
    times: int
    team: tuple[int, int] | None
    spare: int | None

    @property
    def each(self) -> Decimal:
        """How much is taken each time, in the unit of the study."""
        return as_decimal(self.material.amount)

    @property
    def all_in(self) -> int:
        """How often it is taken by the class, spares among it."""
        return self.times + (self.spare or 0)


@dataclass(frozen=True)
class Total:
    """How much of one material there has to be for all steps together, spares among it."""

    name: str
    amount: Decimal
    unit: str
    steps: tuple[Step, ...]


def failing(study: Study) -> Failing:
    """Return the share that fails: that of the practice run, else the planning value."""
    taken = deciding(study)
    if taken is None:
        return Failing(PLANNED_FAILING)
    return Failing(taken.failed / taken.made, taken.made, taken.failed, taken.folder)


def spare_items(study: Study, plan: Plan, left: Left | None = None) -> int | None:
    """Return how many spare items the materials are to be enough for; None: no number is enough.

    They stand in for those that fail and can be started afresh, and for no others.

    Parameters
    ----------
    left : what is left to do; None: everything.
    """
    return spares(len(plan.rows if left is None else left.anew), failing(study).share)


def needs(study: Study, plan: Plan, left: Left | None = None) -> tuple[Need, ...]:
    """Return what is used up at each step that isn't over, in the order of the work.

    Parameters
    ----------
    left : what is left to do; None: everything.
    """
    left = left or left_of(study, plan)
    extra = spare_items(study, plan, left)
    return tuple(
        _need(left, step, material, extra)
        for step in study.steps
        if left.of(step)
        for material in step.materials
        if rows_taking(material, left.of(step))
    )


def rows_taking(material: Material, rows: Sequence[PlanRow]) -> tuple[PlanRow, ...]:
    """Return the items for which a material is taken: all, or those with its level."""
    if not material.level:
        return tuple(rows)
    return tuple(row for row in rows if material.level in row.factors.values())


def totals(found: tuple[Need, ...]) -> tuple[Total, ...]:
    """Return the sum of every material that is used at several steps, where units allow one."""
    sums: dict[str, Total] = {}
    apart: set[str] = set()
    for need in found:
        name, unit = need.material.name.strip().casefold(), need.material.unit
        mine = need.each * need.all_in
        before = sums.get(name)
        if before is None:
            sums[name] = Total(need.material.name.strip(), mine, unit, (need.step,))
        elif convertible(unit, before.unit):
            amount = before.amount + convert(mine, unit, before.unit)
            sums[name] = Total(before.name, amount, before.unit, (*before.steps, need.step))
        else:
            apart.add(name)
    return tuple(
        total for name, total in sums.items() if len(total.steps) > 1 and name not in apart
    )


def pieces(found: tuple[Need, ...]) -> tuple[tuple[str, int, int | None], ...]:
    """Return things of which every item takes some, each with how many, without and with spares.

    A thing is told once, in the order of the work, with all that other steps take of it. The number
    with spares is None where no number is enough.
    """
    counted = [need for need in found if need.material.unit.strip() in ("", "1")]
    told: dict[str, list[Need]] = {}
    for need in counted:
        told.setdefault(need.material.name.strip().casefold(), []).append(need)
    return tuple(
        (
            mine[0].material.name.strip(),
            _whole(need.each * need.times for need in mine),
            None
            if any(need.spare is None for need in mine)
            else _whole(need.each * need.all_in for need in mine),
        )
        for mine in told.values()
        if any(need.material.per == "item" for need in mine)
    )


def _whole(amounts: Iterable[Decimal]) -> int:
    return int(get_out(sum(amounts, Decimal(0)), ""))


def get_out(amount: Decimal, unit: str) -> Decimal:
    """Return an amount as it can be got out: pieces whole, else two digits, never too little.

    What no unit of measurement is counted in, such as drops, comes in pieces too.

    Examples
    --------
    >>> get_out(Decimal("14.4"), "mL"), get_out(Decimal("14.4"), ""), get_out(Decimal("131"), "g")
    (Decimal('15'), Decimal('15'), Decimal('140'))
    """
    if amount == 0:
        return amount
    place = 0 if is_pieces(unit) else amount.adjusted() - _DIGITS + 1
    rounded = amount.quantize(Decimal(1).scaleb(place), ROUND_CEILING)
    return Decimal(shown(rounded.normalize()))


def handy(amount: Decimal, unit: str) -> tuple[Decimal, str]:
    """Return an amount to get out, in its unit or in a larger one that makes the number shorter.

    Examples
    --------
    >>> handy(Decimal("1440"), "mL"), handy(Decimal("0.5"), "mL"), handy(Decimal("150"), "cm")
    ((Decimal('1.5'), 'L'), (Decimal('0.5'), 'mL'), (Decimal('1.5'), 'm'))
    """
    larger: tuple[str, ...] = ()
    for ladder in _HANDY:
        at = next((k for k, rung in enumerate(ladder) if same(unit, rung)), len(ladder))
        larger += ladder[at + 1 :]
    for rung in reversed(larger):
        turned = convert(amount, unit, rung)
        if turned >= 1:
            return get_out(turned, rung), rung
    return get_out(amount, unit), unit


def is_pieces(unit: str) -> bool:
    """Return whether what is counted in this unit can't be parted: there is no such measure.

    Examples
    --------
    >>> [is_pieces(unit) for unit in ("", "1", "drops", "mL")]
    [True, True, True, False]
    """
    return unit.strip() in ("", "1") or not known(unit)


def makers(left: Left, step: Step) -> dict[str, str]:
    """Return the team of each item that a step is still done to; nothing where there are none.

    It is the team that does the step by the timetable, or that was to make the item.
    """
    maker = maker_group(left.plan)
    if maker is None:
        return {}
    crews = {row.item: left.crews.get((step.name, row.item), "") for row in left.of(step)}
    return {
        row.item: crews[row.item] if crews[row.item] in maker.members else row.groups[maker.name]
        for row in left.of(step)
    }


def _need(left: Left, step: Step, material: Material, extra: int | None) -> Need:
    rows = rows_taking(material, left.of(step))
    if material.level:  # of what few items take, more is spare for each
        anew = [row for row in rows if row.item not in left.fixed]
        extra = spares(len(anew), failing(left.study).share)
    every = makers(left, step)
    who = {row.item: every[row.item] for row in rows if row.item in every}
    if material.per == "item":
        return Need(step, material, len(rows), _least_most(who.values()), extra)
    if material.per == "group":
        times, team, largest = _of_groups(left.plan, step, rows, who)
        return Need(step, material, times, team, None if extra is None else -(-extra // largest))
    if material.per == "team":
        taken = _in_lessons(left, step, who) if worn_once(material.name) else set(who.values())
        return Need(step, material, len(taken) or 1, _least_most(taken), 0)
    return Need(step, material, _lessons(left, step), None, 0)


def _in_lessons(left: Left, step: Step, who: dict[str, str]) -> list[str]:
    """Return each team once for each lesson in which it does a step by the timetable, or once."""
    table = left.plan.timetable
    over = set(table.over) if table is not None else set()
    found = {
        (who[item], work.lesson)
        for at, work in enumerate(table.works if table is not None else ())
        if work.step == step.name and at not in over
        for item in work.items
        if item in who
    }
    return sorted(team for team, _ in found) or sorted(set(who.values()))


def _of_groups(
    plan: Plan, step: Step, rows: Sequence[PlanRow], who: dict[str, str]
) -> tuple[int, tuple[int, int] | None, int]:
    """Return how many members the group of a step has, how many a team has, and the largest."""
    group = next(one for one in plan.groups if one.step == step.name)
    largest = max(Counter(row.groups[group.name] for row in plan.rows).values())
    whose: dict[str, set[str]] = {}
    for row in rows:
        teams = whose.setdefault(row.groups[group.name], set())
        teams.update([who[row.item]] if who else [])
    alone = all(len(teams) == 1 for teams in whose.values())
    team = _least_most(team for teams in whose.values() for team in teams) if alone else None
    return len(whose), team, largest


def _least_most(teams: Iterable[str]) -> tuple[int, int] | None:
    """Return how often the team that comes least and the one that comes most often comes."""
    counts = Counter(teams).values()
    return (min(counts), max(counts)) if counts else None


def _lessons(left: Left, step: Step) -> int:
    """Return in how many lessons a step is still done: by the timetable, else by the sessions."""
    study, plan, rows = left.study, left.plan, left.of(step)
    items = {row.item for row in rows}
    if plan.timetable is not None:
        over = set(plan.timetable.over)
        done = {
            work.lesson
            for at, work in enumerate(plan.timetable.works)
            if work.step == step.name and at not in over and items & set(work.items)
        }
        return max(1, len(done))
    session = session_group(study, plan, measuring=step.stage == "measure")
    if session is not None:
        return len({row.groups[session.name] for row in rows})
    return (study.lessons.count if study.lessons else None) or 1
