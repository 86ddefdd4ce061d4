"""How much is wanted of everything there is, and what gets in the way: worked out, not searched."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from trials.classroom.values import Room, Work
from trials.classroom.work import Job

_SLACK = 1e-9  # of sums of minutes
Kind = Literal["crew", "equipment", "between", "session"]


@dataclass(frozen=True)
class Load:
    """Minutes wanted of one thing, and minutes that there are.

    ``kind``: "crew" and "equipment" in lessons; "between": equipment or a person between them;
    "session": one piece of equipment in the single lesson of one session (``session``). ``crew``:
    whose equipment it is; empty where the class shares it.
    """

    kind: Kind
    name: str
    wanted: float
    offered: float
    session: str = ""
    crew: str = ""

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


@dataclass(frozen=True)
class Stuck:
    """A step that can't be done any more: there is none left of a piece of equipment."""

    step: str
    equipment: str
    items: tuple[str, ...]  # that wait for it


@dataclass(frozen=True)
class Rush:
    """Work that must begin in one lesson, as what it follows can't lie longer, and won't fit.

    ``name``: the piece of equipment or the crew; minutes wanted of it, and those that there are
    between what comes first and what comes last. "together": no single one is too much, and yet
    it won't fit (``name`` is empty, and no minutes are told). ``crew``: as in :class:`Load`.
    """

    lesson: int  # from 1
    kind: Literal["crew", "equipment", "together"]
    name: str
    steps: tuple[str, ...]
    items: tuple[str, ...]
    after: tuple[str, ...]  # the steps that are over, whose items can't lie longer
    wanted: float
    offered: float
    crew: str = ""


def stuck_in(job: Job, room: Room, done: Collection[int]) -> tuple[Stuck, ...]:
    """Return the steps left to do that need equipment of which there is none."""
    found: dict[tuple[str, str], list[str]] = {}
    for index, work in enumerate(job.works):
        for name, _ in work.places:
            if index not in done and room.places[name] == 0:
                found.setdefault((work.step, name), []).extend(work.items)
    return tuple(Stuck(step, name, tuple(items)) for (step, name), items in found.items())


@dataclass(frozen=True)
class Hurried:
    """What must begin in one lesson, in any timetable: indices of works.

    ``root``: of each the step that is over and that it can't be put off after. ``head``, ``tail``:
    minutes from the lesson's working time that must pass before it, and after it until the last of
    what must follow in that lesson.
    """

    works: tuple[int, ...]
    root: Mapping[int, str]
    head: Mapping[int, int]
    tail: Mapping[int, int]


def hurried_in(job: Job, room: Room, done: Mapping[int, int], since: int) -> Hurried:
    """Return what must begin in lesson ``since``, as what it follows can't lie until the next one.

    Parameters
    ----------
    room : with at least one lesson more than ``since``.
    done : works that are done, by index, and when each began.
    since : the lesson, from 1.
    """
    latest: dict[int, int] = {}
    root: dict[int, str] = {}
    for index, work in enumerate(job.works):  # works come after those that they follow
        for before in work.after:
            first = job.works[before]
            begun = done.get(before, latest.get(before))
            if index not in done and first.keeps is not None and begun is not None:
                limit = begun + first.minutes + first.waiting + first.keeps
                if limit < latest.get(index, limit + 1):
                    latest[index], root[index] = limit, root.get(before, first.step)
    next_one = room.starts[since] + room.put_out
    works = tuple(
        at for at, limit in latest.items() if not job.works[at].between and limit < next_one
    )
    head: dict[int, int] = {}
    tail = dict.fromkeys(works, 0)
    for at in works:
        head[at] = max(
            (head[b] + job.works[b].minutes + job.works[b].waiting for b in job.works[at].after
             if b in head), default=0,
        )  # fmt: skip
    for at in reversed(works):
        for before in job.works[at].after:
            if before in tail:
                after = job.works[before].waiting + job.works[at].minutes + tail[at]
                tail[before] = max(tail[before], after)
    return Hurried(works, root, head, tail)


def rushes(job: Job, room: Room, hurried: Hurried, since: int) -> tuple[Rush, ...]:
    """Return what must begin in lesson ``since`` and is more than fits, the tightest first.

    More lessons are no help with that.

    Parameters
    ----------
    room, since : as for :func:`hurried_in`.
    """
    found = []
    for (kind, name, whose), uses in _uses(job, room, hurried).items():
        total, mine = sum(share for _, share in uses), tuple(at for at, _ in uses)
        there = _minutes_for(room, hurried, mine)
        works = [job.works[at] for at in mine]
        if total > there + _SLACK:
            roots = _roots(hurried, mine)
            found.append(Rush(since, kind, name, *_told_of(works), roots, total, there, whose))
    return tuple(sorted(found, key=lambda one: (-one.wanted, one.kind, one.name, one.crew)))


