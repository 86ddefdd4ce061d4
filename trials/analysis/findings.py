"""What an analysis found: codes and numbers. The file form is findings.json."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Literal

from pydantic import Field

from trials.study.values import Frozen

Interval = tuple[float | None, float | None]
Levels = dict[str, str]

LEAST_FRESH = 3  # items of a confirmation run at least; common practice, no source


class Method(Frozen):
    """How it was computed."""

    estimator: Literal["strata", "reml", "ols"]
    df: Literal["strata", "kenward-roger", "satterthwaite", "residual"]
    sums: Literal["III", "II", "I"]
    bounded: bool
    notes: tuple[str, ...] = ()


class OthersHeld(Frozen):
    """The layouts that a factor was held against: it alone moves, all others lie as in the plan.

    ``counted`` False: ``layouts`` is a lower and ``smallest_p`` an upper bound.
    """

    layouts: float
    smallest_p: float  # of a test against all of them
    counted: bool


class Effect(Frozen):
    """One term: does it matter at all?"""

    term: str  # "nitrogen" or "nitrogen:variety"
    stratum: str | tuple[str, ...] | None
    num_df: int
    den_df: float | None
    sum_sq: float | None = None
    mean_sq: float | None = None
    f: float | None = None
    p: float | None = None
    p_adjusted: float | None = None  # Holm, over the interactions of two factors
    p_randomisation: float | None = None
    p_permutation: float | None = None
    p_shuffle_error: float | None = None  # standard error of either from drawing; None: all counted
    exact: bool = False
    others_held: OthersHeld | None = None  # where p_randomisation is of one factor moving alone
    partial_omega_sq: float | None = None
    partial_eta_sq: float | None = None
    partial_eta_sq_interval: Interval | None = None
    share_of_variance: float | None = None
    notes: tuple[str, ...] = ()


class Component(Frozen):
    """Variance between the members of one group ("residual": between the smallest units)."""

    group: str
    variance: float | None
    unbounded: float | None
    at_boundary: bool


class Mean(Frozen):
    """Estimated mean at one level (or combination), equally weighted over the rest."""

    term: str
    levels: Levels
    n: int
    mean: float | None
    se: float | None
    df: float | None
    interval: Interval
    notes: tuple[str, ...] = ()


class SingleStep(Frozen):
    """A pair adjusted by the multivariate t, where variances of differences differ.

    Tukey and Kramer's p stands beside it as ``p_adjusted``; it is exact where they are all equal.
    """

    p: float
    error: float  # in 99 of 100 such calculations p is off by less
    interval: Interval


class Comparison(Frozen):
    """Two levels compared: a minus b, or a over b."""

    term: str
    a: Levels
    b: Levels
    difference: float | None
    ratio: float | None = None
    se: float | None
    df: float | None
    t: float | None
    p: float | None
    p_adjusted: float | None
    p_adjusted_error: float | None = None  # how far p_adjusted may be off; None: by rounding only
    adjustment: str  # "tukey", "dunnett", "multivariate_t" (against a control), "none"
    interval: Interval
    interval_adjusted: Interval
    single_step: SingleStep | None = None  # of all pairs
    hedges_g: float | None = None
    hedges_g_interval: Interval | None = None
    interval_randomisation: Interval | None = None  # what the plan's own shuffle doesn't reject
    interval_permutation: Interval | None = None  # the same without a plan, of one pair at a time
    interval_exact: bool = False  # of either, if the difference is the same for every item
    notes: tuple[str, ...] = ()

    @property
    def size(self) -> float | None:
        """How far from no difference, on the scale of analysis; None where that is not known."""
        if self.ratio is not None:
            return abs(math.log(self.ratio)) if self.ratio > 0 else None
        return None if self.difference is None else abs(self.difference)


class Crossing(Frozen):
    """Two factors that matter together: the difference of two levels depends on another factor.

    Only where the interaction is clear of chance among all pairs of factors (``p_adjusted`` of its
    effect), and not where both differences are surely too small to care about.
    """

    term: str
    factor: str
    within: str
    one: Comparison  # the two levels within one level of ``within``
    other: Comparison  # the same two levels, the same way round, within another
    turns: bool  # clear of no difference in both, in opposite directions
    beyond: bool  # in one of them surely more than the margin; False where no margin was declared


class Contender(Frozen):
    """One level against the best of the others (Hsu, 1984): a difference, or a ratio.

    An end of ``interval`` that is no difference at all (0, or 1 for a ratio) is meant so: on one
    side it says that another level is better, on the other that none is.
    """

    term: str
    levels: Levels
    difference: float | None
    ratio: float | None = None
    interval: Interval
    may_be_best: bool | None
    notes: tuple[str, ...] = ()


class TrendRest(Frozen):
    """What the powers up to a trend's own leave unexplained."""

    num_df: int
    den_df: float | None
    f: float | None
    p: float | None


