"""Opening the record's file and doing things in it whole or not at all.

With `store.py` the only place that touches the database. A transaction that this module reports as
done is on the disk: the rollback journal with full synchronisation survives a killed program, a
full disk and, as far as the disk keeps its word, a power cut. No write-ahead log, for that does not
work on the network drives of schools.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

from trials.errors import RecordError
from trials.record.schema import EVENTS, FORMAT_VERSION, PARTS, TABLES, TRIGGERS

WAIT = 30.0  # seconds to wait for another program that is writing


def connect(path: Path) -> sqlite3.Connection:
    """Open the record's file, and make it if there is none.

    Raises
    ------
    RecordError : it is no record, a newer one, or can't be opened.
    """
    connection = _opened(path)
    try:
        with _told(path):
            version = _version(connection)
        if version < FORMAT_VERSION:  # new, or it lacks tables that came later
            connection.execute("PRAGMA foreign_keys = OFF")  # a table is put in another's place
            with transaction(connection, path):
                if _version(connection) < FORMAT_VERSION:  # nobody else did it meanwhile
                    _bring_up_to_date(connection)
            connection.execute("PRAGMA foreign_keys = ON")
        elif version > FORMAT_VERSION:
            raise RecordError(
                "This record was written by another version of the program.",
                code="record.version",
                where=str(path),
                found=f"format {version}",
                allowed=f"up to format {FORMAT_VERSION}",
                do="Use the newest version of the program.",
            )
    except BaseException:
        connection.close()
        raise
    return connection


def created(path: Path, fill: Callable[[sqlite3.Connection], None]) -> sqlite3.Connection:
    """Make a record with the rows that ``fill`` adds to its empty tables, or none at all.

    Raises
    ------
    RecordError : it can't be written.
    """
    connection = _opened(path)
    try:
        with transaction(connection, path):
            _bring_up_to_date(connection, fill)
    except BaseException:
        connection.close()
        raise
    return connection


def _opened(path: Path) -> sqlite3.Connection:
    with _told(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(path, timeout=WAIT, isolation_level=None)
    try:
        with _told(path):
            connection.execute("PRAGMA synchronous = EXTRA")
            connection.execute("PRAGMA foreign_keys = ON")
    except BaseException:
        connection.close()
        raise
    return connection


@contextlib.contextmanager
def transaction(
    connection: sqlite3.Connection, path: Path, *, write: bool = True
) -> Iterator[sqlite3.Connection]:
    """Do everything in the block, or nothing of it, whatever stops it; also a Ctrl-C.

    Raises
    ------
    RecordError : the disk is full, the file is damaged, or someone else writes for too long.
    """
    with _told(path):
        connection.execute("BEGIN IMMEDIATE" if write else "BEGIN")
        try:
            yield connection
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                with contextlib.suppress(sqlite3.Error):
                    connection.execute("ROLLBACK")
            raise


def _bring_up_to_date(
    connection: sqlite3.Connection, fill: Callable[[sqlite3.Connection], None] | None = None
) -> None:
    """Make the tables that a new or an older record lacks; ``fill`` adds rows that were told."""
    for statement in TABLES:
        connection.execute(statement)
    if "part" not in [row[1] for row in connection.execute("PRAGMA table_info(readings)")]:
        for statement in PARTS:
            connection.execute(statement)
    if "stands" not in [row[1] for row in connection.execute("PRAGMA table_info(losses)")]:
        connection.execute("ALTER TABLE losses ADD COLUMN stands INTEGER NOT NULL DEFAULT 1")
    if fill is not None:
        fill(connection)
    if connection.execute("SELECT 1 FROM steps LIMIT 1").fetchone() is None:
        connection.executemany("INSERT INTO steps (what, number) VALUES (?, ?)",
                               _order_by_time(connection))  # fmt: skip
    for statement in TRIGGERS:
        connection.execute(statement)
    connection.execute(f"PRAGMA user_version = {FORMAT_VERSION}")


def _order_by_time(connection: sqlite3.Connection) -> Iterator[tuple[str, int]]:
    """Yield what an older record was told, by time; each table keeps its own order all the same.

    Within one second: files, then what they raised, then what was decided.
    """
    queues = []
    for name in EVENTS:
        at = "taken_at" if name == "files" else "at"
        queues.append(connection.execute(f"SELECT {at}, id FROM {name} ORDER BY id").fetchall())  # noqa: S608
    places = [0] * len(queues)
    while waiting := [n for n, queue in enumerate(queues) if places[n] < len(queue)]:
        first = min(waiting, key=lambda n: (queues[n][places[n]][0], n))
        yield EVENTS[first], queues[first][places[first]][1]
        places[first] += 1


def _version(connection: sqlite3.Connection) -> int:
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    return int(version)


@contextlib.contextmanager
def _told(path: Path) -> Iterator[None]:
    """Turn the database's errors into ours."""
    try:
        yield
    except (sqlite3.Error, OSError) as problem:
        code, what, do = _explained(problem)
        raise RecordError(
            what, code=code, where=str(path), found=str(problem) or type(problem).__name__, do=do
        ) from None


def _explained(problem: Exception) -> tuple[str, str, str]:
    name = str(getattr(problem, "sqlite_errorname", ""))
    if name.startswith("SQLITE_FULL"):
        return (
            "record.disk_full",
            "The disk is full: nothing of this was recorded, and all that was recorded before is "
            "still there.",
            "Make room on the disk, then do it again.",
        )
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return (
            "record.busy",
            "Another program is writing to this record: nothing of this was recorded.",
            "Wait until the other program is done, then do it again.",
        )
    if name.startswith(("SQLITE_NOTADB", "SQLITE_CORRUPT", "SQLITE_ERROR")):
        return (
            "record.damaged",
            "This file is not a record, or it is damaged.",
            "Put it back from a copy, or move it away and collect the files again.",
        )
    if name.startswith("SQLITE_CONSTRAINT"):  # neither the disk nor the folder is to blame
        return (
            "record.mistake",
            "The program made a mistake of its own: nothing of this was recorded, and all that "
            "was recorded before is still there.",
            "It is not your fault. Show this message, and the file that you were handing in, to "
            "whoever looks after the program.",
        )
    return (
        "record.unwritable",
        "The record can't be written: nothing of this was recorded, and all that was recorded "
        "before is still there.",
        "Check that there is room on the disk and that you may write in this folder, then do it "
        "again.",
    )
