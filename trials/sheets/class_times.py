"""The timetable of a class: a chart and a table for each lesson, and what is done between them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from typing import Any

from trials.classroom.agenda import Agenda, Part, Turn, crews_of, is_someone, lanes, steps_of
from trials.classroom.arrange import (
    heading,
    maker_group,
    making_steps,
    measuring_steps,
    member_text,
    step_label,
)
from trials.design.values import PlanRow
from trials.render.lesson_chart import (
    ChartBar,
    ChartLine,
    ChartStep,
    LessonChart,
    LessonPlot,
    axis_marks,
    lesson_chart,
)
from trials.render.typeset import pdf, template
from trials.sheets import lists
from trials.sheets.parts import Job, Line, step_block
from trials.sheets.readers import makers_of, ring_of, stranger
from trials.sheets.tools import left_in
from trials.study.values import Equipment, Step, Study
from trials.words import class_times as words
from trials.words.durations import duration
from trials.words.gone import finished_by_others
from trials.words.in_order import order_kept
from trials.words.language import say
from trials.words.numbers import capital, count, listing

_DATED = 6 * 24 * 60  # minutes between two lessons from which on a weekday may come twice


def timetable(job: Job) -> bytes:
    """Return timetable.pdf: minute by minute where the plan has times, else order and sums."""
    agenda = job.agenda
    if agenda is None:
        return lists.timetable(job)
    ahead = agenda.ahead
    data: dict[str, Any] = {
        "foot": job.foot(),
        "over": words.printed_before(agenda.over),
        "parts": [
            _between(job, agenda, part) if part.between else _lesson(job, agenda, part)
            for part in ahead
        ],
    }
    return pdf(
        template("lesson_chart.typ") + template("class_times.typ", "trials.sheets"),
        data,
        title=say("Timetable: {title}", title=job.study.title),
        paper=job.paper,
        mark=job.mark,
    )


def _limits(study: Study, part: Part) -> list[tuple[str, str, str, str]]:
    """Return what can't wait in a lesson: step, how long it waits by itself, what follows, when."""
    return [
        (
            step_label(step),
            duration(step.waiting) if step.waiting else "",
            step_label(following),
            duration(step.keeps) if step.keeps else "",
        )
        for step, following in pairwise(study.steps)
        if step.keeps is not None and (step in part.steps or following in part.steps)
    ]


def _order_kept(study: Study, agenda: Agenda, part: Part) -> str:
    """Return what is said of the order in a lesson, and of what isn't finished in it."""
    by_hand = [
        (step_label(step), duration(step.waiting or 0), _ended_so(step))
        for step in part.steps
        if step.ended_by_hand and step.waiting
    ]
    later = [one for one in agenda.parts if one.lesson > part.lesson]
    after = [one for one in later if one.between and one.lesson == part.lesson + 1]
    ahead = {item for turn in part.turns for item in turn.work.items}
    misses: dict[str, None] = {}
    for turn in (turn for one in after for turn in one.turns):
        if ahead & {*turn.work.items}:
            misses[step_label(turn.step)] = None
            ahead -= {*turn.work.items}
    return order_kept(
        _limits(study, part),
        by_hand,
        last=all(one.between for one in later),
        misses=list(misses),
        others=bool(ahead),
    )


def _ended_so(step: Step) -> str:
    return step.ended_by_hand if isinstance(step.ended_by_hand, str) else ""


def signs(study: Study) -> dict[str, str]:
    """Return the short sign of each step: its number on the making sheets, or M for measuring.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> steps = (Step(name="fold"), Step(name="throw", stage="measure"))
    >>> signs(SimpleNamespace(steps=steps))
    {'fold': '1', 'throw': 'M'}
    """
    made, measured = making_steps(study), measuring_steps(study)
    found = {step.name: str(number) for number, step in enumerate(made, 1)}
    several = len(measured) > 1
    return found | {
        step.name: f"M{number}" if several else "M" for number, step in enumerate(measured, 1)
    }


def crew_text(job: Job, crew: str) -> str:
    """Return who does something, as a page names them; empty for everyone."""
    maker = maker_group(job.plan)
    if maker is not None and crew in maker.members:
        return member_text(job.study, maker, crew)
    return crew if is_someone(crew) else ""


