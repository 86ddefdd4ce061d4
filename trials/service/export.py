"""``trials export``: everything known of a study as a package that another lab can read.

The package is a Tabular Data Package of the Frictionless Data project, version 1
(https://specs.frictionlessdata.io/tabular-data-package/): tables as CSV, each with a Table Schema.
Beside the tables stand the files as they were handed in and the record itself, so that the study
can be made again from the package.
"""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from trials.digest import digest
from trials.errors import FileError, TrialsError
from trials.files import as_typed, read_bytes, safe_cell, whole_folder
from trials.record import Store, measured_state
from trials.record.dump import contents_of, dumped, kept_as, lines_of
from trials.record.rows import rows_of
from trials.record.schema import NAMES
from trials.report.story import slug
from trials.service.opening import Opened, held_plan
from trials.service.packed import Packed, ReadRow, Source, about_table, moment, tables_of
from trials.service.practice_kept import KeptPractice
from trials.service.taken import practice_read
from trials.words.numbers import count
from trials.words.package import readme_text
from trials.workspace import Workspace

DESCRIPTION = "datapackage.json"
MARK = "trials"  # the key of datapackage.json under which everything of ours stands
FORMAT = 1


@dataclass(frozen=True)
class Exported:
    """Where the package is, and how many rows each of its tables has."""

    package: Path
    tables: tuple[tuple[str, int], ...]
    files: int
    digest: str

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "package": str(self.package),
            "tables": dict(self.tables),
            "files": self.files,
            "record_digest": self.digest,
        }

    def text(self) -> list[str]:
        """Return what is in the package and how to use it."""
        rows = dict(self.tables)
        return [
            f"Written: {self.package}, with {count(rows['items'], 'item')}, "
            f"{count(rows['readings'], 'reading')}, {count(rows['history'], 'change')} and "
            f"{count(self.files, 'file')} as handed in.",
            "Anyone can read it: begin with README.md in it. Make the study again from it with: "
            f"trials restore {as_typed(self.package)} NEW-FOLDER",
        ]


def export_study(folder: Path, to: Path | None = None) -> Exported:
    """Write everything known of a study as a package, all of it or nothing.

    Parameters
    ----------
    to : the folder to write; an older package there is replaced. None: ``export`` in the study.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or no plan; ``to`` holds something else; or what
        was taken from a practice run is not as the program wrote it.
    RecordError : the record can't be read, or a file in it was changed.
    """
    with held_plan(folder) as opened, Store.open(opened.here.record) as store:
        target = to if to is not None else opened.here.folder / "export"
        _refuse_other_folder(target)
        store.recheck()
        source = _source(opened, store)
        with whole_folder(target) as new:
            writing = _Writing(new)
            tables = tables_of(source)
            resources = [writing.table(table) for table in tables]
            with store.dumping() as connection:
                for name in NAMES:
                    writing.lines(f"record/{name}.jsonl", lines_of(connection, name))
                for name, content in contents_of(connection):
                    writing.whole(f"files/{name}", content)
                about = dumped(connection)
            for name, path in study_files(opened.here):
                writing.whole(f"study/{name}", read_bytes(path))
            if (practice := _practice(opened)) is not None:
                writing.whole(f"study/{opened.here.practice.name}", practice.to_json().encode())
            rows = tuple((table.name, writing.rows[table.name]) for table in tables)
            study = opened.study
            readme = readme_text(study.title, study.question, study.note, study.item_name, rows)
            writing.whole("README.md", readme.encode())
            found = source.state.digest()
            described = _description(opened, resources) | {
                MARK: {
                    "format": FORMAT,
                    "record_format": about.format,
                    "record_numbers": dict(about.numbers),
                    "record_digest": found,
                    "plan_digest": opened.plan.digest(),
                    "files": writing.others,
                }
            }
            described[MARK]["digest"] = digest(described)
            text = json.dumps(described, ensure_ascii=False, indent=1, allow_nan=False)
            writing.whole(DESCRIPTION, f"{text}\n".encode())
    return Exported(target, rows, len(source.files), found)


def study_files(here: Workspace) -> Iterator[tuple[str, Path]]:
    """Yield what else a study folder needs, by its name in it: the study, its plans, findings."""
    own = [here.study, here.plan, here.plan_table, here.findings]
    for path in [*own, *sorted(here.history.glob("*"))]:
        if path.is_file():
            yield path.relative_to(here.folder).as_posix(), path


def _practice(opened: Opened) -> KeptPractice | None:
    """Return what the study takes from a practice run; None if it takes or can take nothing."""
    try:
        return practice_read(opened.here, opened.study)
    except TrialsError as problem:
        if problem.code == "practice.changed":
            raise
        return None  # the study goes on without the practice run, and so does the package


def _refuse_other_folder(target: Path) -> None:
    """Refuse to take the place of anything but an older package."""
    if not target.exists() or (target.is_dir() and not any(target.iterdir())):
        return
    try:
        if MARK in json.loads(read_bytes(target / DESCRIPTION)):
            return
    except (FileError, ValueError, TypeError):
        pass
    raise FileError(
        "There is something else already where the package should be.",
        code="export.taken",
        where=str(target),
        allowed="a folder that does not exist yet, that is empty, or that holds an older package",
        do="Name another folder: trials export FOLDER NEW-FOLDER",
    )


