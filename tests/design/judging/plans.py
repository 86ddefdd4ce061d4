"""Plans made by hand from columns, for judging."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product

from trials.design.values import Plan, PlanFactor, PlanGroup, PlanRow, Shuffle
from trials.study import Response, Spread, Study, StudyFactor, StudyGroup
from trials.study.options import Options

Columns = Mapping[str, Sequence[str]]


def response(
    items: float = 1.0, groups: Mapping[str, float] | None = None, *, ratio: bool = False
) -> Response:
    return Response(
        name="y",
        unit="mm",
        primary=True,
        compare="ratio" if ratio else "difference",
        spread=Spread(items=items, groups=dict(groups or {})),
    )


def make(
    factors: Columns,
    groups: Columns | None = None,
    *,
    applied: Mapping[str, str] | None = None,
    within: Mapping[str, str] | None = None,
    responses: Sequence[Response] = (),
    interactions: int = 2,
    measured: Sequence[int] | None = None,
) -> tuple[Study, Plan]:
    """Return a study and a plan with these columns; the order of making is that of the rows."""
    groups = groups or {}
    applied = applied or {}
    within = within or {}
    n = len(next(iter(factors.values())))
    levels = {name: tuple(dict.fromkeys(column)) for name, column in factors.items()}
    study = Study(
        title="made by hand",
        question="which?",
        factors=tuple(
            StudyFactor(name=f, levels=levels[f], applied_to=applied.get(f)) for f in factors
        ),
        groups=tuple(
            StudyGroup(name=g, count=len(set(column)), within=within.get(g))
            for g, column in groups.items()
        ),
        responses=tuple(responses) or (Response(name="y"),),
        analysis=Options(interactions=interactions),
    )
    plan = Plan(
        program_version="0",
        study_digest=study.digest(),
        seed=1,
        seeds_tried=(1,),
        family="made by hand",
        factors=tuple(
            PlanFactor(
                name=f,
                levels=levels[f],
                unit="",
                kind="category",
                scale="linear",
                applied_to=study.path(applied[f]) if f in applied else None,
            )
            for f in factors
        ),
        groups=tuple(
            PlanGroup(
                name=g,
                path=study.path(g),
                within=within.get(g),
                step=None,
                role=None,
                members=tuple(dict.fromkeys(column)),
                random=None,
            )
            for g, column in groups.items()
        ),
        rows=tuple(
            PlanRow(
                run=place + 1,
                measure=(measured[place] if measured else place) + 1,
                item=f"I{place}",
                groups={g: column[place] for g, column in groups.items()},
                factors={f: column[place] for f, column in factors.items()},
            )
            for place in range(n)
        ),
        criteria={},
        skeleton=(),
        audit=(),
        power=(),
        verdict_chances=(),
        shuffle=Shuffle(kind="units", size=None, smallest_p={}),
    )
    return study, plan


def fraction(basic: str, generated: Mapping[str, str]) -> dict[str, list[str]]:
    """Return the columns of a two-level fraction; ``{"D": "AB"}``: D is the product of A and B."""
    columns: dict[str, list[str]] = {name: [] for name in (*basic, *generated)}
    for signs in product((-1, 1), repeat=len(basic)):
        row = dict(zip(basic, signs, strict=True))
        for name, word in generated.items():
            row[name] = 1
            for letter in word:
                row[name] *= row[letter]
        for name, sign in row.items():
            columns[name].append("low" if sign < 0 else "high")
    return columns
