"""The files that a record keeps: which count now, by which name one is kept, and adding one."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Collection, Mapping
from pathlib import Path

from trials.digest import canonical_json
from trials.errors import RecordError
from trials.record.rows import add_rows
from trials.record.state import KeptFile
from trials.record.values import Intake

CurrentFile = tuple[int, int, str]  # its number, its revision, its SHA-256


def current_files(connection: sqlite3.Connection) -> dict[str, CurrentFile]:
    """Return the current revisions by the names of the files, in their order."""
    found = connection.execute(
        "SELECT name, id, revision, sha256 FROM files AS f WHERE revision = "
        "(SELECT MAX(revision) FROM files AS g WHERE g.name = f.name) ORDER BY name"
    )
    return {name: (number, revision, sha) for name, number, revision, sha in found}


def all_files(connection: sqlite3.Connection) -> tuple[KeptFile, ...]:
    """Return every revision of every file, oldest first."""
    current = {number for number, _, _ in current_files(connection).values()}
    found = connection.execute(
        "SELECT id, name, revision, sha256, taken_at FROM files ORDER BY id"
    ).fetchall()
    return tuple(
        KeptFile(name, revision, number in current, sha, at, count_readings(connection, number))
        for number, name, revision, sha, at in found
    )


def count_readings(connection: sqlite3.Connection, file: int) -> int:
    """Return how many readings one revision of a file has."""
    (count,) = connection.execute(
        "SELECT COUNT(*) FROM readings WHERE file = ?", (file,)
    ).fetchone()
    return int(count)


def items_of_file(connection: sqlite3.Connection, file: int) -> set[str]:
    """Return the items that one revision of a file has readings of."""
    found = connection.execute("SELECT DISTINCT item FROM readings WHERE file = ?", (file,))
    return {item for (item,) in found}


def name_for(
    connection: sqlite3.Connection,
    intake: Intake,
    current: Mapping[str, CurrentFile],
    held: Collection[str],
) -> str:
    """Return the name to keep a file under.

    Two teams may both call their file ``readings.csv``. A file is taken as a newer one of the
    same name only if it shares an item with it (or one of them has no readings).

    Parameters
    ----------
    held : files that wait for an answer and that this one is no version of. It takes the place of
        none of them, for the question would be gone, and the numbers that it is about.
    """
    mine = {row.item for row in intake.rows}
    number, name = 1, intake.name
    while name in current:
        items = items_of_file(connection, current[name][0])
        if name not in held and (mine & items or not items):
            return name
        number += 1
        stem, dot, ending = intake.name.rpartition(".")
        name = f"{stem} ({number}).{ending}" if dot else f"{intake.name} ({number})"
    return name


def sharing(
    connection: sqlite3.Connection, intake: Intake, current: Mapping[str, CurrentFile]
) -> dict[str, CurrentFile]:
    """Return the current files that have readings of an item of this one."""
    mine = {row.item for row in intake.rows}
    return {
        name: file for name, file in current.items() if mine & items_of_file(connection, file[0])
    }


def add_file(
    connection: sqlite3.Connection, intake: Intake, revision: int, sha: str, at: str
) -> int:
    """Add one revision of a file with its readings, and return its number."""
    file = connection.execute(
        "INSERT INTO files (name, revision, given_name, kind, sha256, content, notes, taken_at)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            intake.name,
            revision,
            intake.name,
            intake.kind,
            sha,
            intake.content,
            canonical_json(list(intake.notes)),
            at,
        ),
    ).lastrowid
    add_rows(connection, int(file or 0), intake.rows)
    return int(file or 0)


def recheck_files(connection: sqlite3.Connection, path: Path) -> None:
    """Compare every file kept, byte for byte, with the check code it was taken in with.

    Raises
    ------
    RecordError : a file is no longer as it was handed in.
    """
    for name, revision, sha, content in connection.execute(
        "SELECT name, revision, sha256, content FROM files ORDER BY id"
    ):
        kept = content if isinstance(content, bytes) else str(content).encode()
        if hashlib.sha256(kept).hexdigest() != sha:
            raise RecordError(
                "A file kept in the record is no longer as it was handed in, so the record "
                "can't be trusted.",
                code="record.file_changed",
                where=f"{path}, {name}, revision {revision}",
                found="other bytes than those taken in",
                do="Put the record back from a copy of the folder. Without a copy: move it "
                "away, collect the files again, and give the answers and losses again.",
            )


def content_of(connection: sqlite3.Connection, name: str, revision: int) -> bytes:
    """Return the bytes of one revision of a file, exactly as handed in.

    Raises
    ------
    RecordError : there is none.
    """
    found = connection.execute(
        "SELECT content FROM files WHERE name = ? AND revision = ?", (name, revision)
    ).fetchone()
    if found is None:
        there = connection.execute("SELECT name, revision FROM files ORDER BY id").fetchall()
        raise RecordError(
            "The record has no such file.",
            code="record.unknown_file",
            found=f"{name}, revision {revision}",
            allowed=", ".join(f"{one} ({number})" for one, number in there),
            do="Take the name and revision from the list of files.",
        )
    return bytes(found[0])
