"""Making questions about rows and cells, so that all of them read alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trials.files import word_as_typed
from trials.quantities import nice, shown
from trials.record.values import VERBS, Place, Question, Row, Verb, worded
from trials.reduction import Column, Range
from trials.words.keeping import Kept, kept

KEEP_OR_ASIDE = "keep if it is right; set-aside if nobody knows."
UNUSABLE: tuple[Verb, ...] = ("correct", "set-aside")  # what can't be used as it stands isn't kept
SEVERAL = 3  # items of one sheet with the same trouble are one question


def bundles(rows: Sequence[Row]) -> list[list[Row]]:
    """Return rows with the same trouble as bundles, one for each question.

    Rows of one sheet are one bundle if at least three items have the trouble, else each item is.
    """
    sheets: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        sheets.setdefault((row.place.file, row.place.sheet), []).append(row)
    found = []
    for mine in sheets.values():
        items: dict[str, list[Row]] = {}
        for row in mine:
            items.setdefault(row.item, []).append(row)
        found.extend([mine] if len(items) >= SEVERAL else list(items.values()))
    return found


def several_text(rows: Sequence[Row], texts: Sequence[str | Kept]) -> str | Kept:
    """Return what was found in one or several rows.

    Examples
    --------
    >>> several_text([], ["0.4"])
    '0.4'
    """
    if len(texts) == 1:
        return texts[0]
    items = list(dict.fromkeys(row.item for row in rows))
    return kept(
        "{n} numbers ({items}), such as {example}"
        if len(items) > 1
        else "{n} numbers, such as {example}",
        n=len(texts),
        items=f"{', '.join(items[:6])}{' ...' if len(items) > 6 else ''}",
        example=texts[0],
    )


def place_text(place: Place) -> str:
    """Return where a row stands, as a person looks for it.

    Examples
    --------
    >>> place_text(Place("a.csv", "", 7)), place_text(Place("a.xlsx", "S1", 7))
    ('a.csv, row 7', "a.xlsx, sheet 'S1', row 7")
    """
    return str(kept_place(place))


def kept_place(place: Place) -> Kept:
    """Return where a row stands, to be kept in a sentence."""
    return kept(
        "{file}, sheet '{sheet}', row {row}" if place.sheet else "{file}, row {row}",
        file=place.file,
        sheet=place.sheet,
        row=place.row,
    )


def nothing_text(rows: Sequence[Row]) -> Kept:
    """Return that nothing stands where numbers belong.

    Examples
    --------
    >>> str(nothing_text([Row(Place("a.csv", "", 7), "K7", 1)]))
    'nothing'
    """
    if len(rows) == 1:
        return kept("nothing")
    items = ", ".join(dict.fromkeys(row.item for row in rows))
    return kept("nothing in {n} readings of {items}", n=len(rows), items=items)


def about_cell(
    rows: Sequence[Row],
    column: Column,
    code: str,
    *,
    found: str | Kept,
    why: Kept,
    proposal: str = "",
    must: bool = False,
    usable: bool = True,
) -> Question:
    """Return a question about the number of one column in one or several rows.

    ``usable`` says whether there is a number at all that may be kept.
    """
    number = f"the right number in {nice(column.unit)}" if column.unit else "the right number"
    number += ", or open" if column.endless else ""
    if len({row.place for row in rows}) > 1 and not code.startswith("missing"):
        number = "the unit that was used, or a factor such as x0.1"
    first = f"correct {word_as_typed(proposal)}" if proposal else f"correct and {number}"
    rest = KEEP_OR_ASIDE if usable else "set-aside goes on without it."
    return replace(
        _about(rows, code, found, why, f"{first}, if you know; {rest}"),
        column=column.name,
        unit=column.unit,
        possible=_ends(column.possible),
        usual=_ends(column.believable),
        endless=column.endless,
        answers=VERBS if usable else UNUSABLE,
        acts_on="cell",
        proposal=proposal,
        must=must,
    )


def _about(rows: Sequence[Row], code: str, found: str | Kept, why: Kept, do: str) -> Question:
    """Return a question about rows; what an answer changes in them is still to be said."""
    one = rows[0]
    return Question(
        id="",
        code=code,
        file=one.place.file,
        sheet=one.place.sheet,
        row=one.place.row,
        item=one.item if len({row.item for row in rows}) == 1 else None,
        reading=one.reading if len(rows) == 1 else None,
        column=None,
        **worded(found, why),
        do=do,
        places=tuple(row.place for row in rows),
    )


def _ends(ends: Range) -> tuple[str | None, str | None]:
    low, high = (None if end is None else shown(end) for end in ends)
    return low, high


def about_item(
    rows: Sequence[Row],
    code: str,
    *,
    found: str | Kept,
    why: Kept,
    proposal: str = "",
    must: bool = False,
    do: str = "",
    answers: tuple[Verb, ...] = VERBS,
) -> Question:
    """Return a question about which item a row belongs to, or whether it counts at all."""
    one = rows[0]
    first = f"correct {word_as_typed(proposal)}" if proposal else "correct and the right code"
    do = do or f"{first}, if it belongs to another item; {KEEP_OR_ASIDE}"
    return replace(
        _about(rows, code, found, why, do),
        item=one.item or None,
        acts_on="identity",
        proposal=proposal,
        must=must,
        answers=answers,
    )


def about_time(
    rows: Sequence[Row],
    code: str,
    *,
    found: str | Kept,
    why: Kept,
    proposal: str = "",
    usable: bool = True,
) -> Question:
    """Return a question on when readings were taken. ``usable``: what stands there is a time."""
    moved = "by how much they are off, such as +12:00"
    first = f"correct {word_as_typed(proposal)}" if proposal else (
        "correct and the right time, such as 14:05" if len(rows) == 1 else f"correct and {moved}"
    )  # fmt: skip
    rest = "keep if it is right; " if usable else ""
    do = f"{first}, if you know; {rest}set-aside goes on without a time."
    return replace(
        _about(rows, code, found, why, do),
        column="time",
        acts_on="time",
        proposal=proposal,
        answers=VERBS if usable else UNUSABLE,
    )


def about_working(row: Row, *, found: str | Kept, why: Kept) -> Question:
    """Return a question on whether an item worked."""
    do = "correct yes, or correct no; keep leaves it as it is."
    return replace(
        _about([row], "worked_unclear", found, why, do),
        column="did it work?",
        acts_on="worked",
        answers=("keep", "correct"),
    )


def unknown_code(near: str, *, dated: bool) -> Kept:
    """Return why a code is asked about that the plan doesn't have; ``near``: what it may mean."""
    if dated:
        return kept(
            "This is a date: a spreadsheet program may have made it of a code such as {near}."
            if near
            else "This is a date: a spreadsheet program may have made it of a code.",
            near=near,
        )
    return kept(
        "The plan has no item of this code; the nearest is {near}."
        if near
        else "The plan has no item of this code.",
        near=near,
    )
