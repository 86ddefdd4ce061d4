"""The same thing twice: readings entered again, copied from another item, or filled down."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from trials.design.values import Plan
from trials.ingest.asking import KEEP_OR_ASIDE, about_cell, about_item, kept_place
from trials.quantities import nice, shown
from trials.record.values import Place, Question, Row
from trials.reduction import Column
from trials.words.keeping import kept

_FEWEST_COPIED = 4  # numbers that must agree before two items look copied
_FEWEST_FIGURES = 10  # significant figures in them
_FEWEST_RUN = 2  # readings one after the other that must agree
_RUN_FIGURES = 12  # significant figures in a run: a few rounded numbers agree by chance
_FILLED_ROWS = 6  # rows one after the other with one number
_FILLED_ITEMS = 3
_FILLED_FIGURES = 3  # significant figures in it
_COMMON = 0.2  # share of all other rows that may have the same number
_FEWEST_OTHER = 5  # different numbers elsewhere in the column


def doubled(rows: Sequence[Row], plan: Plan) -> list[Question]:
    """Return the questions about readings that stand there twice.

    Two rows with the same item and reading number are one reading entered twice if all their
    numbers agree, else two readings that were given one number, or one of them has a wrong code.
    """
    first: dict[tuple[str, int | None], Row] = {}
    again: dict[tuple[str, str, str, str], list[tuple[Row, Row]]] = {}
    for row in rows:
        before = first.setdefault((row.item, row.reading), row)
        if before is row:
            continue
        shared = [(c.value, o.value) for c in row.cells if (o := before.cell(c.column)) is not None]
        if not shared:
            continue
        same = all(one == other for one, other in shared)
        code = "entered_twice" if same else "read_twice"
        key = (code, row.item, row.place.file, row.place.sheet)
        again.setdefault(key, []).append((row, before))
    unread = sorted({row.item for row in plan.rows} - {row.item for row in rows})
    return [_doubled(code, pairs, unread) for (code, *_), pairs in again.items()]


def _doubled(code: str, pairs: Sequence[tuple[Row, Row]], unread: Sequence[str]) -> Question:
    rows = [row for row, _ in pairs]
    numbers = ", ".join(str(row.reading) for row in rows)
    found = kept(
        "reading {numbers} a second time" if len(rows) == 1 else "readings {numbers} again",
        numbers=numbers,
    )
    at = kept_place(pairs[0][1].place)
    if code == "entered_twice":
        return about_item(
            rows,
            code,
            found=found,
            must=True,
            why=kept(
                "The same numbers stand in {place}; they count once until you say otherwise.",
                place=at,
            ),
            do="set-aside, if it is one reading; keep, if it was read again with the same result; "
            "correct and the right code, if it belongs to another item.",
        )
    near = unread[0] if len(unread) == 1 else ""
    why = kept(
        "Other numbers for the same reading stand in {place}. Both are used so far.", place=at
    )
    if near:
        why += kept("{item} has no readings yet.", item=near)
    return about_item(
        rows,
        code,
        found=found,
        proposal=near,
        why=why,
    )


def copied(rows: Sequence[Row]) -> list[Question]:
    """Return the questions about items all of whose numbers are those of another item."""
    by_item: dict[str, list[Row]] = {}
    for row in rows:
        by_item.setdefault(row.item, []).append(row)
    seen: dict[tuple[object, ...], str] = {}
    questions = []
    for item, mine in _of_one_sum(by_item).items():
        numbers = _numbers(mine)
        figures = sum(_figures(value) for _, _, value in numbers)
        if len(numbers) < _FEWEST_COPIED or figures < _FEWEST_FIGURES:
            continue
        other = seen.setdefault(tuple(sorted(numbers, key=str)), item)
        if other != item:
            questions.append(
                about_item(
                    mine,
                    "copied",
                    found=kept("the same {n} numbers as {item}", n=len(numbers), item=other),
                    why=kept(
                        "Two items hardly ever agree in every figure: were these rows copied?"
                    ),
                )
            )
    return questions


def _numbers(rows: Sequence[Row]) -> list[tuple[int | None, str, Decimal]]:
    return [
        (row.reading, cell.column, cell.value)
        for row in rows
        for cell in row.cells
        if cell.value is not None
    ]


def _of_one_sum(by_item: Mapping[str, list[Row]]) -> dict[str, list[Row]]:
    """Return the items that share their sum with another: others can't have the same numbers."""
    sums = {item: sum(map(hash, _numbers(mine))) for item, mine in by_item.items()}
    times = Counter(sums.values())
    return {item: mine for item, mine in by_item.items() if times[sums[item]] > 1}


def copied_runs(columns: Sequence[Column], rows: Sequence[Row]) -> list[Question]:
    """Return the questions about readings whose numbers are those of readings of another item.

    Conditions around the items are left out, for they may well stay the same. What
    :func:`copied` asks of a whole item is not asked again here.
    """
    names = [c.name for c in columns if not c.surroundings and c.per == "reading"]
    by_item: dict[str, list[tuple[Row, tuple[Decimal, ...]]]] = {}
    for row in rows:
        numbers = tuple(
            cell.value
            for name in names
            if (cell := row.cell(name)) is not None and cell.value is not None
        )
        if numbers:
            by_item.setdefault(row.item, []).append((row, numbers))
    seen: dict[tuple[tuple[Decimal, ...], ...], Row] = {}
    questions = []
    again = _again(by_item.values())
    for mine, places in zip(by_item.values(), again, strict=True):
        run = _longest_run(mine, places, seen)
        if run is not None:
            questions.append(_copied_run(*run))
        for k in places:
            key = tuple(numbers for _, numbers in mine[k : k + _FEWEST_RUN])
            seen.setdefault(key, mine[k][0])
    return questions


