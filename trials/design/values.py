"""The plan as a frozen value: which items to make, by whom, in what order, and what it can tell."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal

from pydantic import Field

from trials.digest import digest
from trials.study.values import Frozen

RESERVED = ("run", "measure", "item", "reading")


class PlanFactor(Frozen):
    """A factor as the plan used it."""

    name: str
    levels: tuple[str, ...]
    unit: str
    kind: Literal["category", "quantity"]
    scale: Literal["linear", "log"]
    applied_to: str | None  # full path of a group
    control: str | None = None


class PlanGroup(Frozen):
    """A group as the plan used it."""

    name: str
    path: str  # largest first: "session/firing"
    within: str | None
    step: str | None
    role: str | None
    members: tuple[str, ...]  # labels in plan.csv; unique over the whole plan
    random: bool | None
    added: bool = False  # the study doesn't name it: it keeps the parts of an extended plan apart


class PlanRow(Frozen):
    """One item to make."""

    run: int  # order of making, from 1
    measure: int  # order of measuring, from 1
    item: str  # code that says nothing about the treatment
    groups: dict[str, str]  # group name -> member label
    factors: dict[str, str]  # factor name -> level


class SkeletonRow(Frozen):
    """One line of what the plan can tell, known before anything is made."""

    source: str  # term ("heat", "heat:soak"), group path or "residual"
    stratum: str  # group path or "residual"
    df: int
    tested_by: str | None  # stratum whose leftover variation is the yardstick; None: no test
    den_df: float | None
    efficiency: float | None = None  # 0..1, of a term in this stratum; None for a group's own line


class Change(Frozen):
    """One line of study.toml to write: the keys that lead to it and its new value."""

    keys: tuple[str, ...]  # ("groups", "firing", "count")
    value: Any


class AuditFinding(Frozen):
    """One finding of the fair-test check; words makes message and remedy from code and facts."""

    code: str  # stable: "tied", "no_replication", "shared_pot", "time_order" ...
    severity: Literal["stop", "warn", "note"]
    area: str = ""  # which of the five areas of difficulty; words/fairness_areas.py names them
    change: tuple[Change, ...] = ()  # lines that would settle it; empty: none are known
    facts: dict[str, Any] = Field(default_factory=dict)
    message: str = ""  # English, derived, outside the digest
    remedy: str = ""


class PowerRow(Frozen):
    """Chance that the F test of a term finds a difference, at one assumed spread."""

    response: str
    term: str
    difference: float  # true difference (ratio on the ratio scale)
    spread: Literal["half", "given", "twice"]
    power: float | None
    note: str = ""


class VerdictChance(Frozen):
    """Chances of the three verdicts if the true difference is 0, worthwhile or expected."""

    response: str
    factor: str
    truth: Literal["zero", "worthwhile", "expected"]
    difference: float
    mattered: float
    no_practical_difference: float
    not_settled: float

    @property
    def clear(self) -> float:
        """Chance of the clear answer that would be right."""
        return self.no_practical_difference if self.truth == "zero" else self.mattered


class Balance(Frozen):
    """One declared rule: these factors' versions occur as often as meant, at most one apart.

    It holds within each combination of ``within`` (names of groups and of factors applied to larger
    units). ``counted`` names the group whose members are counted; None: items. ``excess`` is how
    many counts too far apart were unavoidable, summed over all: 0 where the rule holds everywhere.
    ``shares`` gives the intended share of each combination of versions, the last factor's changing
    fastest; empty: all equal. ``each``: every combination of members in ``within`` has shares
    of its own, one row of them after another, those of the last group in it changing fastest.
    """

    factors: tuple[str, ...]
    within: tuple[str, ...] = ()
    counted: str | None = None
    excess: int = 0
    shares: tuple[float, ...] = ()
    each: bool = False


class PlanGrouping(Frozen):
    """A group that a criterion reckons with, or what several groups have in common.

    ``variance``: of its members, in units of the items'; None: its members stand for themselves,
    and differences between them are taken out.
    """

    groups: tuple[str, ...]
    variance: float | None


class WorthRule(Frozen):
    """What every layout of a set can tell: all that is asked, and nearly as much as the best found.

    The value of the criterion (small is good) is at most ``times`` that of the layout that was
    ``found``; ``times`` None: any value will do, as long as nothing is left open. ``interactions``
    and ``groups`` are what the criterion is worked out from, besides groups and factors.
    """

    criterion: Literal["A", "D", "I"]
    found: float
    times: float | None
    interactions: int
    groups: tuple[PlanGrouping, ...]


class Shuffle(Frozen):
    """The set of layouts that could have been drawn with equal chance.

    ``units``: members of groups, and items within their group, change places. ``units and levels``:
    the names of some factors' levels as well. ``chain``: all layouts that a chain of exchanges
    reaches without breaking ``balance``, making what is ``forbidden``, losing what is ``required``
    or telling less than ``worth`` asks. ``parts``: each part of an extended plan by a shuffle of
    its own.
    """

    kind: Literal["units", "units and levels", "chain", "parts"]
    size: float | None  # number of layouts; float, for it can exceed any integer type elsewhere
    smallest_p: dict[str, float | None]  # per term
    relabelled: tuple[str, ...] = ()  # factors whose levels are renamed by chance
    exact: bool = True  # False: ``size`` is a lower and ``smallest_p`` an upper bound
    balance: tuple[Balance, ...] = ()  # what every layout of the set keeps
    forbidden: tuple[dict[str, str], ...] = ()  # combinations that no layout of the set makes
    required: tuple[dict[str, str], ...] = ()  # combinations that every layout of it makes
    worth: WorthRule | None = None  # None: nothing was searched for, or no exchange changes it


class PlanPart(Frozen):
    """Items that were drawn together: the first plan, or a later extension of it.

    ``looked``: results of the earlier parts were known when this one was asked for. ``without``:
    items of earlier parts that were lost by then. ``makes_up``: its versions are dealt so that they
    make up for what the earlier parts lack.
    """

    items: int  # rows of the part; parts follow each other in the rows of the plan
    seed: int
    shuffle: Shuffle
    looked: bool = False
    asked: str | None = None  # date on which it was asked for, ISO 8601
    locked: str | None = None  # date of its first printed sheets, ISO 8601
    without: tuple[str, ...] = ()
    makes_up: bool = False


class Alias(Frozen):
    """A term that a plan can't tell from something else, wholly or in part.

    ``mixed_with`` names another term or a group by its path ("team", "session:team"); several names
    where only all of them together hide the term. ``share`` (0..1) is how much of the term's
    columns lies in the columns of the other: 1 means that nothing tells them apart. ``entry`` is
    the term's coefficient in the alias matrix, given where all factors named have two levels.
    """

    term: str
    mixed_with: tuple[str, ...]
    share: float
    whole: bool
    entry: float | None = None


class Tie(Frozen):
    """How firmly two columns of a plan are tied: Cramér's V, 0 (not at all) to 1.

    ``first`` and ``second`` name factors, groups, or ``run`` and ``measure``: the first, middle and
    last third of the order of making and of measuring. ``meant``: tied by what they are (a group
    within another, a factor and the group it is applied to, an order that goes group by group).
    """

    first: str
    second: str
    tie: float | None  # None: a column that is everywhere the same
    meant: bool = False


class Detectable(Frozen):
    """The smallest true difference (ratio on the ratio scale) that a term's F test would find.

    Two levels apart, the others half-way; of an interaction the difference of differences.
    """

    response: str
    term: str
    spread: Literal["half", "given", "twice"]
    num_df: int
    den_df: float | None
    at_80: float | None  # found in 80 % of repeats; None: never
    at_90: float | None
    note: str = ""


class Loss(Frozen):
    """What the loss of one item, or of one member of a group with all its items, does to a factor.

    The member is the one whose loss does most harm to this factor. ``before`` and ``after`` are the
    differences found in 80 % of repeats; ``growth`` is their quotient (of logarithms on the ratio
    scale). ``estimate lost``: fewer levels can be compared than before.
    """

    group: str | None  # None: a single item
    member: str  # label of the member, or code of the item
    items: int
    factor: str
    effect: Literal["estimate lost", "test lost", "weaker", "untested"]
    response: str | None  # whose spread was assumed; None: equal variances of all groups and items
    before: float | None
    after: float | None
    growth: float | None
    df_before: float | None
    df_after: float | None


class Judgement(Frozen):
    """What can be said of a plan before anything is built, besides its skeleton and its power."""

    aliases: tuple[Alias, ...] = ()
    ties: tuple[Tie, ...] = ()
    detectable: tuple[Detectable, ...] = ()
    worst_loss: tuple[Loss, ...] = ()


class SearchReport(Frozen):
    """How good the plan's layout is known to be.

    ``value``: of the criterion, small is good; ``bound``: no layout has a smaller one;
    ``efficiency``: bound / value. ``proved``: no layout is better. ``worst_efficiency``: the
    layout's value against the best found, at the worst of several ratios of the groups' variance
    to the items'; None where no group varies.
    """

    criterion: Literal["A", "D", "I"]
    value: float
    bound: float
    efficiency: float
    proved: bool
    starts: int
    worst_efficiency: float | None = None


class PlannedWork(Frozen):
    """One step, done to one item or once to a whole group, and when.

    ``lesson`` counts from 1; of work ``between`` lessons it is the lesson that it comes before, and
    ``start`` counts from the end of the lesson before it, else from the beginning of its own.
    """

    step: str
    items: tuple[str, ...]
    group: str = ""  # what goes together, such as "firing 3"; empty: one item by itself
    crew: str  # the team, or who else does it
    lesson: int
    between: bool = False
    start: int  # minutes
    minutes: int
    waiting: int = 0


class Away(Frozen):
    """A team that isn't there from a lesson on, counted from 1: others finish what it made."""

    team: str
    since: int


