"""Every change that the record holds, in the order in which it was told, with before and after.

Nothing of this is kept twice: it is worked out from what was only ever added, by going through the
record step by step and comparing what stood before with what stood after.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from trials.design.values import Missing, in_short, missing_in
from trials.quantities import nice, shown
from trials.record.answers import applied, bare_with_unit
from trials.record.forms import question_of
from trials.record.rows import rows_of
from trials.record.values import Cell, Exchange, Place, Question, Row

What = Literal[
    "file", "newer file", "added", "changed", "gone", "read anew", "question", "question gone",
    "kept", "corrected", "set aside", "lost", "exchanged", "not exchanged", "made", "absent",
    "not absent", "not lost", "away", "not away", "placed", "drawn anew",
    "equipment",
]  # fmt: skip


@dataclass(frozen=True)
class Change:
    """One change: what stood there before, what stands there since.

    ``before`` and ``after`` None: nothing. ``what``: "file" and "newer file" were taken in; of a
    newer file a number or a row was "added", "changed" or "gone", or is another quantity than
    before ("read anew"); a "question" was raised or is "question gone"; an answer "kept",
    "corrected" or "set aside"; the others as they are called.
    """

    number: int
    what: What
    when: str
    file: str = ""
    sheet: str = ""
    row: int | None = None
    item: str = ""
    column: str = ""  # of the readings; else what of the item changed: "item", "worked", a group
    before: str | None = None
    after: str | None = None
    why: str = ""
    by: str = ""
    question: str = ""
    items: tuple[str, ...] = ()  # all that a question is about


@dataclass
class _Known:
    """What the record said so far."""

    run: Callable[..., sqlite3.Cursor]
    connection: sqlite3.Connection
    planned: Mapping[tuple[str, str], str]  # (item, factor or group) -> level or member
    files: dict[str, int] = field(default_factory=dict)
    rows: dict[int, tuple[Row, ...]] = field(default_factory=dict)
    asked: dict[int, tuple[list[int], Question]] = field(default_factory=dict)
    answers: dict[int, tuple[str, ...]] = field(default_factory=dict)
    exchanges: dict[frozenset[str], Exchange] = field(default_factory=dict)
    made: dict[tuple[str, str], str] = field(default_factory=dict)
    items: dict[Place, str] = field(default_factory=dict)  # of each row, as it was written last
    missing: list[Missing] = field(default_factory=list)

    def standing(self) -> list[Question]:
        """Return the questions about current files that were answered, with the last answer."""
        current = set(self.files.values())
        out = []
        for number, (files, question) in self.asked.items():
            if number in self.answers and set(files) <= current:
                verb, value, why, by, at = self.answers[number]
                out.append(replace(question, answer=verb, answer_value=value, answer_why=why,
                                   answer_by=by, answer_when=at))  # fmt: skip
        return out

    def current(self) -> list[Row]:
        """Return the rows of all current files as they were read."""
        return [row for file in self.files.values() for row in self.rows[file]]


def history_of(
    connection: sqlite3.Connection, planned: Mapping[tuple[str, str], str]
) -> Iterator[Change]:
    """Yield every change, the first first; call it within one transaction.

    Parameters
    ----------
    planned : what the plan says of (item, factor or group): "before" of what was made otherwise.
    """
    known = _Known(connection.execute, connection, planned)
    number = 0
    steps = connection.execute("SELECT what, number FROM steps ORDER BY id").fetchall()
    for what, row in steps:
        for change in _TOLD[what](known, row):
            number += 1
            yield replace(change, number=number)


# ---- files -----------------------------------------------------------------------------------


def _file(known: _Known, number: int) -> Iterator[Change]:
    name, revision, at = known.run(
        "SELECT name, revision, taken_at FROM files WHERE id = ?", (number,)
    ).fetchone()
    rows = tuple(row for _, row in rows_of(known.connection, number))
    old = known.files.get(name)
    before = None if old is None else f"revision {revision - 1}"
    yield Change(
        0, "file" if old is None else "newer file", at, name, before=before,
        after=f"revision {revision}, {len(rows)} readings",
    )  # fmt: skip
    if old is not None:
        yield from _between(known.rows.pop(old), rows, at)
    known.files[name] = number
    known.rows[number] = rows
    known.items.update((row.place, row.item) for row in rows)


def _between(old: Sequence[Row], new: Sequence[Row], at: str) -> Iterator[Change]:
    """Yield what is otherwise in a newer file, number by number."""
    before, after = _keyed(old), _keyed(new)
    anew = _read_anew([(before[key], row) for key, row in after.items() if key in before])
    for key, row in after.items():
        was = before.get(key)
        yield from _numbers(was, row, at, "added" if was is None else "changed", anew)
    for key, row in before.items():
        if key not in after:
            yield from _numbers(row, None, at, "gone")


def _read_anew(pairs: Iterable[tuple[Row, Row]]) -> dict[str, str]:
    """Return which columns are gone while another one says the same in every row: old -> new."""
    alike: dict[str, list[str]] = {}
    for old, new in pairs:
        was = {cell.column: cell.text for cell in old.cells}
        now = {cell.column: cell.text for cell in new.cells}
        for column, text in was.items():
            if column not in now:
                mine = [name for name, one in now.items() if name not in was and one == text]
                alike[column] = [name for name in alike.get(column, mine) if name in mine]
    found: dict[str, str] = {}
    for column, names in alike.items():
        free = [name for name in names if name not in found.values()]
        if free:
            found[column] = free[0]
    return found


def _anew(old: Row | None, new: Row | None, names: Mapping[str, str]) -> list[tuple[Cell, Cell]]:
    """Return the numbers of a row that are read as another quantity, and stand there as before."""
    if old is None or new is None:
        return []
    return [
        (was, now)
        for column, name in names.items()
        if (was := old.cell(column)) is not None
        and (now := new.cell(name)) is not None
        and new.cell(column) is None
        and old.cell(name) is None
    ]


def _keyed(rows: Iterable[Row]) -> dict[tuple[object, ...], Row]:
    """Return rows by item and reading, and by how often these two came before."""
    seen: dict[tuple[object, ...], int] = {}
    found: dict[tuple[object, ...], Row] = {}
    for row in rows:
        key = (row.place.sheet, row.item, row.reading)
        seen[key] = seen.get(key, 0) + 1
        found[*key, seen[key]] = row
    return found


def _numbers(
    old: Row | None, new: Row | None, at: str, what: What, names: Mapping[str, str] | None = None
) -> Iterator[Change]:
    """Yield what two states of a row say differently.

    Parameters
    ----------
    names : columns that are read anew, old -> new.
    """
    row = new or old
    if row is None:
        return
    of = Change(0, what, at, row.place.file, row.place.sheet, row.place.row, row.item)
    anew = _anew(old, new, names or {})
    for was, now in anew:
        yield replace(of, what="read anew", column=now.column, after=as_typed_text(now),
                      before=f"{as_typed_text(was)} under '{was.column}'")  # fmt: skip
    told = {cell.column for pair in anew for cell in pair}
    for column, before, after in _parts(old, new):
        if before != after and column not in told:
            said: What = "added" if before is None else "gone" if after is None else what
            yield replace(of, what=said, column=column, before=before, after=after)


def _parts(old: Row | None, new: Row | None) -> Iterator[tuple[str, str | None, str | None]]:
    """Yield what two states of a row say, as read: columns, whether it worked, note, time."""
    before = {c.column: as_typed_text(c) for c in old.cells} if old else {}
    after = {c.column: as_typed_text(c) for c in new.cells} if new else {}
    for column in dict.fromkeys((*before, *after)):
        yield column, before.get(column), after.get(column)
    yield "worked", _worked(old), _worked(new)
    yield "note", (old.note or None) if old else None, (new.note or None) if new else None
    yield "time", (old.time or None) if old else None, (new.time or None) if new else None
    for name in dict.fromkeys(n for row in (old, new) if row for n, _ in row.groups):
        was, now = (dict(row.groups).get(name) if row else None for row in (old, new))
        yield name, was, now


def as_typed_text(cell: Cell) -> str:
    """Return a number as it was typed, with the unit that its column has.

    Examples
    --------
    >>> as_typed_text(Cell("light", "0,80", "W/m^2", None, None))
    '0,80 W/m²'
    """
    return bare_with_unit(cell.text, cell.unit)


def _with_unit(text: str, unit: str) -> str:
    return f"{text} {nice(unit)}".strip()


def _worked(row: Row | None) -> str | None:
    return None if row is None or row.worked is None else "yes" if row.worked else "no"


# ---- questions and answers -------------------------------------------------------------------


def _raised(known: _Known, number: int) -> Iterator[Change]:
    asked, files, body, at = known.run(
        "SELECT question, files, body, at FROM raised WHERE id = ?", (number,)
    ).fetchone()
    old = known.asked.pop(asked, None)
    if body == "null":
        if old is not None:
            yield _about(known, old[1], "question gone", at, before=old[1].found)
        return
    question = question_of(json.loads(body))
    known.asked[asked] = (json.loads(files), question)
    if old is None or old[1].found != question.found:
        before = None if old is None else old[1].found
        yield replace(
            _about(known, question, "question", at, before=before),
            after=question.found,
            why=question.why,
        )


def _about(
    known: _Known, question: Question, what: What, at: str, *, before: str | None = None
) -> Change:
    named = [question.item, question.partner]
    there = [known.items.get(place) for place in question.places]
    items = tuple(dict.fromkeys(item for item in (*named, *there) if item))
    return Change(
        0, what, at, question.file, question.sheet, question.row, question.item or "",
        question.column or "", before, question=question.id, items=items,
    )  # fmt: skip


def _answer(known: _Known, number: int) -> Iterator[Change]:
    asked, verb, *said, at = known.run(
        "SELECT question, verb, value, why, by, at FROM answers WHERE id = ?", (number,)
    ).fetchone()
    value, why, by = said
    question = known.asked[asked][1]
    places = frozenset(question.places)
    rows = [row for row in known.current() if row.place in places] if places else []
    old = _counting(known, rows)
    known.answers[asked] = (verb, value, why, by, at)
    what: What = "kept" if verb == "keep" else "corrected" if verb == "correct" else "set aside"
    common = {"what": what, "when": at, "why": why, "by": by, "question": question.id}
    found = list(_differences(rows, old, _counting(known, rows), common))
    if not found:  # it was right as it stood
        found = [
            replace(_about(known, question, what, at, before=question.found), after=question.found,
                    why=why, by=by)
        ]  # fmt: skip
    yield from found


def _counting(known: _Known, rows: Sequence[Row]) -> dict[Place, Row]:
    """Return how some rows count, by what was answered and told so far."""
    places = {row.place for row in rows}
    questions = [q for q in known.standing() if not places.isdisjoint(q.places)]
    result = applied(rows, questions, tuple(known.exchanges.values()))
    return {row.place: row for row in result.rows}


def _differences(
    read: Sequence[Row],
    old: Mapping[Place, Row],
    new: Mapping[Place, Row],
    common: Mapping[str, Any],
) -> Iterator[Change]:
    for row in read:
        before, after = old.get(row.place), new.get(row.place)
        if before == after:
            continue
        of = Change(
            0, file=row.place.file, sheet=row.place.sheet, row=row.place.row, item=row.item,
            **common,
        )  # fmt: skip
        if before is None or after is None:
            yield replace(of, column="item", before=before.item if before else None,
                          after=after.item if after else None)  # fmt: skip
            continue
        if before.item != after.item:
            yield replace(of, column="item", before=before.item, after=after.item)
        if before.worked != after.worked:
            yield replace(of, column="worked", before=_worked(before), after=_worked(after))
        if before.time != after.time:
            yield replace(of, column="time", before=before.time, after=after.time)
        for column in dict.fromkeys(c.column for c in (*before.cells, *after.cells)):
            one, other = before.cell(column), after.cell(column)
            if one != other:
                yield replace(of, column=column, before=_as_counted(one, row),
                              after=_as_counted(other, row))  # fmt: skip


def _as_counted(cell: Cell | None, read: Row) -> str | None:
    """Return a number as it counts: as typed, or what an answer made of it."""
    if cell is None:
        return None
    if cell == read.cell(cell.column) or cell.number is None:
        return as_typed_text(cell)
    return _with_unit(shown(cell.number), cell.unit)


# ---- what was told ---------------------------------------------------------------------------


def _lost(known: _Known, number: int) -> Iterator[Change]:
    item, why, by, at, stands = known.run(
        "SELECT item, why, by, at, stands FROM losses WHERE id = ?", (number,)
    ).fetchone()
    if stands:
        yield Change(0, "lost", at, item=item, after="lost", why=why, by=by)
    else:
        yield Change(0, "not lost", at, item=item, before="lost", why=why, by=by)


def _away(known: _Known, number: int) -> Iterator[Change]:
    team_of, team, lesson, until, items, stands, at = known.run(
        "SELECT team_of, team, lesson, until, items, stands, at FROM away WHERE id = ?", (number,)
    ).fetchone()
    back = "" if until is None else f", there again from lesson {until} on"
    column = f"{team_of} {team} from lesson {lesson} on{back}"
    for item, other in json.loads(items).items() or [("", "away")]:
        yield Change(
            0, "away" if stands else "not away", at, item=item, column=column,
            before=team if stands else other, after=other if stands else team,
        )  # fmt: skip


def _equipment(known: _Known, number: int) -> Iterator[Change]:
    name, lesson, pieces, at = known.run(
        "SELECT name, lesson, missing, at FROM equipment WHERE id = ?", (number,)
    ).fetchone()
    before = missing_in(in_short(known.missing), lesson).get(name, 0)
    known.missing.append(Missing(equipment=name, pieces=pieces, since=lesson))
    yield Change(
        0, "equipment", at, column=f"{name} from lesson {lesson} on",
        before=f"{before} out of order", after=f"{pieces} out of order",
    )  # fmt: skip


def _exchange(known: _Known, number: int) -> Iterator[Change]:
    item, partner, stands, why, by, at = known.run(
        "SELECT item, partner, stands, why, by, at FROM exchanges WHERE id = ?", (number,)
    ).fetchone()
    exchange = Exchange(item, partner, why, by, at)
    rows = known.current()
    old = _counting(known, rows)
    known.exchanges.pop(exchange.pair, None)
    if stands:
        known.exchanges[exchange.pair] = exchange
    what: What = "exchanged" if stands else "not exchanged"
    common = {"what": what, "when": at, "why": why, "by": by}
    yield Change(0, what, at, item=item, column="item", why=why, by=by,
                 before=item if stands else partner, after=partner if stands else item)  # fmt: skip
    yield from _differences(rows, old, _counting(known, rows), common)


def _made(known: _Known, number: int) -> Iterator[Change]:
    item, name, made, why, by, at = known.run(
        "SELECT item, name, made, why, by, at FROM otherwise WHERE id = ?", (number,)
    ).fetchone()
    planned = known.planned.get((item, name), "as planned")
    before = known.made.get((item, name), planned)
    after = planned if made is None else made or "other"
    known.made[item, name] = after
    yield Change(0, "made", at, item=item, column=name, before=before, after=after, why=why, by=by)


def _absent(known: _Known, number: int) -> Iterator[Change]:
    team_of, team, session_of, session, items, stands, why, by, at = known.run(
        "SELECT team_of, team, session_of, session, items, stands, why, by, at FROM absences "
        "WHERE id = ?",
        (number,),
    ).fetchone()
    absent = " ".join(part for part in (team_of, team, session_of, session) if part)
    for item in json.loads(items) or [""]:
        yield Change(
            0, "absent" if stands else "not absent", at, item=item, column=absent,
            before="to make" if stands else "absent", after="absent" if stands else "to make",
            why=why, by=by,
        )  # fmt: skip


def _placed(known: _Known, number: int) -> Iterator[Change]:
    lesson, before, after, left_out, at = known.run(
        "SELECT lesson, before, after, left_out, at FROM placed WHERE id = ?", (number,)
    ).fetchone()
    if not lesson:
        yield Change(0, "drawn anew", at)
        return
    items = json.loads(left_out)
    without = f", without {', '.join(items)}" if items else ""
    yield Change(
        0, "placed", at, column=f"from lesson {lesson} on{without}", before=_lessons(before),
        after=_lessons(after), items=tuple(items),
    )  # fmt: skip


def _lessons(count: int) -> str:
    return f"{count} lesson{'' if count == 1 else 's'} in all"


_TOLD: Mapping[str, Callable[[_Known, int], Iterator[Change]]] = {
    "files": _file, "raised": _raised, "answers": _answer, "losses": _lost,
    "exchanges": _exchange, "otherwise": _made, "absences": _absent,
    "away": _away, "placed": _placed, "equipment": _equipment,
}  # fmt: skip
