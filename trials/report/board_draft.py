"""The draft of a board's words, for a person to edit: made once, then theirs."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, Final

from trials.report.board_facts import Told, settled, winners
from trials.report.edited import drafted, flat, protected
from trials.report.story import Story
from trials.study.check_lessons import pieces_in_all
from trials.words import board as words
from trials.words.comparing import margin
from trials.words.durations import duration
from trials.words.language import say
from trials.words.numbers import NBSP, capital, count, given, listing, plural

# What fits below "what we changed" in large letters, and how much of it a variable takes.
_LETTERS_A_TILE: Final = 270
_LETTERS_A_VARIABLE: Final = 35

# What stands in a board's text by a key, and is no sentence: tables, pictures and the like.
DRAWN: Final = ("versions", "steps", "safety", "table", "graph", "photo")

# What may have to be told one day, though there is nothing to say of it yet.
_ALWAYS: Final = ("open", "sure", "note")


def results_of(told: Mapping[str, Told]) -> dict[str, str]:
    """Return what each key of a result prints now, on one line."""
    return {key: one.text for key, one in told.items()}


def board_draft(story: Story, told: Mapping[str, Told]) -> str:
    """Return board.md as the program would write it."""
    results = results_of(told)
    study = story.study

    def put(*keys: str) -> str:
        told_ = (key for key in keys if results[key] or key in _ALWAYS)
        return "\n\n".join(protected(key, results[key]) for key in told_)

    found = story.responses[0] if story.responses else None
    tiles: list[tuple[str, str]] = [
        (
            say(words.QUESTION),
            _paragraphs(
                _own(study.question),
                _lead(say(words.PREDICTED), _own(study.prediction)),
                _measured(story),
                put("care"),
            ),
        ),
        *_variables(story, put("made")),
        (say(words.STEPS), "{{steps}}"),
        (say(words.SAFETY), "{{safety}}"),
        (say(words.TABLE), "{{table}}" if found else ""),
        (say(words.GRAPH, item=story.item), "{{graph}}" if found else ""),
        (say(words.CONCLUSION), _paragraphs(put("found"), _note(study.prediction))),
        (say(words.OPEN), put("open")),
        (say(words.SURE), put("sure", "note")),
        (say(words.NEXT), put("next")),
        (say(words.PHOTOS), _photos(story)),
    ]
    text = "\n\n".join(f"## {title}\n\n{body}" for title, body in tiles if body)
    top = _paragraphs(
        f"# {_own(_title(story))}", put("headline"), *map(_own, (study.makers, study.note))
    )
    return drafted(f"<!--\n{say(words.BOARD_INTRO)}\n-->\n\n{top}\n\n{text}", results)


def _variables(story: Story, made: str) -> list[tuple[str, str]]:
    """Return what was changed and what was kept the same: on one tile where both are short."""
    changed = _paragraphs(
        "{{versions}}", made, words.by_chance(story.item, by_lot=story.plan.by_lot)
    )
    same = "\n".join(f"- {_own(one)}" for one in story.study.same)
    if same and len(same) + _LETTERS_A_VARIABLE * len(story.study.factors) <= _LETTERS_A_TILE:
        both = _paragraphs(changed, f"**{say(words.SAME)}:**", same)
        return [(say(words.VARIABLES), both)]
    return [(say(words.VARIABLES), changed), (say(words.SAME), same)]


def _own(text: str) -> str:
    """Return a text of the study on one line, in which nothing is a mark of this file."""
    return flat(text.replace("{", "(").replace("}", ")").replace("<!--", "<! --"))


def _paragraphs(*texts: str) -> str:
    return "\n\n".join(text for text in texts if text)


def _lead(lead: str, text: str) -> str:
    return f"**{lead}:** {text}" if text else ""


def _note(prediction: str) -> str:
    return f"<!--\n{say(words.YOUR_TURN)}\n-->" if prediction else ""


def _measured(story: Story) -> str:
    texts = []
    for response in story.study.responses:
        unit = f" ({response.unit})" if response.unit and response.unit != "1" else ""
        texts.append(_own(f"{story.response_label(response.name)}{unit}"))
    return _lead(say(words.MEASURED), f"{listing(texts)}.") if texts else ""


def _photos(story: Story) -> str:
    measuring = [step for step in story.study.steps if step.stage == "measure"]
    label = capital(measuring[0].label or measuring[0].name) if measuring else ""
    captions = words.photo_captions(plural(story.item), label)
    return "\n\n".join(protected("photo", caption) for caption in captions)


def _title(story: Story) -> str:
    """Return the study's title; its question, where the title would name a winner."""
    title, question = story.study.title, story.study.question
    return title if title_problem(story, title) is None else f"{question.rstrip('?. ')}?"


