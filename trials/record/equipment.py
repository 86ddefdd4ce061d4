"""Equipment that was out of order: kept lesson by lesson, and told in the report."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence

from trials.design.values import Missing, in_short, missing_in
from trials.study.values import Study
from trials.words.absent import missing_sentence

Run = Callable[..., sqlite3.Cursor]


def standing_missing(run: Run) -> tuple[Missing, ...]:
    """Return how many pieces of which equipment were out of order from which lesson on."""
    return in_short(_rows(run))


def add_missing(run: Run, told: Sequence[Missing], at: str) -> None:
    """Add what makes the record say the same as ``told``; nothing where it does."""
    for name, lesson in sorted({(one.equipment, one.since) for one in (*_rows(run), *told)}):
        pieces = missing_in(told, lesson).get(name, 0)
        if pieces != missing_in(standing_missing(run), lesson).get(name, 0):
            run(
                "INSERT INTO equipment (name, lesson, missing, at) VALUES (?, ?, ?, ?)",
                (name, lesson, pieces, at),
            )


def _rows(run: Run) -> list[Missing]:
    rows = run("SELECT name, missing, lesson FROM equipment ORDER BY id")
    return [Missing(equipment=name, pieces=n, since=lesson) for name, n, lesson in rows]


def missing_told(told: Sequence[Missing], study: Study) -> list[str]:
    """Return what the report says of equipment that was out of order: a sentence for each."""
    labels = {one.name: one.label or one.name for one in study.equipment}
    lessons: dict[str, list[tuple[int, int]]] = {}
    for one in told:
        lessons.setdefault(one.equipment, []).append((one.pieces, one.since))
    return [missing_sentence(labels.get(name, name), found) for name, found in lessons.items()]
