"""`trials collect` killed at any moment, and two of it at once: what was told is there, once."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.command_line import CommandLine
from tests.journeys.bench import plan_rows
from trials.record import State, Store

FILES = 8

# collects one file after the other, and says so after each
COLLECTS = """
import sys
from pathlib import Path
from trials.service.collect import collect_files

print("ready", flush=True)
for name in sys.argv[2:]:
    collect_files(Path(sys.argv[1]), (Path(name),))
    print(name, flush=True)
"""


def _files(line: CommandLine) -> list[Path]:
    """Write one file a plane: three throws, one of which asks a question in every second file."""
    paths = []
    for k, item in enumerate(plan_rows(line.folder / "planes")):
        far = [f"{4 + k / 3 + n / 7:.2f}" for n in range(3)]
        far[2] = "far" if k % 2 else far[2]
        path = line.folder / f"{item}.csv"
        rows = "".join(f"{item},{n},{text}\n" for n, text in enumerate(far, start=1))
        path.write_text(f"item,reading,distance flown (m)\n{rows}", encoding="utf-8")
        paths.append(path)
    return paths


def _child(folder: Path, files: list[Path]) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", COLLECTS, str(folder), *map(str, files)],
        stdout=subprocess.PIPE,
        text=True,
    )


def _state(folder: Path) -> tuple[State, list[tuple[str, int, int]]]:
    with Store.open(folder / "record.sqlite") as store:
        assert store._connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return store.state(), [(f.name, f.revision, f.readings) for f in store.files()]


@pytest.mark.long
def test_killed_while_collecting_and_collected_again(
    planes: CommandLine,
    tmp_path: Path,
    effort: Callable[[int], int],
    evidence: Callable[[str, object], None],
) -> None:
    files = _files(planes)
    folder = planes.folder / "planes"
    shutil.copytree(folder, tmp_path / "whole")
    planes.run("collect", tmp_path / "whole", *files)
    whole = _state(tmp_path / "whole")
    kills, acknowledged = max(4, effort(500)), 0
    for turn in range(kills):
        here = tmp_path / f"turn{turn}"
        shutil.copytree(folder, here)
        child = _child(here, files)
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
        time.sleep(0.37 * ((turn * 0.6180339887) % 1))  # some in each file
        child.kill()
        out, _ = child.communicate()
        done = [name for name in out.splitlines() if name.endswith(".csv")]
        acknowledged += len(done)
        kept = {name for name, _, _ in _state(here)[1]} if done else set()
        assert {Path(name).name for name in done} <= kept
        planes.run("collect", here, *files)
        assert _state(here) == whole
        shutil.rmtree(here)
    evidence("collect_killed", {"kills": kills, "acknowledged": acknowledged, "lost": 0,
                                "doubled": 0})  # fmt: skip


def test_two_collect_at_once(planes: CommandLine) -> None:
    files = _files(planes)
    folder = planes.folder / "planes"
    both = [_child(folder, files), _child(folder, files[::-1])]
    for child in both:
        out, _ = child.communicate()
        assert child.returncode == 0
        assert len(out.splitlines()) == 1 + FILES
    state, kept = _state(folder)
    assert sorted(kept) == sorted((path.name, 1, 3) for path in files)
    assert len(state.rows) == 3 * FILES
    assert [q.id for q in state.questions] == [f"Q{n}" for n in range(1, len(state.questions) + 1)]
    assert sum(q.code == "not_a_number" for q in state.questions) == FILES // 2
