"""The append-only record: readings, questions, answers, losses."""

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
