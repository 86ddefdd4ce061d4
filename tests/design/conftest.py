"""The class of 48, drawn once for all tests of this room."""

from __future__ import annotations

from pathlib import Path

import pytest

from trials.design.draw import draw
from trials.design.values import Plan
from trials.study import read_study

CELLS = Path(__file__).parents[2] / "study_demo" / "cells" / "study.toml"


@pytest.fixture(scope="session")
def cells() -> Plan:
    """The plan of six teams, two sessions, eight firings."""
    return draw(read_study(CELLS), seed=11)