class Missing(Frozen):
    """How many pieces of some equipment are out of order from a lesson on, counted from 1.

    ``pieces``: of all that there are, in that lesson and until another one says otherwise; 0: all
    are in order again.
    """

    equipment: str
    pieces: int
    since: int


def missing_in(told: Iterable[Missing], lesson: int) -> dict[str, int]:
    """Return how many pieces of which equipment are out of order in a lesson.

    Examples
    --------
    >>> told = [Missing(equipment="oven", pieces=n, since=since) for n, since in ((1, 2), (0, 4))]
    >>> missing_in(told, 1), missing_in(told, 3), missing_in(told, 4)
    ({}, {'oven': 1}, {})
    """
    found = {
        one.equipment: one.pieces
        for one in sorted(told, key=lambda one: one.since)
        if one.since <= lesson
    }
    return {name: pieces for name, pieces in found.items() if pieces}


def in_short(told: Iterable[Missing]) -> tuple[Missing, ...]:
    """Return what changes from one lesson to another, in the order of names and lessons.

    Of several about one name and lesson the last one counts.

    Examples
    --------
    >>> told = [Missing(equipment="oven", pieces=1, since=since) for since in (3, 2)]
    >>> [one.since for one in in_short(told)]
    [2]
    """
    last = {(one.equipment, one.since): one for one in told}
    found: list[Missing] = []
    for _, one in sorted(last.items()):
        if one.pieces != missing_in(found, one.since).get(one.equipment, 0):
            found.append(one)
    return tuple(found)


