"""The programs that make the invented measurements of the studies under study_demo/."""

from __future__ import annotations

import importlib.util
import sys
from typing import Any

from tests.command_line import ROOT

DEMOS = ROOT / "study_demo"


def generator(demo: str) -> Any:
    """Return the module ``make_measurements.py`` of one of the studies."""
    path = DEMOS / demo / "make_measurements.py"
    spec = importlib.util.spec_from_file_location(f"make_{demo}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module
