"""What a terminal shows of trends, the best recipe and the readings."""

from __future__ import annotations

import numpy as np
import pandas as pd

import trials
from trials import Factor, Options, Structure
from trials.service.findings_text import findings_lines


def _lines(bend: float, **chosen: object) -> str:
    rng = np.random.default_rng(9)
    rows = [
        {
            "soak": str(minutes),
            "thing": f"t{minutes}-{item}",
            "gain": f"{5 + 0.1 * minutes - bend * minutes**2 + own + rng.normal(scale=0.05):.3f}",
        }
        for minutes in (5, 10, 20)
        for item in range(4)
        for own in [rng.normal(scale=0.2)]
        for _ in range(2)
    ]
    settings = {"response": "gain", "resamples": 0, "item": "thing"} | chosen
    structure = Structure([Factor("soak", "quantity")])
    found = trials.analyse_table(pd.DataFrame(rows), structure, Options.model_validate(settings))
    return "\n".join(findings_lines(found))


def test_a_straight_line_the_best_and_the_noise() -> None:
    text = _lines(0.0, better="high", worthwhile=0.2)
    assert "For 1 more of soak the average differs by 0.09" in text
    assert "not a straight line" not in text
    assert "Best average of those made: soak 20 (" in text
    assert "make fresh items of it, and as many with soak 10." in text
    assert (
        " of each show that there is a difference in 8 of 10 such checks, if the true one is 0.2; 3"
        in text
    )
    assert "Measuring makes up " in text


def test_a_bend_is_said() -> None:
    assert "It is not a straight line, so this is an average." in _lines(0.02)


def test_ratios_and_no_direction() -> None:
    text = _lines(0.0, compare="ratio")
    assert "times as much (" in text
    assert "Best average" not in text
    assert "Nothing says whether high or low values are better" in text
