"""What a package of a study says of itself: its tables, their columns, and a page to read first."""

from __future__ import annotations

from collections.abc import Sequence

from trials.words.language import marked, say

TABLES = {
    "items": marked(
        "The things that were made and compared: order of making and of measuring, groups and "
        "versions, as planned and as made."
    ),
    "values": marked(
        "One value for each item and each thing measured, worked out from the readings."
    ),
    "readings": marked(
        "One row for each reading that was handed in, as it counts now: after all answers. "
        "One column for each raw quantity, in the unit that the column states."
    ),
    "cells": marked(
        "Each number as it was typed, before any answer, with the unit it was written in."
    ),
    "questions": marked(
        "What the check of the readings asked, and the answers: who, when and why."
    ),
    "losses": marked(
        "Items that broke or were never measured, for a reason outside the comparison."
    ),
    "exchanges": marked("Pairs of items that had each other's label."),
    "otherwise": marked("Items that were made otherwise than planned."),
    "absences": marked("Teams that were not there, and what they were to make."),
    "history": marked("Every change with before and after, in the order in which it was told."),
    "responses": marked("The things measured that are compared."),
    "quantities": marked("The raw quantities that people read off and wrote down."),
    "files": marked(
        "The files as they were handed in, every version of each; they stand in files/."
    ),
}

# by "table.column", or by the column alone where it means the same everywhere
FIELDS = {
    "item": marked("Code of the item; it says nothing about its version."),
    "run": marked("Order of making, from 1."),
    "measure": marked("Order of measuring, from 1."),
    "group": marked("Which of these it belongs to, as planned."),
    "factor": marked("Version, as planned: chance decided it."),
    "as made": marked("What it really was; empty if the plan has no such version."),
    "response": marked("The thing measured."),
    "unit": marked("Unit of measurement; empty for none."),
    "unit_in_words": marked("The unit in words."),
    "status": marked(
        "measured: it has a value. failed: made and did not work. lost: no value, for a "
        "reason outside the comparison. at least: it outlasted the watching. unmeasured: no usable "
        "reading yet. set aside: its readings don't count."
    ),
    "value": marked("What the analysis takes."),
    "at_least": marked("Of status 'at least': what the value is at least."),
    "questions.value": marked("What the answer 'correct' gives."),
    "uncertainty": marked("Standard uncertainty of the value, in its unit (JCGM 100:2008)."),
    "values.readings": marked("How many readings it rests on."),
    "reading_sd": marked("Standard deviation of what each reading gives by itself."),
    "reason": marked("Why it is not 'measured', or what was corrected."),
    "notes": marked("What was done to work it out, or could not be done."),
    "label": marked("What people call it."),
    "worked_out_by": marked("How a value comes from the readings."),
    "settings": marked("Numbers and words that this needs, as JSON."),
    "compared_by": marked("Whether versions are compared by difference or by ratio."),
    "better": marked("Which values are better."),
    "worthwhile": marked(
        "Smallest difference (or ratio) that would matter, promised before measuring."
    ),
    "counts_as_failed_below": marked("A value below this counts as made but not working."),
    "primary": marked("Whether it decides."),
    "reading_id": marked("Number of the reading in the record."),
    "file_id": marked("Number of the file in the record."),
    "sheet": marked("Sheet of the workbook; empty for a file without sheets."),
    "row": marked("Line of the file or row of the sheet, from 1."),
    "part": marked(
        "Which reading of this row it is, where several stand side by side in it, from 0."
    ),
    "readings.item": marked("Item whose reading it is now; empty where it does not count."),
    "item_written": marked("Code as it was written."),
    "reading": marked("Number of the reading of its item."),
    "time": marked("Time as it was written."),
    "worked": marked("Whether somebody said that it worked."),
    "note": marked("Note as it was written."),
    "groups_written": marked("What the file says of its groups."),
    "quantity": marked("A raw quantity as it counts: after all answers."),
    "quantities.quantity": marked("Name of the quantity."),
    "cells.quantity": marked("Name of the quantity."),
    "needed": marked("Whether a reading needs it."),
    "once_for_each": marked("Whether it is filled in for each reading or once for each item."),
    "about": marked("What it is."),
    "smallest_possible": marked("A smaller number can't be."),
    "largest_possible": marked("A larger number can't be."),
    "text": marked("Exactly as typed."),
    "cells.unit": marked("Unit that it was written in."),
    "cells.number": marked("The number in the unit it was written in; empty if it is none."),
    "number_in_unit_of_column": marked("The same in the unit of its column."),
    "file": marked("Name under which the file is kept."),
    "revision": marked("Which version of the file, from 1."),
    "counts": marked("Whether this version counts now."),
    "files.kind": marked("The entry workbook, or a table."),
    "path": marked("Where its bytes stand in this package, exactly as handed in."),
    "bytes": marked("Size in bytes."),
    "sha256": marked("SHA-256 of its bytes."),
    "taken_at": marked("When it was taken in (UTC)."),
    "understood": marked("What was understood without asking."),
    "question": marked("Name of the question."),
    "questions.code": marked("Kind of question."),
    "column": marked("Which number of the row, or what else changed."),
    "found": marked("What stood there."),
    "why_asked": marked("Why it was asked."),
    "places": marked("Every row it is about."),
    "waits": marked("Whether the number takes no part until it is settled."),
    "answer": marked("keep, correct or set-aside; empty while it is open."),
    "why": marked("The reason that was given."),
    "by": marked("Who said so: a code, no name."),
    "at": marked("When (UTC)."),
    "number": marked("In the order in which it was told, from 1."),
    "partner": marked("The item that had its label."),
    "stands": marked("Whether this says so (true) or takes it back (false); the last row counts."),
    "otherwise.kind": marked("Whether a version (factor) or a group was otherwise."),
    "otherwise.name": marked("Name of the factor or group."),
    "made": marked("What it really got; empty for a version that the plan does not have."),
    "as_planned": marked("Whether this takes it back: made as planned, after all."),
    "team_of": marked("Which grouping the team is of."),
    "team": marked("Which team was absent."),
    "session_of": marked("Which grouping the session is of; empty: absent altogether."),
    "session": marked("In which session."),
    "items": marked("What it was to make then."),
    "what": marked("What changed."),
    "before": marked("What stood there; empty: nothing."),
    "after": marked("What stands there since; empty: nothing."),
}

OTHERS = {
    "study": marked(
        "the study folder: what was asked and planned; `practice-run.json` in it, if there is "
        "one, is the spread that the study took from a practice run"
    ),
    "files": marked("what was handed in, byte for byte"),
    "record": marked(
        "the record itself, a JSON object a line, from which it can be made again exactly"
    ),
}


def readme_text(
    title: str, question: str, note: str, item: str, tables: Sequence[tuple[str, int]]
) -> str:
    """Return the page that a stranger reads first; ``tables`` are names with their rows."""
    listed = "\n".join(
        say("- `{name}.csv` ({rows} rows): {TABLES}", name=name, rows=rows, TABLES=TABLES[name])
        for name, rows in tables
    )
    others = "\n".join(f"- `{name}/`: {told}." for name, told in OTHERS.items())
    noted = f"\n{note}\n" if note else ""
    return say(
        """# {title}

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
""",
        title=title,
        question=question,
        noted=noted,
        item=item,
        listed=listed,
        others=others,
    )
