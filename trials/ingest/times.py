"""Times of reading that go back, are no times, or lie before the study began.

A file is taken to be in the order of measuring only where nearly all of its times go on; a table
sorted by code says nothing about the order. Items of different sessions are never compared, for a
session may be on another day, and each sheet is a clock of its own.
"""

from __future__ import annotations

import bisect
import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from trials.design.values import Plan
from trials.ingest.asking import about_time, bundles
from trials.ingest.workbook_layout import sheet_groups
from trials.record.clock import DAY, Moment, moment
from trials.record.values import Question, Row
from trials.words.keeping import Kept, kept

_LITTLE = 5  # minutes by which clocks and memories differ
_NOON = DAY // 2
_FEWEST = 4  # times that show an order
_MOST_BACK = 0.2  # of the times may be out of order where a file is in the order of measuring
_MIDNIGHT = 20 * 60  # minutes: a time that goes back by more has passed midnight


@dataclass(slots=True)
class _Timed:
    row: Row
    at: Moment
    minutes: float  # from midnight of the first day


def time_questions(rows: Sequence[Row], plan: Plan) -> list[Question]:
    """Return the questions about when readings were taken."""
    moments: dict[str, Moment] = {}  # a logger writes the same times on each day
    written = [
        (row, moments.get(text) or moments.setdefault(text, moment(text)))
        for row in rows
        if (text := row.time).strip()
    ]
    questions = list(_no_times([row for row, at in written if at.minutes is None and not at.date]))
    early = [(row, at.date) for row, at in written if at.date is not None]
    questions += _before_plan(early, plan)
    asked = {place for question in questions for place in question.places}
    makers = {group.name for group in plan.groups if group.role == "maker"}
    sessions = [name for name in sheet_groups(plan) if name not in makers]
    planned = {row.item: row.groups for row in plan.rows}
    known: dict[tuple[object, ...], list[_Timed]] = {}
    clocks: dict[tuple[object, ...], list[_Timed]] = {}
    for row, at in written:
        if at.minutes is not None and (not asked or row.place not in asked):
            day = 0 if at.date is None else at.date.toordinal() * DAY
            place = row.place
            said = (place.file, place.sheet, row.item, row.groups, at.date is None)
            if said not in known:
                session = _session(row, planned[row.item], sessions)
                key = (place.file, place.sheet, *session, at.date is None)
                known[said] = clocks.setdefault(key, [])
            known[said].append(_Timed(row, at, day + at.minutes))
    for mine in clocks.values():
        questions += _back(sorted(mine, key=_in_sheet))
    return questions


def _in_sheet(one: _Timed) -> tuple[int, int]:
    return (one.row.place.row, one.row.place.part)


def _no_times(rows: Sequence[Row]) -> Iterable[Question]:
    texts: dict[str, list[Row]] = {}
    for row in rows:
        texts.setdefault(row.time, []).append(row)
    for text, mine in texts.items():
        for bundle in bundles(mine):
            yield about_time(
                bundle,
                "no_time",
                found=text,
                why=kept("This is no time of day. Times look like 14:05, or 2:05 pm."),
                usable=False,
            )


def _before_plan(dated: Sequence[tuple[Row, datetime.date]], plan: Plan) -> Iterable[Question]:
    """Ask about readings dated before the sheets of the plan were printed: nothing was made yet."""
    if plan.locked is None:
        return
    begun = datetime.date.fromisoformat(plan.locked[:10])
    days: dict[datetime.date, list[Row]] = {}
    for row, date in dated:
        if date < begun:
            days.setdefault(date, []).append(row)
    for date, rows in days.items():
        for bundle in bundles(rows):
            yield about_time(
                bundle,
                "too_early",
                found=kept("read on {day}", day=date.isoformat()),
                why=kept(
                    "The sheets of this plan were printed on {day}, so nothing of it was made "
                    "before.",
                    day=begun.isoformat(),
                ),
            )


def _session(row: Row, planned: Mapping[str, str], sessions: Sequence[str]) -> tuple[str, ...]:
    """Return the groups that are measured at one time, as the row says or as it was planned."""
    said = dict(row.groups)
    return tuple(said.get(name, planned[name]).casefold() for name in sessions)


def _back(mine: Sequence[_Timed]) -> Iterable[Question]:
    """Ask about the times of one session that go back."""
    if len(mine) < _FEWEST:
        return
    falls = [k for k in range(1, len(mine)) if mine[k].minutes < mine[k - 1].minutes - _LITTLE]
    if len(falls) == 1 and _after_noon(mine[: falls[0]], mine[falls[0] :]):
        why = kept("After noon a time needs 'pm', or 13 instead of 1.")
        yield _asked(mine[falls[0] :], mine, "+12:00", why)
        return
    if len(falls) == 1 and mine[falls[0] - 1].minutes - mine[falls[0]].minutes > _MIDNIGHT:
        why = kept("If it was past midnight, keep it, and write the date too next time.")
        yield _asked(mine[falls[0] :], mine, "", why)
        return
    odd = _out_of_order(mine)
    if not odd or len(odd) > max(1, _MOST_BACK * len(mine)):
        return
    by_place = {one.row.place: one for one in odd}
    for rows in bundles([one.row for one in odd]):
        found = [by_place[row.place] for row in rows]
        yield _asked(found, mine, "", kept("The rows around it go on in time."))


def _after_noon(before: Sequence[_Timed], after: Sequence[_Timed]) -> bool:
    """Return whether 12 hours more make times that fall back go on from those before."""
    next_ = after[0].minutes + _NOON
    return (
        all(one.at.minutes is not None and one.at.minutes < _NOON for one in after)
        and before[-1].minutes - _LITTLE <= next_ < before[-1].minutes + _NOON / 2
    )


def _out_of_order(mine: Sequence[_Timed]) -> list[_Timed]:
    """Return the fewest times without which the others go on (longest rising part)."""
    ends: list[float] = []
    last: list[int] = []
    before: list[int | None] = []
    for k, one in enumerate(mine):
        at = bisect.bisect_right(ends, one.minutes + _LITTLE)
        before.append(last[at - 1] if at else None)
        end = max(one.minutes, ends[at - 1]) if at else one.minutes
        if at == len(ends):
            ends.append(end)
            last.append(k)
        elif end < ends[at]:
            ends[at], last[at] = end, k
    left: set[int] = set()
    step = last[-1] if last else None
    while step is not None:
        left.add(step)
        step = before[step]
    return [one for k, one in enumerate(mine) if k not in left]


def _asked(found: Sequence[_Timed], mine: Sequence[_Timed], proposal: str, why: Kept) -> Question:
    first = found[0]
    at = next(k for k, one in enumerate(mine) if one is first)
    beside = mine[at - 1] if at else mine[at + 1]
    said = kept(
        "{time} after {other} in row {row}" if at else "{time} before {other} in row {row}",
        time=first.row.time,
        other=beside.row.time,
        row=beside.row.place.row,
    )
    if len(found) > 1:
        said = kept("{time}, and {n} more like it", time=said, n=len(found) - 1)
    return about_time(
        [one.row for one in found],
        "time_back",
        found=said,
        why=kept("Time can't run backwards.") + why,
        proposal=proposal,
    )
