"""Digits exchanged, typed twice or left out: one reading beside the other readings of its item.

A number is asked about only where the other readings of the item agree among themselves, it does
not agree with them, and it would with two neighbouring digits exchanged, one taken out, or one put
in. What a slip of the decimal mark or the unit explains is left to the slips.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from statistics import median

from trials.ingest.asking import about_cell
from trials.quantities import nice, shown
from trials.record.values import Question, Row
from trials.reduction import Column
from trials.words.keeping import Kept, kept
from trials.words.language import marked

_FEWEST_OTHERS = 2  # readings that must agree
_AWAY = 6  # times what readings of one item vary by that the number is off
_FITS = 2  # times that, within which the mended number agrees
_TOGETHER = 3  # times that, within which the other readings agree
_POWERS = (1, -1, 2, -2, 3, -3, 6, -6)


@dataclass(frozen=True)
class _Reading:
    row: Row
    text: str  # the number in the unit it was written in, as digits and a point
    number: Decimal
    value: Decimal  # the same in the unit of the column


def digit_slips(columns: Sequence[Column], rows: Sequence[Row]) -> list[Question]:
    """Return the questions about numbers whose digits look exchanged, doubled or left out."""
    questions: list[Question] = []
    for column in columns:
        if column.spans or column.per == "item" or column.surroundings:
            continue
        items: dict[str, list[tuple[Row, str, Decimal, Decimal]]] = {}
        for row in rows:
            cell = row.cell(column.name)
            if cell is None or cell.number is None or cell.value is None:
                continue
            if cell.value <= 0:
                continue
            if cell.number is not cell.value and cell.number <= 0:  # 0 °C is above zero in kelvins
                continue
            items.setdefault(row.item, []).append((row, cell.text, cell.number, cell.value))
        ordered = {item: sorted(value for *_, value in mine) for item, mine in items.items()}
        usual = _usual(list(ordered.values()))
        for item, mine in items.items():
            if len(mine) > _FEWEST_OTHERS and _may_be_off(ordered[item], usual):
                readings = [
                    _Reading(row, _plain(text, number), number, value)
                    for row, text, number, value in mine
                ]
                questions.extend(_of_item(column, readings, usual))
    return questions


def _may_be_off(ordered: Sequence[Decimal], usual: Decimal) -> bool:
    """Return whether the smallest or the largest is far off, if the last figures were exact."""
    for value, others in ((ordered[0], ordered[1:]), (ordered[-1], ordered[:-1])):
        vary = max(usual, (others[-1] - others[0]) / 2)
        if abs(value - median(others)) > _AWAY * vary:
            return True
    return False


def _plain(text: str, number: Decimal) -> str:
    """Return a number as it was typed where that can be seen, with its last zeros."""
    typed = text.strip().replace(",", ".")
    seen = typed.replace(".", "", 1).isdecimal() and typed.isascii() and Decimal(typed) == number
    return typed if seen else shown(number)


def _usual(items: Sequence[Sequence[Decimal]]) -> Decimal:
    """Return by how much the readings of one item usually vary (the middle of all items).

    Parameters
    ----------
    items : the numbers of each item in their order.
    """
    ranges = [mine[-1] - mine[0] for mine in items if len(mine) > 1]
    return median(ranges) / 2 if ranges else Decimal(0)


def _of_item(column: Column, mine: Sequence[_Reading], usual: Decimal) -> Iterable[Question]:
    """Look at the smallest and the largest reading: any other leaves one that doesn't agree."""
    for reading in (min(mine, key=lambda r: r.value), max(mine, key=lambda r: r.value)):
        others = [one for one in mine if one is not reading]
        values = [one.value for one in others]
        middle = median(values)
        vary = max(usual, (max(values) - min(values)) / 2, _last_figure(others))
        if max(values) - min(values) > _TOGETHER * max(usual, _last_figure(others)):
            continue
        if abs(reading.value - middle) <= _AWAY * vary:
            continue
        if any(abs(reading.value.scaleb(power) - middle) <= _FITS * vary for power in _POWERS):
            continue
        found = _mended(reading, others, middle, _FITS * vary)
        if found is not None:
            yield _asked(column, reading, *found)


