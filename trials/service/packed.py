"""The tables of a package: what a study planned, read, asked, decided and found, for other labs."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

from trials.design.values import Plan
from trials.ingest.workbook_layout import raw_columns
from trials.quantities import nice, numeral, spelled
from trials.record import Cell, Change, Measured, Row, State, Status, plan_as_made
from trials.record.history import What
from trials.record.reduce import counting_rows, in_column_unit
from trials.reduction import Column, reducer_of
from trials.study import Study
from trials.words.package import CHANGES, FIELDS, TABLES
from trials.words.question_codes import QUESTION_CODES, about_of

Kind = Literal["string", "integer", "number", "boolean", "datetime"]
Values = Iterable[Sequence[object]]


@dataclass(frozen=True)
class Field:
    """One column of a table, as a Table Schema describes it."""

    name: str
    type: Kind = "string"
    about: str = ""
    unit: str = ""
    rules: dict[str, Any] = field(default_factory=dict)  # "constraints" of the schema

    def to_dict(self) -> dict[str, Any]:
        """Return the field as datapackage.json has it."""
        words = spelled(self.unit)
        about = self.about + (f" In {words}." if words else "")
        told: dict[str, Any] = {"name": self.name, "type": self.type}
        told |= {"description": about.strip()} if about else {}
        told |= {"unit": nice(self.unit)} if nice(self.unit) else {}
        return told | ({"constraints": self.rules} if self.rules else {})


@dataclass(frozen=True)
class Packed:
    """A table: its columns, its rows, its key, and which columns point to which table's."""

    name: str
    fields: tuple[Field, ...]
    rows: Values
    key: tuple[str, ...] = ()
    points: tuple[tuple[str, str, str], ...] = ()  # column, table, its column

    def schema(self) -> dict[str, Any]:
        """Return the Table Schema (https://specs.frictionlessdata.io/table-schema/)."""
        told: dict[str, Any] = {
            "fields": [one.to_dict() for one in self.fields],
            "missingValues": [""],
        }
        if self.key:
            told["primaryKey"] = list(self.key)
        if self.points:
            told["foreignKeys"] = [
                {"fields": [column], "reference": {"resource": table, "fields": [other]}}
                for column, table, other in self.points
            ]
        return told


@dataclass(frozen=True)
class ReadRow:
    """One reading of a current file: its number in the record, that of its file, what was read."""

    number: int
    file: int
    row: Row


@dataclass(frozen=True)
class Source:
    """Everything that the tables are made of, at one moment."""

    study: Study
    plan: Plan
    state: State
    measured: Measured
    read: Sequence[ReadRow]
    files: Sequence[Sequence[object]]  # as the table of files has them
    losses: Sequence[Sequence[object]]  # every row that was ever told
    exchanges: Sequence[Sequence[object]]
    otherwise: Sequence[Sequence[object]]
    absences: Sequence[Sequence[object]]
    away: Sequence[Sequence[object]]
    placed: Sequence[Sequence[object]]
    equipment: Sequence[Sequence[object]]
    history: Sequence[Change]


REQUIRED: dict[str, Any] = {"required": True}
UNIQUE: dict[str, Any] = {"required": True, "unique": True}


def tables_of(source: Source) -> tuple[Packed, ...]:
    """Return all tables of a package, in the order in which a stranger should look at them."""
    return (
        _items(source), _values(source), _readings(source), _cells(source), _questions(source),
        *_told(source), _history(source), _responses(source), _quantities(source), _files(source),
        _codes(source),
    )  # fmt: skip


def about_table(name: str) -> str:
    """Return in one sentence what a table holds."""
    return TABLES[name]


def _fields(table: str, *columns: tuple[str, Kind] | tuple[str, Kind, dict[str, Any]]) -> Any:
    """Return fields with what ``words`` says of each."""
    return tuple(
        Field(name, kind, FIELDS.get(f"{table}.{name}") or FIELDS.get(name, ""),
              rules=rules[0] if rules else {})
        for name, kind, *rules in columns
    )  # fmt: skip


# ---- what was planned and found --------------------------------------------------------------


