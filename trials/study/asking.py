"""From the answers to nine plain questions to a whole study."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.errors import StudyError
from trials.files import read_bytes
from trials.study import answers as meaning
from trials.study import toml
from trials.study.checks import check_study, settled
from trials.study.messages import Places, meant, shorten, shown
from trials.study.values import (
    Limits,
    Response,
    Spread,
    Step,
    Study,
    StudyFactor,
    StudyGroup,
)
from trials.words.questions import PRACTICE_KEYS, QUESTIONS, Question

KEYS = tuple(question.key for question in QUESTIONS)
# Without a default of its own: an answers file that leaves these out isn't about anything.
NEEDED = ("question", "change", "versions", "measure")

# Guesses where nobody has measured yet. As shares of the mean: hand-made things of one recipe
# commonly differ by a quarter (common practice, no source). As differences: as much as the
# difference one cares about.
_ITEMS_CV, _GROUPS_CV, _READINGS_CV = 0.25, 0.1, 0.05
_GROUPS_SHARE, _READINGS_SHARE = 0.5, 0.25
_COPIES = 4  # of each recipe, proposed
_PRACTICE_READINGS = 3  # of each item, so that the meter's part shows


def questions(*, practice: bool = False) -> tuple[Question, ...]:
    """Return the questions to ask, in order.

    Examples
    --------
    >>> len(questions()), [question.key for question in questions(practice=True)]
    (9, ['measure', 'same'])
    """
    if not practice:
        return QUESTIONS
    return tuple(question for question in QUESTIONS if question.key in PRACTICE_KEYS)


def default_answer(key: str, so_far: Mapping[str, str]) -> str:
    """Return what an empty answer to a question means, given the answers before it.

    Examples
    --------
    >>> default_answer("items", {"change": "dye", "versions": "hibiscus, beetroot, plum"})
    '12'
    """
    question = _question(key)
    if question.default:
        return question.default
    names = meaning.change(_answer("change", so_far))
    if key == "versions":
        if names == (_question("change").default,):
            return "dart, glider"
        return "; ".join(f"{name}: as usual, new" for name in names)
    versions = meaning.versions(_answer("versions", so_far), names)
    kinds = math.prod(len(version.levels) for version in versions.values())
    return str(kinds * (_COPIES if kinds < 12 else 2))


def check_answer(key: str, text: str, so_far: Mapping[str, str], *, practice: bool = False) -> None:
    """Refuse an answer that can't be used, given the answers before it.

    Raises
    ------
    StudyError : it isn't clear, or it contradicts what was answered before.
    """
    known = {k: so_far[k] for k in KEYS[: KEYS.index(key)] if k in so_far}
    try:
        _build({**known, key: text}, practice)
    except StudyError as problem:
        raise _placed(problem, f"'{_question(key).wording}'") from None


def study_from_answers(
    answers: Mapping[str, str], *, practice: bool = False, places: Places | None = None
) -> Study:
    """Return the study that the answers describe; what isn't answered takes its default.

    Parameters
    ----------
    answers : text by key: question, change, versions, measure, items, makers, together, same,
        worthwhile.
    practice : a practice run instead: four items built alike by two makers.

    Raises
    ------
    StudyError : an answer isn't clear, or contradicts the ones before it.

    Examples
    --------
    >>> study = study_from_answers({"change": "dye", "versions": "hibiscus, beetroot",
    ...     "measure": "power in mW", "items": "12 cells", "makers": "3 teams"})
    >>> study.item_name, study.factor("dye").levels, study.group("team").role
    ('cell', ('hibiscus', 'beetroot'), 'maker')
    """
    for key in answers:
        if key not in KEYS:
            raise (places or Places()).error(
                (key,),
                f"There is no question '{shorten(key)}'.",
                code="unknown_key",
                found=shorten(key),
                allowed=", ".join(KEYS),
                do=meant(key, KEYS, "Delete the line."),
            )
    so_far: dict[str, str] = {}
    for key in KEYS:
        if key not in answers:
            continue
        so_far[key] = answers[key]
        try:
            _build(so_far, practice)
        except StudyError as problem:
            raise _placed(problem, (places or Places()).at((key,))) from None
    return _build(so_far, practice)


def read_answers(path: Path, *, practice: bool = False) -> Study:
    """Return the study described by a file of answers: TOML, one ``key = "answer"`` a line.

    A list of texts or a number will do as an answer too.

    Raises
    ------
    FileError : the file can't be read.
    StudyError : it isn't TOML, a needed answer is missing, or an answer can't be used.
    """
    values, places = toml.load(toml.decode(read_bytes(path), str(path)), str(path))
    answers = {key: _as_answer(key, value, places) for key, value in values.items()}
    for key in NEEDED:
        if key not in answers and (not practice or key in PRACTICE_KEYS):
            question = _question(key)
            raise places.error(
                (key,),
                f"The answer to '{question.wording}' is missing.",
                code="missing_key",
                allowed=question.gloss,
                do=f"Add a line such as: {key} = {_quoted(question.example)}",
            )
    return study_from_answers(answers, practice=practice, places=places)


def write_answers(answers: Mapping[str, str], *, practice: bool = False) -> str:
    """Return the text of a file of answers, with each question as a note."""
    lines = []
    for question in questions(practice=practice):
        if question.key in answers:
            lines.append(f"# {question.wording} For instance: {question.example}")
            lines.append(f"{question.key} = {_quoted(meaning.clean(answers[question.key]))}\n")
    return "\n".join(lines)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _as_answer(key: str, value: Any, places: Places) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return places.positions.numbers.get((key,), str(value))
    if isinstance(value, list) and value and all(isinstance(part, str) for part in value):
        return "; ".join(value)
    raise places.error(
        (key,),
        "An answer has to be a text.",
        code="wrong_kind",
        found=shown(value),
        allowed="a text in quotes, a number, or a list of texts",
        do="Put the answer in quotes.",
    )


def _question(key: str) -> Question:
    return next(question for question in QUESTIONS if question.key == key)


def _answer(key: str, answers: Mapping[str, str]) -> str:
    return meaning.clean(answers.get(key, "")) or default_answer(key, answers)


def _placed(problem: StudyError, where: str) -> StudyError:
    return StudyError(
        problem.what,
        code=problem.code,
        where=where,
        found=problem.found,
        allowed=problem.allowed,
        do=problem.do,
    )


@dataclass(frozen=True)
class _Meant:
    """All answers, understood."""

    question: str
    versions: dict[str, meaning.Versions]
    measure: meaning.Measure
    items: int
    item_name: str
    makers: int
    maker: str
    makers_text: str
    together: tuple[meaning.Together, ...]
    same: tuple[str, ...]
    margin: meaning.Margin


def _build(answers: Mapping[str, str], practice: bool) -> Study:
    said = _understood(answers)
    study = settled(_practice(said) if practice else _study(said))
    check_study(study)
    return study


def _understood(answers: Mapping[str, str]) -> _Meant:
    names = meaning.change(_answer("change", answers))
    measure = meaning.measure(_answer("measure", answers))
    versions = meaning.versions(_answer("versions", answers), names)
    items, item_name = meaning.items(_answer("items", answers))
    makers_text = _answer("makers", answers)
    makers, maker = meaning.makers(makers_text)
    return _Meant(
        question=_answer("question", answers),
        versions=versions,
        measure=measure,
        items=items,
        item_name=item_name,
        makers=makers,
        maker=maker,
        makers_text=makers_text,
        together=meaning.together(_answer("together", answers)),
        same=meaning.same(_answer("same", answers)),
        margin=meaning.worthwhile(_answer("worthwhile", answers), measure.unit),
    )


def _study(said: _Meant) -> Study:
    groups, applied = _groups(said)
    kinds = math.prod(len(version.levels) for version in said.versions.values())
    names = list(said.versions)
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    return Study(
        title=f"What {listed} {'does' if len(names) == 1 else 'do'} to the {said.measure.name}",
        question=said.question,
        makers=said.makers_text,
        item_name=said.item_name,
        factors=tuple(
            StudyFactor(
                name=name,
                levels=version.levels,
                kind=version.kind,
                unit=version.unit,
                scale=version.scale,
                applied_to=applied.get(name),
            )
            for name, version in said.versions.items()
        ),
        groups=groups,
        responses=(_response(said, groups),),
        same=said.same,
        steps=_steps(said, groups, applied),
        limits=Limits(items=said.items, copies=max(1, said.items // kinds)),
    )


def _groups(said: _Meant) -> tuple[tuple[StudyGroup, ...], dict[str, str]]:
    """Return the groups, and which factor is applied to which of them."""
    groups: list[StudyGroup] = []
    applied: dict[str, str] = {}
    if said.makers > 1:
        groups.append(StudyGroup(name=said.maker, count=said.makers, role="maker"))
    occasions = [one for one in said.together if one.size is None]
    groups.extend(StudyGroup(name=one.word, count=one.count or 1) for one in occasions)
    around = occasions[0] if occasions else None
    by_name = {name.casefold(): name for name in said.versions}
    for one in said.together:
        if one.size is None:
            continue
        times = around.count or 1 if around else 1
        count = one.count or math.ceil(said.items / one.size)
        taken = {group.name for group in groups} | set(by_name)
        name = one.word if one.word not in taken else f"{one.thing} {one.word}"
        groups.append(
            StudyGroup(
                name=name,
                count=math.ceil(count / times),
                within=around.word if around else None,
                step=one.thing.lower(),
                capacity=one.size,
            )
        )
        factor = by_name.get(one.thing.casefold())
        if factor is not None:
            applied[factor] = name
    return tuple(groups), applied


def _response(said: _Meant, groups: tuple[StudyGroup, ...]) -> Response:
    measure, margin = said.measure, said.margin
    ratio = margin.compare == "ratio"
    several = measure.readings > 1
    group = _GROUPS_CV if ratio else _GROUPS_SHARE * margin.size
    reading = _READINGS_CV if ratio else _READINGS_SHARE * margin.size
    return Response(
        name=measure.name,
        unit=measure.unit,
        reducer="mean" if several else "value",
        better=measure.better,
        compare=margin.compare,
        worthwhile=margin.size,
        expected=round(margin.size**2, 6) if ratio else 2 * margin.size,
        spread=Spread(
            items=_ITEMS_CV if ratio else margin.size,
            readings=reading if several else None,
            groups={one.name: group for one in groups},
            source="shipped guess",
        ),
        primary=True,
        readings=measure.readings,
    )


def _steps(
    said: _Meant, groups: tuple[StudyGroup, ...], applied: Mapping[str, str]
) -> tuple[Step, ...]:
    """Return the steps that the answers speak of: making, each batch, measuring."""
    single = tuple(name for name in said.versions if name not in applied)
    steps = [
        Step(
            name="make",
            label=f"Make the {said.item_name}",
            text="Make it as its card says.",
            factors=single,
        )
    ]
    for group in groups:
        if group.step is None or group.step.casefold() in [step.name.casefold() for step in steps]:
            continue
        steps.append(
            Step(
                name=group.step,
                label=f"{group.step[:1].upper()}{group.step[1:]}",
                text=f"At most {group.capacity} together make one {group.name}.",
                factors=tuple(name for name, unit in applied.items() if unit == group.name),
            )
        )
    if "measure" not in [step.name.casefold() for step in steps]:
        times = f" Do it {said.measure.readings} times." if said.measure.readings > 1 else ""
        what = f"Read the {said.measure.name} and write it down with its code.{times}"
        steps.append(Step(name="measure", label="Measure", text=what, stage="measure"))
    return tuple(steps)


def _practice(said: _Meant) -> Study:
    """Return a practice run: nothing is changed, so that the spread shows."""
    measure = said.measure
    maker = said.maker or "maker"
    readings = measure.readings if measure.readings > 1 else _PRACTICE_READINGS
    return Study(
        title=f"Practice run: {measure.name}",
        question=f"How different is the {measure.name} of things that were built alike?",
        makers="Two makers",
        item_name=said.item_name,
        practice=True,
        factors=(),
        groups=(StudyGroup(name=maker, count=2, role="maker"),),
        responses=(
            Response(
                name=measure.name,
                unit=measure.unit,
                reducer="mean",
                better=measure.better,
                readings=readings,
                primary=True,
            ),
        ),
        same=said.same,
        steps=(
            Step(
                name="make",
                label=f"Make the {said.item_name}",
                text="Build it exactly like the others.",
            ),
            Step(
                name="measure",
                label="Measure",
                text=f"Read the {measure.name} {readings} times, each time from the start, and "
                "write every reading down with its code.",
                stage="measure",
            ),
        ),
        limits=Limits(items=4, copies=4),
    )
