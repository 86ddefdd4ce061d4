"""What pages of the ready class are read against: its works, and what they mean in time of day."""

from __future__ import annotations

import datetime

from tests.remembered import words_of_pages
from trials.design.values import Plan, PlannedWork
from trials.sheets import Handouts

BEGINS = {1: datetime.datetime(2030, 5, 14, 10, 15), 2: datetime.datetime(2030, 5, 16, 10, 15)}
LAST = datetime.timedelta(minutes=50 - 5 - 4)
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def pages(handouts: Handouts, name: str) -> list[str]:
    return list(words_of_pages(handouts.files[name]))


def works(plan: Plan) -> tuple[PlannedWork, ...]:
    assert plan.timetable is not None
    return plan.timetable.works


def at(work: PlannedWork) -> datetime.datetime:
    """Return when a work begins, from what the plan says of lessons of 50 minutes."""
    begin = BEGINS[work.lesson]
    if work.between:
        begin = BEGINS[work.lesson - 1] + datetime.timedelta(minutes=50)
    return begin + datetime.timedelta(minutes=work.start)


def clock(moment: datetime.datetime) -> str:
    return f"{moment.hour}:{moment.minute:02d}"


def readers(plan: Plan) -> dict[str, str]:
    """Return who reads each item: the team after the one that made it, in a ring."""
    teams = plan.groups[0].members
    after = dict(zip(teams, (*teams[1:], teams[0]), strict=True))
    return {row.item: after[row.groups["team"]] for row in plan.rows}


def latest(plan: Plan, item: str) -> str:
    """Return by when a cell is measured: 4 minutes of closing, 2 of waiting, and 10 that it keeps.

    Measuring takes 4 minutes, and the last 5 of 50 are for clearing up.
    """
    (closed,) = (at(w) for w in works(plan) if w.step == "close" and w.items == (item,))
    return clock(min(closed + datetime.timedelta(minutes=4 + 2 + 10), BEGINS[2] + LAST))
