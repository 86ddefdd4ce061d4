"""Whole studies simulated from a plan: made, measured, analysed and judged, many times over.

Every simulated study has the plan's layout and the spread that was declared, is fitted as the
analysis would fit it (strata, or REML with Kenward-Roger) and judged by the verdict's own rule. So
the shares it gives stand beside the calculated ones as a check that shares no formula with them.
Failed and lost items are not simulated.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from trials.design.chances import crossing
from trials.design.differences import coefficients, pattern, worst_difference
from trials.design.looks import confidence_of
from trials.design.outlook import Assumed, assume, outlook, truths, verdict_pair
from trials.design.values import PowerRow, VerdictChance
from trials.errors import AnalysisError, RequestError
from trials.model import RESIDUAL, FitOptions, Layout, Precision, Prepared, tukey
from trials.model.hypotheses import pair_line
from trials.model.inference import LEAST_DF
from trials.model.layout import Floats
from trials.model.many import Many, ManyLines, ManyTests
from trials.model.margins import is_beyond, is_inside
from trials.model.precision import on_groups
from trials.model.terms import term_name, treatment_terms
from trials.progress import Step, silent
from trials.randomness import stream

if TYPE_CHECKING:
    from trials.study import Response, Study

FEWEST, MOST = 10, 1_000_000  # studies
_AT_ONCE, _ONE_BY_ONE = 2_000, 100  # studies between two reports of progress
_NODES = 64  # places at which a critical value is worked out
_MOST_DF = 1e7

Truth = Literal["zero", "worthwhile", "expected"]


@dataclass(frozen=True)
class Share:
    """A share of the simulated studies, its Monte Carlo standard error, and the calculated one.

    The error is that of (x + 1) / (N + 2), so that it is not 0 where all studies agree.
    """

    simulated: float
    error: float
    calculated: float | None


@dataclass(frozen=True)
class SimulatedTest:
    """How often a term's F test found a true difference; of none, how often it raised an alarm."""

    response: str
    term: str
    truth: Truth
    difference: float
    found: Share


@dataclass(frozen=True)
class SimulatedVerdict:
    """How often each verdict on a factor came out."""

    response: str
    factor: str
    truth: Truth
    difference: float
    mattered: Share
    no_practical_difference: Share
    not_settled: Share


