"""The parts that several printed pages share, as plain data for the page patterns."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from trials.classroom.agenda import Agenda, agenda_of
from trials.classroom.arrange import (
    Bundle,
    Sitting,
    check_code,
    factor_label,
    group_label,
    heading,
    level_text,
    maker_group,
    member_text,
    members_of,
    sittings,
    step_factors,
    step_label,
)
from trials.classroom.left import Left, begun_items, bundles_left, left_of, works_over
from trials.design.values import Plan, PlanRow
from trials.render.symbols import symbol_of
from trials.render.typeset import Paper
from trials.study.values import Caution, Step, Study
from trials.words.cautions import code_text, sorted_codes
from trials.words.durations import duration
from trials.words.gone import which_timetable
from trials.words.language import say
from trials.words.numbers import capital, count, listing, plural

_MOST_CODES: Final = 12  # more than these in one line can't be found any more
Line = dict[str, Any]


@dataclass(frozen=True)
class Job:
    """What every page is drawn from.

    ``lost`` and ``unmade``: codes of items that there will be nothing of, for they were lost, or
    their team was absent and nobody else made them. ``measured``: codes of items with readings.
    """

    study: Study
    plan: Plan
    paper: Paper
    lost: tuple[str, ...] = ()
    unmade: tuple[str, ...] = ()
    measured: tuple[str, ...] = ()

    @property
    def items(self) -> str:
        """The study's word for several items ("cells")."""
        return plural(self.study.item_name)

    @cached_property
    def gone(self) -> frozenset[str]:
        """The codes of all that is lost or not made."""
        return frozenset((*self.lost, *self.unmade))

    def gone_among(self, rows: Iterable[PlanRow]) -> tuple[list[str], list[str]]:
        """Return which of some items are lost, and which are not made, in their order."""
        codes = [row.item for row in rows]
        return [c for c in codes if c in self.lost], [c for c in codes if c in self.unmade]

    @cached_property
    def begun(self) -> frozenset[str]:
        """The codes of what is gone and was worked on before: the sheets tell these apart."""
        return begun_items(self.plan) & self.gone

    @cached_property
    def changed(self) -> bool:
        """Whether something is gone, or the rest of the timetable was placed again."""
        return bool(self.gone or works_over(self.plan))

    @cached_property
    def left(self) -> Left:
        """What is still to be done, step by step."""
        return left_of(self.study, self.plan, self.gone, self.measured)

    @cached_property
    def bundles(self) -> tuple[Bundle, ...]:
        """What goes together in the making, of what there is."""
        done = self.measured if self.changed else ()
        return bundles_left(self.study, self.plan, self.lost, self.unmade, done)

    @cached_property
    def sittings(self) -> tuple[Sitting, ...]:
        """What one team makes in one session, of what there is."""
        found = [
            Sitting(s.maker, s.session, tuple(r for r in s.rows if r.item not in self.gone))
            for s in sittings(self.study, self.plan)
        ]
        return tuple(sitting for sitting in found if sitting.rows)

    @cached_property
    def agenda(self) -> Agenda | None:
        """The timetable, lesson by lesson; None where the plan has none that fits its steps."""
        return agenda_of(self.study, self.plan)

    @cached_property
    def mark(self) -> str:
        """Which timetable a page is of, for the foot of those that it changes; or nothing."""
        table = self.plan.timetable
        if table is None or self.agenda is None:
            return ""
        return which_timetable(table.again + 1, table.since)

    @cached_property
    def crews(self) -> Mapping[tuple[str, str], str]:
        """Who does what, by step and item; nothing where the plan has no timetable."""
        parts = self.agenda.parts if self.agenda is not None else ()
        return {
            (turn.step.name, item): turn.work.crew
            for part in parts
            for turn in part.turns
            for item in turn.work.items
        }

    @cached_property
    def finishers(self) -> Mapping[str, str]:
        """The team that made each item, or finished it for another; nothing without teams."""
        maker = maker_group(self.plan)
        if maker is None:
            return {}
        found = {row.item: row.groups[maker.name] for row in self.plan.rows}
        for part in self.agenda.parts if self.agenda is not None else ():
            for turn in part.turns:
                work = turn.work
                if turn.step.stage == "make" and not work.group and work.crew in maker.members:
                    found |= dict.fromkeys(work.items, work.crew)
        return found

    def foot(self, *, blind: bool = False) -> list[str]:
        """Return what stands at the foot of every page.

        A ``blind`` page carries no title that names a version of what is compared.
        """
        study = self.study
        title = study.title
        if blind and names_a_level(study, title):
            title = ""
        code = say("plan check code {code}", code=check_code(self.plan))
        return [part for part in (title, study.note, code) if part]


def names_a_level(study: Study, text: str) -> bool:
    """Whether a text holds the name of a version, as a whole word; bare numbers don't count."""
    names = [
        level for factor in study.factors if factor.kind == "category" for level in factor.levels
    ]
    return any(re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text, re.IGNORECASE) for name in names)


