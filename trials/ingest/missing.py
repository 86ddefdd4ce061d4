"""Cells that say that there is no number."""

from __future__ import annotations

MISSING = frozenset(
    ["", "-", "--", "–", "—", "/", ".", "na", "n/a", "n.a.", "nan", "none", "null", "nil", "#n/a",
     "missing", "?"]
)  # fmt: skip


def is_missing(text: str) -> bool:
    """Return whether a cell says that there is no number, with a word or a stroke of any length.

    Examples
    --------
    >>> is_missing("n/a"), is_missing("-----"), is_missing("0"), is_missing("-1")
    (True, True, False, False)
    """
    return text.casefold() in MISSING or not text.strip("-–—")
