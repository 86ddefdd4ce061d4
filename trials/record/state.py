"""What the record of a study says at one moment."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from trials.design.values import Missing
from trials.digest import digest
from trials.record.absences import standing_absences, standing_away, standing_losses
from trials.record.equipment import standing_missing
from trials.record.forms import row_value
from trials.record.otherwise import standing_exchanges, standing_otherwise
from trials.record.placing import (
    away_taken_back,
    losses_taken_back,
    missing_taken_back,
    standing_placed,
)
from trials.record.values import (
    Absence,
    AwayTakenBack,
    Exchange,
    Loss,
    MissingTakenBack,
    Otherwise,
    Placed,
    Question,
    Row,
    StandIns,
    TakenBack,
)


@dataclass(frozen=True)
class KeptFile:
    """One revision of one file."""

    name: str
    revision: int
    current: bool
    sha256: str
    taken_at: str
    readings: int


@dataclass(frozen=True)
class State:
    """Everything the record says at one moment."""

    rows: tuple[Row, ...]  # as read, of the current revisions
    questions: tuple[Question, ...]  # that still stand, open or answered
    losses: tuple[Loss, ...]
    exchanges: tuple[Exchange, ...] = ()
    otherwise: tuple[Otherwise, ...] = ()
    absences: tuple[Absence, ...] = ()
    away: tuple[StandIns, ...] = ()
    placed: tuple[Placed, ...] = ()
    taken_back: tuple[TakenBack, ...] = ()  # losses; no part of the digest, like all taken back
    missing: tuple[Missing, ...] = ()  # equipment that was out of order, lesson by lesson
    away_back: tuple[AwayTakenBack, ...] = ()
    missing_back: tuple[MissingTakenBack, ...] = ()

    def digest(self) -> str:
        """Return the SHA-256 of all that was read and told, without dates and persons."""
        value: dict[str, object] = {
            "rows": [row_value(row) for row in self.rows],
            "answers": [
                [list(q.key), q.answer, q.answer_value] for q in self.questions if q.answer
            ],
            "losses": [[loss.item, loss.why] for loss in self.losses],
        }
        if self.exchanges:
            value["exchanges"] = [[*sorted(one.pair), one.why] for one in self.exchanges]
        if self.otherwise:
            value["otherwise"] = [
                [one.item, one.kind, one.name, one.made, one.why] for one in self.otherwise
            ]
        if self.absences:
            value["absences"] = [[*one.key, one.why] for one in self.absences]
        if self.away:
            value["away"] = [
                [one.team_of, one.team, one.lesson, one.until, *map(list, one.items)]
                for one in self.away
            ]
        if self.placed:
            value["placed"] = [[one.lesson, one.lessons, one.left_out] for one in self.placed]
        if self.missing:
            value["equipment"] = [[one.equipment, one.pieces, one.since] for one in self.missing]
        return digest(value)


def state_of(
    run: Callable[..., sqlite3.Cursor], rows: tuple[Row, ...], questions: tuple[Question, ...]
) -> State:
    """Return what a record says, with all that was told and stands; within one transaction."""
    return State(
        rows,
        questions,
        losses=standing_losses(run),
        exchanges=standing_exchanges(run),
        otherwise=standing_otherwise(run),
        absences=standing_absences(run),
        away=standing_away(run),
        missing=standing_missing(run),
        placed=standing_placed(run),
        taken_back=losses_taken_back(run),
        away_back=away_taken_back(run),
        missing_back=missing_taken_back(run),
    )
