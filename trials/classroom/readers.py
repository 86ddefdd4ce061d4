"""Which team reads what: in a ring, each team reads what the one before it made.

So all read as much as is read of theirs, and nobody measures what they know the making of.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from trials.classroom.arrange import maker_group
from trials.classroom.values import Work
from trials.design.values import Plan
from trials.study.values import Study


def ring_after(teams: Sequence[str], team: str) -> tuple[str, ...]:
    """Return all teams in the order in which they are asked to read for one; itself comes last.

    Examples
    --------
    >>> ring_after(("elm", "oak", "yew"), "oak")
    ('yew', 'elm', 'oak')
    """
    at = teams.index(team) + 1
    return (*teams[at:], *teams[:at])


def reader_of(teams: Sequence[str], makers: Sequence[str]) -> str:
    """Return the next team after the first maker that made none of it; else the first maker.

    Examples
    --------
    >>> reader_of(("elm", "oak", "yew"), ("oak",)), reader_of(("elm", "oak", "yew"), ("yew", "elm"))
    ('yew', 'oak')
    >>> reader_of(("elm", "oak"), ("elm", "oak")), reader_of(("elm",), ("elm",))
    ('elm', 'elm')
    """
    first = makers[0]
    return next((team for team in ring_after(teams, first) if team not in makers), first)


@dataclass(frozen=True)
class Helpers:
    """Who does the work of others, and which teams aren't there to read.

    ``makers``: items of which another team than their own makes what is left to make, and which.
    ``away``: teams that aren't there any more, so that they read nothing. ``missed``: of an item
    the teams that aren't there when it is measured, such as for one session.
    ``made``: items that another team than their own made, as was told, and which.
    """

    makers: Mapping[str, str] = field(default_factory=dict)
    away: Collection[str] = ()
    missed: Mapping[str, Collection[str]] = field(default_factory=dict)
    made: Mapping[str, str] = field(default_factory=dict)


NOBODY = Helpers()


@dataclass(frozen=True)
class _Reading:
    """One measuring that is left.

    Where it stands, who made it, who finished it for them, and which teams aren't there for it.
    """

    at: int
    makers: tuple[str, ...]
    finishers: frozenset[str]
    out: frozenset[str]


def read_again(
    study: Study,
    plan: Plan,
    works: Sequence[Work],
    crews: Mapping[int, str],
    *,
    done: Collection[int] = (),
    helpers: Helpers = NOBODY,
) -> tuple[Work, ...]:
    """Return works with their crews, and with readers that are there for what is left to measure.

    A reader who is there, and neither made nor finished the item, stays. Else one such reads it,
    then one who only didn't make it, then anybody who is there: of these the team that has least to
    read, and of equal ones the next in the ring.

    Parameters
    ----------
    works : as the plan has them, each after those that it follows.
    crews : who does which work otherwise than the plan has it, by index; of what is left to measure
        it doesn't count.
    done : indices of works that are over.
    helpers : who isn't there, and who made what in their place.
    """
    maker = maker_group(plan)
    now = [replace(work, crew=crews.get(at, work.crew)) for at, work in enumerate(works)]
    if maker is None:
        return tuple(now)
    team_of = {row.item: row.groups[maker.name] for row in plan.rows}
    reads = {step.name for step in study.steps if step.stage == "measure" and not step.by}
    helped = {item: {team} for item, team in helpers.made.items()}
    left = []
    for at, (work, mine) in enumerate(zip(works, now, strict=True)):
        if work.step not in reads:
            if mine.crew != work.crew:
                for item in work.items:
                    helped.setdefault(item, set()).add(mine.crew)
        elif at not in done:
            makers = tuple(dict.fromkeys(team_of[item] for item in work.items))
            finishers = frozenset(who for item in work.items for who in helped.get(item, ()))
            out = frozenset(helpers.away).union(*(helpers.missed.get(i, ()) for i in work.items))
            left.append(_Reading(at, makers, finishers, out))
    shares: Counter[str] = Counter()
    moved = []
    for one in left:
        crew = works[one.at].crew
        if crew in maker.members and crew not in {*one.makers, *one.finishers, *one.out}:
            now[one.at] = works[one.at]
            shares[crew] += 1
        else:
            moved.append(one)
    for one in moved:
        ring = [team for team in ring_after(maker.members, one.makers[0]) if team not in one.out]
        strangers = [team for team in ring if team not in one.makers]
        blind = [team for team in strangers if team not in one.finishers]
        asked = blind or strangers or ring
        if asked:
            reader = min(asked, key=lambda team: shares[team])  # the first of equal ones
            shares[reader] += 1
            now[one.at] = replace(now[one.at], crew=reader)
    return tuple(now)
