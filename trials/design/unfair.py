"""The same items in a class planned fairly and in classes planned the usual unfair ways.

Luck is drawn once for all classes: each team is as skilled, each firing as lucky and each item as
good in one as in the other. Only three things differ: who makes which version, what is heated
together, and what is counted. So what the classes say differs by their plans alone.

Three faults, each common practice, no source: *shared out* gives every maker a version of their
own; *one batch* gives all items of a version one member of the group that it is applied to;
*readings counted* measures one item of each recipe several times and calls the readings items.
An unfair class judges by one least-squares fit of the rows it has, as if all stood for themselves.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from trials.design.columns import layout_of
from trials.design.factorials import Codes
from trials.design.looks import confidence_of
from trials.design.outlook import Assumed, assume, main_response, truths
from trials.design.shuffle import plan_layout, plan_units
from trials.design.simulation import FEWEST, MOST, Share, Truth, many_of, reach, share_of
from trials.design.units import Units
from trials.design.values import Plan, PlanFactor
from trials.errors import RequestError, StudyError
from trials.model import RESIDUAL, FitOptions, Layout, Structure, make_layout
from trials.model.hypotheses import pair_line
from trials.model.layout import Floats
from trials.model.many import Many
from trials.progress import Step, silent
from trials.randomness import stream

if TYPE_CHECKING:
    from trials.study import Response, Study, StudyFactor

READINGS = 5  # of the one item that an unfair class measures
_AT_ONCE = 500  # studies between two reports of progress


@dataclass(frozen=True)
class Faults:
    """What a class does unfairly; nothing of it in a fair one."""

    shared_out: bool = False
    one_batch: bool = False
    readings_counted: bool = False

    @property
    def any(self) -> bool:
        """Whether there is a fault."""
        return self.shared_out or self.one_batch or self.readings_counted


@dataclass(frozen=True)
class Crowned:
    """What classes say where the best version of a factor is truly ``difference`` ahead.

    ``right``, ``wrong``: surely best of all is the version that is, or another one. ``none``: no
    version is surely best. Where all are alike (truth "zero") none is right. ``also``: it is said
    of the factor of a group that it makes a difference, which it never does.
    """

    truth: Truth
    difference: float
    right: Share
    wrong: Share
    none: Share
    also: Share | None


@dataclass(frozen=True)
class ClassOutcome:
    """One way of planning a class, and what came of it at each truth."""

    faults: Faults
    rows: int  # what the class counts as items
    crowned: tuple[Crowned, ...]


@dataclass(frozen=True)
class Classes:
    """A fair class beside unfair ones: with all faults, and with each by itself.

    ``factor`` is the one with a best version, ``batch`` the one applied to the group ``together``
    (None: there is none), ``maker`` the group of those who make.
    """

    studies: int
    seed: int
    response: str
    factor: str
    maker: str
    batch: str | None
    together: str | None
    items: int
    fair: ClassOutcome
    unfair: ClassOutcome
    single: tuple[ClassOutcome, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for ``--json``."""
        return asdict(self)


def compare_classes(
    study: Study, plan: Plan, *, studies: int, seed: int = 1, tell: Step = silent
) -> Classes:
    """Simulate a study's class as planned, and unfair classes with the same items.

    The main response is simulated with the spread that the study gives. The first factor applied
    to single items has one version that is better by what the study calls worthwhile or expected,
    or none; every other factor does nothing.

    Parameters
    ----------
    plan : of the study; the fair class.
    studies : how many times the classes are simulated, 10 to 1,000,000.
    seed : the same seed gives the same luck.

    Raises
    ------
    RequestError : a number of studies that makes no sense.
    StudyError : the study has no maker group with a member for each version, no factor of single
        items, or says too little of its spread.
    """
    if not FEWEST <= studies <= MOST:
        raise RequestError(
            "That number of classes can't be simulated.",
            code="unfair.studies",
            found=str(studies),
            allowed=f"{FEWEST} to {MOST:,}",
            do="2000 classes give each share within about 2 in 100.",
        )
    cast = _cast(study, plan)
    several = [Faults(), Faults(True, cast.batch is not None, True)]
    several += [Faults(shared_out=True), Faults(readings_counted=True)]
    if cast.batch is not None:
        several.append(Faults(one_batch=True))
    classes = [_Class(cast, study, plan, faults) for faults in several]
    done = 0
    for luck in _lucks(cast, studies, seed):
        for one in classes:
            one.judge(luck)
        done += len(luck.items)
        tell(done, studies)
    fair, unfair, *single = [one.outcome() for one in classes]
    return Classes(
        studies=studies,
        seed=seed,
        response=cast.response.name,
        factor=cast.factor.name,
        maker=cast.maker,
        batch=cast.batch.name if cast.batch else None,
        together=cast.together,
        items=cast.units.n,
        fair=fair,
        unfair=unfair,
        single=tuple(single),
    )


