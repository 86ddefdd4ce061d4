"""``trials answer``: settle a question about a measurement."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.files import as_typed
from trials.ingest import asked_of_all, read_again
from trials.record import Decision, Question, Row, Store
from trials.service.opening import held_plan
from trials.service.questions import question_to_dict


@dataclass(frozen=True)
class Answered:
    """A question with its answer, and how many are still open."""

    folder: Path
    question: Question
    still_open: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "question": question_to_dict(self.question),
            "answer": self.question.answer,
            "value": self.question.answer_value or None,
            "open": list(self.still_open),
        }

    def text(self) -> list[str]:
        """Return what was settled and what comes next."""
        value = f" {self.question.answer_value}" if self.question.answer_value else ""
        after = (
            f"Still open: {', '.join(self.still_open)}."
            if self.still_open
            else f"No question is open. Next: trials analyse {as_typed(self.folder)}"
        )
        return [
            f"{self.question.id} is settled: {self.question.answer}{value}. What was written first "
            "stays in the record.",
            after,
        ]


def settle(
    folder: Path, question: str, said: tuple[str, str, str, str], *, sure: bool = False
) -> Answered:
    """Record the answer to a question; the last answer counts.

    Parameters
    ----------
    said : keep, correct or set-aside; the value after correct, else ""; why; and by whom.
    sure : the value is right although it is outside what is usual.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or no plan.
    RecordError : no such question, or it can't be answered so.
    """
    with held_plan(folder) as opened, Store.open(opened.here.record) as store:
        items = [row.item for row in opened.plan.rows]
        study, plan = opened.study, opened.plan

        def check(rows: Sequence[Row]) -> tuple[Question, ...]:
            return asked_of_all(rows, study, plan)

        again = (lambda content, name: read_again(content, name, study, plan), check)
        settled = store.answer(question, Decision(*said, sure), items, again)
        if settled.acts_on == "heading":
            store.ask_again(check)
        still = tuple(q.id for q in store.questions(only_open=True))
    return Answered(folder, settled, still)