def _items(source: Source) -> Packed:
    plan = source.plan
    made = plan_as_made(plan, source.measured.otherwise)
    really = {row.item: row for row in made.plan.rows}
    first = _fields("items", ("item", "string", UNIQUE), ("run", "integer", UNIQUE),
                    ("measure", "integer", UNIQUE))  # fmt: skip
    fields = list(first)
    for group in plan.groups:
        rules = REQUIRED | {"enum": list(group.members)}
        fields += [Field(group.name, "string", FIELDS["group"], rules=rules),
                   Field(f"{group.name} as made", "string", FIELDS["as made"])]  # fmt: skip
    for factor in plan.factors:
        number = factor.kind == "quantity" and all(_is_number(one) for one in factor.levels)
        rules = REQUIRED if number else REQUIRED | {"enum": list(factor.levels)}
        kind: Kind = "number" if number else "string"
        fields.append(Field(factor.name, kind, FIELDS["factor"], factor.unit, rules))
        fields.append(Field(f"{factor.name} as made", kind, FIELDS["as made"], factor.unit))
    other = {
        (one.item, one.name) for one in source.measured.otherwise if not one.made
    }  # a version that the plan doesn't have
    rows = []
    for row in plan.rows:
        cells: list[object] = [row.item, row.run, row.measure]
        mine = really[row.item]
        for group in plan.groups:
            cells += [row.groups[group.name], mine.groups[group.name]]
        for factor in plan.factors:
            unknown = (row.item, factor.name) in other
            cells += [row.factors[factor.name], None if unknown else mine.factors[factor.name]]
        rows.append(cells)
    return Packed("items", tuple(fields), rows, ("item",))


def _is_number(level: str) -> bool:
    number = numeral(level)
    return number is not None and number.point is not None and not number.unit and number.plain


def _values(source: Source) -> Packed:
    status = list(get_args(Status))
    fields = _fields(
        "values", ("item", "string", REQUIRED), ("response", "string", REQUIRED),
        ("unit", "string"), ("status", "string", REQUIRED | {"enum": status}),
        ("value", "number"), ("at_least", "number"),
        ("uncertainty", "number", {"minimum": 0}),
        ("readings", "integer", REQUIRED | {"minimum": 0}), ("reading_sd", "number"),
        ("reason", "string"), ("notes", "string"),
    )  # fmt: skip
    units = {response.name: nice(response.unit) for response in source.study.responses}
    rows = (
        (one.item, one.response, units[one.response], one.status, one.value, one.at_least,
         one.uncertainty, one.readings, one.reading_sd, one.reason, "; ".join(one.notes))
        for one in source.measured.values
    )  # fmt: skip
    return Packed("values", fields, rows, ("item", "response"),
                  (("item", "items", "item"), ("response", "responses", "response")))  # fmt: skip


def _responses(source: Source) -> Packed:
    fields = _fields(
        "responses", ("response", "string", UNIQUE), ("label", "string"), ("unit", "string"),
        ("unit_in_words", "string"), ("worked_out_by", "string"), ("settings", "string"),
        ("compared_by", "string", {"enum": ["difference", "ratio"]}),
        ("better", "string", {"enum": ["high", "low"]}), ("worthwhile", "number"),
        ("counts_as_failed_below", "number"), ("primary", "boolean"),
    )  # fmt: skip
    rows = (
        (r.name, r.label, nice(r.unit), spelled(r.unit), reducer_of(r).about,
         json.dumps(r.settings, ensure_ascii=False, sort_keys=True) if r.settings else "",
         r.compare, r.better, r.worthwhile, r.failed.below if r.failed else None, r.primary)
        for r in source.study.responses
    )  # fmt: skip
    return Packed("responses", fields, rows, ("response",))


# ---- what was read ---------------------------------------------------------------------------


def _columns(source: Source) -> dict[str, Column]:
    """Return the quantities of the study, then those that were read and are no longer in it."""
    columns = {column.name: column for column in raw_columns(source.study)}
    for read in source.read:
        for cell in read.row.cells:
            if cell.column not in columns:
                columns[cell.column] = Column(cell.column, cell.unit, required=False)
    return columns


def _quantities(source: Source) -> Packed:
    fields = _fields(
        "quantities", ("quantity", "string", UNIQUE), ("unit", "string"),
        ("unit_in_words", "string"), ("needed", "boolean"), ("once_for_each", "string"),
        ("about", "string"), ("smallest_possible", "number"), ("largest_possible", "number"),
    )  # fmt: skip
    rows = (
        (c.name, nice(c.unit), spelled(c.unit), c.required, c.per, c.about, *c.possible)
        for c in _columns(source).values()
    )
    return Packed("quantities", fields, rows, ("quantity",))