def title_problem(story: Story, title: str) -> str | None:
    """Return what a title says too much: "open", "other", or None where nothing is wrong.

    A question may name any version. Anything else may name one only where all is settled, and then
    one of the best.
    """
    found = story.responses[0] if story.responses else None
    if title.rstrip().endswith("?"):
        return None
    named = {(factor, level) for factor, level in _levels(story) if _within(level, title)}
    if not named:
        return None
    if not settled(story, found):
        return "open"
    best = set(winners(story, found).items())
    return None if named & best else "other"


def _levels(story: Story) -> Iterator[tuple[str, str]]:
    for factor in story.study.factors:
        for level in factor.levels:
            yield factor.name, story.level(factor.name, level)


def _within(words_: str, text: str) -> bool:
    plain = re.escape(words_.replace(NBSP, " "))
    return re.search(rf"(?<!\w){plain}(?!\w)", text.replace(NBSP, " "), re.IGNORECASE) is not None


def study_texts(story: Story) -> tuple[str, ...]:
    """Return every text of the study, whose numbers a person may use."""
    own = [*_strings(story.study.model_dump(mode="json"))]
    own += [level for _, level in _levels(story)]
    own += [story.short_level(f.name, level) for f in story.study.factors for level in f.levels]
    own += [_measured(story), *_counts(story)]
    return tuple(text.replace(NBSP, " ") for text in own)


def _counts(story: Story) -> Iterator[str]:
    """Give the numbers of the study and its plan, each with the nouns that people say after it."""
    study = story.study
    recipes = {tuple(sorted(row.factors.items())) for row in story.plan.rows}
    yield words.made(len(story.plan.rows), len(recipes), story.item)
    counted = [(len(study.factors), say("variable")), (study.limits.copies, story.item)]
    for factor in study.factors:
        label = story.factor_label(factor.name)
        counted += [(len(factor.levels), noun) for noun in (say("version"), label)]
    for group in study.groups:
        counted.append((group.count, group.label or group.name))
    for made in story.plan.groups:
        counted.append((len(made.members), story.group_label(made.path)))
    for response in study.responses:
        counted.append((response.readings, say("reading")))
        for care in (response.worthwhile, response.expected):
            if care is not None:
                yield margin(care, response.compare, response.unit)
        ends = (response.failed.below if response.failed else None, response.low, response.high)
        yield from (given(end, response.unit) for end in ends if end is not None)
    for tool in study.equipment:
        name = tool.label or tool.name
        counted += [(tool.count, name), (pieces_in_all(study, tool), name)]
    if study.lessons is not None:
        counted += [
            (study.lessons.count, say("lesson")),
            (study.lessons.students, say("student")),
        ]
        yield from _times(study.lessons.minutes)
    for step in study.steps:
        yield from _times(step.minutes)
        yield from _times(step.waiting)
        for material in step.materials:
            yield given(material.amount, material.unit or plural(material.name))
    yield from (count(n, noun) for n, noun in counted if n)


def _times(minutes: float | None) -> Iterator[str]:
    """Give a time span as people write it: "90 min", "90 minutes", "1 h 30 min", "1.5 hours"."""
    if minutes is not None:
        hours = given(round(minutes / 60, 6))
        yield from (f"{given(minutes)} {unit}" for unit in ("min", say("minute"), say("minutes")))
        yield from (f"{hours} {unit}" for unit in ("h", say("hour"), say("hours")))
        yield duration(minutes)


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for part in value.values():
            yield from _strings(part)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from _strings(part)
