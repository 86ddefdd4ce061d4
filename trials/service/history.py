"""``trials history``: every change with before and after."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from trials.record import Change, Store
from trials.service.codes import item_code
from trials.service.opening import held_plan
from trials.words.history import change_text
from trials.words.numbers import count, listing

_ASKED = ("question", "question gone")


@dataclass(frozen=True)
class History:
    """The changes of one item, or of all."""

    item: str | None
    changes: tuple[Change, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {"item": self.item, "changes": [asdict(change) for change in self.changes]}

    def text(self) -> list[str]:
        """Return the changes, one a line, the first first."""
        of = f" of {self.item}" if self.item else ""
        if not self.changes:
            return [f"Nothing{of} has been recorded yet."]
        lines = [f"{count(len(self.changes), 'change')}{of}, the first first (times in UTC):"]
        for _, alike in itertools.groupby(self.changes, _told):
            first, *others = alike
            rows = [one.row for one in (first, *others) if one.row is not None]
            lines.append(f"{first.when[:16].replace('T', ' ')}  {_line(first, rows)}")
        return [*lines, "Nothing is ever deleted: what stood before stays in the record."]


def _told(change: Change) -> tuple[object, ...]:
    """Return what several rows may have in common, so that they are told on one line."""
    return (
        change.what, change.when, change.file, change.sheet, change.item, change.column,
        change.before, change.after, change.why, change.by, change.question,
    )  # fmt: skip


def _line(change: Change, rows: Sequence[int]) -> str:
    place = [change.file]
    place += [f"sheet {change.sheet}"] if change.sheet else []
    place += [f"row {rows[0]}"] if len(rows) == 1 else []
    place += [f"rows {listing([str(row) for row in rows])}"] if len(rows) > 1 else []
    return change_text(
        change.what,
        change.item,
        change.column,
        before=change.before,
        after=change.after,
        place=", ".join(part for part in place if part),
        question=change.question,
        why=f"{change.why}{f' ({change.by})' if change.by else ''}",
    )


def history_of_study(folder: Path, item: str | None = None) -> History:
    """Return every change that the record of a study holds, or those of one item.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or no plan.
    RecordError : the record can't be read; the plan has no such item.
    """
    with held_plan(folder) as opened, Store.open(opened.here.record) as store:
        code = None if item is None else item_code(item, opened, "history")
        planned = {
            (row.item, name): member
            for row in opened.plan.rows
            for name, member in (row.groups | row.factors).items()
        }
        changes = store.history(planned)
    if code is not None:
        mine = {change.number for change in changes if _is_of(change, code)}
        asked = {change.question for change in changes if change.number in mine} - {""}
        changes = tuple(
            change
            for change in changes
            if change.number in mine or (change.question in asked and change.what in _ASKED)
        )
    return History(code, changes)


def _is_of(change: Change, code: str) -> bool:
    return change.item == code or code in change.items or _moves(change, code)


def _moves(change: Change, code: str) -> bool:
    """Whether a change gives readings to an item, or takes them from it."""
    return change.column == "item" and code in (change.before, change.after)
