"""Questions to settle, as a front end shows them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from trials.files import as_typed
from trials.record import Question


def question_to_dict(question: Question) -> dict[str, Any]:
    """Return a question as ``--json`` holds it."""
    return {
        "id": question.id,
        "file": question.file,
        "row": question.row,
        "item": question.item,
        "column": question.column,
        "found": question.found,
        "why": question.why,
        "do": question.do,
        "answers": list(question.answers),
        "code": question.code,
        "sheet": question.sheet,
        "must": question.must,
    }


def question_lines(question: Question, folder: Path) -> list[str]:
    """Return a question as lines to read, with what to type."""
    where = [question.file]
    if question.sheet:
        where.append(f"sheet {question.sheet}")
    if question.row is not None:
        where.append(f"row {question.row}")
    if question.item:
        where.append(f"item {question.item}")
    if question.column:
        where.append(question.column)
    return [
        f"{question.id}  {', '.join(where)}{'  (must be settled)' if question.must else ''}",
        f"    found: {question.found}",
        f"    {question.why}",
        f"    What to do: trials answer {as_typed(folder)} {question.id} ANSWER --why ... --by ...",
        f"    where ANSWER is: {question.do.replace(' FOLDER ', f' {as_typed(folder)} ')}",
    ]
