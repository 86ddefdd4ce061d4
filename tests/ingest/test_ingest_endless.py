"""A load resistance without end: written 'open' at every door, kept, and refused anywhere else.

All numbers here are made up for the purpose: sources of about 0.45 V behind 300 ohm.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.command_line import CommandLine
from tests.ingest.bench import CODES, cells, plan_of, workbook
from trials.errors import IngestError, RecordError
from trials.ingest import collect, read_file
from trials.ingest import workbook_layout as layout
from trials.ingest.points import read_points
from trials.record import Decision, Store, measured
from trials.reduction import columns_of
from trials.sheets.parts import Job
from trials.sheets.workbook import entry_workbook
from trials.study.values import Response

LOADS = (33, 68, 150, 220, 330, 470, 1000, 2200)
SWEPT = Response(
    name="voltage", unit="V", reducer="iv_sweep", readings=len(LOADS) + 1, primary=True,
    settings={"quantity": "voc", "current_from": "load resistance"}, low=0, high=0.8,
)  # fmt: skip
STUDY = cells().model_copy(update={"responses": (SWEPT,)})
PLAN = plan_of(STUDY)
COLUMNS = columns_of(STUDY.responses)


def _voltage(load: float, number: int) -> str:
    return f"{(0.45 + 0.001 * number) * load / (load + 300):.3f}"


def _text(word: str, codes: tuple[str, ...] = CODES) -> str:
    lines = ["item,voltage (V),load resistance (ohm)"]
    for number, code in enumerate(codes):
        lines += [f"{code},{_voltage(load, number)},{load}" for load in LOADS]
        lines.append(f"{code},{_voltage(1e12, number)},{word}")
    return "\n".join(lines) + "\n"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "record.db") as opened:
        yield opened


@pytest.mark.parametrize("word", ["open", "Open circuit", "offen", "∞", "inf", "∞ Ω", "INFINITY"])
def test_an_open_load_is_taken_by_both_readers_and_its_text_is_kept(
    store: Store, word: str
) -> None:
    collect(store, _text(word).encode(), "a.csv", STUDY, PLAN)
    assert store.questions() == ()
    (last,) = {row.cell("load resistance") for row in store.rows() if row.reading == 9}
    assert last is not None
    assert (last.text, str(last.value)) == (word, "Infinity")
    values = measured(store, STUDY, PLAN).values
    assert [value.status for value in values] == ["measured"] * len(CODES)
    assert values[3].value == pytest.approx(0.453, rel=0.01)
    table = read_points(_text(word, CODES[:1]).encode(), "BD27.csv", COLUMNS)
    assert str(table.rows[-1]["load resistance"]) == "Infinity"


def test_an_open_load_in_a_workbook_and_in_kilohm() -> None:
    rows = [[CODES[0], 1, 0.3, 0.68], [CODES[0], 2, 0.45, "open"]]
    names = layout.headings_of(STUDY)
    title = layout.measuring_sheets(STUDY, PLAN)[0].title
    found = read_file(workbook(STUDY, PLAN, {title: rows}), "a.xlsx", STUDY, PLAN)
    assert names[3] == "load resistance (ohm)"
    assert str(found.rows[1].cells[1].value) == "Infinity"
    text = f"item,voltage (V),R (kohm)\n{CODES[0]},0.3,0.68\n{CODES[0]},0.45,open\n"
    assert str(read_file(text.encode(), "a.csv", STUDY, PLAN).rows[1].cells[1].value) == "Infinity"


@pytest.mark.parametrize("word", ["open", "inf", "Infinity", "∞", "1e999"])
def test_nothing_else_is_without_end(word: str) -> None:
    """Nor is a load written as a number too large for any: that is a slip of the keys."""
    column = "load resistance" if word == "1e999" else "voltage"
    line = f"0.3,{word}" if word == "1e999" else f"{word},68"
    text = f"item,voltage (V),load resistance (ohm)\n{CODES[0]},{line}\n"
    (asked,) = [
        q
        for q in read_file(text.encode(), "a.csv", STUDY, PLAN).questions
        if q.code == "not_a_number"
    ]
    assert asked.column == column
    with pytest.raises(IngestError) as problem:
        read_points(text.encode(), "a.csv", COLUMNS)
    assert problem.value.found == word
    assert ("'open'" in problem.value.allowed) == (word == "1e999")


def test_a_misspelt_open_is_asked_for_and_may_be_answered_by_open(store: Store) -> None:
    collect(store, _text("open").replace("open", "opne", 1).encode(), "a.csv", STUDY, PLAN)
    (asked,) = store.questions(only_open=True)
    assert asked.code == "not_a_number"
    assert "or open" in asked.do
    with pytest.raises(RecordError) as problem:
        store.answer(asked.id, Decision("correct", "opne", "looked", "T1"), CODES)
    assert "open" in problem.value.allowed
    store.answer(asked.id, Decision("correct", "open", "it is", "T1"), CODES)
    found = measured(store, STUDY, PLAN)
    assert not found.open_questions
    assert {value.status for value in found.values} == {"measured"}


def test_the_workbook_lets_a_person_write_open() -> None:
    """A custom rule of ECMA-376, 18.18.21: any text but open, and any number below zero, asks."""
    book = load_workbook(io.BytesIO(entry_workbook(Job(STUDY, PLAN, "a4"))))
    page = book[layout.measuring_sheets(STUDY, PLAN)[0].title]
    (rule,) = [r for r in page.data_validations.dataValidation if r.type == "custom"]
    cell = str(rule.sqref).split(":")[0]
    assert rule.formula1 == f'OR({cell}="open",AND(ISNUMBER({cell}),{cell}>=0))'
    assert "or open" in (rule.prompt or "")


_STUDY_FILE = """
title = "Loads"
question = "Which gives more?"

[factors.recipe]
levels = ["a", "b"]

[groups.session]
count = 2

[limits]
items = 12

[responses.power]
unit = "mW"
reducer = "iv_sweep"
settings = { quantity = "power", current_from = "load resistance" }
readings = 9
primary = true
compare = "difference"
"""


def test_findings_report_and_exported_readings_live_with_it(line: CommandLine) -> None:
    folder = line.folder / "loads"
    folder.mkdir()
    (folder / "study.toml").write_text(_STUDY_FILE, encoding="utf-8")
    line.run("plan", "loads", "--seed", "3")
    line.run("sheets", "loads")
    with (folder / "plan.csv").open(encoding="utf-8") as file:
        codes = tuple(row["item"] for row in csv.DictReader(file))
    (line.folder / "read.csv").write_text(_text("open", codes), encoding="utf-8")
    taken = line.json("collect", "loads", "read.csv")
    assert taken["questions"] == []
    (found,) = line.json("analyse", "loads")["responses"]
    assert found["n_items"] == len(codes)
    line.run("report", "loads")
    written = list((folder / "report").rglob("*.csv"))
    assert written
    for path in (folder / "findings.json", *(folder / "report").rglob("*.json")):
        json.loads(path.read_bytes(), parse_constant=lambda text: pytest.fail(f"{text} is no JSON"))
    whole = " ".join(path.read_text(encoding="utf-8") for path in written)
    assert not re.search(r"(?i)\b(inf|infinity|nan)\b", whole)
