"""The tables of the record. Nothing in them is ever changed or deleted: the file itself refuses."""

from __future__ import annotations

# 2: exchanges, otherwise; 3: absences, steps, part; 4: away, losses that go; 5: placed;
# 6: equipment
FORMAT_VERSION = 6

# `part` counts the readings that stand side by side in one row
_READINGS = """(
        id INTEGER PRIMARY KEY AUTOINCREMENT, file INTEGER NOT NULL REFERENCES files,
        sheet TEXT NOT NULL, row INTEGER NOT NULL, part INTEGER NOT NULL DEFAULT 0,
        item TEXT NOT NULL, reading INTEGER, member_of TEXT NOT NULL, time TEXT NOT NULL,
        worked INTEGER, note TEXT NOT NULL, UNIQUE (file, sheet, row, part))"""

# for readings of an older format, where the second in a row was kept under its row plus 2**32
PARTS = (
    f"CREATE TABLE newer {_READINGS}",
    "INSERT INTO newer SELECT id, file, sheet, row & 4294967295, row >> 32, item, reading, "
    "member_of, time, worked, note FROM readings ORDER BY id",
    "DROP TABLE readings",
    "ALTER TABLE newer RENAME TO readings",
)

TABLES = (
    # one row a revision of a file; the newest revision of each name is the current one
    """CREATE TABLE IF NOT EXISTS files (
        id INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT NOT NULL, revision INTEGER NOT NULL,
        given_name TEXT NOT NULL, kind TEXT NOT NULL, sha256 TEXT NOT NULL, content BLOB NOT NULL,
        notes TEXT NOT NULL, taken_at TEXT NOT NULL, UNIQUE (name, revision))""",
    f"CREATE TABLE IF NOT EXISTS readings {_READINGS}",
    """CREATE TABLE IF NOT EXISTS cells (
        reading INTEGER NOT NULL REFERENCES readings, position INTEGER NOT NULL,
        column_name TEXT NOT NULL, text TEXT NOT NULL, unit TEXT NOT NULL, number TEXT, value TEXT,
        PRIMARY KEY (reading, position))""",
    # a question keeps its number when the file comes again; what it says stands in `raised`, in
    # the last row about it; a body `null` there says that it no longer comes up
    """CREATE TABLE IF NOT EXISTS questions (
        id INTEGER PRIMARY KEY AUTOINCREMENT, key TEXT NOT NULL UNIQUE)""",
    """CREATE TABLE IF NOT EXISTS raised (
        id INTEGER PRIMARY KEY AUTOINCREMENT, question INTEGER NOT NULL REFERENCES questions,
        origin TEXT NOT NULL CHECK (origin IN ('file', 'record')), files TEXT NOT NULL,
        body TEXT NOT NULL, at TEXT NOT NULL)""",
    """CREATE TABLE IF NOT EXISTS answers (
        id INTEGER PRIMARY KEY AUTOINCREMENT, question INTEGER NOT NULL REFERENCES questions,
        verb TEXT NOT NULL CHECK (verb IN ('keep', 'correct', 'set-aside')), value TEXT NOT NULL,
        why TEXT NOT NULL, by TEXT NOT NULL, at TEXT NOT NULL)""",
    # the last row about an item says whether it stands
    """CREATE TABLE IF NOT EXISTS losses (
        id INTEGER PRIMARY KEY AUTOINCREMENT, item TEXT NOT NULL, why TEXT NOT NULL,
        by TEXT NOT NULL, at TEXT NOT NULL, stands INTEGER NOT NULL DEFAULT 1)""",
    # two items that had each other's label; the last row about a pair says whether it stands
    """CREATE TABLE IF NOT EXISTS exchanges (
        id INTEGER PRIMARY KEY AUTOINCREMENT, item TEXT NOT NULL, partner TEXT NOT NULL,
        stands INTEGER NOT NULL, why TEXT NOT NULL, by TEXT NOT NULL, at TEXT NOT NULL)""",
    # how an item was really made; the last row about an item and a name counts, `made` null there
    # says: as planned
    """CREATE TABLE IF NOT EXISTS otherwise (
        id INTEGER PRIMARY KEY AUTOINCREMENT, item TEXT NOT NULL,
        kind TEXT NOT NULL CHECK (kind IN ('factor', 'group')), name TEXT NOT NULL, made TEXT,
        why TEXT NOT NULL, by TEXT NOT NULL, at TEXT NOT NULL)""",
    # a team that was not there, and what it was to make then; `session_of` and `session` empty: not
    # at all; the last row about a team and a session says whether it stands
    """CREATE TABLE IF NOT EXISTS absences (
        id INTEGER PRIMARY KEY AUTOINCREMENT, team_of TEXT NOT NULL, team TEXT NOT NULL,
        session_of TEXT NOT NULL, session TEXT NOT NULL, items TEXT NOT NULL,
        stands INTEGER NOT NULL, why TEXT NOT NULL, by TEXT NOT NULL, at TEXT NOT NULL)""",
    # a team that was not there from a lesson on, `until` one (null: not back yet), and who does the
    # rest of what it made (JSON: item -> team); the last row about a team and a lesson counts
    """CREATE TABLE IF NOT EXISTS away (
        id INTEGER PRIMARY KEY AUTOINCREMENT, team_of TEXT NOT NULL, team TEXT NOT NULL,
        lesson INTEGER NOT NULL, until INTEGER, items TEXT NOT NULL, stands INTEGER NOT NULL,
        at TEXT NOT NULL)""",
    # what was left was placed again in the lessons from one on, without `left_out` (JSON: items);
    # `before` and `after`: how many lessons it takes in all; lesson 0: the plan was drawn anew, and
    # what the rows before tell belongs to the old one
    """CREATE TABLE IF NOT EXISTS placed (
        id INTEGER PRIMARY KEY AUTOINCREMENT, lesson INTEGER NOT NULL, before INTEGER NOT NULL,
        after INTEGER NOT NULL, left_out TEXT NOT NULL, at TEXT NOT NULL)""",
    # how many pieces of some equipment are out of order from a lesson on, in all and until a later
    # lesson says otherwise; the last row about a name and a lesson counts
    """CREATE TABLE IF NOT EXISTS equipment (
        id INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT NOT NULL, lesson INTEGER NOT NULL,
        missing INTEGER NOT NULL, at TEXT NOT NULL)""",
    # the order in which all of it was told: one row for each row of the tables in EVENTS
    """CREATE TABLE IF NOT EXISTS steps (
        id INTEGER PRIMARY KEY AUTOINCREMENT, what TEXT NOT NULL, number INTEGER NOT NULL,
        UNIQUE (what, number))""",
)

NAMES = ("files", "readings", "cells", "questions", "raised", "answers", "losses", "exchanges",
         "otherwise", "absences", "away", "placed", "equipment", "steps")  # fmt: skip

# what each row tells stands for itself, with the time at which it was told
EVENTS = (
    "files", "raised", "answers", "losses", "exchanges", "otherwise", "absences", "away", "placed",
    "equipment",
)  # fmt: skip

_STEP = """CREATE TRIGGER IF NOT EXISTS NAME_step AFTER INSERT ON NAME
    BEGIN INSERT INTO steps (what, number) VALUES ('NAME', NEW.id); END"""

TRIGGERS = (
    *(
        f"CREATE TRIGGER IF NOT EXISTS {name}_no_{verb.lower()} BEFORE {verb} ON {name} "
        f"BEGIN SELECT RAISE(ABORT, 'the record only grows'); END"
        for name in NAMES
        for verb in ("UPDATE", "DELETE")
    ),
    *(_STEP.replace("NAME", name) for name in EVENTS),
)
