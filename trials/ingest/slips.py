"""Numbers that look as if a unit or a decimal mark had slipped: asked, never mended alone.

The evidence, strongest first: the other readings of the same item; what is possible at all; a whole
sheet a thousand times off from the others; the middle of all items on the logarithmic scale with
its robust spread (median absolute deviation). Levels of factors are not looked at, so that no
result is called odd because of what was done to the item.
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from statistics import median

from trials.ingest.asking import about_cell, bundles, several_text
from trials.quantities import known, nice, same, scale_between, shown
from trials.record.values import Question, Row
from trials.reduction import Column
from trials.reduction.ranges import outside
from trials.words.keeping import Kept, kept
from trials.words.language import marked

POWERS = (1, -1, 2, -2, 3, -3, 6, -6)
_TO_SD = 1.4826  # median absolute deviation to standard deviation of a normal distribution
_CLOSE = 0.15  # powers of ten from a power of ten, within one item
_FEWEST = 5  # items without which there is no "usual"
# prefixes that people use with a unit (common practice, no source): nobody types megametres, and
# ten times too much is a slip of the decimal point sooner than a length in decimetres
_PREFIXES = {"m": "cmku", "l": "cmu", "L": "cmu", "g": "mku", "s": "mu", "min": "", "h": "",
             "lux": "k"}  # fmt: skip
_OTHER_PREFIXES = "mkuMn"
_LONGEST_SIGN = 4  # letters, "kohm"; whole words such as "points" take no prefix
_AREAS = ("m^2", "cm^2", "mm^2")
_USUAL = kept("what is usual here")
_OWN = marked("the other readings of {item}")


@dataclass(slots=True)
class Entry:
    """One positive number of one column, not without end; ``log``: its logarithm to base 10."""

    row: Row
    value: Decimal
    log: float = field(init=False, compare=False)

    def __post_init__(self) -> None:
        self.log = math.log10(self.value)

    @property
    def sheet(self) -> tuple[str, str]:
        """File and sheet that it stands in."""
        return (self.row.place.file, self.row.place.sheet)


@dataclass(frozen=True)
class Slip:
    """A number that is about ``10**power`` times what it should be; power 0: it fits nothing."""

    entry: Entry
    power: int
    beside: Kept  # what it was compared with
    impossible: bool = False


@dataclass(frozen=True)
class Usual:
    """The middle of all items and their robust spread, in powers of ten."""

    middle: float
    spread: float


def usual(entries: Sequence[Entry]) -> Usual | None:
    """Return what is usual in a column, None for fewer than five items.

    Examples
    --------
    >>> usual([]) is None
    True
    """
    by_item = _by_item(entries)
    if len(by_item) < _FEWEST:
        return None
    middles = [median(entry.log for entry in mine) for mine in by_item.values()]
    middle = median(middles)
    return Usual(middle, max(_TO_SD * median(abs(m - middle) for m in middles), 0.1))


def _by_item(entries: Sequence[Entry]) -> dict[str, list[Entry]]:
    found: dict[str, list[Entry]] = {}
    for entry in entries:
        found.setdefault(entry.row.item, []).append(entry)
    return found


def slips(
    columns: Sequence[Column], rows: Sequence[Row], failed_below: Mapping[str, Decimal]
) -> list[Question]:
    """Return the questions about slips in the readings of items that worked.

    Parameters
    ----------
    failed_below : column -> the number below which an item counts as failed anyway.
    """
    entries = {
        column.name: [
            Entry(row, cell.value)
            for row in rows
            if (cell := row.cell(column.name)) is not None
            and cell.value is not None
            and cell.value.is_finite()
            and cell.value > 0
        ]
        for column in columns
    }
    habits = {name: usual(found) for name, found in entries.items()}
    questions: list[Question] = []
    for column in columns:
        mine = entries[column.name]
        found = _found(column, mine, habits[column.name])
        others = [
            (entries[c.name], habit)
            for c in columns
            if c.name != column.name and (habit := habits[c.name]) is not None
        ]
        low = failed_below.get(column.name)
        kept = [
            slip for slip in found if slip.impossible or not _just_weak(slip, mine, others, low)
        ]
        questions.extend(_asked(column, kept))
    return questions


def _found(column: Column, entries: Sequence[Entry], habit: Usual | None) -> list[Slip]:
    found: dict[int, Slip] = {}
    for slip in (
        *(() if column.spans else _within_items(entries)),
        *_whole_sheets(column, entries),
        *_unbelievable(column, entries),
        *_impossible(column, entries, habit),
        *(_across(entries, habit) if habit is not None and not column.spans else ()),
    ):
        found.setdefault(id(slip.entry), slip)
    return [
        Slip(s.entry, s.power, s.beside, outside(s.entry.value, column.possible))
        for s in found.values()
    ]


def _within_items(entries: Sequence[Entry]) -> Iterable[Slip]:
    for item, mine in _by_item(entries).items():
        if len(mine) < 3:
            continue
        ordered = sorted(entry.log for entry in mine)
        if ordered[-1] - ordered[0] < 1 - 2 * _CLOSE:
            continue
        for entry in mine:
            low, middle, high = _others(ordered, entry.log)
            power = _power(entry.log - middle, _CLOSE) if high - low <= 0.3 else 0
            if power:
                yield Slip(entry, power, kept(_OWN, item=item))


def _others(ordered: Sequence[float], one: float) -> tuple[float, float, float]:
    """Return the smallest, the middle and the largest of sorted numbers without one of them.

    Examples
    --------
    >>> _others([1.0, 2.0, 4.0, 9.0], 9.0)
    (1.0, 2.0, 4.0)
    """
    out, left = bisect.bisect_left(ordered, one), len(ordered) - 1
    low, *middle, high = (
        ordered[at + (at >= out)] for at in (0, (left - 1) // 2, left // 2, left - 1)
    )
    return low, sum(middle) / 2, high


def _whole_sheets(column: Column, entries: Sequence[Entry]) -> Iterable[Slip]:
    """Sheets a thousand times off from the others, or from what is believable."""
    believable = any(end is not None for end in column.believable)
    sheets: dict[tuple[str, str], list[Entry]] = {}
    for entry in entries:
        sheets.setdefault(entry.sheet, []).append(entry)
    sheets = {k: v for k, v in sheets.items() if len({e.row.item for e in v}) > 1}
    if len(sheets) < 3 and not believable:  # neither others nor a range tell which is off
        return
    middles = {key: median(e.log for e in mine) for key, mine in sheets.items()}
    for key, mine in sheets.items():
        others = [middle for other, middle in middles.items() if other != key]
        unusual = sum(outside(e.value, column.believable) for e in mine)
        power = 0
        if len(others) > 1 or (others and unusual > len(mine) / 2):
            power = _power(middles[key] - median(others), 0.5)
        if abs(power) < 3 and unusual > 0.8 * len(mine):
            power = _into(column, mine)
        if abs(power) >= 3:
            for entry in mine:
                if abs(entry.log - middles[key]) < 1:
                    yield Slip(entry, power, _USUAL)


def _into(column: Column, entries: Sequence[Entry]) -> int:
    """Return the slip that explains why nearly all numbers of a sheet are unbelievable."""
    for power in (3, -3, 6, -6):
        if not any(outside(e.value.scaleb(-power), column.believable) for e in entries):
            return power
    return 0


def _impossible(column: Column, entries: Sequence[Entry], habit: Usual | None) -> Iterable[Slip]:
    """Impossible numbers that a slip explains."""
    if column.possible == (None, None):
        return
    for entry in entries:
        if not outside(entry.value, column.possible):
            continue
        fits = [
            power
            for power in (3, -3, 6, -6, 2, -2, 1, -1)
            if not outside(entry.value.scaleb(-power), column.believable)
            and not outside(entry.value.scaleb(-power), column.possible)
        ]
        if habit is not None:
            fits = sorted(fits, key=lambda power: abs(entry.log - power - habit.middle))
        if fits:
            yield Slip(entry, fits[0], kept("what is possible"))


def _unbelievable(column: Column, entries: Sequence[Entry]) -> Iterable[Slip]:
    """Unbelievable numbers that a slip by thousands brings to the middle of the others.

    This finds them too where half of the items slipped, and there is no clear middle.
    """
    odd = [entry for entry in entries if outside(entry.value, column.believable)]
    if not odd or len(odd) == len(entries):
        return
    middle = median(entry.log for entry in entries if not outside(entry.value, column.believable))
    for entry in odd:
        power = _power(entry.log - middle, 0.7)
        if abs(power) >= 3:
            yield Slip(entry, power, _USUAL)


def _across(entries: Sequence[Entry], habit: Usual) -> Iterable[Slip]:
    far = max(4 * habit.spread, 0.75)
    for entry in entries:
        off = entry.log - habit.middle
        if abs(off) <= far:
            continue
        power = _power(off, max(2.5 * habit.spread, 0.3))
        if power:
            yield Slip(entry, power, _USUAL)
        elif off > max(5 * habit.spread, 1.0):
            yield Slip(entry, 0, _USUAL)


def _power(off: float, room: float) -> int:
    """Return the power of ten that a distance on the logarithmic scale amounts to, or 0."""
    nearest = min(POWERS, key=lambda power: abs(off - power))
    return nearest if abs(off - nearest) <= room else 0


def _just_weak(
    slip: Slip,
    mine: Sequence[Entry],
    others: Sequence[tuple[Sequence[Entry], Usual]],
    failed_below: Decimal | None,
) -> bool:
    """Return whether a small number belongs to an item that is weak throughout, or failed."""
    if slip.power >= 0 or slip.beside.message == _OWN:
        return False
    if failed_below is not None and slip.entry.value < failed_below:
        return True
    item = slip.entry.row.item
    own = [e.value for e in mine if e.row.item == item]
    for entries, habit in others:
        logs = [e.log for e in entries if e.row.item == item]
        if len(logs) < len(own) or (logs and median(logs) < habit.middle - 0.5):
            return True
    return False


def _asked(column: Column, found: Sequence[Slip]) -> Iterable[Question]:
    """One question a sheet where several items slipped alike, else one an item."""
    groups: dict[int, list[Slip]] = {}
    for slip in found:
        groups.setdefault(slip.power, []).append(slip)
    for group in groups.values():
        by_place = {slip.entry.row.place: slip for slip in group}
        for rows in bundles([slip.entry.row for slip in group]):
            yield _question(column, [by_place[row.place] for row in rows])


def _question(column: Column, group: Sequence[Slip]) -> Question:
    first = group[0]
    rows = [slip.entry.row for slip in group]
    texts = [_text(slip.entry.row, column) for slip in group]
    found = several_text(rows, texts)
    unit = f" {nice(column.unit)}" if column.unit else ""
    must = any(slip.impossible for slip in group)
    if not first.power:
        return about_cell(rows, column, "implausible", found=found, must=must,
                          why=kept("This is far above {beside}.", beside=first.beside))  # fmt: skip
    meant = unit_of_slip(_unit_written(rows, column), first.power)
    if len(group) == 1:
        proposal = shown(_scaled(first))
        why = _why(first, f"{proposal}{unit}", nice(meant))
    else:
        proposal = nice(meant) or f"x{shown(Decimal(1).scaleb(-first.power))}"
        why = _why(first, "", nice(meant))
    return about_cell(rows, column, "slip", found=found, why=why, proposal=proposal, must=must)


def _why(slip: Slip, number: str, unit: str) -> Kept:
    """Return by how much a number is off, and what was likely meant: a number, in which unit."""
    off = kept(
        "About {n} times larger than {beside}"
        if slip.power > 0
        else "About {n} times smaller than {beside}",
        n=10 ** abs(slip.power),
        beside=slip.beside,
    )
    if number:
        return kept(
            "{off}; perhaps {number}, typed in {unit}." if unit else "{off}; perhaps {number}.",
            off=off,
            number=number,
            unit=unit,
        )
    return kept("{off}; perhaps typed in {unit}." if unit else "{off}.", off=off, unit=unit)


def _scaled(slip: Slip) -> Decimal:
    scaled = slip.entry.value.scaleb(-slip.power)
    return scaled if scaled.as_tuple().exponent != 0 else scaled.normalize()


def _text(row: Row, column: Column) -> str:
    cell = row.cell(column.name)
    return cell.text if cell is not None else ""


def _unit_written(rows: Sequence[Row], column: Column) -> str:
    """Return the one unit that numbers were taken for; empty where there are several."""
    units = {cell.unit for row in rows if (cell := row.cell(column.name)) is not None}
    return units.pop() if len(units) == 1 else ""


def unit_of_slip(unit: str, power: int) -> str:
    """Return the unit in which a number ``10**power`` times too large was typed, if there is one.

    Examples
    --------
    >>> unit_of_slip("mA", 3), unit_of_slip("V", 3), unit_of_slip("cm", 1), unit_of_slip("m", 1)
    ('uA', 'mV', 'mm', '')
    >>> unit_of_slip("W/m^2", -1)
    'mW/cm^2'
    """
    if not unit or not known(unit):
        return ""
    wanted = Decimal(1).scaleb(-power)
    return next(
        (u for u in _beside(unit) if known(u) and scale_between(u, unit) == wanted and u != unit),
        "",
    )


def _beside(unit: str) -> Iterable[str]:
    """Yield the same unit with other prefixes, also of an area that it is for."""
    top, slash, below = unit.partition("/")
    areas = [below, *(_AREAS if any(same(below, area) for area in _AREAS) else ())]
    for area in areas:
        for base in (top, top[1:]):
            if 0 < len(base.rstrip("^2²")) <= _LONGEST_SIGN:
                for prefix in ("", *_PREFIXES.get(base.rstrip("^2²"), _OTHER_PREFIXES)):
                    yield f"{prefix}{base}{slash}{area}"
