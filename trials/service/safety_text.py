"""What is to be settled about flames and what catches fire, as lines to read on a terminal."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from trials.classroom.arrange import step_label
from trials.classroom.hazards import Hazard, at_one_time, hazards, in_one_lesson, must_be_apart
from trials.design.values import Plan
from trials.files import as_typed
from trials.study import Study
from trials.study.messages import key_text
from trials.study.writing import toml_key, toml_value
from trials.words import hazards as words


def safety_lines(study: Study, plan: Plan, folder: Path) -> list[str]:
    """Return each question with what to write; nothing where nothing is to be settled."""
    found = hazards(study)
    both = in_one_lesson(study, plan)
    lines = [words.in_one_lesson(both, as_typed(folder))] if both else []
    lines += [words.at_one_time(lesson, as_typed(Path(step)), as_typed(folder))
              for lesson, step in at_one_time(study, plan)]  # fmt: skip
    lines += [words.NOT_TIMED] if study.lessons is None and must_be_apart(study) else []
    lines += [words.heading(len(found))] if found else []
    for one in found:
        lines.append(f"  {_asked(one)}")
        if one.step is None:
            kept = one.path[0] == words.KEPT
            remedy = words.if_kept(one.kind) if kept else words.if_set(_factor(one), _quoted(one))
            lines.append(f"    {remedy}")
            continue
        timed = study.lessons is not None
        until = words.until_then(said=one.said or not timed, cautioned=one.cautioned)
        lines += [f"    {until}"] if until else []
        for place, told in _to_write(study, one):
            lines += [f"    {words.write_under(place)}", *(f"      {line}" for line in told)]
        if not one.said:
            lines.append(f"    {words.if_not(f'{one.kind} = false')}")
    return lines


def safety_document(study: Study) -> list[dict[str, Any]]:
    """Return the same for ``--json``: kind, step, word, key, what is missing and what to write."""
    return [
        {
            "kind": one.kind,
            "step": None if one.step is None else one.step.name,
            "word": one.word,
            "key": key_text(one.path) if one.path else "",
            "levels": list(one.levels),
            "declared": one.said,
            "caution": one.cautioned,
            "write": [
                {"under": place, "lines": list(told)} for place, told in _to_write(study, one)
            ],
            "message": _asked(one),
        }
        for one in hazards(study)
    ]


def caution_notes(study: Study) -> tuple[str, ...]:
    """Return of each step to which the sheets add the usual caution that they do."""
    return tuple(
        words.printed_for(step_label(one.step), one.word)
        for one in hazards(study)
        if one.step is not None and not one.cautioned
    )


def _asked(one: Hazard) -> str:
    return words.asked(
        one.kind,
        one.word,
        key_text(one.path) if one.path else "",
        "" if one.step is None else step_label(one.step),
        one.levels,
        said=one.said,
        cautioned=one.cautioned,
    )


def _factor(one: Hazard) -> str:
    return str(one.path[1])


def _quoted(one: Hazard) -> str:
    return f"factors = {toml_value((_factor(one),))}"


def _to_write(study: Study, one: Hazard) -> list[tuple[str, list[str]]]:
    """Return the lines that settle a question, and under which heading each stands."""
    if one.step is None:
        return []
    step = f"[[steps]], name = {toml_value(one.step.name)}"
    found = []
    if not one.said and one.equipment and one.kind == "flame":
        found.append((f"[equipment.{toml_key(one.equipment)}]", ["flame = true"]))
    elif not one.said:
        found.append((step, [f"{one.kind} = {toml_value(one.levels or True)}"]))
    if not one.cautioned:
        usual = words.usual(one.kind, study.language)
        codes = [("ghs", usual.ghs), ("iso7010", usual.iso7010)]
        found.append(
            (
                step + ", " + words.BELOW_ITS_LINES,
                [
                    "[[steps.cautions]]",
                    f"text = {toml_value(usual.text)}",
                    *(f"{key} = {toml_value(some)}" for key, some in codes if some),
                ],
            )
        )
    return found
