"""How long `trials collect` takes for a million readings, and how much memory.

    python -m tests.benchmarks.bench_collect [READINGS] [FILES]

Prints seconds of processor time and megabytes, beside pandas reading the same files and writing
them into a database as one table: which keeps no text, no unit and no place, and asks nothing.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

_TRIALS = """
import json, resource, sys, time
from pathlib import Path
start = time.process_time()
from trials.service.collect import collect_files
found = collect_files(Path(sys.argv[1]), tuple(map(Path, sys.argv[2:])))
print(json.dumps({
    "seconds": time.process_time() - start,
    "megabytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    "readings": sum(one.readings for one in found.taken),
    "questions": len(found.questions),
}))
"""
_PANDAS = """
import json, resource, sqlite3, sys, time
start = time.process_time()
import pandas as pd
with sqlite3.connect(sys.argv[1]) as connection:
    rows = 0
    for name in sys.argv[2:]:
        frame = pd.read_csv(name)
        frame.to_sql("readings", connection, if_exists="append")
        rows += len(frame)
print(json.dumps({
    "seconds": time.process_time() - start,
    "megabytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    "readings": rows,
}))
"""


def _study(base: Path) -> Path:
    folder = base / "planes"
    for verb in (["new", folder, "--example", "planes"], ["plan", folder, "--seed", "3"]):
        subprocess.run([sys.executable, "-m", "trials", *map(str, verb)], check=True,
                       stdout=subprocess.DEVNULL)  # fmt: skip
    return folder


def _files(folder: Path, base: Path, readings: int, files: int) -> list[str]:
    """Write what a logger writes: the item, the time, a number with four decimals."""
    plan = json.loads((folder / "plan.json").read_bytes())
    rows = [
        (row["item"], 9.0 if row["factors"]["shape"] == "dart" else 4.0) for row in plan["rows"]
    ]
    chance = np.random.default_rng(1)
    each = readings // files
    paths = []
    for number in range(files):
        path = base / f"logger{number}.csv"
        with path.open("w", encoding="utf-8") as out:
            out.write("item,time,distance flown (m)\n")
            for n in range(each):
                item, middle = rows[(number + n * len(rows) // each) % len(rows)]
                second = number * each + n
                clock = f"{second // 3600 % 24:02d}:{second // 60 % 60:02d}:{second % 60:02d}"
                out.write(f"{item},{clock},{middle + chance.normal(0, 0.5):.4f}\n")
        paths.append(str(path))
    return paths


def _run(program: str, *arguments: str) -> dict[str, float]:
    done = subprocess.run([sys.executable, "-c", program, *arguments], check=True,
                          capture_output=True, text=True)  # fmt: skip
    told: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return told


def measure(readings: int = 1_000_000, files: int = 1) -> dict[str, float]:
    """Return seconds and megabytes of both, and how many times as long ours takes."""
    with tempfile.TemporaryDirectory() as temporary:
        base = Path(temporary)
        folder = _study(base)
        paths = _files(folder, base, readings, files)
        ours = _run(_TRIALS, str(folder), *paths)
        theirs = _run(_PANDAS, str(base / "pandas.db"), *paths)
    assert ours["readings"] == theirs["readings"] == readings // files * files
    return {
        "readings": ours["readings"],
        "files": files,
        "questions": ours["questions"],
        "seconds": round(ours["seconds"], 1),
        "megabytes": round(ours["megabytes"]),
        "pandas_seconds": round(theirs["seconds"], 1),
        "pandas_megabytes": round(theirs["megabytes"]),
        "times_pandas": round(ours["seconds"] / theirs["seconds"], 1),
    }


if __name__ == "__main__":
    sys.stdout.write(json.dumps(measure(*map(int, sys.argv[1:]))) + "\n")