def step_time(step: Step, times: int = 1, each: str = "") -> str:
    """Return what a step takes, in words; empty where the study doesn't say.

    Parameters
    ----------
    times : how often the work is done, one after another.
    each : what the time is for ("firing"); where it is done several times: for each of these.

    Examples
    --------
    >>> step_time(Step(name="heat", minutes=10, waiting=40), 6, "slide").replace("\\xa0", " ")
    'About 60 min of work (6 times 10 min: one slide after another), then about 40 min of waiting.'
    >>> step_time(Step(name="dye", minutes=6, waiting_is="soak")).replace("\\xa0", " ")
    'About 6 min of work, then waiting as long as the card says.'
    """
    parts = []
    if step.minutes is not None:
        parts.append(_work(step.minutes, times, each))
    if step.waiting_is is not None:
        parts.append(say("waiting as long as the card says"))
    elif step.waiting is not None:
        parts.append(say("about {time} of waiting", time=duration(step.waiting)))
    if len(parts) > 1:
        parts = [say("{work}, then {waiting}", work=parts[0], waiting=parts[1])]
    return f"{capital(parts[0])}." if parts else ""


def _work(minutes: float, times: int, each: str) -> str:
    if times > 1:
        return say(
            "about {time} of work ({times} times {once}: one {each} after another)",
            time=duration(minutes * times),
            times=times,
            once=duration(minutes),
            each=each,
        )
    time = duration(minutes)
    if each:
        return say("about {time} of work for each {each}", time=time, each=each)
    return say("about {time} of work", time=time)


def caution_lines(cautions: Iterable[Caution], *, codes: bool = True) -> list[Line]:
    """Return cautions as text, codes in words if asked for, and the drawings beside them by name.

    Without ``codes`` they leave room for other things on a page, which says where to find them.
    """
    return [
        {
            "text": caution.text,
            "symbols": symbol_names(caution.iso7010),
            "codes": [code_text(code) for code in sorted_codes((*caution.iso7010, *caution.ghs))]
            if codes
            else [],
        }
        for caution in cautions
    ]


def symbol_names(codes: Iterable[str]) -> list[str]:
    """Return the names of the drawings for these signs, each once."""
    names = [symbol_of(code) for code in sorted_codes(codes)]
    return list(dict.fromkeys(name for name in names if name))


def setting_lines(job: Job, factors: Sequence[str], rows: Sequence[PlanRow]) -> list[Line]:
    """Return each version of these factors that occurs among the items: which items, and how."""
    lines = []
    for name in factors:
        factor = job.study.factor(name)
        for level in factor.levels:
            mine = [row for row in rows if row.factors[name] == level]
            if mine:
                lines.append(
                    {
                        "setting": f"{heading(factor_label(job.study, name))}: "
                        f"{level_text(factor, level)}",
                        "items": _who(job, mine, factor.applied_to),
                        "how": factor.how.get(level, ""),
                    }
                )
    return lines


def _who(job: Job, rows: Sequence[PlanRow], group: str | None) -> str:
    """Return whom a setting is for: codes, or groups with their codes, or how many in all."""
    many = len(rows) > _MOST_CODES
    if group is None:
        if many:
            return say("{items} of the list", items=count(len(rows), job.study.item_name))
        return ", ".join(row.item for row in rows)
    found = next(g for g in job.plan.groups if g.name == group)
    parts = []
    for member in members_of(rows, found):
        codes = ", ".join(row.item for row in rows if row.groups[group] == member)
        parts.append(member_text(job.study, found, member) + ("" if many else f" ({codes})"))
    return ", ".join(parts)


def _step_times(job: Job, step: Step, rows: Sequence[PlanRow]) -> str:
    """Return what a step takes for the items of one sheet; by version where that differs."""
    codes = {row.item for row in rows}
    mine = [
        bundle
        for bundle in job.bundles
        if bundle.group.step == step.name and codes & {row.item for row in bundle.rows}
    ]
    kinds = {
        (bundle.settings, bundle.times(step)): bundle_time(job, step, bundle)
        for bundle in sorted(mine, key=lambda bundle: bundle.times(step))
    }
    if len(set(kinds.values())) < 2:
        return next(iter(kinds.values()), step_time(step))
    return " ".join(
        f"{heading(listing([level for _, level in settings]))}: {text[0].lower()}{text[1:]}"
        for (settings, _), text in kinds.items()
        if text
    )


def bundle_time(job: Job, step: Step, bundle: Bundle) -> str:
    """Return what a step takes for one bundle, in words."""
    times = bundle.times(step)
    each = job.study.item_name if times > 1 else group_label(job.study, bundle.group.name)
    return step_time(step, times, each)


def step_block(job: Job, number: int, step: Step, rows: Sequence[PlanRow]) -> Line:
    """Return one step with its text, settings and cautions, as the sheets print it."""
    return {
        "number": str(number),
        "label": step_label(step),
        "text": step.text,
        "time": _step_times(job, step, rows),
        "equipment": say("You need: {things}.", things=listing(step.equipment))
        if step.equipment
        else "",
        "settings": setting_lines(job, step_factors(job.study, step), rows),
        "cautions": caution_lines(step.cautions),
    }
