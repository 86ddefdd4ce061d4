"""The options of ``trials analyse`` as a front end needs them; loads nothing heavy."""

from trials.words.options import (
    CHOICES,
    COLUMNS,
    LOADS,
    POWER,
    SIMULATED,
    SWEEP,
    OptionText,
    limit_text,
)

__all__ = ["CHOICES", "COLUMNS", "LOADS", "POWER", "SIMULATED", "SWEEP", "OptionText", "limit_text"]
