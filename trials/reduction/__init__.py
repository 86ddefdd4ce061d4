"""Raw readings to one value of a response, with its uncertainty."""

from trials.reduction.table import REDUCERS, columns_of, reducer_of, setting_problems
from trials.reduction.values import (
    Asked,
    Column,
    Flag,
    Problem,
    Range,
    Reading,
    Reduced,
    Reducer,
    Setting,
)

__all__ = [
    "REDUCERS",
    "Asked",
    "Column",
    "Flag",
    "Problem",
    "Range",
    "Reading",
    "Reduced",
    "Reducer",
    "Setting",
    "columns_of",
    "reducer_of",
    "setting_problems",
]
