"""Which verdicts rest on a decision about what was measured: an answer, or an exchange of labels.

Each decision is taken back by itself and the rest left as it is. Where that turns a verdict, both
stand in the findings. Nothing is dropped or mended in silence.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from trials.analysis import Findings, analyse_study
from trials.analysis.findings import MovedVerdict
from trials.design.values import Plan
from trials.errors import TrialsError
from trials.record import State, measured_state
from trials.study import Study
from trials.words.otherwise import answer_decision, exchange_decision, moved_sentence

Verdicts = dict[tuple[str, str], str]  # by response and factor


@dataclass(frozen=True)
class _Decision:
    """One decision: its name, how a sentence calls it, and the record without it."""

    name: str
    told: str
    without: State


def with_moved_verdicts(found: Findings, study: Study, plan: Plan, state: State) -> Findings:
    """Return findings that name every verdict that one decision turns.

    The shuffle is left out of it first, and asked only where a verdict seems to turn: it costs most
    and seldom decides.
    """
    decisions = tuple(_decisions(state))
    if not decisions or not any(response.verdicts for response in found.responses):
        return found
    quick = study.model_copy(
        update={"analysis": study.analysis.model_copy(update={"resamples": 0})}
    )
    plainly = _verdicts(quick, plan, state)
    really = _of(found)
    moved: dict[str, list[MovedVerdict]] = {}
    for decision in decisions:
        if _verdicts(quick, plan, decision.without) in ({}, plainly):
            continue
        for (response, factor), verdict in _verdicts(study, plan, decision.without).items():
            if verdict != really.get((response, factor), verdict):
                moved.setdefault(response, []).append(
                    _moved(study, response, factor, (verdict, decision))
                )
    return found.model_copy(
        update={
            "responses": tuple(
                one.model_copy(update={"moved_verdicts": tuple(moved[one.name])})
                if one.name in moved
                else one
                for one in found.responses
            )
        }
    )


def _decisions(state: State) -> Iterator[_Decision]:
    for question in state.questions:
        if question.answer in ("correct", "set-aside"):
            usable = "keep" in question.answers  # else it waits, and takes no part
            kept = replace(question, answer="keep" if usable else None, answer_value="")
            others = tuple(kept if q.id == question.id else q for q in state.questions)
            yield _Decision(
                question.id,
                answer_decision(question.id, question.answer),
                replace(state, questions=others),
            )
    for exchange in state.exchanges:
        others_of = tuple(one for one in state.exchanges if one != exchange)
        yield _Decision(
            f"swapped {exchange.item} {exchange.partner}",
            exchange_decision(exchange.item, exchange.partner),
            replace(state, exchanges=others_of),
        )


def _verdicts(study: Study, plan: Plan, state: State) -> Verdicts:
    """Return the verdicts that a record gives; none where it can't be analysed so."""
    try:
        return _of(analyse_study(study, plan, measured_state(state, study, plan), beside=False))
    except TrialsError:
        return {}


def _of(found: Findings) -> Verdicts:
    return {(r.name, v.factor): v.verdict for r in found.responses for v in r.verdicts}


def _moved(study: Study, response: str, factor: str, turned: tuple[str, _Decision]) -> MovedVerdict:
    verdict, decision = turned
    whose = ""
    if len(study.responses) > 1:
        whose = study.response(response).label or response
    label = study.factor(factor).label or factor
    return MovedVerdict.model_validate(
        {
            "factor": factor,
            "decision": decision.name,
            "verdict": verdict,
            "sentence": moved_sentence(label, whose, verdict, decision.told),
        }
    )