def measurer(job: Job, turn: Turn) -> str:
    """Return who measures, as a page names them: another team, or a crew that is none."""
    crew = turn.work.crew
    return stranger(job, turn) or ("" if crew in makers_of(job) else crew_text(job, crew))


def away_lines(job: Job, agenda: Agenda, rows: Iterable[PlanRow]) -> list[str]:
    """Return of each team that is away and has any of these items: who finishes which."""
    maker, lines = maker_group(job.plan), []
    codes = {row.item: row.groups[maker.name] for row in rows} if maker else {}
    for one in agenda.away:
        others: dict[str, list[str]] = {}
        for turn in (t for part in agenda.parts if part.lesson >= one.since for t in part.turns):
            if turn.step.stage == "measure":  # who only reads finishes nothing
                continue
            for item in turn.work.items:
                if codes.get(item) == one.team != turn.work.crew and maker:
                    others.setdefault(turn.work.crew, []).append(item)
        teams = maker.members if maker else ()
        shares = [(who, list(dict.fromkeys(others[who]))) for who in teams if who in others]
        if one.team in codes.values():
            team = capital(crew_text(job, one.team))
            lines.append(finished_by_others(team, one.since, shares))
    return lines


def gone_lines(job: Job, agenda: Agenda, part: Part) -> list[str]:
    """Return of one part what was lost or isn't made, and who is away by then."""
    told = words.left_out(agenda.left_out, job.lost, job.unmade, begun=job.begun)
    now = replace(agenda, away=tuple(a for a in agenda.away if a.since <= part.lesson))
    return [*filter(None, [told]), *away_lines(job, now, job.plan.rows)]


def part_name(agenda: Agenda, part: Part) -> str:
    """Return the heading of a lesson or of the time between two."""
    if part.between:
        return heading(words.between_name(part.lesson, len(agenda.lessons)))
    return words.lesson_name(part.lesson, part.begins, undated=part.undated)


def when_text(agenda: Agenda, part: Part, minute: int, *, short: bool = False) -> str:
    """Return when something begins: time of day, or minutes from where they are counted.

    Where a weekday may come twice between two lessons, the date stands with it; ``short``: as it
    finds room in a narrow column.
    """
    moment = part.moment(minute)
    if not part.between:
        return words.minute_text(minute, moment)
    if moment is not None:
        begin, end = agenda.room.gap(part.lesson - 1)
        return words.dated(moment, short=short) if end - begin >= _DATED else words.weekday(moment)
    if part.lesson == 1:
        return say("{time} before lesson 1", time=duration(agenda.room.usual_gap - minute))
    return say("{time} after lesson {n}", time=duration(minute), n=part.lesson - 1)


def minute_lines(
    job: Job, agenda: Agenda, part: Part, *, codes: bool, every: int = 1
) -> list[list[str]]:
    """Return a lesson's lines: when, step, and who with which items (or only how many).

    Where somebody ends the waiting of a step by hand, that has a line of its own. A line that is
    about all has no third cell. ``every``: what begins within so many minutes shares a line.
    """
    room = agenda.room
    order = {step.name: place for place, step in enumerate(job.study.steps)}

    def slot(one: tuple[int, bool, Turn]) -> tuple[int, int, bool]:
        minute, ends, turn = one
        return minute - minute % every, order[turn.step.name], ends

    moments = [(turn.start, False, turn) for turn in part.turns]
    ended = (turn for turn in part.turns if turn.step.ended_by_hand and turn.work.waiting)
    moments += [(turn.over + turn.work.waiting, True, turn) for turn in ended]
    lines = []
    for (minute, _, ends), found in groupby(sorted(moments, key=slot), slot):
        same = [turn for *_, turn in found]
        if ends:
            starts = [when_text(agenda, part, turn.start) for turn in same]
            told = words.waiting_over(starts[0], starts[-1], _ended_so(same[0].step))
            lines.append((minute, [_signed(job, same), told]))
        else:
            lines.append((minute, [_signed(job, same), _who(job, same, codes=codes)]))
    if room.put_out:
        lines.insert(0, (0, [say(words.HAND_OUT)]))
    if room.tidy:
        lines.append((room.minutes - room.tidy, [say(words.CLEAR_UP)]))
    before = None
    table = []
    for minute, line in sorted(lines, key=lambda one: one[0]):
        table.append([when_text(agenda, part, minute) if minute != before else "", *line])
        before = minute
    return table


