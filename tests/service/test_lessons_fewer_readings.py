"""The cure "fewer readings of each", carried out line by line as it is printed."""

from __future__ import annotations

import io
import re
from pathlib import Path

import openpyxl

from tests.command_line import CommandLine
from tests.remembered import words_of_pages
from trials.record import Store
from trials.service.analyse import told_measured
from trials.service.opening import held_plan

TOLD = re.compile(
    r"done in (?P<lessons>\d+) lessons?\..*"
    r"Write minutes = (?P<minutes>\d+) under that step in study\.toml \(name = (?P<step>\S+)\), "
    r"and readings = (?P<readings>\d+) under \[(?P<section>\S+)\]; where the step's text says how "
    r"many readings, change that, too\. Then place the rest again as now"
)


def test_what_is_printed_is_all_that_has_to_be_done(tmp_path: Path) -> None:
    trials = CommandLine(tmp_path)
    trials.run("new", "cells", "--example", "lessons")
    trials.run("plan", "cells", "--seed", "1")
    trials.run("sheets", "cells")
    again = ("lessons", "cells", "--since", "2", *("--without", "meter pair") * 2)
    told = trials.run(*again, code=1)
    cure = TOLD.search(told)
    assert cure is not None, told
    path = tmp_path / "cells" / "study.toml"
    text = _written(path.read_text(encoding="utf-8"), cure)
    path.write_text(text, encoding="utf-8")

    done = trials.run(*again)
    assert f"Time: {cure['lessons']} lessons of 50 minutes" in done
    assert "Next: trials sheets cells" in done
    trials.run("sheets", "cells")
    assert cure["readings"] == "1"  # of three; so each code has one line
    sheets = tmp_path / "cells" / "sheets"
    shown = " ".join(words_of_pages((sheets / "measuring-sheets.pdf").read_bytes()))
    assert "1 reading of each" in shown
    book = openpyxl.load_workbook(io.BytesIO((sheets / "entry-workbook.xlsx").read_bytes()))
    codes = _codes(tmp_path / "cells")
    filled = [
        str(cell.value) for sheet in book.worksheets for row in sheet.iter_rows(max_col=1)
        for cell in row if cell.value in codes
    ]  # fmt: skip
    assert sorted(filled) == sorted(codes)
    with held_plan(tmp_path / "cells") as opened, Store.open(opened.here.record) as store:
        departures = told_measured(opened, store.state()).departures
    assert any("responses.power.readings was 3 and is now 1" in one for one in departures)


def _codes(folder: Path) -> list[str]:
    with held_plan(folder) as opened:
        return [row.item for row in opened.plan.rows]


def _written(text: str, cure: re.Match[str]) -> str:
    """Return study.toml with the lines that were told, each found by what the cure says of it."""
    steps = text.split("[[steps]]\n")
    at = next(n for n, step in enumerate(steps) if f"name = {cure['step']}\n" in step)
    steps[at], times = re.subn(r"(?m)^minutes = \d+$", f"minutes = {cure['minutes']}", steps[at])
    assert times == 1
    steps[at] = steps[at].replace(" Lift the cell off and do it again until you have three", " One")
    text = "[[steps]]\n".join(steps)
    before, section, after = text.partition(f"[{cure['section']}]\n")
    assert section
    after, times = re.subn(
        r"(?m)^readings = \d+$", f"readings = {cure['readings']}", after, count=1
    )
    assert times == 1
    return before + section + after
