"""Whatever is handed in, a reader takes it or refuses it in words, soon and in little memory.

The bounds are what the readers promise, not outside numbers: 1 s of the processor for an input (for
one of very many lines its share of a minute for a million), 500 MB for a whole process.
"""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.ingest import fuzzing
from tests.ingest.bench import CODES, VOC, cells, ods, ods_body, ods_parts, plan_of
from tests.ingest.fuzzing import LOADS, MOST_MEGABYTES, Doors, Told
from tests.ingest.mangled import mangled
from tests.sizes import examples
from trials.analysis.table_reading import read_table
from trials.errors import AnalysisError, IngestError, RecordError
from trials.ingest import collect, read_file
from trials.ingest.points import read_points
from trials.record import Store
from trials.record.database import transaction
from trials.record.values import Place

EFFORT = 200_000  # inputs
A_PROCESS = 5_000
DRAWN = 5  # of how many inputs one is drawn by hypothesis, the others are mangled files
SEED = 20_261_126


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="memory and time are limited by POSIX means")
def test_no_input_makes_a_reader_fail_linger_or_swell(
    evidence: Callable[[str, object], None],
) -> None:
    count = examples(700, EFFORT)
    ends: Counter[str] = Counter()
    faults: list[str] = []
    told = []
    for first in range(0, count, A_PROCESS):
        size = min(A_PROCESS, count - first)
        found = _in_a_process(first, size - size // DRAWN, size // DRAWN)
        ends.update(found["ends"])
        faults += found["faults"]
        told.append(found)
    largest = max(one["most_megabytes"] for one in told)
    evidence(
        "fuzzed_inputs",
        {
            "inputs": sum(one["inputs"] for one in told),
            "ends": dict(sorted(ends.items())),
            "faults": faults,
            "slowest_seconds_and_input": max(one["slowest"] for one in told),
            "most_megabytes_of_a_process": largest,
        },
    )
    assert not faults, "\n\n".join([f"{len(faults)} faults", *faults[:10]])
    assert largest < MOST_MEGABYTES
    assert ends.total() >= count
    # it is no use if every input is thrown out at the door
    assert min(ends[door] for door in ("read", "table", "collect")) > count / 100
    assert len(ends) > 15


def _in_a_process(first: int, count: int, drawn: int) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "tests.ingest.fuzzing",
         *map(str, (SEED, first, count, drawn))],
        capture_output=True, text=True, check=False, env={**os.environ, "PYTHONHASHSEED": "0"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_an_input_can_be_made_again() -> None:
    assert mangled(3, 5) == mangled(3, 5)
    assert mangled(3, 5) != mangled(3, 6)


def test_the_harness_sees_a_fault_and_a_reader_that_lingers(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told = Told()
    with Doors() as doors:
        monkeypatch.setattr(Doors, "through", lambda *_: 1 / 0)
        told.one(doors, 0, "first", "a.csv", b"")
        monkeypatch.setattr(fuzzing, "MOST_SECONDS", -1.0)
        monkeypatch.setattr(fuzzing, "SECONDS_A_READING", -1.0)
        monkeypatch.setattr(Doors, "through", lambda *_: str(sum(range(100_000))))
        told.one(doors, 0, "second", "a.csv", b"\n\r")
    assert "ZeroDivisionError" in told.faults[0]
    assert told.faults[1].startswith("second, a.csv: 0.")


@pytest.mark.skipif(not Path("/proc/self/clear_refs").exists(), reason="Linux alone tells")
def test_the_harness_sees_the_memory_of_reading_and_not_that_of_making_an_input(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told, before = Told(), fuzzing.held_now()
    large = bytes(range(256)) * 1_600_000  # 400 MB, while an input is made
    del large
    with Doors() as doors:
        monkeypatch.setattr(Doors, "through", lambda *_: str(len(b"a" * 60_000_000)))
        for _ in range(3):  # the system may take back pages of a large process meanwhile
            told.one(doors, 0, "first", "a.csv", b"")
    assert told.largest[0] == pytest.approx(60, abs=6)
    assert told.most < before + 400


# ---- faults that were found so, each kept as it was mended ------------------------------------


def _took(content: bytes, name: str) -> tuple[str, float]:
    """Return with which code a file is refused, and seconds of the processor."""
    begun = time.process_time()
    with pytest.raises(IngestError) as problem:
        read_file(content, name, cells(), plan_of(cells()))
    assert len(problem.value.text()) < 3000
    return problem.value.code, time.process_time() - begun


def test_a_heading_as_long_as_a_book_is_soon_refused() -> None:
    """The pattern of numbered headings took time with the square of its length."""
    _took(b"item;a\n", "a.csv")  # loads what is needed
    word = b"a " * 30_000
    code, seconds = _took(b"thing;" + word + b";Voc " + word + b"\nBD27;1;0.4\n", "a.csv")
    assert code == "ingest.no_item_column"
    assert seconds < 1


def test_a_question_about_thousands_of_lines_is_not_gone_through_for_each_of_them() -> None:
    """The first sheet raises it; each line of the second was held against all its places."""
    head: list[str | float] = ["item", f"{VOC} (V)", "of my own (mA)"]
    row: list[str | float] = [CODES[0], 0.4, 0.4]
    rows = [head, *([row] * 4000)]
    content = ods({"a": rows, "b": rows})
    begun = time.process_time()
    read_file(content, "a.ods", cells(), plan_of(cells()))
    assert time.process_time() - begun < 4


def test_questions_about_every_line_are_not_looked_up_line_by_line(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """One reading entered 182,000 times took 16 s: each place was looked for fourteen times."""
    looked, own = 0, Place.__hash__

    def counted(place: Place) -> int:
        nonlocal looked
        looked += 1
        return own(place)

    content = (f"item;reading;{VOC} (V)\n" + f"{CODES[0]};1;0.4\n" * 500).encode()
    monkeypatch.setattr(Place, "__hash__", counted)
    questions = read_file(content, "a.csv", cells(), plan_of(cells())).questions
    assert [len(q.places) for q in questions] == [499, 500, 500]
    assert looked <= 5 * 500


def test_a_reading_number_too_large_for_a_remainder_of_decimals() -> None:
    """Context precision of 28 figures: a remainder of more is refused by the decimal module."""
    text = f"item;reading;Voc (V)\n{CODES[0]};{'9' * 40};0.4\n{CODES[1]};1;0.4\n"
    assert read_file(text.encode(), "a.csv", cells(), plan_of(cells())).rows


def test_rows_that_are_said_to_repeat_are_counted() -> None:
    cell = "<table:table-cell><text:p>0.4</text:p></table:table-cell>"
    row = f'<table:table-row table:number-rows-repeated="19000">{cell}</table:table-row>'
    code, _ = _took(ods_body(f"<table:table>{row}</table:table>" * 30), "a.ods")
    assert code == "ingest.too_large"


def test_headings_none_of_which_is_known_are_found_by_the_codes_below_them() -> None:
    text = "Klasse 8b;;\n\nBecher;Leitwert;Notiz\nBD27;1,5;\nCF34;1,7;gut\n"
    with pytest.raises(IngestError) as problem:
        read_file(text.encode(), "a.csv", cells(), plan_of(cells()))
    assert problem.value.code == "ingest.no_item_column"
    assert '"Becher" = "item"' in problem.value.do


def test_a_packed_file_whose_list_points_before_its_start() -> None:
    whole = bytearray(ods_body("<table:table/>"))
    at = whole.rindex(b"PK\x05\x06") + 16  # where the list of parts begins (APPNOTE 4.3.16)
    begins = int.from_bytes(whole[at : at + 4], "little")
    whole[at : at + 4] = (begins + 14).to_bytes(4, "little")
    with (
        pytest.raises(ValueError, match="negative seek"),
        zipfile.ZipFile(io.BytesIO(bytes(whole))) as packed,
    ):
        packed.open("mimetype")
    assert _took(bytes(whole), "a.ods")[0] == "ingest.broken_workbook"


@pytest.mark.parametrize("content", [b'""', b'sep=;\n""\n'])
def test_a_table_to_analyse_that_holds_only_quotation_marks(content: bytes) -> None:
    with pytest.raises(AnalysisError) as problem:
        read_table(content, "a.csv")
    assert problem.value.code == "table.empty"
    assert problem.value.allowed


def test_points_are_refused_with_what_is_allowed() -> None:
    with pytest.raises(IngestError) as problem:
        read_points(b"a;b\n1;2\n", "a.csv", LOADS)
    assert problem.value.allowed


@pytest.mark.parametrize("codes", [("BD27", "CF34"), ("BD27", "BD27"), ("BD27", "", "CF34", "")])
def test_items_side_by_side_have_each_a_place_of_their_own_in_the_record(
    tmp_path: Path, codes: tuple[str, ...]
) -> None:
    """They were read as one row with one reading, and the record refused the second."""
    head = f"reading;{';'.join('12' * (len(codes) // 2))}\n" if "" in codes else ""
    numbers = ";".join(f"0.4{place}" for place in range(len(codes)))
    text = f"quantity;{';'.join(codes)}\n{head}{VOC} (V);{numbers}\n"
    with Store.open(tmp_path / "record.db") as store:
        taken = collect(store, text.encode(), "a.csv", cells(), plan_of(cells()))
        rows = store.rows()
    assert taken.readings == len(codes)
    assert len({row.place for row in rows}) == len(codes)
    assert {str(row.cells[0].number) for row in rows} == set(numbers.split(";"))


def test_what_the_record_refuses_by_its_own_rules_is_no_fault_of_disk_or_folder(
    tmp_path: Path,
) -> None:
    add, path = "INSERT INTO steps (what, number) VALUES ('files', 1)", tmp_path / "record.db"
    with Store.open(path) as store:
        with transaction(store._connection, path) as connection:
            connection.execute(add)
        with (
            pytest.raises(RecordError) as problem,
            transaction(store._connection, path) as connection,
        ):
            connection.execute(add)
    assert problem.value.code == "record.mistake"
    assert "UNIQUE" in problem.value.found


_LAMPS = ";first lamp;;second lamp;\n"
_LOWER = "item;Voc (V);light (W/m^2);Voc (V);light (W/m^2)\n"
_FIRST, _SECOND = f"{CODES[0]};0.41;790;0.51;990\n", f"{CODES[1]};0.42;791;0.52;991\n"


@pytest.mark.parametrize(
    ("below", "times"),
    [
        (_LOWER + _FIRST + _SECOND, 2),
        (_LOWER * 3 + _FIRST + _LOWER + _SECOND, 5),
        (_FIRST + _LOWER + _SECOND, 2),
        (_FIRST + _LAMPS + _LOWER + _SECOND, 2),
    ],
)
def test_the_lower_of_two_rows_of_headings_comes_again(below: str, times: int) -> None:
    """It was taken as another table, whose headings began above the first one's."""
    content = (_LAMPS + _LOWER + below).encode()
    plain = (_LAMPS + _LOWER + _FIRST + _SECOND).encode()
    found, alone = (read_file(one, "a.csv", cells(), plan_of(cells())) for one in (content, plain))
    assert [row.cells for row in found.rows] == [row.cells for row in alone.rows]
    assert [row.item for row in found.rows] == [CODES[0], CODES[1]]
    assert [q.code for q in found.questions] == [q.code for q in alone.questions]
    assert f"a.csv: the heading row stands there {times} times." in found.notes


def test_headings_that_come_again_thousands_of_times_are_not_a_table_each() -> None:
    """With a quantity in two columns each was joined with the one above it, for 20 s."""
    head = f"item;{VOC} (V);{VOC} (mV)\n"
    code, seconds = _took((head * 2000 + f"{CODES[0]};0.41;410\n").encode(), "a.csv")
    assert code == "ingest.column_twice"
    assert seconds < 1


def test_two_sheets_of_one_name_are_both_recorded(tmp_path: Path) -> None:
    """A damaged workbook names two sheets alike: their rows had one place in the record."""
    head = ["item", f"{VOC} (V)"]
    content = ods({name: [head, [code, 0.4]] for name, code in zip("ab", CODES[:2], strict=True)})
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        text = packed.read("content.xml").decode()
    content = ods_parts({"content.xml": text.replace('table:name="b"', 'table:name="a"')})
    with Store.open(tmp_path / "record.db") as store:
        taken = collect(store, content, "a.ods", cells(), plan_of(cells()))
        assert [row.item for row in store.rows()] == list(CODES[:2])
        assert [row.place.sheet for row in store.rows()] == ["a", "a (2)"]
    assert taken.readings == 2


def test_a_unit_in_small_letters_in_a_heading_is_the_unit() -> None:
    table = f"item;{VOC} (V);short-circuit current (ma)\n{CODES[0]};0.4;1.13\n".encode()
    read = read_file(table, "a.csv", cells(), plan_of(cells()))
    assert [row.item for row in read.rows] == [CODES[0]]
