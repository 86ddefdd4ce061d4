"""A change of the record on one line."""

from __future__ import annotations

from trials.words.language import marked, say


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
    told = f"{question} {say(_DONE[what])}".strip()
    whom = ", ".join(part for part in (item, column) if part)
    said = f"{before or say('nothing')} -> {after or say('nothing')}"
    if what in ("lost", "question", "question gone", "kept"):
        said = (after or before or "") if what != "lost" else ""
    elif what == "file":
        said = after or ""
    why = say(". Why: {why}", why=why) if why else ""
    of_file = what in ("file", "newer file")
    where = f" ({place})" if place and not of_file else ""
    parts = [part for part in (place if of_file else whom, said) if part]
    return f"{told}: {': '.join(parts)}{where}{why}"


_DONE = {
    "file": marked("taken in"),
    "newer file": marked("newer version"),
    "added": marked("new in the newer file"),
    "changed": marked("changed in the newer file"),
    "gone": marked("gone in the newer file"),
    "read anew": marked("read anew"),
    "question": marked("asked"),
    "corrected": marked("corrected"),
    "lost": marked("lost"),
    "kept": marked("kept"),
    "set aside": marked("set aside"),
    "question gone": marked("no longer asked"),
    "exchanged": marked("labels exchanged"),
    "not exchanged": marked("labels not exchanged after all"),
    "made": marked("made otherwise"),
    "absent": marked("absent"),
    "not absent": marked("not absent after all"),
}
