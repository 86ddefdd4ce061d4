"""How much is wanted of everything there is, and what gets in the way: worked out, not searched."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Literal

from trials.classroom.values import Room, Work
from trials.classroom.work import Job

Kind = Literal["crew", "equipment", "between", "session"]


@dataclass(frozen=True)
class Load:
    """Minutes wanted of one thing, and minutes that there are.

    ``kind``: "crew" and "equipment" in lessons; "between": equipment or a person between them;
    "session": one piece of equipment in the single lesson of one session (``session``).
    """

    kind: Kind
    name: str
    wanted: float
    offered: float
    session: str = ""

    @property
    def share(self) -> float:
        """Wanted over offered; above 1 it can't be done."""
        return self.wanted / self.offered if self.offered else float("inf")


@dataclass(frozen=True)
class Chain:
    """Steps of one item that can't lie over until the next lesson, and how long they take."""

    item: str
    steps: tuple[str, ...]
    minutes: int  # from the first step's beginning to the last one's end, at the least


def loads(job: Job, room: Room) -> tuple[Load, ...]:
    """Return how much is wanted of every crew and piece of equipment, the tightest first."""
    wanted: dict[tuple[Kind, str, str], float] = defaultdict(float)
    for work in job.works:
        if work.between:
            wanted["between", work.crew, ""] += work.minutes / room.crews[work.crew]
        else:
            wanted["crew", work.crew, ""] += work.minutes / room.crews[work.crew]
        for name, taken in work.places:
            kind: Kind = "between" if work.between else "equipment"
            share = work.lasts(name) * taken / room.places[name]
            wanted[kind, name, ""] += share
            if work.session:
                wanted["session", name, work.session] += share
    lessons = len(room.starts)
    gaps = sum(end - begin for n in range(lessons + 1) for begin, end in room.opened(n))
    offered = {
        "crew": lessons * room.working,
        "equipment": lessons * room.working,
        "between": gaps,
        "session": room.working,
    }
    found = [
        Load(kind, name, minutes, offered[kind], session)
        for (kind, name, session), minutes in wanted.items()
        if minutes
    ]
    return tuple(sorted(found, key=lambda load: (-load.share, load.kind, load.name, load.session)))


def chains_too_long(job: Job, room: Room) -> tuple[Chain, ...]:
    """Return what must be done in one go and doesn't fit into one lesson, the longest first.

    One for each sequence of steps: the item for which it takes longest.
    """
    longest: dict[tuple[str, ...], Chain] = {}
    for index, work in enumerate(job.works):
        if work.between:
            continue
        chain = _chain(job.works, index, room)
        if chain.minutes > room.working:
            before = longest.get(chain.steps)
            if before is None or before.minutes < chain.minutes:
                longest[chain.steps] = chain
    whole = [
        one
        for one in longest.values()
        if not any(set(one.steps) < set(other.steps) for other in longest.values())
    ]
    return tuple(sorted(whole, key=lambda chain: (-chain.minutes, chain.steps)))


def _chain(works: tuple[Work, ...], index: int, room: Room) -> Chain:
    """Return the longest sequence that ends at a work and can't be split over two lessons."""
    work = works[index]
    steps, minutes = [work.step], work.minutes
    while work.after:
        before = works[max(work.after)]
        hurried = before.keeps is not None and before.waiting + before.keeps < room.usual_gap
        if before.between or not hurried:
            break
        steps.append(before.step)
        minutes += before.minutes + before.waiting
        work = before
    return Chain(work.items[0], tuple(reversed(steps)), minutes)
