"""The record as plain text and back: every row of every table, exactly.

One JSON object a row and line. The bytes of the files that were handed in stand beside them as
they are, and ``content`` names the file that holds them.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.errors import RecordError
from trials.record.database import created
from trials.record.schema import FORMAT_VERSION, NAMES

_PLAIN = re.compile(r"[^A-Za-z0-9._-]+")


@dataclass(frozen=True)
class Dumped:
    """What of a record stands in no table: its format, and the last number given in each table."""

    format: int
    numbers: Mapping[str, int]


def kept_as(number: int, name: str) -> str:
    """Return the plain name under which the bytes of a file stand in a package.

    Examples
    --------
    >>> kept_as(3, "Team Ahorn/Köln.csv")
    '0003-Team_Ahorn_K_ln.csv'
    """
    return f"{number:04d}-{_PLAIN.sub('_', name)[-60:]}"


def dumped(connection: sqlite3.Connection) -> Dumped:
    """Return the format and the numbers of a record."""
    numbers = dict(connection.execute("SELECT name, seq FROM sqlite_sequence ORDER BY name"))
    return Dumped(FORMAT_VERSION, numbers)


def lines_of(connection: sqlite3.Connection, name: str) -> Iterator[str]:
    """Yield the rows of a table, one line each; call it within one transaction."""
    found = connection.execute(f"SELECT * FROM {_known(name)} ORDER BY rowid")  # noqa: S608
    columns = [column[0] for column in found.description]
    for row in found:
        values = dict(zip(columns, row, strict=True))
        if "content" in values:
            values["content"] = kept_as(values["id"], values["name"])
        yield json.dumps(values, separators=(",", ":")) + "\n"


def contents_of(connection: sqlite3.Connection) -> Iterator[tuple[str, bytes]]:
    """Yield the bytes of every revision of every file, with the name they are kept under."""
    for number, name, content in connection.execute(
        "SELECT id, name, content FROM files ORDER BY id"
    ):
        yield kept_as(number, name), bytes(content)


def fill(
    path: Path,
    about: Dumped,
    tables: Mapping[str, Iterable[str]],
    content: Callable[[str], bytes],
) -> None:
    """Make the record anew at ``path``: every table row by row as it was.

    Parameters
    ----------
    tables : the lines of each table, as :func:`lines_of` wrote them.
    content : gives the bytes of a file by the name they are kept under.

    Raises
    ------
    RecordError : of a newer format, or the rows are not those of a record.
    """
    if about.format > FORMAT_VERSION:
        raise RecordError(
            "This record was written by another version of the program.",
            code="record.version",
            found=f"format {about.format}",
            allowed=f"up to format {FORMAT_VERSION}",
            do="Use the newest version of the program.",
        )

    def rows(connection: sqlite3.Connection) -> None:
        for name in NAMES:
            _add(connection, name, tables.get(name, ()), content)
        connection.executemany(
            "UPDATE sqlite_sequence SET seq = ? WHERE name = ?",
            [(last, name) for name, last in about.numbers.items()],
        )

    with closing(created(path, rows)):
        pass


def _add(
    connection: sqlite3.Connection,
    name: str,
    lines: Iterable[str],
    content: Callable[[str], bytes],
) -> None:
    about = connection.execute(f"PRAGMA table_info({_known(name)})").fetchall()
    usual = {row[1]: row[4] for row in about}  # what a row of an older format doesn't say
    columns = list(usual)
    marks = ", ".join("?" for _ in columns)
    bytes_at = columns.index("content") if "content" in columns else None

    def values() -> Iterator[list[Any]]:
        for line in lines:
            row = json.loads(line)
            if not isinstance(row, dict) or not row.keys() <= set(columns):
                raise RecordError(
                    "These are not the rows of a record.",
                    code="record.rows",
                    where=f"table {name}",
                    found=line[:80].strip(),
                    allowed=", ".join(columns),
                    do="Take the package as it was written.",
                )
            found = [row.get(column, usual[column]) for column in columns]
            if bytes_at is not None:
                found[bytes_at] = content(str(found[bytes_at]))
            yield found

    connection.executemany(f"INSERT INTO {name} VALUES ({marks})", values())  # noqa: S608


def _known(name: str) -> str:
    if name not in NAMES:
        raise KeyError(name)
    return name
