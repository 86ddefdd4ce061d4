"""How long a plan takes: drawn, checked and judged, for the class of 48 and for larger studies.

Run it by hand: ``python tests/benchmarks/bench_plan.py``. It prints a table, judges nothing.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

import resource
import sys
import time
from pathlib import Path

from trials.design.alternatives import alternatives
from trials.design.draw import draw
from trials.design.extend import extend
from trials.design.judging import judged
from trials.study import Limits, Study, read_study

CELLS = Path(__file__).parents[2] / "study_demo" / "cells" / "study.toml"


def main() -> None:
    """Print seconds of computing for each job, and the most memory used."""
    plain = read_study(CELLS)
    ban = Limits(items=48, forbidden=({"dye": "beetroot", "heat": "burner"},))
    banned = plain.model_copy(update={"limits": ban})
    draw(plain, seed=1)  # libraries are loaded now
    for name, study in (("48 cells", plain), ("48 cells, one combination forbidden", banned)):
        start = time.process_time()
        plan = judged(study, draw(study, seed=5))
        found = plan.search
        how = "" if found is None else f"at least {found.efficiency:.3f} of what could be possible"
        _say(name, time.process_time() - start, how)
    start = time.process_time()
    extend(plain, draw(plain, seed=5), seed=6)
    _say("48 cells and 24 more", time.process_time() - start, "drawn and extended")
    _compare("other plans beside 48 cells", plain)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(f"most memory: {memory:.0f} MB\n")


def _compare(name: str, study: Study) -> None:
    start = time.process_time()
    count = len(alternatives(study))
    _say(name, time.process_time() - start, f"{count} plans")


def _say(name: str, seconds: float, more: str) -> None:
    sys.stdout.write(f"{name:<40} {seconds:6.2f} s  {more}\n")


if __name__ == "__main__":
    main()