@dataclass(frozen=True)
class _Cast:
    """What of a study takes part: names, codes of the fair plan, and standard deviations."""

    response: Response
    assumed: Assumed
    factor: PlanFactor
    batch: PlanFactor | None
    maker: str
    together: str | None
    units: Units
    codes: Mapping[str, Codes]
    sds: Mapping[str, float]  # by group name
    item_sd: float
    reading_sd: float


def _cast(study: Study, plan: Plan) -> _Cast:
    response = main_response(study)
    assumed = assume(study, response)
    single = response.model_copy(update={"readings": 1})
    one = assume(study, single)
    spread = response.spread
    if assumed is None or one is None or spread is None or not spread.readings:
        raise _unsaid(
            f"responses.{response.name}.spread",
            "the spread between items, and between readings of one item",
            f"Write items = and readings = under [responses.{response.name}.spread].",
        )
    if len(truths(response)) < 2:
        raise _unsaid(
            f"responses.{response.name}",
            "a difference that would be worthwhile, or that is hoped for",
            f"Write expected = under [responses.{response.name}].",
        )
    whole = spread.model_copy(update={"readings": None})
    bare = assume(study, single.model_copy(update={"spread": whole}))
    item = bare.components[RESIDUAL] if bare is not None else 0.0
    factor = next((f for f in study.factors if f.applied_to is None), None)
    maker = _maker(study, plan, factor)
    units = plan_units(plan)
    names = {group.path: group.name for group in plan.groups}
    by_name = {factor.name: factor for factor in plan.factors}
    batch = next((f for f in plan.factors if f.applied_to is not None), None)
    return _Cast(
        response=response,
        assumed=assumed,
        factor=by_name[factor.name if factor else ""],
        batch=batch,
        maker=maker,
        together=names[batch.applied_to] if batch and batch.applied_to else None,
        units=units,
        codes=plan_layout(plan),
        sds={
            names[path]: float(np.sqrt(variance))
            for path, variance in assumed.components.items()
            if path in names
        },
        item_sd=float(np.sqrt(item)),
        reading_sd=float(np.sqrt(one.components[RESIDUAL] - item)),
    )


def _maker(study: Study, plan: Plan, factor: StudyFactor | None) -> str:
    """Return the group of those who make; refuse a study in which versions can't be shared out."""
    if factor is None:
        raise _unsaid(
            "factors",
            "a variable of which every single item can have its own version",
            "Take a study with such a variable.",
        )
    groups = {group.name: group for group in plan.groups}
    makers = [group.name for group in study.groups if group.role == "maker"]
    held = {f.applied_to for f in study.factors}
    fits = [m for m in makers if len(groups[m].members) >= len(factor.levels) and m not in held]
    if not fits:
        raise _unsaid(
            "groups",
            f"at least {len(factor.levels)} teams that make, one for each version of {factor.name}",
            'Add a group of teams, with role = "maker".',
        )
    return fits[0]


def _unsaid(where: str, wanted: str, do: str) -> StudyError:
    return StudyError(
        "The study says too little to play an unfair class beside it.",
        code="unfair.unsaid",
        where=f"{where} in study.toml",
        allowed=wanted,
        do=do,
    )


@dataclass(frozen=True)
class _Luck:
    """What chance did in N classes, the same whatever their plan.

    ``groups`` holds for each group (N, members), ``items`` (N, n) and ``readings`` (N, n,
    READINGS).
    """

    groups: Mapping[str, Floats]
    items: Floats
    readings: Floats


def _lucks(cast: _Cast, studies: int, seed: int) -> Iterator[_Luck]:
    rng = stream(seed, "two classes")
    for first in range(0, studies, _AT_ONCE):
        count = min(_AT_ONCE, studies - first)
        groups = {
            group.name: cast.sds[group.name] * rng.standard_normal((count, len(group.members)))
            for group in cast.units.groups
            if cast.sds.get(group.name, 0.0) > 0
        }
        shape = (count, cast.units.n)
        yield _Luck(
            groups,
            cast.item_sd * rng.standard_normal(shape),
            cast.reading_sd * rng.standard_normal((*shape, READINGS)),
        )


