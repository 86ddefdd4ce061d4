"""How fast power is: the curve of the 48-cell class, and simulated studies beside a plain loop.

Run it by hand: ``python tests/benchmarks/bench_power.py``. It prints a table, judges nothing:
seconds depend on the machine, ratios much less. ``OPENBLAS_NUM_THREADS=1`` keeps matrices this
small from being divided among threads, which only costs.
"""

from __future__ import annotations

import sys
import tempfile
import time
import warnings
from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd

from trials.design.draw import preview
from trials.design.howmany import how_many
from trials.design.simulation import simulate
from trials.model import Structure, make_layout
from trials.service.new import new
from trials.study import Response, Spread, Study, StudyFactor, StudyGroup, read_study

STUDIES, LOOPED = 20_000, 40


def say(text: str) -> None:
    """Write one line."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def curve() -> float:
    """Return the CPU seconds of all curves of the 48-cell class, two responses, nothing kept."""
    with tempfile.TemporaryDirectory() as folder:
        new(Path(folder) / "cells", example="cells")
        study = read_study(Path(folder) / "cells" / "study.toml")
    plan = preview(study)
    from trials.design import chances
    from trials.model import tukey

    for kept in (tukey.critical, tukey._survival, chances.yardstick, chances._normals):
        kept.cache_clear()
    start = time.process_time()
    curves = how_many(study, plan)
    seconds = time.process_time() - start
    say(f"48 cells: {len(curves)} curves, {sum(len(c.points) for c in curves)} sizes judged")
    return seconds


def split_plot(lost: int) -> tuple[Study, pd.DataFrame]:
    """Return eight firings of six with heat for a firing and dye for an item, some items lost."""
    heat = StudyFactor(name="heat", levels=("h", "o"), applied_to="firing")
    dye = StudyFactor(name="dye", levels=("a", "b", "c"), shared=False)
    spread = Spread(items=1.0, groups={"firing": 0.5})
    study = Study(
        title="t",
        question="q",
        factors=(heat, dye),
        groups=(StudyGroup(name="firing", count=8),),
        responses=(Response(name="y", worthwhile=1.0, expected=2.0, spread=spread),),
    )
    cells = list(product("12345678", "abc", "xy"))[lost:]
    rows = {
        "firing": [f for f, _, _ in cells],
        "heat": ["ho"[int(f) % 2] for f, _, _ in cells],
        "dye": [d for _, d, _ in cells],
    }
    return study, pd.DataFrame(rows)


def one_study(lost: int, studies: int) -> tuple[float, float]:
    """Return seconds for one simulated study here and for one MixedLM fit, without small-sample
    tests, verdicts or other truths, there."""
    import statsmodels.formula.api as smf  # type: ignore[import-untyped]  # it ships no types

    study, frame = split_plot(lost)
    columns = {name: list(frame[name]) for name in frame.columns}
    layout = make_layout(Structure(["heat", "dye"], ["firing"], {"heat": "firing"}), columns)
    simulate(study, layout, studies=10)
    start = time.process_time()
    simulate(study, layout, studies=studies)
    here = (time.process_time() - start) / studies
    rng = np.random.default_rng(1)
    start = time.process_time()
    for _ in range(LOOPED):
        firing = rng.normal(scale=0.5, size=8)[layout.groupings[-1].coded.codes]
        table = frame.assign(y=rng.normal(size=len(frame)) + firing)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            smf.mixedlm("y ~ C(heat, Sum) * C(dye, Sum)", table, groups="firing").fit(reml=True)
    return here, (time.process_time() - start) / LOOPED


def main() -> None:
    """Print the table."""
    say(f"power curve of the 48-cell class: {curve():.2f} s CPU")
    say(f"{'one simulated study, 48 items':34} {'here, ms':>9} {'there, ms':>10} {'ratio':>9}")
    for name, lost, studies in (
        ("split-plot, whole: by strata", 0, STUDIES),
        ("split-plot, 2 lost: REML", 2, 300),
    ):
        here, there = one_study(lost, studies)
        say(f"{name:34} {1000 * here:9.4f} {1000 * there:10.2f} {there / here:9.1f}")


if __name__ == "__main__":
    main()