def _readings(source: Source) -> Packed:
    fixed = _fields(
        "readings", ("reading_id", "integer", UNIQUE), ("file_id", "integer", REQUIRED),
        ("sheet", "string"), ("row", "integer", REQUIRED | {"minimum": 1}),
        ("part", "integer", REQUIRED | {"minimum": 0}), ("item", "string"),
        ("item_written", "string"), ("reading", "integer"), ("time", "string"),
        ("worked", "boolean"), ("note", "string"), ("groups_written", "string"),
    )  # fmt: skip
    columns = tuple(_columns(source).values())
    taken = {one.name for one in fixed}
    fields = (*fixed, *(_quantity(column, taken) for column in columns))
    points = (("item", "items", "item"), ("file_id", "files", "file_id"))
    return Packed("readings", fields, _reading_rows(source, columns), ("reading_id",), points)


def _quantity(column: Column, taken: set[str]) -> Field:
    low, high = column.possible
    name = f"{column.name} (measured)" if column.name in taken else column.name
    told = FIELDS["quantity"]
    if low is not None or high is not None:
        told += (
            f" Possible: {low if low is not None else ''} to {high if high is not None else ''}."
        )
    return Field(name, "number", told, column.unit)


def _reading_rows(source: Source, columns: Sequence[Column]) -> Iterator[list[object]]:
    codes = {row.item for row in source.plan.rows}
    counting = {row.place: row for row in counting_rows(source.state, source.plan)}
    for read in source.read:
        written = read.row
        row = counting.get(written.place)
        cells = {cell.column: cell for cell in row.cells} if row is not None else {}
        yield [
            read.number, read.file, written.place.sheet, written.place.row, written.place.part,
            row.item if row is not None and row.item in codes else None,
            written.item, written.reading, written.time,
            None if row is None else row.worked, written.note,
            "; ".join(f"{name}: {member}" for name, member in written.groups),
            *(_number(cells.get(column.name), column) for column in columns),
        ]  # fmt: skip


def _number(cell: Cell | None, column: Column) -> object:
    return None if cell is None else in_column_unit(cell, column.unit)


def _cells(source: Source) -> Packed:
    fields = _fields(
        "cells", ("reading_id", "integer", REQUIRED), ("quantity", "string", REQUIRED),
        ("text", "string"), ("unit", "string"), ("number", "number"),
        ("number_in_unit_of_column", "number"),
    )  # fmt: skip
    rows = (
        (read.number, cell.column, cell.text, nice(cell.unit), cell.number, cell.value)
        for read in source.read
        for cell in read.row.cells
    )
    return Packed("cells", fields, rows, ("reading_id", "quantity"),
                  (("reading_id", "readings", "reading_id"),
                   ("quantity", "quantities", "quantity")))  # fmt: skip


def _files(source: Source) -> Packed:
    fields = _fields(
        "files", ("file_id", "integer", UNIQUE), ("file", "string", REQUIRED),
        ("revision", "integer", REQUIRED | {"minimum": 1}), ("counts", "boolean", REQUIRED),
        ("kind", "string", REQUIRED | {"enum": ["workbook", "table"]}), ("path", "string", UNIQUE),
        ("bytes", "integer", REQUIRED), ("sha256", "string", REQUIRED | {"minLength": 64}),
        ("taken_at", "datetime", REQUIRED), ("understood", "string"),
    )  # fmt: skip
    return Packed("files", fields, source.files, ("file_id",))


# ---- what was asked and told -----------------------------------------------------------------


def _questions(source: Source) -> Packed:
    fields = _fields(
        "questions", ("question", "string", UNIQUE),
        ("code", "string", REQUIRED | {"enum": list(_kinds_of_questions(source))}),
        ("file", "string"), ("sheet", "string"), ("row", "integer"), ("item", "string"),
        ("column", "string"), ("found", "string"), ("why_asked", "string"),
        ("places", "string"), ("waits", "boolean", REQUIRED),
        ("answer", "string", {"enum": ["keep", "correct", "set-aside"]}), ("value", "string"),
        ("why", "string"), ("by", "string"), ("at", "datetime"),
    )  # fmt: skip
    rows = (
        (q.id, q.code, q.file, q.sheet, q.row, q.item, q.column, q.found, q.why,
         "; ".join(f"{p.file} {p.sheet} {p.row}".replace("  ", " ") for p in q.places),
         q.must and q.answer is None, q.answer, q.answer_value, q.answer_why, q.answer_by,
         moment(q.answer_when))
        for q in source.state.questions
    )  # fmt: skip
    return Packed("questions", fields, rows, ("question",))


