"""NIST's eleven certified sets: at least fourteen correct digits of F by every way in.

The ways: the Python call, the command line in this process, and (for one set) a command started
afresh. The table of digits is printed if a set fails, and kept in reports/evidence/ by
``.ci/long``.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from decimal import Decimal
from functools import cache
from io import StringIO
from pathlib import Path

import pandas as pd
import pytest

import trials
from tests.sizes import LONG
from trials.cli.start import run

from .nist import NAMES, Certified, correct_digits, read

ENOUGH = 14.0
OPTIONS = trials.Options(response="y", resamples=0)


@cache
def certified(name: str) -> Certified:
    return read(name)


@cache
def by_python(name: str) -> trials.Findings:
    table = pd.read_csv(StringIO(certified(name).table()), dtype=str)
    return trials.analyse_table(table, trials.Structure(factors=("level",)), OPTIONS)


def test_the_sets_are_all_there_and_whole() -> None:
    """Eleven sets; NIST's page gives 25 to 18,009 observations."""
    sizes = [len(certified(name).values) for name in NAMES]
    assert sizes == [25, 48, 189, 1809, 18009, 189, 1809, 18009, 189, 1809, 18009]
    assert certified("SmLs07").values[0].startswith("1000000000000.")


def test_digits_are_counted_as_nist_counts_them() -> None:
    assert correct_digits(1.0 + 1e-7, Decimal(1)) == pytest.approx(7)
    assert correct_digits(21.0, Decimal("2.1E+01")) == 15
    assert correct_digits(None, Decimal(1)) == 0


def digits_by_python(name: str) -> float:
    (line,) = by_python(name).responses[0].effects
    assert line.num_df == certified(name).between_df
    assert line.den_df == certified(name).within_df
    return correct_digits(line.f, certified(name).f)


@pytest.mark.long
def test_python_call(evidence: Callable[[str, object], None]) -> None:
    digits = {name: round(digits_by_python(name), 2) for name in NAMES}
    evidence("nist_strd", {"correct digits of F": digits, "at least": ENOUGH})
    assert min(digits.values()) >= ENOUGH, json.dumps(digits, indent=1)


@pytest.mark.parametrize("name", NAMES)
def test_residual_spread(name: str) -> None:
    """The error variance too, to fourteen digits less one for the square."""
    (row,) = by_python(name).responses[0].variance_components
    assert row.group == "residual"
    assert correct_digits(row.variance, certified(name).residual_sd ** 2) >= ENOUGH - 0.5


def command(table: Path) -> list[str]:
    asked = ["analyse", str(table), "--response", "y", "--factor", "level"]
    return [*asked, "--resamples", "0", "--json"]


def digits_in(document: str, name: str) -> float:
    found = json.loads(document)
    (line,) = found["responses"][0]["effects"]
    assert (line["term"], line["num_df"]) == ("level", certified(name).between_df)
    return correct_digits(line["f"], certified(name).f)


@pytest.mark.long
def test_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """All in ``.ci/long``; elsewhere the three of 18,009 numbers by the Python call alone."""
    digits = {}
    for name in NAMES:
        if len(certified(name).values) > 10_000 and not LONG:
            continue
        table = tmp_path / f"{name}.csv"
        table.write_text(certified(name).table(), encoding="utf-8")
        code = run(command(table))
        said = capsys.readouterr()
        assert code == 0, said.err
        digits[name] = round(digits_in(said.out, name), 2)
    assert min(digits.values()) >= ENOUGH, json.dumps(digits, indent=1)


def test_command_started_afresh(tmp_path: Path) -> None:
    table = tmp_path / "SmLs07.csv"
    table.write_text(certified("SmLs07").table(), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "trials", *command(table)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert digits_in(done.stdout, "SmLs07") >= ENOUGH


def test_floats_alone_would_not_do() -> None:
    """Why the text of a number matters: textbook sums on plain floats lose the hard sets."""
    from scipy import stats

    hard = certified("SmLs07")
    frame = pd.DataFrame({"level": hard.levels, "y": [float(value) for value in hard.values]})
    f = float(stats.f_oneway(*(part["y"] for _, part in frame.groupby("level"))).statistic)
    assert correct_digits(f, hard.f) < ENOUGH
