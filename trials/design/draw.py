"""Drawing a plan: from a study and a seed to the list of items to make."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from trials.design.audit import Smallest, audit
from trials.design.columns import ready_of
from trials.design.families import name_family
from trials.design.outlook import efficiencies, outlook, skeleton_rows
from trials.design.settling import NO_SEED, Drawn, begin, settle, settled_rows
from trials.design.shuffle import shuffles
from trials.design.values import Plan
from trials.model import skeleton
from trials.randomness import stream

if TYPE_CHECKING:
    from trials.study import Study

TRIED = 2  # layouts from which the search for a plan sets out that only tries a remedy
OTHERS = 5  # draws beside the preview in which its findings are looked for


def draw(
    study: Study, *, seed: int, seeds_tried: tuple[int, ...] = (), items: int | None = None
) -> Plan:
    """Draw a plan.

    Parameters
    ----------
    seed : the same study and seed give the same plan, on any machine.
    seeds_tried : every seed tried for this study before; ``seed`` is added to them.
    items : how many items to make, instead of what the study says.

    Raises
    ------
    PlanError : the study asks for something impossible; the nearest possible is named.

    Examples
    --------
    >>> from trials.study import Limits, Response, Study, StudyFactor
    >>> shape = StudyFactor(name="shape", levels=("dart", "glider"), shared=False)
    >>> study = Study(title="Planes", question="Which flies further?", factors=(shape,),
    ...               responses=(Response(name="distance", unit="m"),), limits=Limits(copies=4))
    >>> plan = draw(study, seed=7)
    >>> sorted(row.factors["shape"] for row in plan.rows) == ["dart"] * 4 + ["glider"] * 4
    True
    >>> plan.shuffle.size, plan.shuffle.smallest_p  # 70 ways of giving 4 of 8 planes each shape
    (70.0, {'shape': 0.02857142857142857})
    """
    return _draw(study, seed, (*seeds_tried, seed), items)


def preview(study: Study, items: int | None = None) -> Plan:
    """Return a specimen of the plans that a study leads to, for showing what they can tell.

    Its seed is 0 and counts as no seed tried: the specimen itself is thrown away. Of what hangs on
    the draw its check tells in how many of some other draws it was found too.
    """
    plan = _unaudited(study, NO_SEED, (), items)
    return with_audit(study, plan, _others(plan))


def sketch(study: Study, items: int | None = None, *, counted: bool = True) -> Plan:
    """Return the first fair specimen that is found, without check, power or chances.

    ``counted`` False: without the size of its shuffle's set either, and the smallest p that hang on
    it.

    Raises
    ------
    PlanError : as :func:`draw`.
    """
    if counted:
        return _unaudited(study, NO_SEED, (), items, judged=False, plain=True)
    drawn, _ = begin(study, NO_SEED, items, plain=True)
    return _planned(study, drawn, NO_SEED, (), judged=False)


def _draw(study: Study, seed: int, seeds_tried: tuple[int, ...], items: int | None) -> Plan:
    return with_audit(study, _unaudited(study, seed, seeds_tried, items))


def with_audit(study: Study, plan: Plan, others: Sequence[Plan] = ()) -> Plan:
    """Return the plan with its fair-test check; what settles a finding is tried on new draws.

    ``others``: plans that might have been drawn as well, if it is not sure which one will be.
    """

    def again(other: Study, *, plain: bool) -> tuple[Plan, Callable[[], Smallest]]:
        drawn, shuffled = begin(other, plan.seed, None, plain=plain, starts=TRIED)
        made = _planned(other, drawn, plan.seed, plan.seeds_tried, judged=False)
        return made, lambda: shuffled().smallest_p

    way = None if plan.parts else again  # a plan with parts is never drawn as a whole
    return plan.model_copy(update={"audit": audit(study, plan, way, others=others)})


def _others(plan: Plan) -> list[Plan]:
    """Return other plans from the same shuffle, for seeing what holds in one draw only."""
    if not plan.factors:
        return []
    out = []
    for layout in shuffles(plan, stream(plan.seed, "other draws"), OTHERS):
        rows = tuple(
            row.model_copy(
                update={"factors": {f.name: f.levels[layout[f.name][at]] for f in plan.factors}}
            )
            for at, row in enumerate(plan.rows)
        )
        out.append(plan.model_copy(update={"rows": rows}))
    return out


def _unaudited(
    study: Study,
    seed: int,
    seeds_tried: tuple[int, ...],
    items: int | None,
    *,
    judged: bool = True,
    plain: bool = False,
) -> Plan:
    """Return the plan without its fair-test check; ``judged`` False: without power and chances.

    ``plain`` True: of a fair layout found at once, without looking for a better one.
    """
    drawn = settle(study, seed, items, plain=plain)
    return _planned(study, drawn, seed, seeds_tried, judged=judged)


def _planned(
    study: Study, drawn: Drawn, seed: int, seeds_tried: tuple[int, ...], *, judged: bool
) -> Plan:
    """Return the plan of what was drawn; ``judged`` False: without power and chances."""
    from trials import __version__

    plan = Plan(
        program_version=__version__,
        study_digest=study.digest(),
        seed=seed,
        seeds_tried=seeds_tried,
        family=name_family(drawn.units, drawn.factors, drawn.layout).textbook,
        factors=drawn.factors,
        groups=drawn.units.groups,
        rows=settled_rows(study, drawn, seed),
        criteria={},
        skeleton=(),
        audit=(),
        power=(),
        verdict_chances=(),
        shuffle=drawn.shuffle,
        search=drawn.search,
    )
    return with_outlook(study, plan, judged=judged) if drawn.factors else plan


def with_outlook(study: Study, plan: Plan, *, judged: bool = True) -> Plan:
    """Return the plan with what it can tell: skeleton and efficiencies and, if ``judged``, power
    and the chances of the verdicts."""
    ready = ready_of(study, plan)
    terms = skeleton(ready.layout, study.analysis.interactions)
    power, chances = outlook(study, ready) if judged else ((), ())
    told = {"criteria": efficiencies(terms), "skeleton": skeleton_rows(terms)}
    return plan.model_copy(update={**told, "power": power, "verdict_chances": chances})
