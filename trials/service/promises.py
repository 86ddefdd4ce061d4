"""What was promised when the plan was drawn, and what study.toml says of it now.

Which difference is worth caring about, how versions are compared, what counts as failed and how it
is analysed are fixed before anything is measured. A study.toml that is changed afterwards changes
none of it: the answer keeps what the plan was drawn for, and the change is told. How a thing was
measured (an area, a unit, the light) may be mended: that is a fact, no promise.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from trials.quantities import convert, convertible, nice
from trials.reduction import reducer_of
from trials.study import Study
from trials.study.values import FailedRule, Response
from trials.words.language import say, say_as
from trials.words.numbers import given
from trials.words.otherwise import promised_sentence

if TYPE_CHECKING:
    from trials.analysis.findings import Findings, OtherVerdict, ResponseFindings, Verdict

# Of each response: what its verdicts rest on. The failed rule is looked at apart.
PROMISED = ("worthwhile", "compare", "better", "primary")
# Sections of study.toml that are promises as a whole.
SECTIONS = ("analysis", "plan")
# Promises that no verdict rests on.
_NO_VERDICT = ("prediction", "better", "primary", "seed", "resamples", "criterion", "looks")
_LONG = 20  # letters: a longer promise is not said twice in one sentence


@dataclass(frozen=True)
class Change:
    """One promise that study.toml now words otherwise, as text.

    ``now`` or ``planned`` is empty where nothing is said; ``response`` where it holds for all.
    """

    key: str
    planned: str
    now: str
    response: str = ""
    several: bool = False  # there are several responses, so that it has to be named

    @property
    def name(self) -> str:
        """What was changed: "worthwhile of power"."""
        if self.response and self.several:
            return say("{key} of {response}", key=self.key, response=self.response)
        return self.key

    @property
    def touches_verdicts(self) -> bool:
        """Whether a verdict may rest on it."""
        return self.key not in _NO_VERDICT

    def short(self) -> str:
        """Return what study.toml says now: "worthwhile = 3"."""
        return f"{self.name} = {self.now}" if self.now else say("no {name}", name=self.name)

    def sentence(self) -> str:
        """Return what is told of it.

        Examples
        --------
        >>> Change("worthwhile", "1.5", "3").sentence()
        'study.toml now says worthwhile = 3; the plan said 1.5 before anything was measured, and the
        answer keeps 1.5.'
        """
        if not self.planned:
            then = say("the plan gave none before anything was measured, and the answer does "
                       "without")  # fmt: skip
        else:
            then = say(
                "the plan said {planned} before anything was measured, and the answer keeps "
                "{planned}"
                if len(self.planned) < _LONG
                else "the plan said {planned} before anything was measured, and the answer keeps "
                "that",
                planned=self.planned,
            )
        if self.now:
            return say("study.toml now says {now}; {then}.", now=self.short(), then=then)
        return say("study.toml now gives {nothing}; {then}.", nothing=self.short(), then=then)


@dataclass(frozen=True)
class Promises:
    """A study as it is to be judged, and how that differs from what study.toml says now.

    ``otherwise`` is the same study with the promises as they are worded now; ``told`` has one
    sentence a change.
    """

    study: Study
    otherwise: Study
    changes: tuple[Change, ...] = ()
    told: tuple[str, ...] = ()


def kept_promises(planned: Study, now: Study) -> Promises:
    """Return the study by which readings are judged: facts as they are now, promises as planned.

    Parameters
    ----------
    planned : the study that the plan was drawn for.
    now : the study as study.toml has it.
    """
    before = {response.name: response for response in planned.responses}
    after = {response.name: _with_column(before, response) for response in now.responses}
    several = len(before | after) > 1
    kept: list[Response] = []
    changes: list[Change] = []
    told: list[str] = []
    for name, was in before.items():
        if name not in after:
            told.append(
                say(
                    "study.toml no longer has the response {name}; the plan had it before "
                    "anything was measured, and the answer keeps it.",
                    name=name,
                )
            )
            kept.append(was)
            continue
        promised = _promised(was, after[name])
        kept.append(promised)
        changes += _response_changes(promised, after[name], was.unit, several)
    for name in (name for name in after if name not in before):
        told.append(
            say(
                "study.toml now has the response {name}; the plan did not have it before anything "
                "was measured, so it gets no verdict.",
                name=name,
            )
        )
        free = {"worthwhile": None, "failed": None, "primary": False}
        kept.append(after[name].model_copy(update=free))
        changes += _response_changes(kept[-1], after[name], after[name].unit, several)
    changes += _section_changes(planned, now)
    sections = {name: getattr(planned, name) for name in (*SECTIONS, "prediction")}
    study = now.model_copy(update={"responses": tuple(kept), **sections})
    otherwise = now.model_copy(update={"responses": tuple(after.values())})
    sentences = (*told, *(change.sentence() for change in changes))
    return Promises(study, otherwise, tuple(changes), sentences)


def with_other_verdicts(found: Findings, other: Findings, promises: Promises) -> Findings:
    """Return findings that name every verdict that the changed promises would turn.

    Parameters
    ----------
    found : by the promises of the plan.
    other : by what study.toml says now.
    """
    also = {response.name: response for response in other.responses}
    return found.model_copy(
        update={
            "responses": tuple(
                _with_others(response, also[response.name], promises)
                if response.name in also
                else response
                for response in found.responses
            )
        }
    )


def _with_others(
    found: ResponseFindings, other: ResponseFindings, promises: Promises
) -> ResponseFindings:
    said = {verdict.factor: verdict.verdict for verdict in found.verdicts}
    changes = _changes_of(found.name, promises)
    others = [
        _other_verdict(verdict, found, changes, promises.study)
        for verdict in other.verdicts
        if verdict.verdict != said.get(verdict.factor)
    ]
    return found.model_copy(update={"other_verdicts": tuple(others)})


def _changes_of(response: str, promises: Promises) -> list[str]:
    """Return what study.toml now says that the verdicts of a response may rest on."""
    return [
        change.short()
        for change in promises.changes
        if change.touches_verdicts and change.response in ("", response)
    ]


def with_changes_told(found: Findings, promises: Promises) -> Findings:
    """Return findings whose other verdicts name what was changed in the language in use."""
    return found.model_copy(
        update={
            "responses": tuple(
                response.model_copy(
                    update={
                        "other_verdicts": tuple(
                            one.model_copy(
                                update={"changes": tuple(_changes_of(response.name, promises))}
                            )
                            for one in response.other_verdicts
                        )
                    }
                )
                for response in found.responses
            )
        }
    )


def _other_verdict(
    verdict: Verdict, found: ResponseFindings, changes: list[str], study: Study
) -> OtherVerdict:
    from trials.analysis.findings import OtherVerdict

    factor = study.factor(verdict.factor).label or verdict.factor
    whose = ""
    if len(study.responses) > 1:
        whose = study.response(found.name).label or found.name
    return OtherVerdict(
        factor=verdict.factor,
        changes=tuple(changes),
        verdict=verdict.verdict,
        sentence=promised_sentence(factor, whose, verdict.verdict, changes),
    )


def is_promise(key: tuple[str, ...], planned: Study, now: Study) -> bool:
    """Return whether what stands at a key of study.toml is kept as planned, or told as a whole."""
    if key[0] in (*SECTIONS, "prediction"):
        return True
    if key[0] != "responses" or len(key) < 3:
        return False
    both = [{response.name for response in study.responses} for study in (planned, now)]
    return key[1] in both[0] ^ both[1] or key[2] in (*PROMISED, "failed")


def _with_column(before: dict[str, Response], response: Response) -> Response:
    """Return a response with its old label where that is the heading of what was filled in."""
    was = before.get(response.name)
    if was is None or was.label == response.label or was.reducer != response.reducer:
        return response
    named = response.model_copy(update={"label": was.label})
    columns = [column.name for column in reducer_of(response).columns(response)]
    return response if columns == [c.name for c in reducer_of(named).columns(named)] else named


def _promised(was: Response, now: Response) -> Response:
    """Return a response as measured now, with the promises of the plan in the unit of now."""
    update: dict[str, Any] = {key: getattr(was, key) for key in PROMISED}
    if was.compare == "difference" and was.worthwhile is not None:
        update["worthwhile"] = _in_unit(was.worthwhile, was.unit, now.unit)
    update["failed"] = _rule(was, now)
    return now.model_copy(update=update)


def _rule(was: Response, now: Response) -> FailedRule | None:
    """Return the planned rule; its words may be mended while its number stays."""
    if was.failed is None:
        return None
    below = _in_unit(was.failed.below, was.unit, now.unit)
    if now.failed is not None and _alike(now.failed.below, below):
        return now.failed
    return FailedRule(below=below, text=was.failed.text)


def _in_unit(value: float, have: str, want: str) -> float:
    if have == want or not convertible(have, want):
        return value
    return float(convert(Decimal(repr(value)), have, want))


def _response_changes(
    kept: Response, now: Response, planned_unit: str, several: bool
) -> Iterator[Change]:
    unit = now.unit if now.unit != planned_unit else ""
    for key in PROMISED:
        one, other = getattr(kept, key), getattr(now, key)
        if not _alike(one, other):
            ending = unit if key == "worthwhile" and kept.compare == "difference" else ""
            yield Change(key, _shown(one, ending), _shown(other, ending), kept.name, several)
    rules = [None if rule is None else rule.below for rule in (kept.failed, now.failed)]
    if not _alike(*rules):
        shown = [_shown(below, unit) for below in rules]
        yield Change("failed below", shown[0], shown[1], kept.name, several)


def _section_changes(planned: Study, now: Study) -> Iterator[Change]:
    if planned.prediction != now.prediction:
        texts = [f'"{text}"' if text else "" for text in (planned.prediction, now.prediction)]
        yield Change("prediction", texts[0], texts[1])
    for name in SECTIONS:
        section, then = getattr(now, name), getattr(planned, name)
        for key in type(section).model_fields:
            one, other = getattr(then, key), getattr(section, key)
            if not _alike(one, other):
                yield Change(key, _shown(one), _shown(other))


def _alike(one: Any, other: Any) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-12)
    return bool(one == other)


def _shown(value: Any, unit: str = "") -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple | list):
        return ", ".join(str(one) for one in value) or say_as("an empty list", "none")
    if isinstance(value, float):
        return given(value, nice(unit))
    return str(value)
