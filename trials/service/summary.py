"""Where a study stands after collecting: what is in, what is missing, what to settle next."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.design.values import PlanRow
from trials.files import as_typed, word_as_typed
from trials.ingest.workbook_layout import sheet_groups
from trials.record import Question
from trials.record.answers import Applied, applied
from trials.record.state import State
from trials.reduction import reducer_of
from trials.service.opening import Opened
from trials.service.tally import absence_lines, tally
from trials.words.collecting import (
    fewer_lines,
    in_sentence,
    missing_lines,
    places_lines,
    questions_sentence,
)
from trials.words.question_codes import about_of


@dataclass(frozen=True)
class Summary:
    """How many items are in and which are missing, at which place of the plan.

    ``here`` have a number, one that waits for an answer or was set aside too, or did not work
    (``failed``); ``lost`` were recorded as lost and have no
    reading; ``missing`` have neither, in the order of measuring. ``places``: the sessions and teams
    that hand in, each with how many of its items are in and how many it should have, lost ones
    left out. ``next`` is the one command that comes next.
    """

    folder: Path
    item_name: str
    planned: int
    here: tuple[str, ...]
    failed: tuple[str, ...]
    lost: tuple[str, ...]
    missing: dict[str, tuple[str, ...]]
    places: tuple[tuple[str, str, int, int], ...]  # group, member, in, planned
    questions: tuple[Question, ...]  # open ones, those that must be settled first
    next: str
    unmade: tuple[str, ...] = ()  # for their team was absent
    absent: tuple[str, ...] = ()  # what is to be told of that
    fewer: tuple[tuple[str, int, int], ...] = ()  # item, its readings, how many were planned

    @property
    def must(self) -> tuple[str, ...]:
        """Questions that hold back what they are about."""
        return tuple(question.id for question in self.questions if question.must)

    def to_dict(self) -> dict[str, Any]:
        """Return the summary as ``--json`` holds it."""
        return {
            "planned": self.planned,
            "in": len(self.here),
            "failed": list(self.failed),
            "lost": list(self.lost),
            "not_made": list(self.unmade),
            "missing": [item for mine in self.missing.values() for item in mine],
            "fewer_readings": [
                {"item": item, "readings": here, "planned": planned}
                for item, here, planned in self.fewer
            ],
            "places": [
                {"group": group, "member": member, "in": here, "planned": planned}
                for group, member, here, planned in self.places
            ],
            "open": len(self.questions),
            "must": list(self.must),
            "next": self.next,
        }

    def lines(self) -> list[str]:
        """Return the summary as a person reads it."""
        kinds = Counter(about_of(q.code) for q in self.questions)
        must = len(self.must)
        return [
            in_sentence(self.item_name, len(self.here), self.planned, len(self.failed),
                        len(self.lost)),
            *places_lines(self.places),
            *missing_lines(self.item_name, self.missing, as_typed(self.folder)),
            *fewer_lines(self.fewer),
            *self.absent,
            questions_sentence(must, len(self.questions) - must, list(kinds.items())),
            f"Next: {self.next}",
        ]  # fmt: skip


def summary_of(opened: Opened, state: State) -> Summary:
    """Return where a study stands. Nothing is reduced: an item is in if it has a number."""
    plan = opened.plan
    now = applied(state.rows, state.questions, state.exchanges)
    measured = {row.item for row in now.rows if row.cells} | {*now.dropped, *now.waiting}
    failed = {row.item for row in now.rows if row.worked is False}
    lost = {loss.item for loss in state.losses} - measured - failed
    counted = tally(measured | failed, state, plan)
    gone = {*lost, *counted.unmade}
    ordered = sorted(plan.rows, key=lambda row: row.measure)
    names = sheet_groups(plan)
    missing: dict[str, tuple[str, ...]] = {}
    for row in ordered:
        if row.item not in measured | failed | gone:
            place = ", ".join(f"{name} {row.groups[name]}" for name in names)
            missing[place] = (*missing.get(place, ()), row.item)
    still = [question for question in state.questions if question.answer is None]
    questions = tuple(sorted(still, key=lambda q: not q.must))
    return Summary(
        opened.here.folder,
        opened.study.item_name,
        len(plan.rows),
        tuple(row.item for row in ordered if row.item in measured | failed),
        tuple(row.item for row in ordered if row.item in failed),
        tuple(row.item for row in ordered if row.item in lost),
        missing,
        _places(ordered, names, measured | failed, gone),
        questions,
        _next(opened.here.folder, questions, bool(missing)),
        tuple(counted.unmade),
        tuple(absence_lines(counted, opened.study, as_typed(opened.here.folder))),
        _fewer(now, opened, [row.item for row in ordered if row.item in measured - failed]),
    )


def _fewer(now: Applied, opened: Opened, items: Sequence[str]) -> tuple[tuple[str, int, int], ...]:
    """Return the items with fewer readings than planned: of the response that lacks the most.

    Those of which readings wait for an answer or were set aside are told elsewhere.
    """
    wanted = [
        ({column.name for column in reducer_of(response).columns(response)}, response.readings)
        for response in opened.study.responses
        if response.readings > 1
    ]
    have = [Counter[str]() for _ in wanted]
    for row in now.rows if wanted else ():
        names = {cell.column for cell in row.cells if cell.value is not None}
        for counts, (columns, _) in zip(have, wanted, strict=True):
            if not columns.isdisjoint(names):
                counts[row.item] += 1
    found = []
    for item in items:
        lacking = [
            (counts[item] - planned, counts[item], planned)
            for counts, (_, planned) in zip(have, wanted, strict=True)
            if counts[item] < planned and item not in now.dropped and item not in now.waiting
        ]
        if lacking:
            found.append((item, *min(lacking)[1:]))
    return tuple(found)


def _places(
    rows: list[PlanRow], names: tuple[str, ...], here: set[str], lost: set[str]
) -> tuple[tuple[str, str, int, int], ...]:
    found = []
    for name in names:
        for member in sorted({row.groups[name] for row in rows}):
            mine = [r for r in rows if r.groups[name] == member and r.item not in lost]
            found.append((name, member, sum(r.item in here for r in mine), len(mine)))
    return tuple(found)


def _next(folder: Path, questions: tuple[Question, ...], missing: bool) -> str:
    """Return the one command that comes next."""
    if questions:
        return answer_command(questions[0], folder)
    if missing:
        return f"trials collect {as_typed(folder)} FILE"
    return f"trials analyse {as_typed(folder)}"


def answer_command(question: Question, folder: Path) -> str:
    """Return how to answer a question: with what it proposes, else with the choice of answers."""
    said = "|".join(question.answers)
    if question.proposal and "correct" in question.answers:
        said = f"correct {word_as_typed(question.proposal)}"
    return f"trials answer {as_typed(folder)} {question.id} {said} --why ... --by ..."