def _last_figure(readings: Sequence[_Reading]) -> Decimal:
    """Return the largest step that the numbers were written in, in the unit of the column."""
    return max(Decimal(1).scaleb(-_places(r.text)) * (r.value / r.number) for r in readings)


def _mended(
    reading: _Reading, others: Sequence[_Reading], middle: Decimal, room: Decimal
) -> tuple[str, str] | None:
    """Return what happened to the digits and the number they would give ("" if several would)."""
    places = max(_places(one.text) for one in others)
    usual = {_figures(_padded(one.text, places)) for one in others}
    count, padded = _figures(reading.text), _padded(reading.text, places)
    ways = (
        (exchanged(padded), marked("two of its digits exchanged"), _figures(padded)),
        (taken_out(reading.text), marked("one digit taken out"), count - 1),
        (put_in(reading.text), marked("one more digit"), count + 1),
    )
    for texts, how, wanted in ways:
        if wanted not in usual:
            continue
        factor = reading.value / reading.number
        fits = [text for text in texts if abs(Decimal(text) * factor - middle) <= room]
        if fits:
            numbers = {Decimal(text) for text in fits}
            return how, fits[0] if len(numbers) == 1 else ""
    return None


def _figures(text: str) -> int:
    return len(text.replace(".", ""))


def _places(text: str) -> int:
    return len(text.partition(".")[2])


def _padded(text: str, places: int) -> str:
    """Return a number with the last zeros that spreadsheets leave out, however many they are."""
    if _places(text) >= places:
        return text
    whole, _, part = text.partition(".")
    return f"{whole.lstrip('0') or '0'}.{part.ljust(places, '0')}"


def exchanged(text: str) -> list[str]:
    """Return the numbers with two neighbouring digits exchanged; the point stays where it is.

    Examples
    --------
    >>> exchanged("0.341"), exchanged("77")
    (['3.041', '0.431', '0.314'], [])
    """
    at = [k for k, letter in enumerate(text) if letter != "."]
    found = []
    for one, next_ in itertools.pairwise(at):
        if text[one] != text[next_]:
            letters = list(text)
            letters[one], letters[next_] = letters[next_], letters[one]
            found.append("".join(letters))
    return found


def taken_out(text: str) -> list[str]:
    """Return the numbers without one of their digits.

    Examples
    --------
    >>> taken_out("0.4431")
    ['.4431', '0.431', '0.441', '0.443']
    """
    found = [text[:k] + text[k + 1 :] for k, letter in enumerate(text) if letter != "."]
    return list(dict.fromkeys(one for one in found if one.strip(".")))


def put_in(text: str) -> list[str]:
    """Return the numbers with one more digit within them or behind them.

    Examples
    --------
    >>> len(put_in("41")), "431" in put_in("41")
    (19, True)
    """
    return list(
        dict.fromkeys(
            text[:k] + digit + text[k:] for k in range(1, len(text) + 1) for digit in "0123456789"
        )
    )


def _asked(column: Column, reading: _Reading, how: str, text: str) -> Question:
    row = reading.row
    unit = f" {nice(column.unit)}" if column.unit else ""
    proposal = ""
    if text:
        value = Decimal(text) * (reading.value / reading.number)
        proposal = shown(value if value.as_tuple().exponent != 0 else value.normalize())
    cell = row.cell(column.name)
    why = kept(
        "It is off from the other readings of {item}, which agree. With {how} it would fit: "
        "{proposal}."
        if proposal
        else "It is off from the other readings of {item}, which agree. With {how} it would fit.",
        item=row.item,
        how=Kept(how),
        proposal=f"{proposal}{unit}",
    )
    return about_cell(
        [row],
        column,
        "digits",
        found=cell.text if cell is not None else reading.text,
        why=why,
        proposal=proposal,
    )
