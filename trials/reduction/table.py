"""The list of reducers: a new field of work adds one file and one row here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType

from trials.errors import StudyError
from trials.reduction.electrical.iv_point import IvPoint
from trials.reduction.electrical.iv_sweep import IvSweep
from trials.reduction.half_life import HalfLife
from trials.reduction.plain import Mean, Value
from trials.reduction.values import Asked, Column, Problem, Range, Reducer

REDUCERS: Mapping[str, Reducer] = MappingProxyType(
    {reducer.name: reducer for reducer in (Value(), Mean(), HalfLife(), IvPoint(), IvSweep())}
)


def reducer_of(asked: Asked) -> Reducer:
    """Return the reducer that a response names.

    Raises
    ------
    StudyError : there is none of that name.
    """
    if asked.reducer not in REDUCERS:
        raise StudyError(
            "There is no such way of turning readings into one value.",
            code="study.unknown_reducer",
            where=f"response {asked.name}",
            found=asked.reducer,
            allowed=", ".join(REDUCERS),
            do="Choose one of these, for instance 'mean'.",
        )
    return REDUCERS[asked.reducer]


def setting_problems(asked: Asked) -> tuple[Problem, ...]:
    """Return everything that is wrong with the settings of one response."""
    return reducer_of(asked).problems(asked)


@lru_cache(4096)
def same_name(name: str) -> str:
    """Return a column's name without the differences that don't matter.

    Examples
    --------
    >>> same_name("Open-circuit  Voltage") == same_name("open_circuit_voltage")
    True
    """
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def columns_of(responses: Iterable[Asked]) -> tuple[Column, ...]:
    """Return all raw columns of several responses, each once, in order of first use.

    A column that two responses share is one column: a person reads it once. It is required if
    either needs it, and its ranges are the overlap of theirs.

    Raises
    ------
    StudyError : two responses want the same column in different units.
    """
    found: dict[str, Column] = {}
    for asked in responses:
        for column in reducer_of(asked).columns(asked):
            key = same_name(column.name)
            found[key] = _merged(found[key], column, asked.name) if key in found else column
    return tuple(found.values())


def _merged(one: Column, other: Column, response: str) -> Column:
    if one.unit != other.unit or one.per != other.per:
        raise StudyError(
            f"Two responses read the column '{one.name}' in different ways.",
            code="study.column_twice",
            where=f"response {response}",
            found=f"{one.header} each {one.per} and {other.header} each {other.per}",
            do="Give both the same unit, or name another column in the settings of one of them.",
        )
    return replace(
        one,
        required=one.required or other.required,
        possible=_overlap(one.possible, other.possible),
        believable=_overlap(one.believable, other.believable),
        aliases=tuple(dict.fromkeys(one.aliases + other.aliases)),
        about=one.about or other.about,
        spans=one.spans or other.spans,
        endless=one.endless and other.endless,
    )


def _overlap(one: Range, other: Range) -> Range:
    lows = [end for end in (one[0], other[0]) if end is not None]
    highs = [end for end in (one[1], other[1]) if end is not None]
    return (max(lows) if lows else None, min(highs) if highs else None)
