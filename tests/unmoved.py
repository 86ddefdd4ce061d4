"""Findings without what leaving out one thing at a time does, for tests that don't read it.

Each item and each member of a group that is left out is a whole fit, which takes longer than all
the rest of an analysis.
"""

from __future__ import annotations

from unittest.mock import patch

import pandas as pd

import trials
from trials import Findings, Options, Structure


def analyse_table(
    frame: pd.DataFrame, structure: Structure, options: Options | None = None
) -> Findings:
    """Analyse a table as the program does, but for the influence of single things."""
    with patch("trials.analysis.run.influence", lambda *_: None):
        return trials.analyse_table(frame, structure, options)