def _description(opened: Opened, resources: list[dict[str, Any]]) -> dict[str, Any]:
    study = opened.study
    return {
        "profile": "tabular-data-package",
        "name": slug(study.title),
        "title": study.title,
        "description": " ".join(part for part in (study.question, study.note) if part),
        "resources": resources,
    }


def _source(opened: Opened, store: Store) -> Source:
    """Return all that the tables are made of."""
    plan = opened.plan
    state = store.state()
    planned = {
        (row.item, name): member
        for row in plan.rows
        for name, member in (row.groups | row.factors).items()
    }
    with store.dumping() as connection:
        run = connection.execute
        current = dict(run("SELECT name, MAX(revision) FROM files GROUP BY name"))
        files: list[Sequence[object]] = []
        read: list[ReadRow] = []
        for number, name, revision, kind, sha, size, at, notes in run(
            "SELECT id, name, revision, kind, sha256, LENGTH(content), taken_at, notes FROM files "
            "ORDER BY id"
        ).fetchall():
            counts = current[name] == revision
            files.append((number, name, revision, counts, kind,
                          f"files/{kept_as(number, name)}", size, sha, moment(at),
                          " ".join(json.loads(notes))))  # fmt: skip
            if counts:
                read += [ReadRow(n, number, row) for n, row in rows_of(connection, number)]
        told = {
            name: [_as_table(name, row) for row in run(f"SELECT * FROM {name} ORDER BY id")]  # noqa: S608
            for name in (
                "losses",
                "exchanges",
                "otherwise",
                "absences",
                "away",
                "placed",
                "equipment",
            )
        }
    return Source(
        opened.study, plan, state, measured_state(state, opened.study, plan), read, files,
        **told, history=store.history(planned),
    )  # fmt: skip


def _as_table(name: str, row: Sequence[Any]) -> list[object]:
    """Return a row of the record as the package's table has it."""
    if name == "losses":  # number, item, why, by, at, stands
        return [*row[:2], bool(row[5]), *row[2:4], moment(row[4])]
    cells = [*row[:-1], moment(row[-1])]
    if name == "exchanges":
        cells[3] = bool(cells[3])
    elif name == "otherwise":  # number, item, kind, name, made, why, by, at
        cells.insert(5, cells[4] is None)
    elif name == "absences":
        cells[5], cells[6] = ", ".join(json.loads(cells[5])), bool(cells[6])
    elif name == "away":
        shares = json.loads(cells[5])
        cells[5] = ", ".join(f"{item}: {team}" for item, team in shares.items())
        cells[6] = bool(cells[6])
    elif name == "placed":
        cells[4] = ", ".join(json.loads(cells[4]))
    return cells


class _Writing:
    """Files below a folder, each with its size and check code."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.others: list[dict[str, Any]] = []
        self.rows: dict[str, int] = {}

    def table(self, table: Packed) -> dict[str, Any]:
        """Write a table as CSV and return it as a resource of the package."""
        path = f"{table.name}.csv"
        with _Hashed(self._at(path)) as out:
            writer = csv.writer(out, lineterminator="\n")
            writer.writerow([safe_cell(one.name) for one in table.fields])
            n = 0
            for row in table.rows:
                writer.writerow([_text(cell) for cell in row])
                n += 1
        self.rows[table.name] = n
        return {
            "name": table.name,
            "path": path,
            "profile": "tabular-data-resource",
            "description": about_table(table.name),
            "format": "csv",
            "mediatype": "text/csv",
            "encoding": "utf-8",
            **out.described(),
            "schema": table.schema(),
        }

    def lines(self, path: str, lines: Iterable[str]) -> None:
        """Write lines of text."""
        with _Hashed(self._at(path)) as out:
            for line in lines:
                out.write(line)
        self.others.append({"path": path, **out.described()})

    def whole(self, path: str, content: bytes) -> None:
        """Write a file as it is."""
        with _Hashed(self._at(path)) as out:
            out.write_bytes(content)
        if path != DESCRIPTION:
            self.others.append({"path": path, **out.described()})

    def _at(self, path: str) -> Path:
        target = self.folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        return target


class _Hashed:
    """A file that is written once, with the check code of what was written."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._sha = hashlib.sha256()
        self._size = 0
        self._out: IO[bytes] | None = None

    def __enter__(self) -> _Hashed:
        self._out = self._path.open("wb")
        return self

    def __exit__(self, *problem: object) -> None:
        if self._out is not None:
            self._out.close()

    def write(self, text: str) -> int:
        """Write text as UTF-8."""
        self.write_bytes(text.encode())
        return len(text)

    def write_bytes(self, content: bytes) -> None:
        """Write bytes."""
        if self._out is not None:
            self._out.write(content)
        self._sha.update(content)
        self._size += len(content)

    def described(self) -> dict[str, Any]:
        """Return size and check code as datapackage.json has them."""
        return {"bytes": self._size, "hash": f"sha256:{self._sha.hexdigest()}"}


def _text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    return safe_cell(cell) if isinstance(cell, str) else str(cell)