class _Class:
    """One way of planning, with the counts of what it says.

    ``rows`` (m,) are the places of the items that the class counts, each as often as it does.
    """

    def __init__(self, cast: _Cast, study: Study, plan: Plan, faults: Faults) -> None:
        self.cast, self.faults = cast, faults
        self.confidence = confidence_of(study)
        self.codes = dict(cast.codes)
        self.places = {group.name: cast.units.codes[group.name] for group in cast.units.groups}
        levels = len(cast.factor.levels)
        if faults.shared_out:
            self.codes[cast.factor.name] = self.places[cast.maker] % levels
        if faults.one_batch:
            self.places |= self._one_member_each()
        self.rows = self._rows()
        if faults.any:
            self.many = Many(self._plain(), FitOptions())
        else:
            self.many = many_of(study, layout_of(study, plan))
        self.counts: dict[Truth, list[int]] = {t: [0, 0, 0] for t in truths(cast.response)}
        self.studies = 0

    def _one_member_each(self) -> dict[str, Codes]:
        """Return where items belong if all of one version share a member of its group."""
        cast = self.cast
        if cast.batch is None or cast.together is None:
            return {}
        path = next(g.path for g in cast.units.groups if g.name == cast.together)
        code = cast.codes[cast.batch.name]
        first = np.array([np.flatnonzero(code == level)[0] for level in np.unique(code)])
        name_of = {g.path: g.name for g in cast.units.groups}
        parts = path.split("/")
        around = ["/".join(parts[: end + 1]) for end in range(len(parts))]
        return {name_of[p]: cast.units.codes[name_of[p]][first[code]] for p in around}

    def _rows(self) -> Codes:
        """Return the items counted: all of them, or one of each recipe READINGS times."""
        n = self.cast.units.n
        if not self.faults.readings_counted:
            return np.arange(n, dtype=np.intp)
        recipe = self.codes[self.cast.factor.name].copy()
        if self.cast.batch is not None:
            recipe = recipe * len(self.cast.batch.levels) + self.codes[self.cast.batch.name]
        _, first = np.unique(recipe, return_index=True)
        return np.repeat(np.sort(first), READINGS)

    def _plain(self) -> Layout:
        """Return the rows as an unfair class sees them: versions, and nothing that groups them."""
        factors = [f for f in (self.cast.factor, self.cast.batch) if f is not None]
        columns = {f.name: [f.levels[c] for c in self.codes[f.name][self.rows]] for f in factors}
        return make_layout(Structure([f.name for f in factors]), columns)

    def judge(self, luck: _Luck) -> None:
        """Count what is said of N classes, at every truth."""
        Y = luck.items.copy()
        for name, own in luck.groups.items():
            Y += own[:, self.places[name]]
        if self.faults.readings_counted:
            each = np.tile(np.arange(READINGS), len(self.rows) // READINGS)
            Y = Y[:, self.rows] + luck.readings[:, self.rows, each]
        else:
            Y += luck.readings[:, :, 0] / np.sqrt(self.cast.response.readings)
        pairs = self._pairs(self.cast.factor)
        others = self._pairs(self.cast.batch) if self.cast.batch else []
        lines = self.many.fit(Y, np.array([row for *_, row in (*pairs, *others)]))[1]
        half = np.empty_like(lines.se)
        cut = len(pairs)
        half[:, :cut] = self._half(lines.se[:, :cut], lines.df[:, :cut], self.cast.factor)
        if self.cast.batch:
            half[:, cut:] = self._half(lines.se[:, cut:], lines.df[:, cut:], self.cast.batch)
        also = int((np.abs(lines.estimate[:, cut:]) > half[:, cut:]).any(axis=1).sum())
        self.studies += len(Y)
        for truth, size in truths(self.cast.response).items():
            ahead = self.cast.assumed.on_scale(size)
            best = self._best(pairs, lines.estimate[:, :cut], half[:, :cut], abs(ahead))
            right = int(best[:, 0].sum()) if truth != "zero" else 0
            counts = self.counts[truth]
            counts[0] += right
            counts[1] += int(best.any(axis=1).sum()) - right
            counts[2] += also

    def _pairs(self, factor: PlanFactor) -> list[tuple[int, int, Floats]]:
        found = []
        for a, b in combinations(range(len(factor.levels)), 2):
            row, _ = pair_line(self.many.design, factor.name, a, b)
            if row is not None:
                found.append((a, b, row))
        return found

    def _half(self, se: Floats, df: Floats, factor: PlanFactor) -> Floats:
        """Return half the width of Tukey's intervals."""
        out: Floats = se * reach(self.confidence, len(factor.levels), df)
        return out

    def _best(
        self, pairs: list[tuple[int, int, Floats]], estimate: Floats, half: Floats, ahead: float
    ) -> np.ndarray:
        """Return which version is surely better than every other, (N, levels); the first is
        truly ``ahead``."""
        levels = len(self.cast.factor.levels)
        beats = np.zeros((len(estimate), levels, levels), dtype=bool)
        for place, (a, b, _) in enumerate(pairs):
            value = estimate[:, place] + ahead * ((a == 0) - (b == 0))
            beats[:, a, b] = value - half[:, place] > 0
            beats[:, b, a] = value + half[:, place] < 0
        return np.asarray(beats.sum(axis=2) == levels - 1)

    def outcome(self) -> ClassOutcome:
        """Return the shares."""
        sizes = truths(self.cast.response)
        told = []
        for truth, (right, wrong, also) in self.counts.items():
            none = self.studies - right - wrong
            said = None if self.cast.batch is None else share_of(also, self.studies)
            told.append(
                Crowned(
                    truth=truth,
                    difference=sizes[truth],
                    right=share_of(right, self.studies),
                    wrong=share_of(wrong, self.studies),
                    none=share_of(none, self.studies),
                    also=said,
                )
            )
        return ClassOutcome(self.faults, len(self.rows), tuple(told))
