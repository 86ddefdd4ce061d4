"""Decays whose half-life is known: how near the answers are, and how honest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from trials.randomness import stream
from trials.reduction.falling import Falling, passed, smooth

DECAYS = 4_000
HALF = 100.0
ERRORS = 3.5  # Monte Carlo standard errors that a rate may be off


@dataclass(frozen=True)
class Kind:
    """Decays y = exp(-(t / tau)^k) read 6 to 12 times, with noise as a share of the reading."""

    powers: tuple[float, float]
    noise: float


KINDS = {
    f"{name}, noise {100 * noise:.0f} %": Kind(powers, noise)
    for name, powers in (("exponential", (1.0, 1.0)), ("stretched", (0.5, 1.6)))
    for noise in (0.01, 0.03, 0.08)
}


def decay(kind: Kind, rng: np.random.Generator) -> tuple[Falling, float]:
    """Return noisy readings of one item, and the true time from the first until half is left.

    The first reading is a twentieth of a half-life after the start, the last at 1.5 to 4 of them;
    ages are even or each a like factor further.
    """
    k, n = rng.uniform(*kind.powers), int(rng.integers(6, 13))
    tau = HALF / np.log(2) ** (1 / k)
    first, last = HALF / 20, HALF * rng.uniform(1.5, 4)
    if rng.random() < 0.5:
        since = np.linspace(0.0, last - first, n)
    else:
        since = np.concatenate([[0.0], np.geomspace(last / 30, last - first, n - 1)])
    true = tau * (np.log(2) + (first / tau) ** k) ** (1 / k) - first
    log = -(((since + first) / tau) ** k) + kind.noise * rng.normal(size=n)
    return Falling(since, log), true


@pytest.mark.long
@pytest.mark.parametrize("start", ["first reading", "fitted"])
def test_half_lives_are_near_and_intervals_hold_the_truth(
    start: str, effort: Callable[[int], int], evidence: Callable[[str, object], None]
) -> None:
    """95 % intervals hold the truth 93 to 97 % of the time; the middle is off by under 1.5 %.

    All kinds together for the coverage, and no kind outside 92 to 98 %.
    """
    decays = effort(DECAYS)
    rng = stream(7, f"decays {start}")
    told: dict[str, dict[str, float]] = {}
    for name, kind in KINDS.items():
        held, none, off = 0, 0, []
        for _ in range(decays):
            falling, true = decay(kind, rng)
            curve = smooth(falling)
            weights = np.eye(len(falling.log))[0] if start == "first reading" else curve.weights
            first = falling.log[0] if start == "first reading" else curve.start
            noise = np.full(len(falling.log), curve.scatter)
            found = passed(falling, float(first) - np.log(2), weights, curve, noise)
            if found is None:
                none += 1
                continue
            low, high = found.interval
            held += low <= true <= high
            off.append(found.time / true - 1)
        told[name] = {
            "held": held / len(off),
            "middle": float(np.median(off)),
            "spread": float(np.std(off)),
            "not reached": none / decays,
        }
    evidence(f"half_lives_{start.replace(' ', '_')}", {"decays of each": decays, "kinds": told})
    room = ERRORS * (0.05 * 0.95 / decays) ** 0.5
    together = float(np.mean([one["held"] for one in told.values()]))
    assert 0.93 - room / 6**0.5 <= together <= 0.97 + room / 6**0.5, told
    for name, one in told.items():
        assert 0.92 - room <= one["held"] <= 0.98 + room, (name, told)
        assert abs(one["middle"]) < 0.015 + ERRORS * one["spread"] / decays**0.5, (name, told)
        assert one["not reached"] < 0.02 + room, (name, told)
