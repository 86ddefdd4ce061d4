"""Tables as a class really hands them in: each is read right, asked about, or refused in words.

All numbers here are made up for the purpose.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.ingest.bench import CELL_HEADINGS, CODES, VOC, cell_rows, cells, plan_of, table
from trials.errors import IngestError
from trials.ingest import read_file
from trials.record import Intake

STUDY = cells()
PLAN = plan_of(STUDY)


def _read(text: str) -> Intake:
    return read_file(text.encode(), "a.csv", STUDY, PLAN)


def _refused(text: str) -> IngestError:
    with pytest.raises(IngestError) as problem:
        _read(text)
    return problem.value


def test_two_headings_that_were_exchanged() -> None:
    headings = ["item", CELL_HEADINGS[0], "reading", *CELL_HEADINGS[1:]]
    refusal = _refused(table(cell_rows(), headings))
    assert refusal.code == "ingest.reading_numbers"
    assert refusal.found == "0.403, 0.404, 0.406, 0.407 under 'reading'"
    assert f"'{CELL_HEADINGS[0]}'" in refusal.do


def test_exchanged_headings_are_found_among_whole_numbers_too() -> None:
    rows = [[*row[:5], row[5]] for row in cell_rows()]  # light is a whole number
    headings = ["item", CELL_HEADINGS[3], *CELL_HEADINGS[:3], "reading"]
    assert _refused(table(rows, headings)).code == "ingest.reading_numbers"


def test_odd_reading_numbers_are_no_reason_to_refuse() -> None:
    rows = [
        [row[0], "1.5" if i == 3 else str(i + 1), *row[2:]] for i, row in enumerate(cell_rows())
    ]
    assert _read(table(rows)).questions == ()  # numbered through the class, with one slip


def test_free_reading_numbers_are_each_items_own() -> None:
    rows = [[row[0], "2" if row[:2] == ["BD27", "1"] else "", *row[2:]] for row in cell_rows()]
    numbers: dict[str, list[int | None]] = {}
    for row in _read(table(rows)).rows:
        numbers.setdefault(row.item, []).append(row.reading)
    assert numbers.pop("BD27") == [2, 1]
    assert set(map(tuple, numbers.values())) == {(1, 2)}


@pytest.mark.parametrize(
    "names", [("Voc", "Voc"), ("Voc 1", "Voc 1"), ("Voc", "Voc 1"), (f"{VOC} (V)", "Voc")]
)  # fmt: skip
def test_two_columns_of_one_quantity_are_refused_with_the_way_to_write_them(
    names: tuple[str, str],
) -> None:
    rows = [[code, "0.41", "0.42"] for code in CODES]
    refusal = _refused(table(rows, ["item", *names]))
    assert refusal.code == "ingest.column_twice"
    assert refusal.found == f"'{names[0]}' and '{names[1]}'"
    assert "number the headings" in refusal.do


def test_very_many_cells_without_a_number_are_one_question() -> None:
    rows = [[*row[:2], f"about {row[2]}", *row[3:]] for row in cell_rows()]
    questions = [q for q in _read(table(rows)).questions if q.code == "not_a_number"]
    assert len(questions) == 1
    (question,) = questions
    assert len(question.places) == 24
    assert question.found.startswith("24 numbers (BD27, CF34, DG41, FH58, GJ65, HK72 ...), such as")
    assert question.answers == ("set-aside",)
    assert question.do.startswith("mend them in the file and collect it again")
    few = [[*row[:2], f"about {row[2]}" if i < 10 else row[2], *row[3:]]
           for i, row in enumerate(cell_rows())]  # fmt: skip
    assert len([q for q in _read(table(few)).questions if q.code == "not_a_number"]) == 10


def test_thousands_of_readings_of_one_item_are_read() -> None:
    """The longest table that is taken; going through all pairs would take minutes."""
    lines = "".join(f"{CODES[i % 2]},{0.4 + i % 7 / 1000:.3f}\n" for i in range(19_990))
    intake = _read("item,Voc (V)\n" + lines)
    assert len(intake.rows) == 19_990


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no device that never ends")
@pytest.mark.parametrize("device", ["/dev/zero", "/dev/null"])
def test_a_file_that_never_ends_or_never_begins_is_refused(device: str) -> None:
    with pytest.raises(IngestError) as problem:
        read_file(Path(device), "device", STUDY, PLAN)
    assert problem.value.code == "ingest.empty"  # zero bytes only


def test_a_file_of_many_megabytes_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "film.csv"
    with path.open("wb") as file:
        file.write(b"item,Voc (V)\n")
        file.seek(30_000_000)
        file.write(b"x")
    with pytest.raises(IngestError) as problem:
        read_file(path, "film.csv", STUDY, PLAN)
    assert (problem.value.code, problem.value.found) == ("ingest.too_large", "more than 10 MB")
