"""``trials lost``: items that broke or were never measured."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.record import Question, Store, about_loss
from trials.service.codes import item_code
from trials.service.opening import Opened, held_plan
from trials.service.questions import question_lines, question_to_dict
from trials.words.numbers import listing, plural


@dataclass(frozen=True)
class Lost:
    """Everything recorded as lost so far, and what is asked about those recorded now."""

    opened: Opened
    now: tuple[str, ...]
    all: tuple[str, ...]
    questions: tuple[Question, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "lost": list(self.now),
            "lost_in_all": list(self.all),
            "left": len(self.opened.plan.rows) - len(self.all),
            "questions": [question_to_dict(question) for question in self.questions],
        }

    def text(self) -> list[str]:
        """Return what was recorded and how many are left."""
        items = plural(self.opened.study.item_name)
        left = len(self.opened.plan.rows) - len(self.all)
        lines = [
            f"Recorded as lost: {listing(self.now)}.",
            f"{left} of {len(self.opened.plan.rows)} {items} are left. The comparison goes on "
            "with these, and the report names the others.",
        ]
        if self.questions:
            lines += ["", "But there are readings, which count until you say that they don't:"]
        for question in self.questions:
            lines += ["", *question_lines(question, self.opened.here.folder)]
        return lines


def record_lost(folder: Path, items: tuple[str, ...], *, why: str, by: str = "") -> Lost:
    """Record that items are lost, for a reason outside the comparison.

    Readings that one of them has already are left alone: a question asks whether they count.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or no plan.
    RecordError : no such item, or no reason.
    """
    with held_plan(folder) as opened, Store.open(opened.here.record) as store:
        codes = tuple(dict.fromkeys(item_code(item, opened, "lost") for item in items))
        store.lose(codes, why, by)
        lost = tuple(loss.item for loss in store.losses())
        asked = tuple(q for q in store.questions(only_open=True) if about_loss(q, codes))
    return Lost(opened, codes, lost, asked)