class Trend(Frozen):
    """How the response changes over the actual values of a quantity that was changed.

    ``degree`` 1 is the straight line: ``slope`` for one ``unit`` of the quantity, or for one
    doubling where ``scale`` is log; on the ratio scale of the response ``ratio`` for each. Degree 2
    is the coefficient of the square. ``levels`` holds another factor at a level.
    """

    term: str
    levels: Levels = Field(default_factory=dict)
    degree: int
    scale: Literal["linear", "log"]
    unit: str  # of the quantity
    slope: float | None
    ratio: float | None = None
    se: float | None
    df: float | None
    t: float | None
    p: float | None
    interval: Interval
    lack_of_fit: TrendRest | None = None
    notes: tuple[str, ...] = ()


def is_bent(trends: Sequence[Trend], scale: Literal["difference", "ratio"]) -> bool:
    """Return whether a straight line surely misses something: the square is clear of none."""
    none = 1.0 if scale == "ratio" else 0.0
    for one in trends:
        low, high = one.interval
        if one.degree == 2 and not one.levels and low is not None:
            return low > none or (high is not None and high < none)
    return False


class Recipe(Frozen):
    """The mean that the model tells for one level of each factor; ``n`` 0: it was never made."""

    levels: Levels
    n: int
    mean: float | None
    se: float | None
    df: float | None
    interval: Interval
    notes: tuple[str, ...] = ()


class BestRecipe(Frozen):
    """The recipe with the best mean of those made, and what would confirm it.

    It was picked for its mean, so that this is likely a little too good. ``interval`` holds for all
    recipes made at once, ``gap_interval`` for all pairs of them. ``fresh`` items of it and as many
    of the runner-up show a true difference of ``fresh_for`` in 80 % of confirmation runs, each
    made in a unit of its own where the two differ; None where more than a million are needed, or no
    spread is known.
    """

    levels: Levels
    mean: float | None
    interval: Interval
    runner_up: Levels
    gap: float | None  # best minus runner-up, or their ratio
    gap_interval: Interval
    fresh: int | None
    fresh_for: float | None
    notes: tuple[str, ...] = ()


class ReadingShare(Frozen):
    """Is the meter or the build the noise? From items that were read several times.

    ``share`` is the readings' part of the variance between the items' values, ``icc`` the items'
    part of the variance of single readings (intraclass correlation).
    """

    share: float
    share_interval: Interval
    icc: float
    icc_interval: Interval
    readings: float  # for each item, on (harmonic) average
    items_df: float
    readings_df: int


class ToSettle(Frozen):
    """How many units of which group would probably settle a verdict."""

    group: str
    count: int
    assumption: str


class Verdict(Frozen):
    """The three-way verdict on one factor, against a margin declared beforehand."""

    factor: str
    verdict: Literal["mattered", "made no practical difference", "not settled"]
    reason: str  # code: "beyond", "inside", "inside_on_average", "clear_but_small",
    # "clear_not_surely_big", "wide", "no_replication", "no_variation", "not_compared",
    # "error_unsure" (how far chance reaches is known to no order of magnitude),
    # "failures_disagree", "depends" (on another factor: see ``crossings``),
    # "one_level" (only one level gave values, in ``a``), "no_residual_df" (no unit is left over),
    # "tied" (always changed together with something else),
    # "at_least" (of some items it is only known that they gave at least so much: see ``ranked``)
    a: Levels | None = None  # the pair with the largest difference
    b: Levels | None = None
    largest_difference: float | None
    interval: Interval | None
    worthwhile: float
    to_settle: ToSettle | None = None
    p_ranks: float | None = None  # of reason "at_least": whether the ranks differ, by the shuffle
    sentence: str = ""  # English, derived, outside every digest


