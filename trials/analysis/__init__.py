"""What it means: which questions to ask of the model, verdicts, diagnostics; codes and numbers."""

from typing import TYPE_CHECKING

from trials.analysis.findings import Findings

if TYPE_CHECKING:
    from trials.analysis.studies import analyse_study
    from trials.analysis.tables import analyse_table

__all__ = ["Findings", "analyse_study", "analyse_table"]

_HOME = {"analyse_study": "studies", "analyse_table": "tables"}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'trials.analysis' has no name {name!r}")
    import importlib

    return getattr(importlib.import_module(f"trials.analysis.{_HOME[name]}"), name)
