"""Hand-made studies and findings: set by hand, so that no fit enters the tests of drawing."""

from __future__ import annotations

import datetime
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Literal

import numpy as np

from trials.analysis.findings import (
    Comparison,
    Component,
    Effect,
    FailureTable,
    Findings,
    Mean,
    Method,
    Point,
    ResponseFindings,
    SetAside,
    ToSettle,
    Verdict,
)
from trials.design.values import Plan, PlanFactor, PlanGroup, PlanRow, Shuffle
from trials.record.values import ItemValue, Measured, Question
from trials.render.blocks import Document
from trials.report import report_document, story_of
from trials.study.values import (
    Caution,
    FailedRule,
    Response,
    Step,
    Study,
    StudyFactor,
    StudyGroup,
)

Scale = Literal["difference", "ratio"]
TODAY = datetime.date(2030, 5, 17)
DYES = ("hibiscus", "red cabbage", "beetroot")


@dataclass(frozen=True)
class Made:
    """The four values a report is built from."""

    study: Study
    plan: Plan
    measured: Measured
    findings: Findings

    def document(self) -> Document:
        return report_document(
            story_of(
                self.study, self.plan, self.measured, self.findings, today=TODAY, version="9.9"
            )
        )

    def with_found(self, *found: ResponseFindings) -> Made:
        return replace(self, findings=self.findings.model_copy(update={"responses": found}))

    @property
    def found(self) -> ResponseFindings:
        return self.findings.responses[0]


def a_study(scale: Scale, worthwhile: float | None) -> Study:
    return Study(
        title="Does the way we build a berry cell change what it delivers?",
        question="Which of dye, heat and coats changes the power of a hand-made cell?",
        prediction="Hibiscus gives the most power.",
        makers="Six teams of an invented school",
        note="Invented school, invented data.",
        item_name="cell",
        factors=(
            StudyFactor(name="dye", levels=DYES, shared=False),
            StudyFactor(name="heat", levels=("oven", "burner"), applied_to="firing"),
            StudyFactor(name="coats", label="coating passes", levels=("1", "2"), kind="quantity"),
        ),
        groups=(
            StudyGroup(name="session", count=2),
            StudyGroup(name="firing", count=4, within="session", step="heat"),
            StudyGroup(name="team", count=6, role="maker"),
        ),
        responses=(
            Response(
                name="power",
                unit="mW",
                compare=scale,
                worthwhile=worthwhile,
                primary=True,
                readings=3,
                failed=FailedRule(below=0.01, text="Less than 0.01 mW after one retry."),
            ),
        ),
        same=("one batch of paste", "the same lamp"),
        steps=(
            Step(
                name="heat",
                label="Fire the slides",
                cautions=(Caution(text="Slides look cold when hot.", iso7010=("W017",)),),
            ),
        ),
    )


def a_plan(study: Study) -> Plan:
    rows = []
    combinations = list(itertools.product(DYES, ("oven", "burner"), ("1", "2")))
    for number in range(48):
        dye, heat, coats = combinations[number % 12]
        firing = number // 12 * 2 + (heat == "burner") + 1
        rows.append(
            PlanRow(
                run=number + 1,
                measure=(7 * number) % 48 + 1,
                item=f"{'KLMNPRST'[number % 8]}{number + 10}",
                groups={
                    "session": "1" if firing <= 4 else "2",
                    "firing": f"F{firing}",
                    "team": f"T{number % 6 + 1}",
                },
                factors={"dye": dye, "heat": heat, "coats": coats},
            )
        )
    groups = (
        ("session", "session", None, None, ("1", "2")),
        ("firing", "session/firing", "session", None, tuple(f"F{i}" for i in range(1, 9))),
        ("team", "team", None, "maker", tuple(f"T{i}" for i in range(1, 7))),
    )
    return Plan(
        program_version="9.9",
        study_digest=study.digest(),
        seed=11,
        seeds_tried=(11,),
        family="full factorial",
        factors=tuple(
            PlanFactor(
                name=f.name,
                levels=f.levels,
                unit=f.unit,
                kind=f.kind,
                scale=f.scale,
                applied_to=None if f.applied_to is None else study.path(f.applied_to),
            )
            for f in study.factors
        ),
        groups=tuple(
            PlanGroup(
                name=name, path=path, within=within, step=None, role=role, members=members,
                random=None,
            )
            for name, path, within, role, members in groups
        ),
        rows=tuple(rows),
        criteria={},
        skeleton=(),
        audit=(),
        power=(),
        verdict_chances=(),
        shuffle=Shuffle(kind="units", size=6.2e21, smallest_p={"heat": 0.0286}),
        locked="2030-05-02",
    )  # fmt: skip


