"""Headings in two rows: groups above the names of the columns, or numbers of readings below them.

A text above belongs to its own column and to those right of it up to the next text, as merged cells
are saved. It joins the name below only where names would else be doubled.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from trials.ingest.grid import Line, Raw, Sheet
from trials.ingest.headings import (
    READING_NAMES,
    SEARCHED,
    Heading,
    Vocabulary,
    heading_of,
    item_column,
)
from trials.quantities import known, numeral
from trials.reduction.table import same_name

_FEWEST = 2  # readings beside each other that make a row of their numbers
_MOST_TOLD = 4
_ORDINALS = {"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6}
_NUMBER = re.compile(r"(\d{1,2})(?:st|nd|rd|th|\.)?\Z")
_READINGS = frozenset(same_name(name) for name in READING_NAMES)


def joined(sheet: Sheet, words: Vocabulary) -> tuple[Sheet, str, tuple[Line, ...]]:
    """Return a sheet whose two rows of headings are one, a sentence on it, and the two before.

    The sheet as it is, no sentence and no rows, where it has no such rows or they don't tell its
    columns apart.
    """
    filled = [place for place, line in enumerate(sheet.lines[:SEARCHED]) if not line.empty]
    for above, below in itertools.pairwise(filled):
        upper, lower = sheet.lines[above], sheet.lines[below]
        again = upper.cells == lower.cells  # headings that come again
        texts = None if again else _texts(upper, lower, words)
        if texts is not None:
            told = [
                text
                for index, text in enumerate(texts)
                if text not in (upper.at(index).text, lower.at(index).text)
            ] or [text for text in texts if text]
            named = ", ".join(f"'{text}'" for text in told[:_MOST_TOLD])
            more = " and so on" if len(told) > _MOST_TOLD else ""
            head = replace(lower, cells=tuple(map(Raw, texts)))
            lines = (*sheet.lines[:above], head, *sheet.lines[below + 1 :])
            told_so = (
                f"The headings stand in rows {upper.number} and {lower.number}; they were read "
                f"together, as {named}{more}."
            )
            return replace(sheet, lines=lines), told_so, (upper, lower)
        if item_column(upper, words) is not None and quantities_in(upper, words):
            break  # below the headings are the readings
    return sheet, "", ()


def reading_number(text: str) -> int | None:
    """Return which reading a heading of a group numbers; None where it is about something else.

    Examples
    --------
    >>> [reading_number(text) for text in ("reading 2", "1", "First reading", "2nd repeat")]
    [2, 1, 1, 2]
    >>> reading_number("first lamp"), reading_number("lamp 2"), reading_number("reading")
    (None, None, None)
    """
    numbers, others = [], []
    for word in text.casefold().replace("#", " ").split():
        number = _NUMBER.match(word)
        if number or word in _ORDINALS:
            numbers.append(int(number[1]) if number else _ORDINALS[word])
        else:
            others.append(word)
    name = same_name("".join(others))
    return numbers[0] if len(numbers) == 1 and (not name or name in _READINGS) else None


def _texts(upper: Line, lower: Line, words: Vocabulary) -> list[str] | None:
    """Return the headings that two rows give together; None where they don't."""
    width = max(len(upper.cells), len(lower.cells))
    own = [upper.at(index).text for index in range(width)]
    low = [lower.at(index).text for index in range(width)]
    if item_column(lower, words) is not None:
        return _numbered(own, low, words) or _grouped(own, low, low, words)
    at = item_column(upper, words)
    if at is None or lower.at(at).text:
        return None
    numbers = [reading_number(text) for text in low if text]
    if numbers and None not in numbers:
        return _numbered(own, low, words)
    mine, others = quantities_in(lower, words), quantities_in(upper, words)
    written = [index for index, text in enumerate(low) if text]
    if not mine or any(index in others or numeral(low[index]) for index in written):
        return None
    if all(known(low[index].strip("()[] ")) for index in written):
        return None  # a row of units
    both = [name or text for name, text in zip(low, own, strict=True)]
    return _grouped(own, low, both, words) or both


def quantities_in(line: Line, words: Vocabulary) -> dict[int, Heading]:
    """Return the raw quantities that a row names, by their places."""
    return _named([cell.text for cell in line.cells], words)


def _named(texts: Sequence[str], words: Vocabulary) -> dict[int, Heading]:
    found = {}
    for index, text in enumerate(texts):
        meaning = words.meaning(text) if text else None
        if text and (meaning is None or meaning.kind == "quantity"):
            heading = heading_of(text, index, words.columns, meaning)
            if heading is not None:
                found[index] = heading
    return found


def _spread(texts: Sequence[str]) -> list[str]:
    """Return the texts, each going on to the right as far as nothing stands there."""
    found = [""]
    for text in texts:
        found.append(text or found[-1])
    return found[1:]


def _numbered(own: Sequence[str], low: Sequence[str], words: Vocabulary) -> list[str] | None:
    """Return names with the numbers of readings that stand below them."""
    above = _spread(own)
    named = _named(above, words)
    numbers = {
        index: number
        for index, text in enumerate(low)
        if index in named and (number := reading_number(text)) is not None
    }
    spans: dict[str, list[int]] = {}
    for index, number in numbers.items():
        spans.setdefault(above[index], []).append(number)
    if not spans or any(
        found != list(range(1, len(found) + 1)) or len(found) < _FEWEST for found in spans.values()
    ):
        return None
    return [
        f"{above[index]} {numbers[index]}" if index in numbers else text or own[index]
        for index, text in enumerate(low)
    ]


def _grouped(
    own: Sequence[str], low: Sequence[str], both: Sequence[str], words: Vocabulary
) -> list[str] | None:
    """Return the names with the groups above them where a name is there twice.

    Parameters
    ----------
    both : the names, and what stands above where there are none.
    """
    named = _named(low, words)
    doubled = _doubled(named)
    above = _spread(own)
    if not doubled or not all(above[index] for index in doubled):
        return None
    numbers = {index: reading_number(above[index]) for index in doubled}
    if any(number is None and numeral(above[index]) for index, number in numbers.items()):
        return None  # a line of readings
    readings = None not in numbers.values()
    texts = list(both)
    for index in doubled:
        texts[index] = (
            f"{low[index]} {numbers[index]}" if readings else f"{above[index]}: {low[index]}"
        )
    told_apart = len({texts[index].casefold() for index in doubled}) == len(doubled)
    return texts if told_apart and not _doubled(_named(texts, words)) else None


def _doubled(named: Mapping[int, Heading]) -> list[int]:
    """Return the places of the quantities that are named more than once for one reading."""
    keys = {index: (one.column.name, one.number) for index, one in named.items()}
    many = Counter(keys.values())
    return [index for index, key in keys.items() if many[key] > 1]
