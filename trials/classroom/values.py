"""Work to be placed in time, and where it was placed: frozen values."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Order = Literal["run", "measure", ""]


@dataclass(frozen=True)
class Work:
    """One piece of work: a step done to one item, or once to all items of a group.

    Times are whole minutes. ``crew`` names who does it, such as one team; ``places`` says how many
    places it takes of which equipment, and ``busy`` which of these stay taken while it waits.
    ``after``: indices of the works that must be over, waiting and all, before it starts; it starts
    at most ``keeps`` after each of them, waiting and all. ``attended``: so many minutes of the
    waiting are over before the clearing up, as somebody ends it by hand.
    """

    step: str
    items: tuple[str, ...]
    crew: str
    minutes: int
    waiting: int = 0
    attended: int = 0
    keeps: int | None = None
    group: str = ""  # what goes together, such as "firing 3"; empty: one item by itself
    between: bool = False
    places: tuple[tuple[str, int], ...] = ()
    busy: tuple[str, ...] = ()
    after: tuple[int, ...] = ()
    session: str = ""  # the session whose measuring it belongs to
    flame: bool = False
    flammable: bool = False
    people: int = 1  # of its crew that it takes

    @property
    def whole(self) -> int:
        """Minutes until nothing of it goes on any more, waiting and all; at least 1."""
        return max(1, self.minutes + self.waiting)

    def lasts(self, equipment: str) -> int:
        """Return for how many minutes it takes a piece of equipment."""
        return self.minutes + (self.waiting if equipment in self.busy else 0)


@dataclass(frozen=True)
class Room:
    """What there is to work with.

    ``starts``: minutes from the first lesson's start to each lesson's; lessons last ``minutes``, of
    which the first ``put_out`` and the last ``tidy`` are not for making. ``crews``: how many works
    each can do at a time. ``places``: of each equipment. ``hours``: beginnings and ends of the
    times in which work between lessons may be done; empty: at any time. ``own``: equipment of which
    each crew has so many places for itself. ``people``: of each crew, where it is known.
    """

    starts: tuple[int, ...]
    minutes: int
    put_out: int
    tidy: int
    crews: dict[str, int] = field(default_factory=dict)
    places: dict[str, int] = field(default_factory=dict)
    hours: tuple[tuple[int, int], ...] = ()
    own: frozenset[str] = frozenset()
    people: dict[str, int] = field(default_factory=dict)

    def whose(self, equipment: str, crew: str) -> str:
        """Return the crew that has what it uses for itself; empty where the class shares it."""
        return crew if equipment in self.own else ""

    @property
    def working(self) -> int:
        """Minutes of a lesson in which things are made."""
        return self.minutes - self.put_out - self.tidy

    def gap(self, number: int) -> tuple[int, int]:
        """Return beginning and end of the time before lesson ``number``, counted from 0.

        Before the first lesson and after the last there is as much time as between two lessons.
        """
        starts, usual = self.starts, self.usual_gap
        if number == 0:
            return -usual, 0
        begin = starts[number - 1] + self.minutes
        return begin, starts[number] if number < len(starts) else begin + usual

    def opened(self, number: int) -> tuple[tuple[int, int], ...]:
        """Return the parts of the time before lesson ``number`` in which work may be done."""
        begin, end = self.gap(number)
        if not self.hours:
            return ((begin, end),)
        parts = [(max(begin, first), min(end, last)) for first, last in self.hours]
        return tuple((first, last) for first, last in parts if first < last)

    def supervised(self, work: Work) -> int:
        """Return for how many minutes of a work between lessons somebody has to be there.

        Until nothing of it goes on; where that takes longer than a day's hours (a night in the
        dish), as long as there is something to do by hand.
        """
        long = max([work.minutes, *(work.lasts(name) for name, _ in work.places)])
        day = max((last - first for first, last in self.hours), default=long)
        return long if long <= day else work.minutes

    @property
    def usual_gap(self) -> int:
        """Minutes between the first two lessons; a day where there is only one."""
        if len(self.starts) < 2:
            return max(0, 24 * 60 - self.minutes)
        return self.starts[1] - self.starts[0] - self.minutes


@dataclass(frozen=True)
class Slot:
    """Where a work was placed: minutes from the first lesson's start."""

    start: int
    lesson: int  # from 0; of a work between lessons the lesson it comes before


@dataclass(frozen=True)
class Placement:
    """All works placed in time.

    ``status``: "proved": nothing is over sooner; "found": the search stopped first, and ``bound``
    says what is not possible; "impossible": proved that it can't be done; "not found".
    ``ends`` and ``bound`` are minutes of lessons: those of all lessons before the last one used,
    and of that one until the last work in it is over.
    """

    status: Literal["proved", "found", "impossible", "not found"]
    slots: tuple[Slot, ...] = ()
    lessons: int = 0
    ends: int = 0
    bound: int = 0

    @property
    def placed(self) -> bool:
        """Whether everything has its place."""
        return self.status in ("proved", "found")


@dataclass(frozen=True)
class Fitting:
    """Which items can be done in the lessons that there are, and which are left out then.

    ``bound``: more than so many can't be done.
    """

    kept: tuple[str, ...]
    left_out: tuple[str, ...]
    bound: int

    @property
    def proved(self) -> bool:
        """Whether no more can be done."""
        return len(self.kept) == self.bound
