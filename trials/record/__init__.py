"""The append-only record: readings, questions, answers, losses."""

from trials.record.answers import Decision
from trials.record.forms import about_loss
from trials.record.reduce import item_readings, measured, measured_state
from trials.record.store import Check, KeptFile, State, Store
from trials.record.values import (
    Cell,
    Intake,
    ItemValue,
    Loss,
    Measured,
    Place,
    Question,
    Row,
    Status,
    Taken,
)

__all__ = [
    "Cell",
    "Check",
    "Decision",
    "Intake",
    "ItemValue",
    "KeptFile",
    "Loss",
    "Measured",
    "Place",
    "Question",
    "Row",
    "State",
    "Status",
    "Store",
    "Taken",
    "about_loss",
    "item_readings",
    "measured",
    "measured_state",
]
