"""What the text of a heading says by itself: its unit, its number, what it looks like."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence

from trials.quantities import convertible, headings, known, same
from trials.reduction import Column
from trials.reduction.table import same_name
from trials.words.language import marked
from trials.words.quantity_names import quantity_names

_SAME_WORD = marked("A word is the same.")
_ALIKE = 0.8  # share of letters in common (difflib's ratio) from which two names look alike
_LONGEST = 200  # letters of a heading; what is longer is a text
_FEWEST_LETTERS = 4  # shorter names are alike by chance
_NUMBERED = re.compile(
    r"(?P<name>.*?\D)[\s_#.,:(\[-]*(?:\b(?:reading|no|nr|run|repeat)\b[\s_.:-]*)?[#]?"
    r"(?P<number>\d{1,2})[)\]]?\s*(?P<unit>[(\[](?!\d+[)\]])[^()\[\]]*[)\]])?\Z",
    re.IGNORECASE,
)


def numbered_heading(text: str) -> tuple[str, int] | None:
    """Return a heading without the number of a reading, and that number; None if it has none.

    Examples
    --------
    >>> numbered_heading("height (mm) #2"), numbered_heading("height_2 (mm)")
    (('height (mm)', 2), ('height (mm)', 2))
    >>> numbered_heading("height, reading 3"), numbered_heading("height (2)")
    (('height', 3), ('height', 2))
    >>> numbered_heading("h2/mm")
    ('h (mm)', 2)
    >>> numbered_heading("light (W/m^2)"), numbered_heading("7")
    (None, None)
    """
    if len(text) > _LONGEST:
        return None
    stem, _, behind = text.strip().rpartition("/")
    slashed = stem and known(behind) and "(" not in text and "[" not in text
    found = _NUMBERED.match(f"{stem} ({behind})" if slashed else text.strip())
    name = "" if found is None else found["name"].strip(" _#.,:-")
    if found is None or not name or any(name.count(a) != name.count(b) for a, b in ("()", "[]")):
        return None
    unit = f" {found['unit']}" if found["unit"] else ""
    return name + unit, int(found["number"])


def unit_at_end(text: str) -> str | None:
    """Return the unit that a heading of any name gives, if it is one that is known."""
    plain = numbered_heading(text)
    ways = [*headings(text), *(headings(plain[0]) if plain else ())]
    return next((unit for _, unit in ways if unit and known(unit)), None)


def likely_quantities(text: str, missing: Sequence[Column]) -> tuple[tuple[Column, ...], str]:
    """Return which missing quantities a heading may mean, and how that shows.

    The evidence, strongest first: the same name behind a colon; nearly the same letters; a word in
    common, in a unit that fits; a unit of the right kind.

    Examples
    --------
    >>> volts, amps = Column("open voltage", "V"), Column("current", "mA")
    >>> likely_quantities("opn voltage", [volts, amps])
    ((Column(name='open voltage', ...),), 'The letters are nearly the same.')
    >>> likely_quantities("U/mV", [volts, amps])[1], likely_quantities("room", [volts, amps])
    ('Its unit fits.', ((), ''))
    """
    if len(text) > _LONGEST:
        return (), ""
    unit = unit_at_end(text)
    fitting = [
        column
        for column in missing
        if unit is None
        or same(unit, column.unit)
        or (column.unit and convertible(unit, column.unit))
    ]
    behind = text.rpartition(": ")[2]
    named = [column for column in fitting if behind != text and _plain(behind) in _names(column)]
    if named:
        return tuple(named), marked("The name behind the colon is the same.")
    name = _plain(text)
    close = {column.name: _likeness(name, column) for column in fitting}
    best = max(close.values(), default=0.0)
    alike = [column for column in fitting if close[column.name] == best >= _ALIKE]
    if len(alike) == 1:
        return tuple(alike), marked("The letters are nearly the same.")
    mine = _long_words(text)
    shared = [column for column in fitting if mine & _long_words(column.name)]
    if shared:
        same_word = marked("A word is the same, and its unit fits.") if unit else _SAME_WORD
        return tuple(shared), same_word
    if unit:
        by_unit = tuple(column for column in fitting if column.unit)
        return by_unit, marked("Its unit fits.") if by_unit else ""
    return (), ""


def _plain(text: str) -> str:
    """Return the name in a heading, without the number of a reading and the unit."""
    numbered = numbered_heading(text)
    name, unit = headings(numbered[0] if numbered else text)[0]
    return same_name(name if unit is not None else text)


def _names(column: Column) -> list[str]:
    return [same_name(known) for known in (*quantity_names(column.name), *column.aliases)]


def _likeness(name: str, column: Column) -> float:
    return max(
        (
            difflib.SequenceMatcher(None, name, known, autojunk=False).ratio()
            for known in _names(column)
            if len(known) >= _FEWEST_LETTERS and len(name) >= _FEWEST_LETTERS
        ),
        default=0.0,
    )


def _long_words(text: str) -> set[str]:
    return {word for word in re.findall(r"[^\W\d_]+", text.casefold()) if len(word) > 3}