def rush_together(job: Job, hurried: Hurried, since: int) -> Rush:
    """Return that what must begin in a lesson doesn't fit, without a single thing too much."""
    works = [job.works[at] for at in hurried.works]
    return Rush(since, "together", "", *_told_of(works), _roots(hurried, hurried.works), 0, 0)


def most_at_once(job: Job, room: Room, hurried: Hurried) -> list[tuple[tuple[str, ...], int]]:
    """Return sets of items of which no more than so many fit into the lesson they must be in.

    Side by side as many as there is room for, each time as often as the shortest fits in.
    """
    found = []
    for (kind, name, _), uses in _uses(job, room, hurried).items():
        works = [job.works[at] for at, _ in uses]
        if any(len(work.items) > 1 for work in works) or len({w.step for w in works}) > 1:
            continue
        beside = room.crews[name] if kind == "crew" else room.places[name] // min(
            dict(work.places)[name] for work in works
        )  # fmt: skip
        there = _minutes_for(room, hurried, [at for at, _ in uses])
        shortest = min(work.minutes for work in works)
        if shortest:
            items = tuple(item for work in works for item in work.items)
            found.append((items, beside * (there // shortest)))
    return found


def _uses(
    job: Job, room: Room, hurried: Hurried
) -> dict[tuple[Literal["crew", "equipment"], str, str], list[tuple[int, float]]]:
    """Return of each crew and piece of equipment which works use it, and their share of minutes.

    Kind and name, and whose it is: of what each crew has for itself, every one stands alone.
    """
    found: dict[tuple[Literal["crew", "equipment"], str, str], list[tuple[int, float]]] = {}
    for index in hurried.works:
        work = job.works[index]
        share = work.minutes / room.crews[work.crew]
        found.setdefault(("crew", work.crew, ""), []).append((index, share))
        for name, taken in work.places:
            share = work.minutes * taken / room.places[name] if room.places[name] else 0
            whose = room.whose(name, work.crew)
            found.setdefault(("equipment", name, whose), []).append((index, share))
    return found


def _minutes_for(room: Room, hurried: Hurried, works: Sequence[int]) -> int:
    """Return the minutes of a lesson that are left by what comes before and after all of these."""
    first, last = (min(of[at] for at in works) for of in (hurried.head, hurried.tail))
    return max(0, room.working - first - last)


def _told_of(works: Sequence[Work]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the steps and the items of works."""
    steps = tuple(dict.fromkeys(work.step for work in works))
    return steps, tuple(dict.fromkeys(item for work in works for item in work.items))


def _roots(hurried: Hurried, works: Sequence[int]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(hurried.root[at] for at in works))


def loads(job: Job, room: Room) -> tuple[Load, ...]:
    """Return how much is wanted of every crew and piece of equipment, the tightest first."""
    wanted: dict[tuple[Kind, str, str, str], float] = defaultdict(float)
    for work in job.works:
        if work.between:
            wanted["between", work.crew, "", ""] += work.minutes / room.crews[work.crew]
        else:
            wanted["crew", work.crew, "", ""] += work.minutes / room.crews[work.crew]
        for name, taken in work.places:
            kind: Kind = "between" if work.between else "equipment"
            share = work.lasts(name) * taken / room.places[name]
            whose = room.whose(name, work.crew)
            wanted[kind, name, "", whose] += share
            if work.session:
                wanted["session", name, work.session, whose] += share
    lessons = len(room.starts)
    gaps = sum(end - begin for n in range(lessons + 1) for begin, end in room.opened(n))
    offered = {
        "crew": lessons * room.working,
        "equipment": lessons * room.working,
        "between": gaps,
        "session": room.working,
    }
    found = [
        Load(kind, name, minutes, offered[kind], session, whose)
        for (kind, name, session, whose), minutes in wanted.items()
        if minutes
    ]
    return tuple(
        sorted(found, key=lambda one: (-one.share, one.kind, one.name, one.session, one.crew))
    )


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
    steps, minutes = [work.step], work.minutes + work.attended
    while work.after:
        before = works[max(work.after)]
        hurried = before.keeps is not None and before.waiting + before.keeps < room.usual_gap
        if before.between or not hurried:
            break
        steps.append(before.step)
        minutes += before.minutes + before.waiting
        work = before
    return Chain(work.items[0], tuple(reversed(steps)), minutes)
