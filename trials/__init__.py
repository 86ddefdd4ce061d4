"""Compare ways of building a small thing fairly; say which choice mattered and how sure you are.

Nothing heavy is loaded here: public names are fetched when first used.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trials.analysis import Findings, analyse_table
    from trials.model import Factor, Group, Structure
    from trials.study import Options, Study

__version__ = "0.1.0"
__all__ = [
    "Factor",
    "Findings",
    "Group",
    "Options",
    "Structure",
    "Study",
    "__version__",
    "analyse_table",
]

_HOME = {
    "Findings": "trials.analysis",
    "analyse_table": "trials.analysis",
    "Factor": "trials.model",
    "Group": "trials.model",
    "Structure": "trials.model",
    "Options": "trials.study",
    "Study": "trials.study",
}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'trials' has no name {name!r}")
    import importlib

    return getattr(importlib.import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
