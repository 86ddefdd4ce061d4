"""The append-only record: readings, questions, answers, losses.

Public names are fetched when first used: the store is heavy, what is kept in it is not.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trials.record.absences import items_for, items_of, not_made
    from trials.record.answers import Decision
    from trials.record.forms import about_loss
    from trials.record.history import Change
    from trials.record.otherwise import AsMade, level_text, plan_as_made
    from trials.record.reduce import item_readings, measured, measured_state
    from trials.record.state import KeptFile, State
    from trials.record.store import Check, Store
    from trials.record.values import (
        Absence,
        Cell,
        Exchange,
        Intake,
        ItemValue,
        Loss,
        Measured,
        Otherwise,
        Part,
        Place,
        Question,
        Row,
        StandIns,
        Status,
        Taken,
    )

__all__ = [
    "Absence",
    "AsMade",
    "Cell",
    "Change",
    "Check",
    "Decision",
    "Exchange",
    "Intake",
    "ItemValue",
    "KeptFile",
    "Loss",
    "Measured",
    "Otherwise",
    "Part",
    "Place",
    "Question",
    "Row",
    "StandIns",
    "State",
    "Status",
    "Store",
    "Taken",
    "about_loss",
    "item_readings",
    "items_for",
    "items_of",
    "level_text",
    "measured",
    "measured_state",
    "not_made",
    "plan_as_made",
]

_HOME = {
    "Absence": "trials.record.values",
    "AsMade": "trials.record.otherwise",
    "Cell": "trials.record.values",
    "Change": "trials.record.history",
    "Check": "trials.record.store",
    "Decision": "trials.record.answers",
    "Exchange": "trials.record.values",
    "Intake": "trials.record.values",
    "ItemValue": "trials.record.values",
    "KeptFile": "trials.record.state",
    "Loss": "trials.record.values",
    "Measured": "trials.record.values",
    "Otherwise": "trials.record.values",
    "Part": "trials.record.values",
    "Place": "trials.record.values",
    "Question": "trials.record.values",
    "Row": "trials.record.values",
    "State": "trials.record.state",
    "StandIns": "trials.record.values",
    "Status": "trials.record.values",
    "Store": "trials.record.store",
    "Taken": "trials.record.values",
    "about_loss": "trials.record.forms",
    "items_for": "trials.record.absences",
    "items_of": "trials.record.absences",
    "not_made": "trials.record.absences",
    "item_readings": "trials.record.reduce",
    "level_text": "trials.record.otherwise",
    "measured": "trials.record.reduce",
    "measured_state": "trials.record.reduce",
    "plan_as_made": "trials.record.otherwise",
}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'trials.record' has no name {name!r}")
    import importlib

    return getattr(importlib.import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