class Timetable(Frozen):
    """When everything is done. ``proved``: no timetable is over sooner; else ``bound`` tells.

    ``ends`` and ``bound`` are minutes of lessons, all lessons before the last one counted whole.
    ``whole``: each session is measured within one lesson. ``away``: teams that went missing.
    ``missing``: equipment out of order, or in order again, lesson by lesson. ``over``: places in
    ``works``, from 0, of what was done when the rest was placed again.
    ``past``: what was done by then with items that were lost since, as it was done. ``since``: the
    lesson from which on the rest was placed again; 0: it never was. ``again``: how often that gave
    another timetable.
    """

    lessons: int
    minutes: int  # of one lesson
    ends: int
    bound: int
    proved: bool
    whole: bool
    starts: tuple[str, ...] = ()  # day and time of each lesson, where they are known
    works: tuple[PlannedWork, ...]
    away: tuple[Away, ...] = ()
    missing: tuple[Missing, ...] = ()
    over: tuple[int, ...] = ()
    past: tuple[PlannedWork, ...] = ()
    since: int = 0
    again: int = 0


class Plan(Frozen):
    """A drawn plan. ``digest()`` covers everything but the English and the lock."""

    format_version: Literal[1] = 1
    program_version: str
    study_digest: str
    seed: int
    seeds_tried: tuple[int, ...]
    family: str
    factors: tuple[PlanFactor, ...]
    groups: tuple[PlanGroup, ...]
    rows: tuple[PlanRow, ...]
    criteria: dict[str, float]
    skeleton: tuple[SkeletonRow, ...]
    audit: tuple[AuditFinding, ...]
    power: tuple[PowerRow, ...]
    verdict_chances: tuple[VerdictChance, ...]
    shuffle: Shuffle
    search: SearchReport | None = None
    parts: tuple[PlanPart, ...] = ()  # empty: all was drawn at once
    aliases: tuple[Alias, ...] = ()
    ties: tuple[Tie, ...] = ()
    detectable: tuple[Detectable, ...] = ()
    worst_loss: tuple[Loss, ...] = ()
    timetable: Timetable | None = None  # None: the study says nothing of lessons, or it can't be
    locked: str | None = None  # date of the first printed sheets, ISO 8601

    def digest(self) -> str:
        """Return the SHA-256 of what was asked and drawn; the same on any machine.

        What is only worked out from it (skeleton, power, chances, check) is left out: its last
        digits depend on the machine, and it can be worked out again.
        """
        drawn = ("format_version", "study_digest", "seed", "seeds_tried", "family", "factors",
                 "groups", "rows")  # fmt: skip
        value = self.model_dump(mode="json", include=set(drawn), exclude_defaults=True)
        value["shuffle"] = _declared(self.shuffle)
        if self.parts:
            value["parts"] = [
                {
                    "items": part.items,
                    "seed": part.seed,
                    "looked": part.looked,
                    "shuffle": _declared(part.shuffle),
                }
                for part in self.parts
            ]
        return digest(value)

    @property
    def by_lot(self) -> bool:
        """Whether chance had anything to decide: more than one layout could have been drawn."""
        return self.shuffle.size is None or self.shuffle.size > 1

    @property
    def bans(self) -> tuple[dict[str, str], ...]:
        """What no layout makes that could have been drawn, in any part of the plan."""
        out: list[dict[str, str]] = []
        for shuffle in (self.shuffle, *(part.shuffle for part in self.parts)):
            out += [ban for ban in shuffle.forbidden if ban not in out]
        return tuple(out)

    @property
    def untested(self) -> tuple[str, ...]:
        """The factors for which nothing is left over to judge chance by (none: no skeleton)."""
        if not self.skeleton:
            return ()
        tested = {row.source for row in self.skeleton if row.tested_by is not None}
        return tuple(factor.name for factor in self.factors if factor.name not in tested)

    def row(self, item: str) -> PlanRow:
        """Return the row of an item code; KeyError if the plan has none."""
        for row in self.rows:
            if row.item == item:
                return row
        raise KeyError(item)


def _declared(shuffle: Shuffle) -> dict[str, Any]:
    keys = {"kind", "relabelled", "balance", "forbidden", "required", "worth"}
    return shuffle.model_dump(mode="json", include=keys, exclude_defaults=True)
