"""``trials swapped``: two items that had each other's label."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.files import as_typed
from trials.record import Store
from trials.service.codes import item_code
from trials.service.opening import held_plan


@dataclass(frozen=True)
class Swapped:
    """Two labels that were exchanged (or ``undone``: were not), and all exchanges that stand."""

    folder: Path
    items: tuple[str, str]
    undone: bool
    all: tuple[tuple[str, str], ...]
    readings: int

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "swapped": list(self.items),
            "undone": self.undone,
            "readings": self.readings,
            "swapped_in_all": [list(pair) for pair in self.all],
        }

    def text(self) -> list[str]:
        """Return what was recorded and what comes next."""
        both = " and ".join(self.items)
        first = (
            f"Taken back: the readings of {both} count under the codes they were written with."
            if self.undone
            else f"Recorded: {both} had each other's label. Their readings change places, those "
            "that come later too, so leave the files as they are. The report tells of it."
        )
        if not self.readings and not self.undone:
            first += " So far neither has any reading."
        return [
            f"{first} What was written first stays in the record.",
            f"Next: trials analyse {as_typed(self.folder)}",
        ]


def record_swap(
    folder: Path, items: tuple[str, str], *, why: str, by: str, undo: bool = False
) -> Swapped:
    """Record that the labels of two items were exchanged, or take that back.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or no plan.
    RecordError : no such item, no reason, no code of a person, or said already.
    """
    with held_plan(folder) as opened, Store.open(opened.here.record) as store:
        first, second = (item_code(item, opened, "swapped") for item in items)
        store.exchange(first, second, why=why, by=by, undo=undo)
        state = store.state()
    read = sum(row.item in (first, second) for row in state.rows)
    pairs = tuple((one.item, one.partner) for one in state.exchanges)
    return Swapped(folder, (first, second), undo, pairs, read)
