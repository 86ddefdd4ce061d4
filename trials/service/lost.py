"""``trials lost``: items that broke or were never measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.design.judging import cost_of
from trials.design.values import Loss
from trials.files import as_typed
from trials.record import Question, State, Store, about_loss, plan_as_made
from trials.service.codes import item_code
from trials.service.offers import (
    Offer,
    cost_lines,
    cost_to_dict,
    extended,
    extended_lines,
    extension,
    fair_words,
)
from trials.service.opening import Opened, held_plan
from trials.service.questions import question_lines, question_to_dict
from trials.service.taken import with_spread_if_there
from trials.service.tally import tally
from trials.words.lessons import place_the_rest
from trials.words.numbers import listing, plural


@dataclass(frozen=True)
class Lost:
    """Everything recorded as lost so far, and what is asked about those recorded now.

    ``undone``: those of now are taken back; ``read``: which of these have readings. ``cost``: what
    each factor's answer loses by those of now that have no readings; ``offers``: what can be done
    about them.
    """

    opened: Opened
    now: tuple[str, ...]
    all: tuple[str, ...]
    questions: tuple[Question, ...] = ()
    cost: tuple[Loss, ...] = ()
    offers: tuple[Offer, ...] = ()
    undone: bool = False
    read: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "lost": list(self.now),
            **({"undone": True} if self.undone else {}),
            "lost_in_all": list(self.all),
            "left": len(self.opened.plan.rows) - len(self.all),
            "questions": [question_to_dict(question) for question in self.questions],
            "cost": [cost_to_dict(loss) for loss in self.cost],
            "offers": [offer.to_dict() for offer in self.offers],
        }

    def text(self) -> list[str]:
        """Return what was recorded and how many are left."""
        if self.undone:
            return self._taken_back()
        items = plural(self.opened.study.item_name)
        left = len(self.opened.plan.rows) - len(self.all)
        every = len(self.opened.plan.rows)
        asked = len({question.item for question in self.questions} & set(self.now))
        lines = [
            f"Recorded as lost: {listing(self.now)}.",
            f"{left} of {every} {items} are left. The comparison goes on "
            "with these, and the report names the others."
            if not asked
            else f"{left + asked} of {every} {items} are left while the readings of what was lost "
            f"count, {left} if they don't. The comparison goes on with these, and the report names "
            "the others.",
        ]
        if self.cost:
            lines += ["", "What that costs:", *cost_lines(self.opened.study, self.cost)]
        if self.offers:
            lines += ["", "What you can do:"]
            for offer in self.offers:
                lines += extended_lines(offer, self.opened.study, first=True)
            lines.append(
                f"- Or go on without them: trials analyse {as_typed(self.opened.here.folder)}"
            )
        elif self.cost and not self.opened.study.practice and not self._told_before:
            lines.append(
                f"When the first readings are in, other {items} that make up for those missing "
                f"can be planned: {extension(self.opened, len(self.now))}"
            )
            lines.append(fair_words(self.opened))
        if self._placed & set(self.now) - set(self.read):
            again = ["The timetable still has work on what is lost.", _place_the_rest(self.opened)]
            folder = as_typed(self.opened.here.folder)
            short = [f"When all is told, place the rest again: trials lessons {folder} --since N"]
            lines += ["", *(short if self._told_before else again)]
        if self.questions:
            lines += ["", "But there are readings, which count until you say that they don't:"]
        for question in self.questions:
            lines += ["", *question_lines(question, self.opened.here.folder)]
        return lines

    @property
    def _placed(self) -> set[str]:
        """The items that the timetable has work on."""
        table = self.opened.plan.timetable
        return {item for work in table.works for item in work.items} if table else set()

    @property
    def _told_before(self) -> bool:
        """Whether others are lost since the timetable was placed: what to do was told then."""
        return bool(self._placed & (set(self.all) - set(self.now)))

    def _taken_back(self) -> list[str]:
        """Return what counts again, and what else has to be done for it."""
        folder = as_typed(self.opened.here.folder)
        one, left = len(self.now) == 1, len(self.opened.plan.rows) - len(self.all)
        lines = [
            f"Taken back: that {listing(self.now)} {'is' if one else 'are'} lost. It stays in the "
            "record that this was said.",
            f"{left} of {len(self.opened.plan.rows)} {plural(self.opened.study.item_name)} are "
            "left.",
        ]
        if self.read:
            readings = f"The readings of {listing(self.read)} count"
            lines.append(f"{readings}, but for those that other questions leave out.")
        if self.opened.plan.timetable is not None and not self._placed >= set(self.now):
            lines.append(f"The timetable was placed without {'it' if one else 'them'}.")
            lines.append(_place_the_rest(self.opened))
        if self.opened.plan.locked is not None:
            lines.append(f"New labels and sheets with {'it' if one else 'them'}: trials sheets "
                         f"{folder}")  # fmt: skip
        return lines


def _place_the_rest(opened: Opened) -> str:
    """Return how to place the rest of the timetable again."""
    table = opened.plan.timetable
    between = dict.fromkeys(work.step for work in table.works if work.between) if table else ()
    return place_the_rest(as_typed(opened.here.folder), [as_typed(Path(step)) for step in between])


def record_lost(
    folder: Path, items: tuple[str, ...], *, why: str, by: str = "", undo: bool = False
) -> Lost:
    """Record that items are lost, for a reason outside the comparison; or take that back.

    Readings that one of them has already are left alone: a question asks whether they count.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or no plan.
    RecordError : no such item, or no reason; to take it back: no code of a person, or it isn't
        recorded as lost.
    """
    with held_plan(folder) as opened, Store.open(opened.here.record) as store:
        codes = tuple(dict.fromkeys(item_code(item, opened, "lost") for item in items))
        store.lose(codes, why, by, undo=undo)
        state = store.state()
        asked = tuple(q for q in store.questions(only_open=True) if about_loss(q, codes))
    lost = tuple(loss.item for loss in state.losses)
    written = {row.item for row in state.rows}
    read = tuple(code for code in codes if code in written)
    if undo:
        return Lost(opened, codes, lost, undone=True, read=read)
    return Lost(opened, codes, lost, asked, *_consequences(opened, codes, state), read=read)


def _consequences(
    opened: Opened, codes: Sequence[str], state: State
) -> tuple[tuple[Loss, ...], tuple[Offer, ...]]:
    """Return what the items cost that are lost without a reading, and what can be done."""
    found = tally({row.item for row in state.rows}, state, opened.plan)
    gone = set(codes) & set(found.lost)
    if not gone:
        return (), ()
    made = plan_as_made(opened.plan, state.otherwise).plan
    left = {*found.read, *found.waiting}
    study = with_spread_if_there(opened.here, opened.study)
    return cost_of(study, made, left | gone, left, made), extended(opened, state, len(gone))
