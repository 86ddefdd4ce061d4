"""What is kept in reports/ beside what the program makes today: is it the same?

Numbers are compared as numbers: another machine may end in another last digit.
"""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from tests.command_line import ROOT

REPORTS = ROOT / "reports"
_NUMBER = re.compile(r"\d+(?:\.\d+)?(?:e[-+]?\d+)?")


def findings_are_fresh(kept: Path, fresh: Path) -> None:
    """Compare findings.json of two study folders: numbers to 1e-9, everything else exactly."""
    one, other = (json.loads((folder / "findings.json").read_bytes()) for folder in (kept, fresh))
    _same(one, other)


def plan_is_fresh(kept: Path, fresh: Path) -> None:
    """Compare plan.csv of two study folders."""
    assert _cells(kept / "plan.csv") == _cells(fresh / "plan.csv")


def text_is_fresh(kept: Path, fresh: Path) -> None:
    """Compare two text files: numbers to 1e-6, everything else exactly."""
    one, other = (_text_and_numbers(path.read_text(encoding="utf-8")) for path in (kept, fresh))
    assert one[0] == other[0]
    assert one[1] == pytest.approx(other[1], rel=1e-6)


def figures_are_fresh(kept: Path, fresh: Path) -> None:
    """Compare two folders of figures: their names, and the numbers behind each."""
    names = {path.name for path in fresh.iterdir()}
    assert {path.name for path in kept.iterdir()} == names
    for name in sorted(name for name in names if name.endswith(".csv")):
        for one, other in zip(_cells(kept / name), _cells(fresh / name), strict=True):
            for a, b in zip(one, other, strict=True):
                assert _text_and_numbers(a)[0] == _text_and_numbers(b)[0], name
                assert _text_and_numbers(a)[1] == pytest.approx(_text_and_numbers(b)[1], rel=1e-9)


def _same(a: object, b: object, where: str = "") -> None:
    if isinstance(a, dict) and isinstance(b, dict):
        assert a.keys() == b.keys(), where
        for key in a:
            _same(a[key], b[key], f"{where}/{key}")
    elif isinstance(a, list) and isinstance(b, list):
        assert len(a) == len(b), where
        for index, (one, other) in enumerate(zip(a, b, strict=True)):
            _same(one, other, f"{where}/{index}")
    elif isinstance(a, float) and isinstance(b, float):
        assert a == pytest.approx(b, rel=1e-9, abs=1e-9), where
    else:
        assert a == b, where


def _text_and_numbers(text: str) -> tuple[str, list[float]]:
    """Return a text without its numbers, and the numbers."""
    return _NUMBER.sub("#", text), [float(number) for number in _NUMBER.findall(text)]


def _cells(path: Path) -> list[list[str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.reader(file))