class OtherVerdict(Frozen):
    """The verdict on one factor by promises that were changed after the plan was locked.

    Only where it differs from the verdict by the plan's own promises, which is the one that counts.
    """

    factor: str
    changes: tuple[str, ...]  # as study.toml now has them: "worthwhile = 3"
    verdict: Literal["mattered", "made no practical difference", "not settled"]
    sentence: str = ""  # English, derived, outside every digest


class MovedVerdict(Frozen):
    """The verdict on one factor without one decision about what was measured.

    Only where it differs from the verdict with the decision, which is the one that counts.
    """

    factor: str
    decision: str  # "Q3" (an answer to a question) or "swapped K7 K9"
    verdict: Literal["mattered", "made no practical difference", "not settled"]
    sentence: str = ""  # English, derived, outside every digest


class MadeFindings(Frozen):
    """What the items say that were made otherwise than planned, taken as they were really made.

    The verdicts as planned are those that count, for chance dealt out what was planned.
    """

    items: tuple[str, ...]  # made otherwise than planned
    left_out: tuple[str, ...] = ()  # made with a level that the plan doesn't have
    n_items: int
    comparisons: tuple[Comparison, ...]  # of single factors
    verdicts: tuple[Verdict, ...]


class FailureTable(Frozen):
    """Failed items per level of one factor, with an exact test."""

    factor: str
    made: dict[str, int]
    failed: dict[str, int]
    p: float | None
    p_as_worst: float | None = None  # rank test of all items made, failed ones tied as the worst
    notes: tuple[str, ...] = ()


class FailedAlike(Frozen):
    """The levels of two factors or more that all failed items share, or all but one of five.

    Of ``of_made`` items made and tested ``of_failed`` failed; ``made`` of them had these levels,
    and ``failed`` of those failed. ``p``: how often the plan's shuffle sets failed items so close.
    """

    levels: Levels
    made: int
    failed: int
    of_made: int
    of_failed: int
    p: float | None


class AtLeast(Frozen):
    """An item whose value is only known to be at least so much, in the unit of the response."""

    item: str
    value: float


class Typical(Frozen):
    """What is typical of one level where some values are only known as 'at least'.

    ``median`` is in the unit of the response; where it isn't ``exact`` the true one is at least so
    much.
    """

    factor: str
    level: str
    count: int
    at_least: int  # of these only known so
    median: float
    exact: bool


class Ranked(Frozen):
    """Why all numbers of a response are ranks: of some items it is only known 'at least'."""

    unit: str  # of the response
    items: tuple[AtLeast, ...]
    levels: tuple[Typical, ...]


class MissingLevel(Frozen):
    """A level none of whose items gave a value: how many were planned, failed and were lost."""

    factor: str
    level: str
    planned: int
    failed: int
    lost: int
    never_made: int = 0  # of those lost


class FoundSpread(Frozen):
    """How different things built alike came out: standard deviations, or CVs on the ratio scale."""

    items: float  # between items, without what their readings add
    items_interval: Interval
    items_df: float
    readings: float | None  # between readings of one item
    readings_df: int
    groups: dict[str, float] = Field(default_factory=dict)  # between the members of a group


class MakerGap(Frozen):
    """The two makers of a practice run whose items came out furthest apart; it went with them."""

    group: str
    members: int
    a: str
    b: str
    difference: float | None  # a minus b, or (scale of the response) a over b as ``ratio``
    ratio: float | None = None
    interval: Interval  # of all pairs at once
    df: float | None
    sd: float | None = None  # between makers; None where the items alone explain it


class Needed(Frozen):
    """How many items of each version show a true difference in 80 % of studies.

    None: more than a million. ``interval`` goes with that of the spread: from few to many.
    """

    compare: Literal["difference", "ratio"]
    difference: float  # in the unit of the response, or a ratio
    declared: bool  # the study's own ``worthwhile``; else half as much again
    count: int | None
    interval: tuple[int | None, int | None]
    to_make: int | None = None  # so that ``count`` of them work, if as many fail as did


