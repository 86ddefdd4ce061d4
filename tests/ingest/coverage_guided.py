"""Bytes found by a coverage-guided fuzzer, handed to the same doors as in `fuzzing`.

    python -m tests.ingest.coverage_guided SECONDS

It needs atheris, which no test does: `.ci/long` installs it into an environment of its own. The
fuzzer sees which branches of the program an input reaches, keeps those that reach new ones and
changes them further; it begins with the files that `mangled` begins with. What it found goes to
reports/evidence, with commit and date. Ends with 1 where there is a fault.
"""

from __future__ import annotations

import importlib
import json
import os
import signal
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from tests.evidence import keep_evidence

NAMES = ("a.csv", "BD27.csv", "a.xlsx", "a.ods", "loads.tsv", "K")
DOORS = (0, 3, 4, 9)  # of `fuzzing`: read, points, table, collect
MOST_BYTES = 60_000  # of one input
MOST_FAULTS = 20
SLOWER = 5  # times as long as without counting branches


def main(seconds: int) -> None:
    """Let the fuzzer run for some seconds, tell what it found and end the process."""
    atheris: Any = importlib.import_module("atheris")
    with atheris.instrument_imports(include=["trials"]):
        fuzzing: Any = importlib.import_module("tests.ingest.fuzzing")
        seeds = importlib.import_module("tests.ingest.mangled").seeds
    fuzzing.MOST_SECONDS *= SLOWER
    fuzzing.SECONDS_A_READING *= SLOWER
    told, doors = fuzzing.Told(), fuzzing.Doors()
    ends = time.monotonic() + seconds
    signal.signal(signal.SIGPROF, fuzzing.stop)

    def hand_in(data: bytes) -> None:
        if len(data) >= 2:
            door, name = DOORS[data[0] % len(DOORS)], NAMES[data[1] % len(NAMES)]
            label = data.hex() if len(data) < 2000 else f"{data[:2000].hex()} and more"
            told.one(doors, door, label, name, data[2:])
        if time.monotonic() > ends or len(told.faults) >= MOST_FAULTS:
            found = told.to_dict()
            doors.__exit__(None, None, None)
            keep_evidence("coverage_guided", found | {"seconds": seconds})
            sys.stdout.write(json.dumps(found) + "\n")
            sys.stdout.flush()
            os._exit(int(bool(told.faults)))  # the fuzzer itself never returns

    with tempfile.TemporaryDirectory() as corpus:
        for number, (_, content) in enumerate(seeds()):
            for door in range(len(DOORS)):
                start = bytes((door, number % len(NAMES)))
                (Path(corpus) / f"{number}-{door}").write_bytes(start + content[: MOST_BYTES - 2])
        atheris.Setup(
            [sys.argv[0], f"-max_len={MOST_BYTES}", "-rss_limit_mb=0", "-timeout=600",
             "-verbosity=0", f"-artifact_prefix={corpus}/", corpus], hand_in,
        )  # fmt: skip
        atheris.Fuzz()


if __name__ == "__main__":
    main(int(sys.argv[1]))
