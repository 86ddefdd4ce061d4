"""How fast a sweep is reduced, beside what a user would write with a general solver.

Run it by hand: ``python tests/benchmarks/bench_sweep.py``. It prints a table, judges nothing:
seconds depend on the machine, ratios much less. ``OPENBLAS_NUM_THREADS=1`` keeps matrices this
small from being divided among threads, which only costs.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from pvlib.pvsystem import i_from_v, singlediode  # type: ignore[import-untyped]  # ships no types
from scipy.optimize import least_squares

from tests.reduction.sweeps import THERMAL, Floats, noisy, weak_cells
from trials.randomness import stream
from trials.reduction.electrical.parameters import parameters
from trials.reduction.electrical.sweep import Meters, Raw, sweep_of

SWEEPS, SOLVED = 1000, 40
METERS = Meters(current_step=0.001)


def say(text: str) -> None:
    """Write one line."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def timed(work: Callable[[Raw], object], raws: list[Raw]) -> float:
    """Return CPU milliseconds a sweep."""
    start = time.process_time()
    for raw in raws:
        work(raw)
    return 1000 * (time.process_time() - start) / len(raws)


def ours(raw: Raw) -> object:
    """Reduce a sweep, with uncertainties and warnings."""
    return parameters(sweep_of(raw, METERS), METERS)


def general(raw: Raw) -> object:
    """Fit pvlib's curve by scipy's bounded least squares, and read it off: no uncertainties."""
    voltage, current = np.array(raw.voltage), np.array(raw.current) / 1000
    ratio = voltage.max() / current.max()

    def left(p: Floats) -> Floats:
        light, back, series, shunt, width = np.exp(p)
        found = i_from_v(voltage, light, back, series, shunt, width)
        return np.asarray((found - current) / current.max(), dtype=np.float64)

    start = np.log([current.max(), current.max() * 1e-6, 0.1 * ratio, 10 * ratio, 1.5 * THERMAL])
    fitted = np.exp(least_squares(left, start, bounds=(start - 8, start + 8)).x)
    return singlediode(*fitted)


def cold() -> float:
    """Return CPU seconds of one command from the start."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "K3.csv"
        rows = (
            (0, 1.2),
            (0.1, 1.15),
            (0.2, 1.05),
            (0.3, 0.8),
            (0.35, 0.55),
            (0.4, 0.25),
            (0.44, 0),
        )
        text = "\n".join(f"{v},{i}" for v, i in rows)
        path.write_text(f"voltage (V),current (mA)\n{text}\n", encoding="utf-8")
        before = os.times()
        subprocess.run(
            [sys.executable, "-m", "trials", "sweep", str(path), "--area", "4"],
            check=True, capture_output=True,
        )  # fmt: skip
        after = os.times()
    return (
        after.children_user
        + after.children_system
        - before.children_user
        - (before.children_system)
    )


def main() -> None:
    """Print the table."""
    rng = stream(1, "bench")
    cells = weak_cells(rng)
    raws = [noisy(next(cells), METERS, rng) for _ in range(SWEEPS)]
    ours(raws[0])
    mine, other = timed(ours, raws), timed(general, raws[:SOLVED])
    say(f"one sweep, with uncertainties       {mine:8.2f} ms")
    say(f"a thousand                          {mine:8.2f} s")
    say(f"general solver and pvlib's curve    {other:8.2f} ms   {other / mine:.1f} times ours")
    say(f"trials sweep FILE from cold         {cold():8.2f} s of CPU")


if __name__ == "__main__":
    main()
