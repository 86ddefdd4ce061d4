"""What was taken back or placed anew after the plan was drawn: told with its dates.

Neither moves a version, a team or a place in the order. Both are departures all the same: a reader
may ask whether they were decided before or after results were known.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Collection, Sequence

from trials.design.values import Plan
from trials.record.absences import add_away, standing_away
from trials.record.equipment import add_missing, standing_missing
from trials.record.values import (
    AwayTakenBack,
    Loss,
    MissingTakenBack,
    Placed,
    StandIns,
    TakenBack,
)
from trials.study.values import Study
from trials.words.placing import (
    away_taken_back_sentence,
    missing_taken_back_sentence,
    placed_sentence,
    taken_back_sentence,
)

Run = Callable[..., sqlite3.Cursor]
_DAY = len("2031-03-03")
_DRAWN_ANEW = 0  # in place of a lesson


def _with_steps(table: str, columns: str) -> str:
    """Return a query for rows in the order told, with whether a file was taken in before each.

    What was told before the plan was drawn anew belongs to the old one.
    """
    # S608: the names of table and columns are ours, none comes from a person
    return (
        f"SELECT {columns}, EXISTS (SELECT 1 FROM steps AS earlier WHERE earlier.what = 'files' "  # noqa: S608
        f"AND earlier.id < own.id) FROM {table} AS told JOIN steps AS own "
        f"ON own.what = '{table}' AND own.number = told.id WHERE own.id > (SELECT "
        "COALESCE(MAX(steps.id), 0) FROM steps JOIN placed ON steps.what = 'placed' "
        f"AND steps.number = placed.id WHERE placed.lesson = {_DRAWN_ANEW}) ORDER BY told.id"
    )


def losses_taken_back(run: Run) -> tuple[TakenBack, ...]:
    """Return every loss that was taken back, in the order in which that was told."""
    open_: dict[str, Loss] = {}
    found: list[TakenBack] = []
    for item, why, by, at, stands, measured in run(
        _with_steps("losses", "item, why, by, at, stands")
    ):
        if stands:
            open_.setdefault(item, Loss(item, why, by, at))
        elif item in open_:
            found.append(TakenBack(open_.pop(item), why, by, at, bool(measured)))
    return tuple(found)


def away_taken_back(run: Run) -> tuple[AwayTakenBack, ...]:
    """Return of each team and lesson that it was said to be away, where that stands no more."""
    open_: dict[tuple[str, int], tuple[StandIns, str]] = {}
    found: dict[tuple[str, int], AwayTakenBack] = {}
    for team_of, team, lesson, until, items, stands, at, measured in run(
        _with_steps("away", "team_of, team, lesson, until, items, stands, at")
    ):
        key = team, lesson
        if stands:
            shares = tuple(json.loads(items).items())
            said = open_[key][1] if key in open_ else at
            open_[key] = StandIns(team_of, team, lesson, shares, until), said
            found.pop(key, None)
        elif key in open_:
            found[key] = AwayTakenBack(*open_.pop(key), at, bool(measured))
    return tuple(found.values())


def missing_taken_back(run: Run) -> tuple[MissingTakenBack, ...]:
    """Return of which equipment and lesson fewer pieces are out of order than was said once."""
    most: dict[tuple[str, int], tuple[int, str]] = {}
    found: dict[tuple[str, int], MissingTakenBack] = {}
    for name, lesson, pieces, at, measured in run(
        _with_steps("equipment", "name, lesson, missing, at")
    ):
        key = name, lesson
        found.pop(key, None)
        before, said = most.get(key, (0, at))
        if pieces >= before:
            most[key] = pieces, at if pieces > before else said
        else:
            found[key] = MissingTakenBack(name, lesson, before, pieces, said, at, bool(measured))
    return tuple(found.values())


def standing_placed(run: Run) -> tuple[Placed, ...]:
    """Return from which lessons on the work was placed again, as last done for each."""
    found: dict[int, Placed] = {}
    for lesson, before, after, left_out, at, measured in run(
        _with_steps("placed", "lesson, before, after, left_out, at")
    ):
        old = found.pop(lesson, None)
        found[lesson] = Placed(
            lesson, tuple(json.loads(left_out)), (old.lessons[0] if old else before, after), at,
            bool(measured), 1 if old is None else old.times + 1,
        )  # fmt: skip
    return tuple(found.values())


def add_placed(
    run: Run, lesson: int, left_out: Sequence[str], lessons: tuple[int, int], at: str
) -> None:
    """Add that what is left was placed again."""
    items = json.dumps(list(left_out), separators=(",", ":"))
    run(
        "INSERT INTO placed (lesson, before, after, left_out, at) VALUES (?, ?, ?, ?, ?)",
        (lesson, *lessons, items, at),
    )


def forget_lessons(run: Run, at: str) -> None:
    """Take back who was away and what was out of order, and end what was placed."""
    away = standing_away(run)
    for one in away:
        add_away(run, one, at, stands=False)
    told = (standing_missing(run), away_taken_back(run), missing_taken_back(run))
    add_missing(run, (), at)
    if away or any(told) or standing_placed(run):
        add_placed(run, _DRAWN_ANEW, (), (0, 0), at)


def taken_back_told(one: TakenBack, losses: Collection[str], read: Collection[str]) -> str:
    """Return what the report says of a loss that was taken back.

    Parameters
    ----------
    losses : items that are lost now.
    read : items with readings that count.
    """
    item = one.loss.item
    return taken_back_sentence(
        item,
        (one.loss.when[:_DAY], one.loss.why),
        (one.when[:_DAY], f"{one.why} ({one.by})"),
        measured=one.measured,
        counts=item in read and item not in losses,
    )


def away_taken_back_told(one: AwayTakenBack, plan: Plan, study: Study) -> str:
    """Return what the report says of a team that was away and that is said not to have been."""
    labels = {group.name: group.label or group.name for group in study.groups}
    codes = {row.item for row in plan.rows}
    away = one.away
    return away_taken_back_sentence(
        (labels.get(away.team_of, away.team_of), away.team, away.lesson),
        (one.said[:_DAY], one.when[:_DAY]),
        [(item, team) for item, team in away.items if item in codes],
        measured=one.measured,
    )


def missing_taken_back_told(one: MissingTakenBack, study: Study) -> str:
    """Return what the report says of equipment that was out of order and isn't after all."""
    labels = {known.name: known.label or known.name for known in study.equipment}
    return missing_taken_back_sentence(
        (labels.get(one.equipment, one.equipment), one.pieces, one.left),
        one.lesson,
        (one.said[:_DAY], one.when[:_DAY]),
        measured=one.measured,
    )


def placed_told(one: Placed, plan: Plan) -> str:
    """Return what the report says of a timetable that was made anew."""
    codes = {row.item for row in plan.rows}
    left_out = [item for item in one.left_out if item in codes]
    return placed_sentence(
        one.lesson, one.when[:_DAY], left_out, one.lessons, measured=one.measured, times=one.times
    )
