"""What a column of a person's own table may hold: a quantity, a group, or what goes with it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from trials.quantities import headings
from trials.reduction.table import same_name
from trials.reduction.values import Column

Kind = Literal["quantity", "group", "item", "reading", "time", "worked", "note", "nothing"]
KINDS: dict[str, Kind] = {
    "item": "item",
    "reading": "reading",
    "time": "time",
    "did it work?": "worked",
    "note": "note",
    "not needed": "nothing",
}


@dataclass(frozen=True)
class Meaning:
    """What a column holds. ``unit``: that of its numbers; "" leaves it to heading and quantity."""

    kind: Kind
    name: str = ""  # of the quantity or the group
    unit: str = ""


def heading_key(text: str) -> str:
    """Return a heading without the differences that don't matter; signs alone stay as they are.

    Examples
    --------
    >>> heading_key("U oc [mV]"), heading_key(" # ")
    ('uocmv', '#')
    """
    return same_name(text) or "".join(text.split())


def meaning_of(text: str, columns: Iterable[Column], groups: Iterable[str]) -> Meaning | None:
    """Return what a text means as the right side of a line under [columns]; None: nothing.

    A quantity may be called by any of its short names, with a unit in brackets. The unit is not
    looked at here.

    Examples
    --------
    >>> column = Column("height", "mm", aliases=("h",))
    >>> meaning_of("h (cm)", [column], []), meaning_of("Did it work", [column], [])
    (Meaning(kind='quantity', name='height', unit='cm'), Meaning(kind='worked', name='', unit=''))
    """
    key = same_name(text)
    for column in columns:
        names = {same_name(known) for known in (column.name, *column.aliases)}
        for name, unit in headings(text):
            if same_name(name) in names:
                return Meaning("quantity", column.name, unit or "")
    for word, kind in KINDS.items():
        if key == same_name(word):
            return Meaning(kind)
    return next((Meaning("group", group) for group in groups if same_name(group) == key), None)
