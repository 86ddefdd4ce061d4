"""People at a bench: they type what they read into the entry workbook."""

from __future__ import annotations

import csv
import random
from collections.abc import Callable
from pathlib import Path

from openpyxl import load_workbook

Row = dict[str, str]  # a line of plan.csv
Reads = Callable[
    [Row, int, str], float | str | None
]  # plan line, reading, heading -> what is typed


def plan_rows(folder: Path) -> dict[str, Row]:
    """Return the lines of plan.csv by item code."""
    with (folder / "plan.csv").open(newline="", encoding="utf-8") as file:
        return {row["item"]: row for row in csv.DictReader(file)}


def fill_in(folder: Path, filled: Path, reads: Reads) -> int:
    """Fill in the entry workbook of a study folder; return how many lines were filled."""
    rows = plan_rows(folder)
    book = load_workbook(folder / "sheets" / "entry-workbook.xlsx")
    lines = 0
    for page in book.worksheets[1:]:
        table = list(page.iter_rows())
        start = next(i for i, line in enumerate(table) if line[0].value == "item")
        headings = [str(cell.value) for cell in table[start]]
        for line in table[start + 1 :]:
            if line[0].value not in rows:
                continue
            lines += 1
            for cell, heading in list(zip(line, headings, strict=True))[2:]:
                value = reads(rows[str(line[0].value)], int(str(line[1].value)), heading)
                if value is not None:
                    cell.value = value
    book.save(filled)
    return lines


def thrown(row: Row, reading: int, heading: str) -> float | None:
    """Return how far a paper plane flew in one throw, in metres: a dart about 5 m further."""
    if not heading.startswith("distance"):
        return None
    chance = random.Random(f"{row['item']} {reading}")  # noqa: S311 - a bench, not a secret
    plane = random.Random(row["item"])  # noqa: S311
    far = 9.0 if row["shape"] == "dart" else 4.0
    return round(far + plane.gauss(0, 0.5) + chance.gauss(0, 0.4), 1)