class PracticeFindings(Frozen):
    """What a practice run tells of one response."""

    response: str
    unit: str
    scale: Literal["difference", "ratio"]
    made: int  # lost ones left out
    worked: int
    lost: int
    failing: float | None  # share of the items made
    failing_interval: Interval
    spread: FoundSpread | None = None
    meter_share: float | None = None  # of the variance between items' values, 0 to 1
    meter_interval: Interval = (None, None)
    makers: MakerGap | None = None
    needed: Needed | None = None


class TeamSpread(Frozen):
    """How alike one maker's things came out: standard deviations, or CVs on the ratio scale.

    ``making`` is between items, besides what recipe and groups explain and, where items were read
    more than once, without what reading adds; ``reading`` is between readings of one item. None:
    too little data, or nothing that reading and the others don't explain.
    """

    member: str
    items: int  # that gave a value
    making: float | None
    making_interval: Interval
    making_df: float | None
    reading: float | None
    reading_interval: Interval
    reading_df: int


class Repeatability(Frozen):
    """How repeatable each maker was, and whether the makers differ in it by more than chance."""

    group: str
    teams: tuple[TeamSpread, ...]
    making: float | None  # of all together
    reading: float | None
    confidence: float  # of each interval by itself
    p_making: float | None = None  # Levene's test, approximate: making and measuring together
    notes: tuple[str, ...] = ()


class SetAside(Frozen):
    """An item that took no part, and why."""

    item: str
    reason: str


class Point(Frozen):
    """One item as the figures show it."""

    item: str
    value: float
    fitted: float | None
    residual: float | None  # from the fixed part: the groups are still in it
    leftover: float | None = None  # of its item, every random group taken off as well
    factors: Levels
    groups: Levels
    run: int | None = None


class ResponseFindings(Frozen):
    """Everything about one response."""

    name: str
    unit: str
    scale: Literal["difference", "ratio"]
    n_items: int
    n_readings: int
    n_failed: int
    n_lost: int
    n_never_made: int = 0  # of those lost
    primary: bool
    better: Literal["high", "low"] = "high"
    method: Method
    effects: tuple[Effect, ...]
    variance_components: tuple[Component, ...]
    means: tuple[Mean, ...]
    comparisons: tuple[Comparison, ...]
    verdicts: tuple[Verdict, ...]
    other_verdicts: tuple[OtherVerdict, ...] = ()
    new_part: tuple[Verdict, ...] = ()  # by the last part alone, if asked for after looking
    as_made: MadeFindings | None = None  # where some were made otherwise than planned
    moved_verdicts: tuple[MovedVerdict, ...] = ()
    crossings: tuple[Crossing, ...] = ()
    contenders: tuple[Contender, ...] = ()  # empty where it isn't known what is better
    trends: tuple[Trend, ...] = ()
    recipes: tuple[Recipe, ...] = ()
    best_recipe: BestRecipe | None = None
    reading_share: ReadingShare | None = None  # None where no item was read twice
    repeatability: Repeatability | None = None  # of each maker, where the plan has makers
    judged_pairs: tuple[Comparison, ...] = ()  # what a verdict rests on, if not ``comparisons``
    failures: tuple[FailureTable, ...] = ()
    failed_alike: FailedAlike | None = None  # what failed items share, beyond one factor
    missing_levels: tuple[MissingLevel, ...] = ()
    diagnostics: dict[str, Any] = Field(default_factory=dict)
    points: tuple[Point, ...] = ()
    not_estimable: tuple[str, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
    ranked: Ranked | None = None  # then every number but those in it is of ranks, not of values

    @property
    def shuffled_alone(self) -> tuple[tuple[str, float, float, bool], ...]:
        """Each term whose p is of its factor moving alone: layouts, smallest p, both counted."""
        held = [(effect.term, effect.others_held) for effect in self.effects]
        return tuple((t, h.layouts, h.smallest_p, h.counted) for t, h in held if h is not None)


class Findings(Frozen):
    """All responses, with the digests of what they came from."""

    format_version: Literal[1] = 1
    program_version: str
    plan_digest: str | None
    record_digest: str
    responses: tuple[ResponseFindings, ...]
    practice: tuple[PracticeFindings, ...] = ()  # of a practice run, one a response

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, equal to what findings.json holds."""
        return self.model_dump(mode="json")
