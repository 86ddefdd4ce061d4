"""Files as people hand them in: each is read to the same answer, or asked or refused exactly so.

All but the refused ones hold the same twelve readings of six cells, which
``tests/ingest/bench.py`` makes. What is expected of each stands in ``expected.py``;
``make_ugly_files.py`` wrote most of them.
"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from tests.ingest.bench import CODES, ISC, LIGHT, LOAD, VOC, cell_rows, cells, plan_of
from tests.ugly_files.expected import EXPECTED, Asked, Question, Refused, Same
from tests.ugly_files.make_ugly_files import encoded, texts
from trials.errors import IngestError
from trials.ingest import read_file
from trials.record import Intake

HERE = Path(__file__).resolve().parent
STUDY = cells()
PLAN = plan_of(STUDY)
Numbers = dict[tuple[str, int | None], dict[str, Decimal | None]]
CLEAN: Numbers = {
    (row[0], int(row[1])): {
        name: Decimal(text) for name, text in zip((VOC, ISC, LOAD, LIGHT), row[2:], strict=True)
    }
    for row in cell_rows(CODES[:6])
}


def _numbers(intake: Intake) -> Numbers:
    return {
        (row.item, row.reading): {cell.column: cell.value for cell in row.cells}
        for row in intake.rows
    }


def test_there_are_enough_and_no_file_is_missing_from_the_table() -> None:
    files = {path.name for path in HERE.iterdir() if path.suffix not in (".py", "", ".pyc")}
    assert files == set(EXPECTED)
    assert len(files) >= 60


def test_what_the_script_writes_is_what_stands_here() -> None:
    for name, content in {**{k: v.encode() for k, v in texts().items()}, **encoded()}.items():
        assert (HERE / name).read_bytes() == content, name


@pytest.mark.parametrize("name", EXPECTED)
def test_read_asked_or_refused_exactly_so(name: str) -> None:
    expected = EXPECTED[name]
    if isinstance(expected, Refused):
        with pytest.raises(IngestError) as problem:
            read_file(HERE / name, name, STUDY, PLAN)
        assert problem.value.code == expected.code
        assert problem.value.found.startswith(expected.found)
        assert problem.value.where.startswith(name)
        assert problem.value.allowed
        assert problem.value.do
        return
    columns = expected.columns if isinstance(expected, Same) else {}
    study = STUDY.model_copy(update={"columns": columns})
    intake = read_file(HERE / name, name, study, PLAN)
    assert intake.content == (HERE / name).read_bytes()
    if isinstance(expected, Same):
        assert _numbers(intake) == CLEAN
        assert intake.questions == ()
        assert any(expected.note in note for note in intake.notes) or not expected.note
        return
    asked = [
        Question(q.code, q.row or 0, q.item, q.column, q.proposal, q.sheet)
        for q in intake.questions
    ]
    assert asked == list(expected.questions)
    assert all(q.do and q.why and q.found and q.file == name for q in intake.questions)
    _same_but_for(expected, intake)


def _same_but_for(expected: Asked, intake: Intake) -> None:
    """Every number that no question is about is as in the clean table."""
    about = {
        (place.row, question.column) for question in intake.questions for place in question.places
    }
    for row in intake.rows:
        found = {cell.column: cell.value for cell in row.cells}
        for column, value in CLEAN.get((row.item, row.reading), {}).items():
            if column in expected.missing:
                assert found.get(column) is None
            elif (row.place.row, column) not in about and (row.place.row, None) not in about:
                assert found[column] == value
