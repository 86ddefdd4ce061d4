"""A change of the record on one line."""

from __future__ import annotations

_NOTHING = "nothing"


def change_text(
    what: str,
    item: str,
    column: str,
    *,
    before: str | None = None,
    after: str | None = None,
    place: str = "",
    question: str = "",
    why: str = "",
) -> str:
    """Return one change as a person reads it.

    Examples
    --------
    >>> change_text("corrected", "K7", "light", before="80 W/m²", after="800 W/m²",
    ...             place="a.csv, row 3", question="Q2", why="a nought was missing (T1)")
    'Q2 corrected: K7, light: 80 W/m² -> 800 W/m² (a.csv, row 3). Why: a nought was missing (T1)'
    >>> change_text("lost", "K7", "", after="lost", why="fell (T1)")
    'lost: K7. Why: fell (T1)'
    """
    told = f"{question} {_DONE.get(what, what)}".strip()
    whom = ", ".join(part for part in (item, column) if part)
    said = f"{before or _NOTHING} -> {after or _NOTHING}"
    if what in ("lost", "not lost", "question", "question gone", "kept"):
        said = "" if what.endswith("lost") else after or before or ""
    elif what == "file":
        said = after or ""
    why = f". Why: {why}" if why else ""
    where = f" ({place})" if place and what not in ("file", "newer file") else ""
    parts = [part for part in (place if what in ("file", "newer file") else whom, said) if part]
    return f"{told}: {': '.join(parts)}{where}{why}"


_DONE = {
    "file": "taken in",
    "newer file": "newer version",
    "added": "new in the newer file",
    "changed": "changed in the newer file",
    "gone": "gone in the newer file",
    "read anew": "read anew",
    "question": "asked",
    "question gone": "no longer asked",
    "exchanged": "labels exchanged",
    "not exchanged": "labels not exchanged after all",
    "made": "made otherwise",
    "not absent": "not absent after all",
    "not lost": "not lost after all",
    "away": "finished by others, as a team is away",
    "not away": "not away after all",
    "placed": "placed again in the lessons",
    "drawn anew": "the plan was drawn anew: what was placed before belongs to the old one",
    "equipment": "equipment out of order, or in order again",
}