def _signed(job: Job, turns: Sequence[Turn]) -> str:
    step = turns[0].step
    return f"{signs(job.study)[step.name]}. {step_label(step)}"


def reading_lines(job: Job, part: Part) -> list[str]:
    """Return which team reads for which, and of what no other team than its own is to read.

    Whoever measures shouldn't know how a thing was made. A team stands beside its own items where
    no other one is there, or in a timetable that was made before this was seen to.
    """
    teams, sign, item = makers_of(job), signs(job.study), job.study.item_name
    mine = [t for t in part.turns if t.step.stage == "measure" and t.work.crew in teams]
    others = [turn for turn in mine if stranger(job, turn)]
    own = [turn for turn in mine if turn not in others]
    lines = []
    if others:
        named = listing([sign[step.name] for step in steps_of(others)])
        lines.append(words.who_reads(named, item, ring_of(job, part)))
    if own and len(teams) > 1:
        named = listing([sign[step.name] for step in steps_of(own)])
        codes = list(dict.fromkeys(item for turn in own for item in turn.work.items))
        lines.append(words.read_by_its_own(named, item, codes if others else ()))
    return lines


def over_lines(agenda: Agenda, part: Part) -> list[str]:
    """Return when all is done in a lesson, if anything is done in it."""
    if not part.turns:
        return []
    over = max(turn.over + turn.work.attended for turn in part.turns)
    spare = agenda.room.minutes - agenda.room.tidy - over
    return [words.all_done(when_text(agenda, part, over), spare)]


def _who(job: Job, same: Sequence[Turn], *, codes: bool) -> str:
    """Return who begins a step with which items."""
    maker = maker_group(job.plan)
    teams = maker.members if maker else ()
    parts = []
    for crew in crews_of(same, teams):
        mine = [turn for turn in same if turn.work.crew == crew]
        items = [_what(turn) for turn in mine]
        name = crew if crew in teams else crew_text(job, crew)
        parts.append(": ".join(one for one in (name, ", ".join(items)) if one))
    if codes:
        return "; ".join(parts)
    n = sum(len(turn.work.items) for turn in same)
    names = [crew for crew in crews_of(same, teams) if is_someone(crew)]
    who = words.who(names, teams)
    return count(n, job.study.item_name) + (f": {who}" if who else "")


def _what(turn: Turn) -> str:
    codes = ", ".join(turn.work.items)
    return f"{turn.work.group} ({codes})" if turn.work.group else codes


def _lesson(job: Job, agenda: Agenda, part: Part) -> Line:
    table = job.plan.timetable
    notes = [*gone_lines(job, agenda, part), *reading_lines(job, part), *over_lines(agenda, part)]
    if table is not None and part.lesson == table.lessons and not table.whole:
        notes.append(say(words.SPLIT))
    return {
        "title": part_name(agenda, part),
        "first": [_order_kept(job.study, agenda, part), say(words.NOT_TO_SEE)],
        "figure": _chart(job, agenda, part).to_data(),
        "notes": " ".join(notes),
        "columns": [say("Begins"), say("Step"), say("Who, with which code")],
        "rows": minute_lines(job, agenda, part, codes=True),
    }


def _between(job: Job, agenda: Agenda, part: Part) -> Line:
    rows = []
    for number, turns in enumerate(part.in_a_row, 1):
        first = turns[0]
        items = [item for turn in turns for item in turn.work.items]
        many = say("{n} times, one after another", n=len(turns)) if len(turns) > 1 else ""
        works = sum(turn.work.minutes for turn in turns)
        rows.append(
            [
                str(number),
                when_text(agenda, part, first.start),
                ". ".join(one for one in (_signed(job, turns), many) if one),
                ": ".join(one for one in (first.work.group, ", ".join(items)) if one),
                duration(works),
                duration(first.work.waiting) if first.work.waiting else "",
            ]
        )
    who = [crew_text(job, crew) for crew in crews_of(part.turns, ())]
    work = sum(turn.work.minutes for turn in part.turns)
    return {
        "title": f"{part_name(agenda, part)}: {listing([one for one in who if one])}",
        "intro": say(
            "Work in all: {time}; waiting comes on top. In this order:", time=duration(work)
        ),
        "columns": [
            say("Order"),
            say("Begins"),
            say("Step"),
            say(words.WITH),
            say("Work"),
            say("Then waiting"),
        ],
        "rows": rows,
        "steps": [_told(job, part, step) for step in part.steps],
        "wait": say(words.WAIT_UNTIL_READY),
    }


