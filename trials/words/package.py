"""What a package of a study says of itself: its tables, their columns, and a page to read first."""

from __future__ import annotations

from collections.abc import Sequence

TABLES = {
    "items": "The things that were made and compared: order of making and of measuring, groups and "
    "versions, as planned and as made.",
    "values": "One value for each item and each thing measured, worked out from the readings.",
    "readings": "One row for each reading that was handed in, as it counts now: after all answers. "
    "One column for each raw quantity, in the unit that the column states.",
    "cells": "Each number as it was typed, before any answer, with the unit it was written in.",
    "questions": "What the check of the readings asked, and the answers: who, when and why.",
    "losses": "Items that broke or were never measured, for a reason outside the comparison.",
    "exchanges": "Pairs of items that had each other's label.",
    "otherwise": "Items that were made otherwise than planned.",
    "absences": "Teams that were not there, and what they were to make.",
    "away": "Teams that were away from a lesson on, and who finishes what they made.",
    "placed": "Each time that what was left to do was placed again in the lessons.",
    "equipment": "Equipment that was out of order from a lesson on: how many pieces in all.",
    "history": "Every change with before and after, in the order in which it was told.",
    "responses": "The things measured that are compared.",
    "codes": "What the words mean that some columns choose from.",
    "quantities": "The raw quantities that people read off and wrote down.",
    "files": "The files as they were handed in, every version of each; they stand in files/.",
}

# what the table of changes says happened
CHANGES = {
    "file": "A file was taken in for the first time.",
    "newer file": "A newer version of a file was taken in.",
    "added": "A number or text of a newer file that the older one did not have.",
    "changed": "A number or text that is another one in a newer file.",
    "gone": "A number or text that a newer file no longer has.",
    "read anew": "A number that stands there as before and is read as another quantity.",
    "question": "A question was asked.",
    "question gone": "A question no longer comes up.",
    "kept": "An answer: it is right as it stands.",
    "corrected": "An answer: what is right instead.",
    "set aside": "An answer: it does not count.",
    "lost": "An item broke or was never measured.",
    "not lost": "That is taken back.",
    "exchanged": "Two items had each other's label.",
    "not exchanged": "That is taken back.",
    "made": "An item was made otherwise than planned, or as planned after all.",
    "absent": "A team was not there.",
    "not absent": "That is taken back.",
    "away": "A team was away from a lesson on, and another finishes the item.",
    "not away": "That is taken back.",
    "placed": "What was left to do was placed again in the lessons.",
    "drawn anew": "The plan was drawn anew: what was placed before belongs to the old one.",
    "equipment": "Pieces of equipment were out of order from a lesson on, or in order again.",
}

