"""Plans without their fair-test check, for tests that don't read it.

The check tries what it tells to do on plans drawn anew, which takes longer than drawing.
"""

from __future__ import annotations

from typing import Any
from unittest.mock import patch

from trials.design import draw as drawing
from trials.design.values import Plan
from trials.study import Study


def draw(study: Study, *, seed: int, **more: Any) -> Plan:
    """Draw a plan as the program does, up to its check."""
    with patch.object(drawing, "with_audit", lambda _, plan: plan):
        return drawing.draw(study, seed=seed, **more)
