"""The class of 48, drawn once for all tests of this room."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from trials.design.draw import draw
from trials.design.values import Plan
from trials.study import read_study

CELLS = Path(__file__).parents[2] / "study_demo" / "cells" / "study.toml"


@pytest.fixture(scope="session")
def timed() -> tuple[Plan, float]:
    """The plan, and the seconds of computing that drawing it took."""
    study = read_study(CELLS)
    start = time.process_time()
    plan = draw(study, seed=11)
    return plan, time.process_time() - start


@pytest.fixture(scope="session")
def cells(timed: tuple[Plan, float]) -> Plan:
    """The plan of six teams, two sessions, eight firings."""
    return timed[0]