def _again(items: Iterable[Sequence[tuple[Row, tuple[Decimal, ...]]]]) -> list[list[int]]:
    """Return for each item where runs begin whose numbers may stand somewhere else too."""
    sums = []
    for mine in items:
        own = [hash(numbers) for _, numbers in mine]
        ends = [own[k:] for k in range(_FEWEST_RUN)]
        sums.append([hash(run) for run in zip(*ends, strict=False)])
    met: set[int] = set()
    twice: set[int] = set()
    for own in sums:
        here = set(own)
        twice |= met & here
        met |= here
    return [[k for k, one in enumerate(own) if one in twice] for own in sums]


def _longest_run(
    mine: Sequence[tuple[Row, tuple[Decimal, ...]]],
    places: Iterable[int],
    seen: Mapping[tuple[tuple[Decimal, ...], ...], Row],
) -> tuple[list[Row], Row] | None:
    """Return the rows of an item that stood before in the same order, and where they began.

    ``places`` : where such runs may begin.
    """
    found: dict[Place, Row] = {}
    first: Row | None = None
    for k in places:
        pair = mine[k : k + _FEWEST_RUN]
        before = seen.get(tuple(numbers for _, numbers in pair))
        numbers = [number for _, row_numbers in pair for number in row_numbers]
        if (
            before is None
            or len(numbers) < _FEWEST_COPIED
            or sum(map(_figures, numbers)) < _RUN_FIGURES
        ):
            continue
        first = first or before
        found.update((row.place, row) for row, _ in pair)
    return None if first is None else (list(found.values()), first)


def _copied_run(rows: Sequence[Row], before: Row) -> Question:
    readings = ", ".join(str(row.reading) for row in rows)
    return about_item(
        rows,
        "copied_run",
        found=kept(
            "readings {readings} have the same numbers as {item} from {place} on",
            readings=readings,
            item=before.item,
            place=kept_place(before.place),
        ),
        why=kept(
            "Readings of two items hardly ever agree in every figure: were these rows copied?"
        ),
        do=f"correct and the right code, if they are readings of another item; {KEEP_OR_ASIDE}",
    )


def filled_down(columns: Sequence[Column], rows: Sequence[Row]) -> Iterable[Question]:
    """Yield the questions about one number that stands in row after row where others vary."""
    for column in columns:
        if column.spans or column.per == "item" or column.surroundings:
            continue
        numbers = [
            (row, cell.value)
            for row in rows
            if (cell := row.cell(column.name)) is not None and cell.value is not None
        ]
        times: Counter[Decimal] = Counter()
        for _, run in itertools.groupby(numbers, lambda one: one[1]):
            long = list(run)
            if len(long) < _FILLED_ROWS:
                continue
            times = times or Counter(value for _, value in numbers)
            for _, sheet in itertools.groupby(long, _sheet):
                pairs = list(sheet)
                same, value = [row for row, _ in pairs], pairs[0][1]
                others = len(numbers) - len(same)
                if (
                    len(same) >= _FILLED_ROWS
                    and len({row.item for row in same}) >= _FILLED_ITEMS
                    and _figures(value) >= _FILLED_FIGURES
                    and times[value] - len(same) <= _COMMON * others
                    and (len(times) > _FEWEST_OTHER or _others_vary(column, columns, same))
                ):
                    yield _filled(column, same, value)


def _sheet(one: tuple[Row, Decimal]) -> tuple[str, str]:
    return (one[0].place.file, one[0].place.sheet)


def _others_vary(column: Column, columns: Sequence[Column], rows: Sequence[Row]) -> bool:
    """Return whether another quantity takes several values in rows where this one stands still."""
    return any(
        len({cell.value for row in rows if (cell := row.cell(other.name)) is not None})
        > _FEWEST_OTHER
        for other in columns
        if other.name != column.name and not other.surroundings and other.per == "reading"
    )


def _filled(column: Column, rows: Sequence[Row], value: Decimal) -> Question:
    unit = f" {nice(column.unit)}" if column.unit else ""
    items = list(dict.fromkeys(row.item for row in rows))
    return about_cell(
        rows,
        column,
        "filled_down",
        found=kept(
            "{value} in {n} rows, {first} to {last}",
            value=f"{shown(value)}{unit}",
            n=len(rows),
            first=items[0],
            last=items[-1],
        ),
        why=kept(
            "One number in every row of {n} items is hardly ever read: was it filled down?",
            n=len(items),
        ),
    )


def _figures(value: Decimal) -> int:
    """Return how many significant figures a number has.

    Examples
    --------
    >>> _figures(Decimal("0.430")), _figures(Decimal("800"))
    (2, 1)
    """
    return len(value.normalize().as_tuple().digits)
