"""Files as people hand them in: each is read to the same answer, or asked or refused exactly so.

All but the refused ones hold the same twelve readings of six cells, which
``tests/ingest/bench.py`` makes.
"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from tests.ingest.bench import CODES, ISC, LIGHT, LOAD, VOC, cell_rows, cells, plan_of
from trials.errors import IngestError
from trials.ingest import read_file
from trials.record import Intake

HERE = Path(__file__).resolve().parent
STUDY = cells()
PLAN = plan_of(STUDY)
CLEAN = {
    (row[0], int(row[1])): dict(zip((VOC, ISC, LOAD, LIGHT), map(Decimal, row[2:]), strict=True))
    for row in cell_rows(CODES[:6])
}

READ = (
    "semicolons_and_decimal_commas.csv",
    "mark_of_byte_order_and_quotes.csv",
    "tabs_in_utf16.tsv",
    "latin1_micro.csv",
    "title_heading_twice_and_footers.csv",
    "other_order_small_letters.csv",
    "trailing_blanks.csv",
    "units_in_cells.csv",
    "old_line_ends.csv",
    "powers_of_ten.csv",
    "formulas_in_notes.csv",
    "codes_only_once.csv",
    "short_headings.csv",
)

ASKED = {
    "letters_for_figures.csv": [
        ("not_a_number", 6, "DG41", VOC, "O.409", "0.409"),
        ("not_a_number", 9, "FH58", ISC, "l.22", "1.22"),
    ],
    "codes_only_once_and_no_numbers_of_readings.csv": [
        ("no_item", row, None, None, "no item code", code)
        for row, code in zip(range(3, 14, 2), CODES[:6], strict=True)
    ],
}

REFUSED = {
    "torn_decimal_commas.csv": ("ingest.split_lines", "9 parts under 6 headings"),
    "another_study.csv": ("ingest.other_items", "ZZ27, ZZ34, ZZ41, ZZ58, ZZ65, ZZ72"),
    "nothing.csv": ("ingest.empty", "nothing"),
    "picture_called_csv.csv": ("ingest.kind", "a picture"),
    "no_headings.csv": ("ingest.no_headings", "BD27 | 1 | 0.403 | 1.13 | 0.281 | 791"),
}


def _read(name: str) -> Intake:
    return read_file(HERE / name, name, STUDY, PLAN)


def _numbers(intake: Intake) -> dict[tuple[str, int | None], dict[str, Decimal | None]]:
    return {
        (row.item, row.reading): {cell.column: cell.value for cell in row.cells}
        for row in intake.rows
    }


def test_every_ugly_file_is_tested() -> None:
    files = {path.name for path in HERE.iterdir() if path.suffix in (".csv", ".tsv")}
    assert files == {*READ, *ASKED, *REFUSED}


@pytest.mark.parametrize("name", READ)
def test_read_to_the_same_answer(name: str) -> None:
    intake = _read(name)
    assert _numbers(intake) == CLEAN
    assert intake.questions == ()
    assert intake.content == (HERE / name).read_bytes()


@pytest.mark.parametrize("name", ASKED)
def test_asked_exactly(name: str) -> None:
    asked = [(q.code, q.row, q.item, q.column, q.found, q.proposal) for q in _read(name).questions]
    assert asked == ASKED[name]


@pytest.mark.parametrize("name", REFUSED)
def test_refused_with_what_stood_there(name: str) -> None:
    with pytest.raises(IngestError) as problem:
        _read(name)
    assert (problem.value.code, problem.value.found) == REFUSED[name]
    assert problem.value.where.startswith(name)
    assert problem.value.do
