"""What the record of a study says at one moment."""

from __future__ import annotations

from dataclasses import dataclass

from trials.design.values import Missing
from trials.digest import digest
from trials.record.forms import row_value
from trials.record.values import Absence, Exchange, Loss, Otherwise, Question, Row, StandIns


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
    missing: tuple[Missing, ...] = ()  # equipment that was out of order, lesson by lesson

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
        if self.missing:
            value["equipment"] = [[one.equipment, one.pieces, one.since] for one in self.missing]
        return digest(value)