def _told(source: Source) -> tuple[Packed, ...]:
    """Return what was told of items and teams: every row, also what was taken back."""
    told: tuple[tuple[str, Kind, dict[str, Any]], ...] = (
        ("why", "string", REQUIRED),
        ("by", "string", {}),
        ("at", "datetime", REQUIRED),
    )
    number: tuple[str, Kind, dict[str, Any]] = ("number", "integer", UNIQUE)
    item: tuple[str, Kind, dict[str, Any]] = ("item", "string", REQUIRED)
    of_item = (("item", "items", "item"),)
    stands: tuple[str, Kind, dict[str, Any]] = ("stands", "boolean", REQUIRED)
    kind = REQUIRED | {"enum": ["factor", "group"]}
    key = ("number",)
    return (
        Packed("losses", _fields("losses", number, item, stands, *told), source.losses, key,
               of_item),
        Packed("exchanges", _fields("exchanges", number, item, ("partner", "string", REQUIRED),
                                    stands, *told),
               source.exchanges, key, (*of_item, ("partner", "items", "item"))),
        Packed("otherwise", _fields("otherwise", number, item, ("kind", "string", kind),
                                    ("name", "string", REQUIRED), ("made", "string"),
                                    ("as_planned", "boolean", REQUIRED), *told),
               source.otherwise, key),
        Packed("absences", _fields("absences", number, ("team_of", "string", REQUIRED),
                                   ("team", "string", REQUIRED), ("session_of", "string"),
                                   ("session", "string"), ("items", "string"), stands, *told),
               source.absences, key),
        Packed("away", _fields("away", number, ("team_of", "string", REQUIRED),
                               ("team", "string", REQUIRED), ("lesson", "integer", REQUIRED),
                               ("until", "integer"),
                               ("items", "string"), stands, told[-1]),
               source.away, key),
        Packed("placed", _fields("placed", number, ("lesson", "integer", REQUIRED),
                                 ("lessons_before", "integer", REQUIRED),
                                 ("lessons_after", "integer", REQUIRED), ("left_out", "string"),
                                 told[-1]),
               source.placed, key),
        Packed("equipment", _fields("equipment", number, ("name", "string", REQUIRED),
                                    ("lesson", "integer", REQUIRED),
                                    ("missing", "integer", REQUIRED), told[-1]),
               source.equipment, key),
    )  # fmt: skip


def _history(source: Source) -> Packed:
    fields = _fields(
        "history", ("number", "integer", UNIQUE), ("at", "datetime", REQUIRED),
        ("by", "string"), ("what", "string", REQUIRED | {"enum": list(get_args(What))}),
        ("file", "string"), ("sheet", "string"),
        ("row", "integer"), ("item", "string"), ("column", "string"), ("before", "string"),
        ("after", "string"), ("why", "string"), ("question", "string"),
    )  # fmt: skip
    rows = (
        (c.number, moment(c.when), c.by, c.what, c.file, c.sheet, c.row, c.item, c.column,
         c.before, c.after, c.why, c.question)
        for c in source.history
    )  # fmt: skip
    return Packed("history", fields, rows, ("number",))


def _kinds_of_questions(source: Source) -> dict[str, str]:
    """Return what each kind of question is about; those of a newer version by their names."""
    known = {one.code: f"{one.about}, such as: {one.example}" for one in QUESTION_CODES.values()}
    return known | {q.code: about_of(q.code) for q in source.state.questions if q.code not in known}


def _codes(source: Source) -> Packed:
    fields = _fields(
        "codes", ("table", "string", REQUIRED), ("column", "string", REQUIRED),
        ("code", "string", REQUIRED), ("meaning", "string", REQUIRED),
    )  # fmt: skip
    rows = [
        *(("history", "what", what, CHANGES[what]) for what in get_args(What)),
        *(("questions", "code", *one) for one in _kinds_of_questions(source).items()),
    ]
    return Packed("codes", fields, rows, ("table", "column", "code"))


def moment(text: object) -> str:
    """Return a time in the form that a Table Schema expects: UTC, with a Z.

    Examples
    --------
    >>> moment("2031-03-03T12:00:00+00:00")
    '2031-03-03T12:00:00Z'
    """
    return str(text).replace("+00:00", "Z")