# by "table.column", or by the column alone where it means the same everywhere
FIELDS = {
    "item": "Code of the item; it says nothing about its version.",
    "run": "Order of making, from 1.",
    "measure": "Order of measuring, from 1.",
    "group": "Which of these it belongs to, as planned.",
    "factor": "Version, as planned: chance decided it.",
    "as made": "What it really was; empty if the plan has no such version.",
    "response": "The thing measured.",
    "unit": "Unit of measurement; empty for none.",
    "unit_in_words": "The unit in words.",
    "status": "measured: it has a value. failed: made and did not work. lost: no value, for a "
    "reason outside the comparison. at least: it outlasted the watching. unmeasured: no usable "
    "reading yet. set aside: its readings don't count.",
    "value": "What the analysis takes.",
    "at_least": "Of status 'at least': what the value is at least.",
    "questions.value": "What the answer 'correct' gives.",
    "uncertainty": "Standard uncertainty of the value, in its unit (JCGM 100:2008).",
    "values.readings": "How many readings it rests on.",
    "reading_sd": "Standard deviation of what each reading gives by itself.",
    "reason": "Why it is not 'measured', or what was corrected.",
    "notes": "What was done to work it out, or could not be done.",
    "label": "What people call it.",
    "worked_out_by": "How a value comes from the readings.",
    "settings": "Numbers and words that this needs, as JSON.",
    "compared_by": "Whether versions are compared by difference or by ratio.",
    "better": "Which values are better.",
    "worthwhile": "Smallest difference (or ratio) that would matter, promised before measuring.",
    "counts_as_failed_below": "A value below this counts as made but not working.",
    "primary": "Whether it decides.",
    "reading_id": "Number of the reading in the record.",
    "file_id": "Number of the file in the record.",
    "sheet": "Sheet of the workbook; empty for a file without sheets.",
    "row": "Line of the file or row of the sheet, from 1.",
    "part": "Which reading of this row it is, where several stand side by side in it, from 0.",
    "readings.item": "Item whose reading it is now; empty where it does not count.",
    "item_written": "Code as it was written.",
    "reading": "Number of the reading of its item.",
    "time": "Time as it was written.",
    "worked": "Whether somebody said that it worked.",
    "note": "Note as it was written.",
    "groups_written": "What the file says of its groups.",
    "quantity": "A raw quantity as it counts: after all answers.",
    "quantities.quantity": "Name of the quantity.",
    "cells.quantity": "Name of the quantity.",
    "needed": "Whether a reading needs it.",
    "once_for_each": "Whether it is filled in for each reading or once for each item.",
    "about": "What it is.",
    "smallest_possible": "A smaller number can't be.",
    "largest_possible": "A larger number can't be.",
    "text": "Exactly as typed.",
    "cells.unit": "Unit that it was written in.",
    "cells.number": "The number in the unit it was written in; empty if it is none.",
    "number_in_unit_of_column": "The same in the unit of its column.",
    "file": "Name under which the file is kept.",
    "revision": "Which version of the file, from 1.",
    "counts": "Whether this version counts now.",
    "files.kind": "The entry workbook, or a table.",
    "path": "Where its bytes stand in this package, exactly as handed in.",
    "bytes": "Size in bytes.",
    "sha256": "SHA-256 of its bytes.",
    "taken_at": "When it was taken in (UTC).",
    "understood": "What was understood without asking.",
    "question": "Name of the question.",
    "questions.code": "Kind of question; the table codes says what each means.",
    "codes.table": "The table that has the column.",
    "codes.column": "The column.",
    "codes.code": "A word that may stand there.",
    "meaning": "What it means.",
    "column": "Which number of the row, or what else changed.",
    "found": "What stood there.",
    "why_asked": "Why it was asked.",
    "places": "Every row it is about.",
    "waits": "Whether the number takes no part until it is settled.",
    "answer": "keep, correct or set-aside; empty while it is open.",
    "why": "The reason that was given.",
    "by": "Who said so: a code, no name.",
    "at": "When (UTC).",
    "number": "In the order in which it was told, from 1.",
    "partner": "The item that had its label.",
    "stands": "Whether this says so (true) or takes it back (false); the last row counts.",
    "otherwise.kind": "Whether a version (factor) or a group was otherwise.",
    "otherwise.name": "Name of the factor or group.",
    "made": "What it really got; empty for a version that the plan does not have.",
    "as_planned": "Whether this takes it back: made as planned, after all.",
    "team_of": "Which grouping the team is of.",
    "team": "Which team was absent.",
    "session_of": "Which grouping the session is of; empty: absent altogether.",
    "session": "In which session.",
    "items": "What it was to make then.",
    "away.team": "Which team was away.",
    "away.items": "What of it others finish, and who.",
    "lesson": "The first lesson in which it was away, from 1.",
    "placed.lesson": "The lesson from which on the work was placed again, from 1; 0: the plan was "
    "drawn anew.",
    "lessons_before": "How many lessons it took in all before.",
    "lessons_after": "How many lessons it takes in all since.",
    "left_out": "Items that the timetable goes on without: lost, or not made.",
    "equipment.name": "Name of the equipment in study.toml.",
    "equipment.lesson": "From which lesson on, from 1; the last row about a name and a lesson "
    "counts.",
    "missing": "How many pieces are out of order from that lesson on, in all; until a later lesson "
    "says otherwise.",
    "until": "The first lesson in which it was there again; empty: not yet.",
    "what": "What happened; the table codes says what each word means.",
    "before": "What stood there; empty: nothing.",
    "after": "What stands there since; empty: nothing.",
}

OTHERS = {
    "study": "the study folder: what was asked and planned; `practice-run.json` in it, if there is "
    "one, is the spread that the study took from a practice run",
    "files": "what was handed in, byte for byte",
    "record": "the record itself, a JSON object a line, from which it can be made again exactly",
}


def readme_text(
    title: str, question: str, note: str, item: str, tables: Sequence[tuple[str, int]]
) -> str:
    """Return the page that a stranger reads first; ``tables`` are names with their rows."""
    listed = "\n".join(f"- `{name}.csv` ({rows} rows): {TABLES[name]}" for name, rows in tables)
    others = "\n".join(f"- `{name}/`: {told}." for name, told in OTHERS.items())
    noted = f"\n{note}\n" if note else ""
    return f"""# {title}

{question}
{noted}
This folder holds everything that is known of this study: what was planned, what was read, what was
asked and decided, and the files as they were handed in. Nobody needs our program to read it. Each
thing that was made and compared (here: {item}) has a code; the code says nothing about its version.

## Tables

Text with commas between the columns, UTF-8, the first row names the columns. An empty cell means
that there is nothing. `datapackage.json` describes every column: its type, its unit, what is
allowed, and which columns belong together (Data Package and Table Schema of the Frictionless Data
project, https://specs.frictionlessdata.io/).

{listed}

A text that a spreadsheet program would take for a formula has an apostrophe (') in front of it in
these tables. Exactly as typed it stands in `record/cells.jsonl`.

## The rest

{others}

Persons are codes, never names. Each file's SHA-256 stands in `datapackage.json`, so a change in
this folder is found.

## Making the study again

    trials restore PACKAGE NEW-FOLDER

PACKAGE is this folder. The record is then the same, row by row, and so is what is found from it.
"""
