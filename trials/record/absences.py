"""Teams that were not there, and what was not made because of that.

What an absent team was to make is missing for a reason outside the comparison, like something that
broke. If readings of it come in all the same, they count: somebody else made it.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Collection, Mapping, Sequence

from trials.design.values import Plan
from trials.digest import canonical_json
from trials.errors import RecordError
from trials.record.values import Absence, Loss, StandIns
from trials.study.values import Study
from trials.words.absent import absence_sentence, away_sentence

Run = Callable[..., sqlite3.Cursor]


def standing_absences(run: Run) -> tuple[Absence, ...]:
    """Return the absences that stand, in the order in which they were told."""
    found: dict[tuple[str, ...], Absence] = {}
    for team_of, team, session_of, session, items, stands, why, by, at in run(
        "SELECT team_of, team, session_of, session, items, stands, why, by, at FROM absences "
        "ORDER BY id"
    ):
        absence = Absence(team_of, team, session_of, session, tuple(json.loads(items)), why, by, at)
        found.pop(absence.key, None)
        if stands:
            found[absence.key] = absence
    return tuple(found.values())


def add_absence(run: Run, absence: Absence, *, stands: bool) -> None:
    """Add that a team was not there, or that it was."""
    items = canonical_json(list(absence.items))
    run(
        "INSERT INTO absences (team_of, team, session_of, session, items, stands, why, by, at)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (*absence.key, items, int(stands), absence.why, absence.by, absence.when),
    )


def standing_losses(run: Run) -> tuple[Loss, ...]:
    """Return the losses that stand, each item once, as first told."""
    found: dict[str, Loss] = {}
    for item, why, by, at, stands in run(
        "SELECT item, why, by, at, stands FROM losses ORDER BY id"
    ):
        if stands:
            found.setdefault(item, Loss(item, why, by, at))
        else:
            found.pop(item, None)
    return tuple(found.values())


def undone_losses(run: Run) -> dict[str, int]:
    """Return how often a loss was taken back, by the items of which one was."""
    return dict(run("SELECT item, COUNT(*) FROM losses WHERE stands = 0 GROUP BY item").fetchall())


def standing_away(run: Run) -> tuple[StandIns, ...]:
    """Return the teams that were away from some lesson on, as last told of each."""
    found: dict[tuple[str, int], StandIns] = {}
    for team_of, team, lesson, until, items, stands in run(
        "SELECT team_of, team, lesson, until, items, stands FROM away ORDER BY id"
    ):
        found.pop((team, lesson), None)
        if stands:
            shares = tuple(json.loads(items).items())
            found[team, lesson] = StandIns(team_of, team, lesson, shares, until)
    return tuple(found.values())


def add_away(run: Run, who: StandIns, at: str, *, stands: bool) -> None:
    """Add that a team is away, or that it isn't after all; nothing where that is known."""
    known = standing_away(run)
    if (
        (who in known)
        if stands
        else all((one.team, one.lesson) != (who.team, who.lesson) for one in known)
    ):
        return
    items = json.dumps(dict(who.items), separators=(",", ":"))
    run(
        "INSERT INTO away (team_of, team, lesson, until, items, stands, at)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (who.team_of, who.team, who.lesson, who.until, items, int(stands), at),
    )


def refuse_loss(items: Sequence[str], why: str, *, undo: bool = False) -> None:
    """Refuse a loss without an item or a reason, or to take one back without them.

    Raises
    ------
    RecordError : one of the two is missing.
    """
    if items and why.strip():
        return
    raise RecordError(
        "Taking back a loss needs the item and the reason."
        if undo
        else "A loss needs the item and the reason.",
        code="record.loss",
        where="lost",
        found=f"{', '.join(items) or 'no item'}; {why.strip() or 'no reason'}",
        allowed="the codes of the items and a few words on what happened",
        do='Say with --why "..." how you know that it isn\'t lost. It stands in the report.'
        if undo
        else "Say what happened: it decides whether the comparison stays fair.",
    )


def refuse_undone_loss(items: Sequence[str], known: Sequence[Loss]) -> None:
    """Refuse to take back what isn't recorded as lost.

    Raises
    ------
    RecordError : some item isn't.
    """
    lost = [loss.item for loss in known]
    others = [item for item in items if item not in lost]
    if others or not items:
        raise RecordError(
            "That is not recorded as lost.",
            code="lost.unknown",
            where="lost",
            found=", ".join(others) or "no item",
            allowed=", ".join(lost) or "nothing is recorded as lost",
            do="Take back only what is recorded as lost.",
        )


def refuse_absence(who: tuple[str, str, str, str], known: Sequence[Absence], *, undo: bool) -> None:
    """Refuse what is known already, and undoing what was never told.

    Raises
    ------
    RecordError : one of the two.
    """
    stands = any(one.key == who for one in known)
    told = " ".join(part for part in who if part)
    if undo and not stands:
        raise RecordError(
            "No such absence was recorded.",
            code="absent.unknown",
            where="absent",
            found=told,
            allowed="; ".join(" ".join(p for p in one.key if p) for one in known)
            or "no absence is recorded",
            do="Nothing has to be undone.",
        )
    if stands and not undo:
        raise RecordError(
            "That is recorded already.",
            code="absent.known",
            where="absent",
            found=told,
            do="Nothing more to do. To take it back, say the same with --undo.",
        )


def items_for(who: tuple[str, str, str, str], plan: Plan) -> tuple[str, ...]:
    """Return what a team is to make in a session, in the order of the plan."""
    team_of, team, session_of, session = who
    wanted = {team_of: team} | ({session_of: session} if session_of else {})
    return tuple(
        row.item
        for row in plan.rows
        if all(row.groups.get(name) == member for name, member in wanted.items())
    )


def items_of(absence: Absence, plan: Plan) -> tuple[str, ...]:
    """Return what an absent team was to make; not what was planned for it later."""
    told = frozenset(absence.items)
    return tuple(item for item in items_for(absence.key, plan) if item in told)


def not_made(absences: Sequence[Absence], plan: Plan, read: Collection[str]) -> dict[str, Absence]:
    """Return what was not made because its team was absent: without any of ``read``."""
    found: dict[str, Absence] = {}
    for absence in absences:
        for item in items_of(absence, plan):
            if item not in read:
                found.setdefault(item, absence)
    return found


def absence_told(absence: Absence, study: Study, plan: Plan, read: Collection[str]) -> str:
    """Return what the report says of an absence."""
    labels = {group.name: group.label or group.name for group in study.groups}
    items = items_of(absence, plan)
    return absence_sentence(
        (labels.get(absence.team_of, absence.team_of), absence.team),
        (labels.get(absence.session_of, absence.session_of), absence.session),
        [item for item in items if item not in read],
        [item for item in items if item in read],
        f"{absence.why} ({absence.by})",
    )


def finished_by(
    away: StandIns, losses: Collection[str], plan: Plan, read: Collection[str]
) -> dict[str, str]:
    """Return the items that others finished for a team that was away, and which team each."""
    codes = {row.item for row in plan.rows}
    return {
        item: team
        for item, team in away.items
        if item in codes and (item in read or item not in losses)
    }


def away_told(away: StandIns, finished: Mapping[str, str], study: Study) -> str:
    """Return what the report says of a team that was away, and of those who finished its items."""
    labels = {group.name: group.label or group.name for group in study.groups}
    called = labels.get(away.team_of, away.team_of)
    return away_sentence(called, away.team, (away.lesson, away.until), list(finished.items()))