TRUTH = {"hibiscus": 0.62, "red cabbage": 0.43, "beetroot": 0.35, "oven": 1.1, "burner": 0.9,
         "1": 0.98, "2": 1.02}  # fmt: skip


def values_of(plan: Plan) -> dict[str, float]:
    rng = np.random.default_rng(20300517)
    return {
        row.item: round(
            float(
                TRUTH[row.factors["dye"]]
                * TRUTH[row.factors["heat"]]
                * TRUTH[row.factors["coats"]]
                * math.exp(0.2 * rng.standard_normal())
            ),
            3,
        )
        for row in plan.rows
    }


def points_of(plan: Plan, values: dict[str, float], scale: Scale) -> tuple[Point, ...]:
    out = []
    for row in plan.rows:
        if row.item not in values:
            continue
        fitted = math.prod(TRUTH[level] for level in row.factors.values())
        value = values[row.item]
        residual = math.log(value / fitted) if scale == "ratio" else value - fitted
        paths = {g.path: row.groups[g.name] for g in plan.groups}
        out.append(
            Point(
                item=row.item, value=value, fitted=fitted, residual=residual,
                factors=dict(row.factors), groups=paths, run=row.run,
            )
        )  # fmt: skip
    return tuple(out)


def means_of(points: tuple[Point, ...], names: Sequence[str], scale: Scale) -> list[Mean]:
    """Plain averages with intervals of a made-up width."""
    out = []
    for levels in itertools.product(*(dict.fromkeys(p.factors[n] for p in points) for n in names)):
        wanted = dict(zip(names, levels, strict=True))
        chosen = [p.value for p in points if all(p.factors[n] == wanted[n] for n in names)]
        ratio = scale == "ratio"
        mean = math.exp(np.mean(np.log(chosen))) if ratio else float(np.mean(chosen))
        low, high = (mean / 1.21, mean * 1.21) if ratio else (mean - 0.0813, mean + 0.0813)
        out.append(
            Mean(
                term=":".join(names), levels=dict(zip(names, levels, strict=True)), n=len(chosen),
                mean=mean, se=0.041, df=11.4, interval=(low, high),
            )
        )  # fmt: skip
    return out


def compare(
    means: list[Mean], scale: Scale, reach: float, adjustment: str = "tukey"
) -> list[Comparison]:
    """All pairs of a list of averages that differ in one level; ``reach`` is half the width."""
    out = []
    for one, other in itertools.combinations(means, 2):
        differ = [name for name in one.levels if one.levels[name] != other.levels[name]]
        if len(differ) != 1 or one.mean is None or other.mean is None:
            continue
        ratio = scale == "ratio"
        estimate = one.mean / other.mean if ratio else one.mean - other.mean
        wide = (
            (estimate / (1 + reach), estimate * (1 + reach))
            if ratio
            else (estimate - reach, estimate + reach)
        )
        out.append(
            Comparison(
                term=one.term, a=one.levels, b=other.levels,
                difference=None if ratio else estimate, ratio=estimate if ratio else None,
                se=0.0571, df=11.4, t=2.31, p=0.0407, p_adjusted=0.0912, adjustment=adjustment,
                interval=wide, interval_adjusted=wide, hedges_g=0.83,
                hedges_g_interval=(0.05, 1.61),
            )
        )  # fmt: skip
    return out


def a_verdict(
    factor: str, comparisons: list[Comparison], told: tuple[str, str], worthwhile: float,
    to_settle: ToSettle | None = None,
) -> Verdict:  # fmt: skip
    def size(one: Comparison) -> float:
        return abs(math.log(one.ratio)) if one.ratio is not None else abs(one.difference or 0.0)

    own = [c for c in comparisons if c.term == factor]
    largest = max(own, key=size)
    return Verdict(
        factor=factor,
        verdict=told[0],
        reason=told[1],
        a=largest.a,
        b=largest.b,
        largest_difference=largest.ratio if largest.ratio is not None else largest.difference,
        interval=largest.interval_adjusted,
        worthwhile=worthwhile,
        to_settle=to_settle,
        sentence="",
    )


