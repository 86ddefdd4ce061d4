"""What a reducer is: raw columns in, one number per item out.

A *reducer* turns the raw readings of one item into the one value that is compared. It says which
columns a person fills in, which numbers are possible, and what contradicts itself; sheets, readers
and forms ask it and know nothing of the field of work.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, Protocol

from trials.words.keeping import Kept

Range = tuple[Decimal | None, Decimal | None]
Reading = Mapping[str, Decimal]  # column name -> number in the column's unit; missing ones absent
ANY: Range = (None, None)


class Asked(Protocol):
    """The part of a response that a reducer needs; a ``study.Response`` fits."""

    @property
    def name(self) -> str:
        """Name of the response."""

    @property
    def label(self) -> str:
        """Its name for people, if it has one."""

    @property
    def unit(self) -> str:
        """Unit of the response."""

    @property
    def reducer(self) -> str:
        """Name of the reducer."""

    @property
    def settings(self) -> Mapping[str, float | str]:
        """Settings as the study gives them."""

    @property
    def low(self) -> float | None:
        """Smallest believable value of the response."""

    @property
    def high(self) -> float | None:
        """Largest believable value of the response."""


@dataclass(frozen=True)
class Setting:
    """One setting of a reducer, given once for the whole study.

    ``default`` None means that it has none: leave it out, or give it where ``about`` says so.
    """

    name: str
    unit: str = ""
    default: float | str | None = None
    words: tuple[str, ...] = ()  # words that are allowed
    number: bool = False  # a number above zero is allowed
    text: bool = False  # any text is allowed
    about: str = ""


@dataclass(frozen=True)
class Column:
    """One raw quantity that a person reads and writes down.

    A number outside ``possible`` can't be; one outside ``believable`` gets a question.
    ``per`` "item" is filled in once for each item, not at each reading. ``surroundings``: a
    condition around the item that no treatment of it can change. ``spans``: an item's readings go
    through a range as they should, as ages do, so that one far from the others is no slip.
    ``endless``: may be without end, as the resistance of an open circuit is, written 'open'.
    """

    name: str
    unit: str = ""
    required: bool = True
    possible: Range = ANY
    believable: Range = ANY
    aliases: tuple[str, ...] = ()
    per: Literal["reading", "item"] = "reading"
    about: str = ""
    surroundings: bool = False
    spans: bool = False
    endless: bool = False

    @property
    def header(self) -> str:
        """The column's heading with its unit, as sheets print it.

        Examples
        --------
        >>> Column("open-circuit voltage", "V").header, Column("leaves").header
        ('open-circuit voltage (V)', 'leaves')
        """
        return f"{self.name} ({self.unit})" if self.unit else self.name


@dataclass(frozen=True)
class Problem:
    """A setting that is missing or impossible, with what is allowed and what to do."""

    setting: str
    found: str
    allowed: str
    do: str


@dataclass(frozen=True)
class Flag:
    """Readings that contradict each other or the laws of the field: asked, never mended alone.

    ``reading`` counts the readings of the item from 0; None: the item as a whole.
    ``column`` names the raw column most likely at fault.
    """

    code: str
    reading: int | None
    column: str | None
    found: str | Kept
    why: Kept


@dataclass(frozen=True)
class Warned:
    """Something that a person should know of a reduced value, with a code for programs."""

    code: str
    told: Kept

    @property
    def text(self) -> str:
        """What is to be known, in the language that is written now."""
        return self.told.said()


@dataclass(frozen=True)
class Reduced:
    """One value of one item.

    Parameters
    ----------
    value : in the unit of the response; None where the readings don't give one.
    exact : the same as a decimal (50 digits) where nothing but adding and dividing was done.
    uncertainty : combined standard uncertainty (JCGM 100:2008), in the unit of the response.
    used : readings that the value comes from.
    notes : short sentences on what was done or could not be done.
    at_least : where there is no value, but it is sure to be at least so much.
    weak_fails : whether a value lost in its own uncertainty means an item that gives nothing to
        measure; not so of a time, which may just be badly known.
    """

    value: float | None
    exact: Decimal | None
    uncertainty: float | None
    used: int
    notes: tuple[str, ...] = ()
    weak_fails: bool = True
    at_least: float | None = None


class Reducer(Protocol):
    """Raw readings to one value."""

    @property
    def name(self) -> str:
        """Name in study.toml."""

    @property
    def about(self) -> str:
        """One sentence for a person choosing a reducer."""

    @property
    def settings(self) -> tuple[Setting, ...]:
        """Every setting it knows."""

    def problems(self, asked: Asked) -> tuple[Problem, ...]:
        """Return what is wrong with the settings and the unit of a response."""

    def columns(self, asked: Asked) -> tuple[Column, ...]:
        """Return the raw columns a person fills in for this response."""

    def check(self, asked: Asked, readings: Sequence[Reading]) -> tuple[Flag, ...]:
        """Return what contradicts itself in the readings of one item."""

    def reduce(self, asked: Asked, readings: Sequence[Reading]) -> Reduced:
        """Return the value of one item from its readings, in the order they were taken."""
