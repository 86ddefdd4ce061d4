"""The record as frozen values: what was read, what is in doubt, what was decided."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

Status = Literal["measured", "failed", "lost", "unmeasured", "set aside"]


@dataclass(frozen=True)
class Question:
    """Something in the measurements that a person has to settle."""

    id: str  # short and stable, typed by people: "Q7"
    code: str  # kind: "slip", "swapped", "unknown_item" ...
    file: str
    row: int | None  # line or spreadsheet row as a person counts it, from 1
    item: str | None
    column: str | None
    found: str
    why: str  # one sentence
    do: str  # what to type
    answer: str | None = None  # "keep", "correct", "set-aside"; None: open


@dataclass(frozen=True)
class ItemValue:
    """One response of one item, reduced from its readings."""

    item: str
    response: str
    status: Status
    value: float | None
    exact: Decimal | None  # the value as an exact decimal where the reducer can keep it
    uncertainty: float | None  # standard uncertainty, in the unit of the response
    readings: int
    reason: str = ""  # why it isn't "measured", or what was corrected


@dataclass(frozen=True)
class Measured:
    """The record reduced to one value an item and response: what the analysis reads."""

    digest: str
    values: tuple[ItemValue, ...]
    open_questions: tuple[Question, ...] = ()
    corrections: tuple[str, ...] = ()  # every answer that changed or dropped a value, one sentence
    departures: tuple[str, ...] = ()
    n_readings: dict[str, int] = field(default_factory=dict)  # per response

    def of(self, response: str) -> tuple[ItemValue, ...]:
        """Return the values of one response, in the order of the plan."""
        return tuple(value for value in self.values if value.response == response)