@dataclass(frozen=True)
class Simulation:
    """What came out of so many simulated studies."""

    studies: int
    seed: int
    tests: tuple[SimulatedTest, ...]
    verdicts: tuple[SimulatedVerdict, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for ``--json``."""
        return asdict(self)


def simulate(
    study: Study, layout: Layout, *, studies: int, seed: int = 1, tell: Step = silent
) -> Simulation:
    """Simulate whole studies on a plan's layout, and count what the analysis says of each.

    Parameters
    ----------
    studies : how many, 10 to 1,000,000; the same studies serve all terms and truths of a response.
    seed : the same seed gives the same studies.
    tell : hears how many studies are done.

    Raises
    ------
    RequestError : a number of studies that makes no sense.

    Examples
    --------
    >>> from trials.design.draw import draw
    >>> from trials.design.judging import layout_of
    >>> from trials.study import Limits, Response, Spread, Study, StudyFactor
    >>> shape = StudyFactor(name="shape", levels=("dart", "glider"), shared=False)
    >>> distance = Response(name="distance", unit="m", expected=4.0, spread=Spread(items=2.0))
    >>> study = Study(title="Planes", question="Which flies further?", factors=(shape,),
    ...               responses=(distance,), limits=Limits(copies=4))
    >>> found = simulate(study, layout_of(study, draw(study, seed=7)), studies=4000)
    >>> one = found.tests[-1]
    >>> one.truth, round(one.found.calculated, 2), abs(one.found.simulated - 0.66) < 0.03
    ('expected', 0.66, True)
    """
    if not FEWEST <= studies <= MOST:
        raise RequestError(
            "That number of studies can't be simulated.",
            code="power.studies",
            where="trials power --simulate",
            found=str(studies),
            allowed=f"{FEWEST} to {MOST:,}",
            do="1000 studies give each share within about 3 in 100; 10000 within 1 in 100.",
        )
    many = many_of(study, layout)
    ready = Prepared(layout, study.analysis.interactions)
    jobs = [job for r in study.responses if (job := _job(study, r, many, ready)) is not None]
    calculated = outlook(study, ready, ("given",))
    tests: list[SimulatedTest] = []
    verdicts: list[SimulatedVerdict] = []
    for place, job in enumerate(jobs):
        counts = _Counts({}, {})
        done = 0
        for Y in _responses(job, layout, studies, seed, many.at_once):
            _count(job, *many.fit(Y, job.rows), counts)
            done += len(Y)
            tell(place * studies + done, len(jobs) * studies)
        tests += _told_tests(job, counts, studies, calculated[0])
        verdicts += _told_verdicts(job, counts, studies, calculated[1])
    return Simulation(studies, seed, tuple(tests), tuple(verdicts))


def is_exact(study: Study, layout: Layout) -> bool:
    """Return whether tests on this layout have exactly the distribution that power assumes."""
    return many_of(study, layout).at_once


def many_of(study: Study, layout: Layout) -> Many:
    """Return a layout ready for many fits, each as the analysis of the study would fit it."""
    chosen = study.analysis
    return Many(layout, FitOptions(chosen.interactions, chosen.sums, chosen.df, chosen.bounded))


@dataclass(frozen=True)
class _Family:
    """A factor's pairs among the rows: over all items, and within levels of other factors.

    ``whole``: all of them can be estimated, without which there is no "no practical difference".
    """

    levels: int
    main: tuple[int, ...]
    inner: tuple[int, ...]
    whole: bool


@dataclass(frozen=True)
class _Job:
    """Everything that is the same for all simulated studies of one response.

    ``shifts`` holds for each term (for its test) and each factor (for its verdict) the true
    coefficients of each truth; ``margin`` is on the scale of the model, None where none was said.
    """

    study: Study
    response: Response
    variances: Mapping[str, float]
    rows: Floats
    families: Mapping[str, _Family]
    test_shifts: Mapping[tuple[str, Truth], Floats]
    verdict_shifts: Mapping[tuple[str, Truth], Floats]
    margin: float | None

    @property
    def confidence(self) -> float:
        """The confidence that verdicts rest on."""
        return confidence_of(self.study)


@dataclass(frozen=True)
class _Counts:
    """Studies in which a test found something, and in which each verdict came out."""

    found: dict[tuple[str, Truth], int]
    judged: dict[tuple[str, Truth], tuple[int, int]]


def _job(study: Study, response: Response, many: Many, ready: Prepared) -> _Job | None:
    assumed = assume(study, response)
    if assumed is None or assumed.components[RESIDUAL] <= 0:
        return None
    try:
        known = ready.at(assumed.components)
    except AnalysisError:
        return None
    rows, families = _families(many)
    margin = None
    if response.worthwhile is not None:
        margin = abs(assumed.on_scale(response.worthwhile))
    return _Job(
        study=study,
        response=response,
        variances=on_groups(many.layout, assumed.components),
        rows=rows,
        families=families,
        test_shifts=_test_shifts(study, response, assumed, known),
        verdict_shifts=_verdict_shifts(study, response, assumed, known),
        margin=margin,
    )


def _families(many: Many) -> tuple[Floats, dict[str, _Family]]:
    """Return the rows of all pairs that verdicts rest on, (m, k), and whose they are."""
    design = many.design
    factors = design.layout.factors
    rows: list[Floats] = []
    families = {}
    for name, coded in factors.items():
        levels = len(coded.levels)
        others: list[dict[str, int]] = [{}]
        for other in crossing(many.tests, name):
            others += [{other: level} for level in range(len(factors[other].levels))]
        main: list[int] = []
        inner: list[int] = []
        whole = True
        for at in others:
            for a, b in combinations(range(levels), 2):
                row, _ = pair_line(design, name, a, b, at)
                if row is None:
                    whole = False
                    continue
                (inner if at else main).append(len(rows))
                rows.append(row)
        families[name] = _Family(levels, tuple(main), tuple(inner), whole)
    return np.reshape(np.array(rows), (len(rows), len(design.kept))), families


def _test_shifts(
    study: Study, response: Response, assumed: Assumed, known: Precision
) -> dict[tuple[str, Truth], Floats]:
    out: dict[tuple[str, Truth], Floats] = {}
    names = tuple(factor.name for factor in study.factors)
    for term in treatment_terms(names, study.analysis.interactions):
        worst = worst_difference(known, term)
        if worst is not None:
            for truth, difference in truths(response).items():
                out[term_name(term), truth] = worst[1] * assumed.on_scale(difference)
    return out


def _verdict_shifts(
    study: Study, response: Response, assumed: Assumed, known: Precision
) -> dict[tuple[str, Truth], Floats]:
    out: dict[tuple[str, Truth], Floats] = {}
    if response.worthwhile is None:
        return out
    for factor in study.factors:
        for truth, difference in truths(response).items():
            effects = pattern(
                [len(factor.levels)], [verdict_pair(factor)], assumed.on_scale(difference)
            )
            out[factor.name, truth] = coefficients(known.design, (factor.name,), effects)
    return out


def _responses(
    job: _Job, layout: Layout, studies: int, seed: int, at_once: bool
) -> Iterator[Floats]:
    """Yield simulated responses (N, n) in which no factor does anything."""
    rng = stream(seed, f"simulated studies: {job.response.name}")
    left = studies
    while left > 0:
        count = min(left, _AT_ONCE if at_once else _ONE_BY_ONE)
        Y = np.sqrt(job.variances[RESIDUAL]) * rng.standard_normal((count, layout.n))
        for group in layout.groupings:
            variance = job.variances.get(group.path, 0.0)
            if variance > 0:
                own = np.sqrt(variance) * rng.standard_normal((count, group.members))
                Y += own[:, group.coded.codes]
        yield Y
        left -= count


def _count(job: _Job, tests: tuple[ManyTests, ...], lines: ManyLines, counts: _Counts) -> None:
    from scipy.special import fdtrc

    alpha = 1 - job.confidence
    for test in tests:
        name = test.hypothesis.term.name
        for truth in truths(job.response):
            shift = job.test_shifts.get((name, truth))
            if shift is not None:
                p = fdtrc(test.hypothesis.df, test.den_df, test.f(shift))
                hits = int((p < alpha).sum())  # no test: NaN, which is never below
                counts.found[name, truth] = counts.found.get((name, truth), 0) + hits
    for (factor, truth), shift in job.verdict_shifts.items():
        beyond, inside = _judged(job, lines, job.families[factor], shift)
        before = counts.judged.get((factor, truth), (0, 0))
        counts.judged[factor, truth] = (before[0] + beyond, before[1] + inside)


def _judged(job: _Job, lines: ManyLines, family: _Family, shift: Floats) -> tuple[int, int]:
    """Return in how many studies a factor mattered, and made no practical difference."""
    if job.margin is None or not family.main:
        return 0, 0
    use = [*family.main, *family.inner]
    half = lines.se[:, use] * reach(job.confidence, family.levels, lines.df[:, use])
    estimate = lines.estimate[:, use] + job.rows[use] @ shift
    low, high = estimate - half, estimate + half
    some = slice(0, len(family.main))
    beyond = is_beyond(low[:, some], high[:, some], job.margin).any(axis=1)
    inside = is_inside(low, high, job.margin).all(axis=1) & family.whole & ~beyond
    return int(beyond.sum()), int(inside.sum())


def reach(confidence: float, levels: int, df: Floats) -> Floats:
    """Return Tukey's critical value for differences, in standard errors, for each df.

    NaN for NaN and for df so few that there is no interval: never clear, never inside. Where the
    df differ from study to study it is worked out at 64 of them and read off between, on a
    logarithmic scale: good to 4 digits.
    """
    df = np.where(df >= LEAST_DF, df, np.nan)
    known = np.unique(np.clip(df[~np.isnan(df)], None, _MOST_DF))
    if len(known) > _NODES:
        known = np.geomspace(known[0], known[-1], _NODES)
    if not len(known):
        return np.full(df.shape, np.nan)
    values = [tukey.critical(confidence, levels, float(one)) for one in known]
    out: Floats = np.interp(np.log(np.minimum(df, _MOST_DF)), np.log(known), values)
    return out


def share_of(count: int, studies: int, calculated: float | None = None) -> Share:
    """Return a share of so many simulated studies with its Monte Carlo error."""
    near = (count + 1) / (studies + 2)
    return Share(count / studies, float(np.sqrt(near * (1 - near) / studies)), calculated)


def _told_tests(
    job: _Job, counts: _Counts, studies: int, power: Sequence[PowerRow]
) -> Iterator[SimulatedTest]:
    calculated = {
        (row.term, row.difference): row.power for row in power if row.response == job.response.name
    }
    sizes = truths(job.response)
    for (term, truth), count in counts.found.items():
        beside = calculated.get((term, sizes[truth]))
        if truth == "zero":
            beside = 1 - job.confidence
        yield SimulatedTest(
            job.response.name, term, truth, sizes[truth], share_of(count, studies, beside)
        )


def _told_verdicts(
    job: _Job, counts: _Counts, studies: int, chances: Sequence[VerdictChance]
) -> Iterator[SimulatedVerdict]:
    calculated = {(c.factor, c.truth): c for c in chances if c.response == job.response.name}
    for (factor, truth), (beyond, inside) in counts.judged.items():
        beside = calculated.get((factor, truth))
        yield SimulatedVerdict(
            response=job.response.name,
            factor=factor,
            truth=truth,
            difference=truths(job.response)[truth],
            mattered=share_of(beyond, studies, None if beside is None else beside.mattered),
            no_practical_difference=share_of(
                inside, studies, None if beside is None else beside.no_practical_difference
            ),
            not_settled=share_of(
                studies - beyond - inside,
                studies,
                None if beside is None else beside.not_settled,
            ),
        )
