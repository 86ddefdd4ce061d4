"""Notes that tell of something done otherwise than planned: asked, and told in the report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trials.ingest.asking import SEVERAL, about_item
from trials.record.values import DEVIATION, Question, Row
from trials.words.deviations import deviations_in
from trials.words.keeping import kept

_LONGEST = 120  # letters of a note that are quoted


def noted_deviations(rows: Sequence[Row]) -> list[Question]:
    """Return the questions about notes that tell of something done otherwise.

    The same note beside three items of a sheet or more is one question. What spoiled an item that
    did not work is not asked: it counts as failed, and its note is told as the reason.
    """
    failed = {row.item for row in rows if row.worked is False}
    notes: dict[tuple[str, str, str], list[Row]] = {}
    for row in rows:
        if not row.note:
            continue
        told = deviations_in(row.note)
        if row.item in failed:
            told = tuple(one for one in told if not one.broke)
        if told:
            note = " ".join(row.note.split())
            notes.setdefault((row.place.file, row.place.sheet, note), []).append(row)
    questions: list[Question] = []
    for (_, _, note), mine in notes.items():
        items: dict[str, list[Row]] = {}
        for row in mine:
            items.setdefault(row.item, []).append(row)
        together = [mine] if len(items) >= SEVERAL else list(items.values())
        questions.extend(_asked(bundle, note) for bundle in together)
    return questions


def _asked(rows: Sequence[Row], note: str) -> Question:
    items = list(dict.fromkeys(row.item for row in rows))
    short = note if len(note) <= _LONGEST else f"{note[:_LONGEST]} ..."
    one = items[0] if len(items) == 1 else ""
    found = f"'{short}'" if one else f"{', '.join(items)}: '{short}'"
    it, was = ("it", "was") if one else ("they", "were")
    question = about_item(
        rows,
        DEVIATION,
        found=found,
        why=kept(
            "This sounds as if something was done otherwise than planned."
            if one
            else "This sounds as if something had been done otherwise than planned."
        ),
        do=f"keep, if {it} may count all the same: the report tells of it. set-aside, if {it} "
        f"can't count. If {it} really {was} made with another version, say so first: trials made "
        f"FOLDER {' '.join(items)} --factor NAME=VERSION --why ... --by ... If {it} broke: trials "
        f"lost FOLDER {' '.join(items)} --why ...",
        answers=("keep", "set-aside"),
    )
    return replace(question, item=one or None)