def _told(job: Job, part: Part, step: Step) -> Line:
    """Return a step as the sheets print it, for what is done to it in one part."""
    here = {item for turn in part.turns if turn.step == step for item in turn.work.items}
    rows = [row for row in job.plan.rows if row.item in here]
    return {**step_block(job, 0, step, rows), "number": signs(job.study)[step.name]}


@dataclass(frozen=True)
class _Line:
    """One line of the chart: a team, another crew, or a piece of equipment (then ``equipment``)."""

    label: str
    turns: tuple[Turn, ...]
    equipment: Equipment | None = None

    def laid(self) -> list[tuple[Turn, int]]:
        if self.equipment is None:
            return list(lanes(self.turns))
        return list(lanes(self.turns, self.equipment.name))


def _chart(job: Job, agenda: Agenda, part: Part) -> LessonChart:
    study, room = job.study, agenda.room
    sign = signs(study)
    steps = [step for step in study.steps if step in part.steps]
    lines, bars = [], []
    for at, line in enumerate(_lines(job, part)):
        laid = line.laid()
        lines.append(ChartLine(line.label, 1 + max((lane for _, lane in laid), default=0)))
        for turn, lane in laid:
            one = line.equipment
            lasts = turn.work.lasts(one.name) if one else turn.work.minutes
            if lasts:
                what = turn.work.group or turn.work.items[0]
                index = steps.index(turn.step)
                bars.append(ChartBar(at, lane, turn.start, lasts, index, what))
    free = (room.put_out, room.tidy)
    marks = [
        (at, str(at) if (moment := part.moment(at)) is None else words.clock(moment))
        for at in axis_marks(room.minutes, free)
    ]
    return lesson_chart(
        LessonPlot(
            title=words.lesson_name(part.lesson, None),
            minutes=room.minutes,
            free=free,
            axis=say("time of day" if part.begins else "minute of the lesson"),
            marks=tuple(marks),
            lines=tuple(lines),
            bars=tuple(bars),
            steps=tuple(
                ChartStep(sign[step.name], step_label(step), study.steps.index(step))
                for step in steps
            ),
            caption=_caption(job, part),
        )
    )


def _caption(job: Job, part: Part) -> str:
    if not part.turns:
        return say(words.NOTHING_HERE)
    names = {one.name for one in _scarce(job, part)}
    scarce = any(names & set(dict(turn.work.places)) for turn in part.turns)
    return words.chart_caption(job.study.item_name, scarce=scarce)


def _scarce(job: Job, part: Part) -> list[Equipment]:
    """Return the equipment of which there is less than one for each team; all without teams.

    What each team had for itself is among it once too much of it is out of order; what holds all
    items at once never is.
    """
    teams, left, items = makers_of(job), left_in(job, part), len(job.plan.rows)
    return [
        one
        for one in job.study.equipment
        if (not teams or (left[one.name] if one.per == "team" else one.count) < len(teams))
        and one.holds < items
    ]


def _lines(job: Job, part: Part) -> Iterable[_Line]:
    """Yield the lines of a chart: crews with something to do, then equipment that they share.

    What each team has for itself is no line of its own.
    """
    maker = maker_group(job.plan)
    everyone = maker.members if maker else ()
    for crew in crews_of(part.turns, everyone):
        mine = tuple(turn for turn in part.turns if turn.work.crew == crew)
        yield _Line(capital(crew_text(job, crew) or job.items), mine)
    for one in _scarce(job, part):
        used = tuple(t for t in part.turns if one.name in dict(t.work.places))
        if used:
            yield replace(_Line(capital(one.label or one.name), used), equipment=one)