def make(
    scale: Scale = "difference",
    *,
    verdicts: dict[str, tuple[str, str]] | None = None,
    worthwhile: float | None = None,
    failed: int = 2,
    p_pair: float = 0.4,
    **changes: Any,
) -> Made:
    """Return a whole made study; ``verdicts`` maps a variable to verdict and reason."""
    margin = worthwhile if worthwhile is not None else (1.3 if scale == "ratio" else 0.1)
    study = a_study(scale, margin if worthwhile != 0 else None)
    plan = a_plan(study)
    values = values_of(plan)
    gone = [row.item for row in plan.rows][5 : 5 + failed]
    lost = [plan.rows[30].item] if failed else []
    for item in (*gone, *lost):
        del values[item]
    points = points_of(plan, values, scale)
    terms = [("dye",), ("heat",), ("coats",), ("dye", "heat")]
    means = {":".join(t): means_of(points, t, scale) for t in terms}
    reach = 0.2 if scale == "ratio" else 0.0907
    comparisons = [c for term in means for c in compare(means[term], scale, reach)]
    chosen = verdicts or {
        "dye": ("mattered", "beyond"),
        "heat": ("not settled", "wide"),
        "coats": ("made no practical difference", "inside"),
    }
    settle = {"heat": ToSettle(group="session/firing", count=20, assumption="none")}
    found = ResponseFindings(
        name="power",
        unit="mW",
        scale=scale,
        n_items=len(points),
        n_readings=3 * len(points),
        n_failed=failed,
        n_lost=len(lost),
        primary=True,
        method=Method(
            estimator="reml", df="kenward-roger", sums="III", bounded=False,
            notes=("fixed_group:session", "treatment_by_group_in_error"),
        ),
        effects=(
            _effect("dye", 2, 0.00012, 0.41, ("session/firing", "residual")),
            _effect("heat", 1, 0.067, 0.12, "session/firing"),
            _effect("coats", 1, 0.62, 0.0, "residual"),
            _effect("dye:heat", 2, p_pair, 0.02, "residual"),
        ),
        variance_components=(
            Component(group="session/firing", variance=0.0041, unbounded=0.0041, at_boundary=False),
            Component(group="team", variance=0.0, unbounded=-0.0007, at_boundary=True),
            Component(group="residual", variance=0.0192, unbounded=0.0192, at_boundary=False),
        ),
        means=tuple(m for group in means.values() for m in group),
        comparisons=tuple(comparisons),
        verdicts=()
        if worthwhile == 0
        else tuple(
            a_verdict(factor, comparisons, (verdict, reason), margin,
                      settle.get(factor) if verdict == "not settled" else None)
            for factor, (verdict, reason) in chosen.items()
        ),
        failures=(
            FailureTable(
                factor="dye", made=dict.fromkeys(DYES, 16),
                failed=dict(zip(DYES, (0, 1, failed - 1), strict=True)), p=0.7712,
            ),
        )
        if failed
        else (),
        points=points,
        set_aside=tuple(SetAside(item=item, reason="failed") for item in gone),
    )  # fmt: skip
    found = found.model_copy(update=changes)
    findings = Findings(
        program_version="9.9",
        plan_digest=plan.digest(),
        record_digest="ab" * 32,
        responses=(found,),
    )
    return Made(study, plan, _measured(plan, values, gone, lost), findings)


def _effect(term: str, num: int, p: float, share: float, stratum: Any) -> Effect:
    return Effect(
        term=term, stratum=stratum, num_df=num, den_df=11.37, f=4.218, p=p, p_randomisation=p * 1.1,
        p_adjusted=p if ":" in term else None, exact=False, partial_omega_sq=0.2113,
        partial_eta_sq=0.2719,
        partial_eta_sq_interval=(0.0, 0.5418), share_of_variance=share,
    )  # fmt: skip


def _measured(plan: Plan, values: dict[str, float], failed: list[str], lost: list[str]) -> Measured:
    def status(item: str) -> Any:
        return "failed" if item in failed else "lost" if item in lost else "measured"

    return Measured(
        digest="ab" * 32,
        values=tuple(
            ItemValue(
                item=row.item, response="power", status=status(row.item),
                value=values.get(row.item),
                exact=Decimal(str(values[row.item])) if row.item in values else None,
                uncertainty=0.004 if row.item in values else None, readings=3,
                reason={"failed": "below 0.01 mW after one retry", "lost": "dropped"}.get(
                    status(row.item), ""
                ),
            )
            for row in plan.rows
        ),
        n_readings={"power": 3 * len(plan.rows)},
    )  # fmt: skip


def a_question() -> Question:
    return Question(
        id="Q7", code="slip", file="team3.xlsx", row=12, item="K10", column="voltage (V)",
        found="410", why="It is a thousand times the other readings.", do="trials answer . Q7 keep",
    )  # fmt: skip
