"""Everything that can be said of a plan before it is built, in one value."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.design.columns import ready_of
from trials.design.judging.aliases import find_aliases
from trials.design.judging.detectable import find_detectable
from trials.design.judging.losses import find_losses
from trials.design.judging.ties import find_ties
from trials.design.values import Judgement, Plan

if TYPE_CHECKING:
    from trials.study import Study


def judge(study: Study, plan: Plan) -> Judgement:
    """Return what a plan can't tell apart, what is tied, what it would find, what a loss would do.

    The plan may be of any family, drawn or made by hand.

    Examples
    --------
    >>> from trials.design.draw import draw
    >>> from trials.study import Limits, Response, Spread, Study, StudyFactor
    >>> shape = StudyFactor(name="shape", levels=("dart", "glider"), shared=False)
    >>> distance = Response(name="distance", unit="m", spread=Spread(items=2.0))
    >>> study = Study(title="Planes", question="Which flies further?", factors=(shape,),
    ...               responses=(distance,), limits=Limits(copies=4))
    >>> found = judge(study, draw(study, seed=7))
    >>> round(found.detectable[0].at_80, 2)  # metres, with four planes of each shape
    4.76
    >>> [(loss.group, loss.items, round(loss.after, 2)) for loss in found.worst_loss]
    [(None, 1, 5.37)]
    """
    if not plan.factors:
        return Judgement(ties=find_ties(plan))
    ready = ready_of(study, plan)
    return Judgement(
        aliases=find_aliases(ready.layout, study.analysis.interactions),
        ties=find_ties(plan),
        detectable=find_detectable(study, ready),
        worst_loss=find_losses(study, plan),
    )


def judged(study: Study, plan: Plan) -> Plan:
    """Return the plan with its judgement in it."""
    return plan.model_copy(update=dict(judge(study, plan)))


def judgement_of(plan: Plan) -> Judgement:
    """Return the judgement that a plan carries."""
    return Judgement(
        aliases=plan.aliases,
        ties=plan.ties,
        detectable=plan.detectable,
        worst_loss=plan.worst_loss,
    )
