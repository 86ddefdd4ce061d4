"""Abstracts of at most 100 and 250 words, drafted from the findings for a person to edit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from trials.errors import TextError
from trials.render.blocks import Bullets, Paragraph
from trials.report.board import Edited, words_notes
from trials.report.board_draft import results_of, study_texts
from trials.report.board_facts import Told, untold
from trials.report.edited import (
    check,
    drafted,
    flat,
    free_text,
    fresh,
    keys_used,
    protected,
    renewed,
)
from trials.report.marked import Braces, Marked, refuse_empty_headings, taken_apart
from trials.report.story import Story
from trials.words import board as words
from trials.words import edited as refused
from trials.words.language import say

NAME = "abstract.md"
LIMITS: Final[Mapping[str, int]] = {words.SHORT: 100, words.LONG: 250}


@dataclass(frozen=True)
class _Piece:
    """A sentence: what it needs in the file, how many words it prints, how much it is needed.

    The most needed come first, 0 stands in any case.
    """

    text: str
    words: int
    need: int


def edited_abstract(story: Story, told: Mapping[str, Told], text: str | None) -> Edited:
    """Return abstract.md: a draft where a person has written nothing yet, else their text, renewed.

    Raises
    ------
    TextError : it says what the findings don't, or has too many words.
    """
    results = results_of(told)
    draft = _draft(story, told)
    if text is None:
        return Edited(draft, ())
    own = fresh(text, draft)
    if own is not None:
        return Edited(own, ())
    check(NAME, text, results, (), (*study_texts(story), free_text(draft, results)))
    refuse_empty_headings(NAME, _marked(told, text))
    for title, plain in printed(told, text):
        _refuse_long(title, plain)
    notes = [refused.not_told(NAME, key) for key in untold(told, keys_used(text))]
    notes += words_notes(story, NAME, free_text(text, results))
    return Edited(renewed(text, results), tuple(notes))


def printed(told: Mapping[str, Told], text: str) -> tuple[tuple[str, str], ...]:
    """Return each abstract as its heading and plain words, results filled in."""
    out = []
    for one in _marked(told, text):
        lines: list[str] = []
        for block in one.blocks:
            if isinstance(block, Paragraph):
                lines.append(flat(f"{block.opening} {block.text}"))
            elif isinstance(block, Bullets):
                lines += [f"- {flat(item)}" for item in block.items]
        out.append((one.title, "\n\n".join(lines)))
    return tuple(out)


def _marked(told: Mapping[str, Told], text: str) -> tuple[Marked, ...]:
    def inline(braces: Braces) -> str:
        return told[braces.key].text

    return taken_apart(text, inline)


def abstract_text(told: Mapping[str, Told], text: str) -> str:
    """Return the abstracts to copy into a form, each with the count of its words."""
    parts = [
        say(
            "{title} ({n_split} words)\n\n{plain}",
            title=title,
            n_split=len(plain.split()),
            plain=plain,
        )
        for title, plain in printed(told, text)
    ]
    return "\n\n\n".join(parts) + "\n"


def _refuse_long(title: str, plain: str) -> None:
    most = LIMITS.get(title)
    if most is not None and len(plain.split()) > most:
        raise TextError(
            refused.WHAT_WORDS.format(name=NAME, title=title),
            code="report.words",
            where=f"{NAME}, {title}",
            found=say("{n_split} words", n_split=len(plain.split())),
            allowed=say("at most {most} words", most=most),
            do=refused.DO_WORDS,
        )


def _draft(story: Story, told: Mapping[str, Told]) -> str:
    parts = [
        (title, _fitted(_pieces(story, told, long=title == words.LONG), most))
        for title, most in LIMITS.items()
    ]
    body = "\n\n".join(f"## {title}\n\n{text}" for title, text in parts)
    return drafted(f"<!--\n{words.ABSTRACT_INTRO}\n-->\n\n{body}", results_of(told))


def _pieces(story: Story, told: Mapping[str, Told], *, long: bool) -> list[_Piece]:
    """Return the sentences of an abstract in their order."""
    factors = [
        (
            story.factor_label(factor.name),
            [story.short_level(factor.name, level) for level in factor.levels],
        )
        for factor in story.study.factors
    ]

    def own(text: str, need: int) -> _Piece:
        return _Piece(flat(text), len(text.split()), need)

    def put(key: str, need: int) -> _Piece:
        return _Piece(protected(key, told[key].text), len(told[key].text.split()), need)

    label = story.response_label(story.main_response)
    start = [
        own(story.study.question, 3),
        own(words.changed(factors, versions=long), 4),
        put("made", 2),
        own(words.by_chance(story.item, by_lot=story.plan.by_lot), 5),
    ]
    if not long:
        return [*start, put("headline", 0), put("note", 1), own(words.SCOPE, 6)]
    answer = [put("found", 0), put("open", 0)]
    if sum(piece.words for piece in answer) > LIMITS[words.LONG] // 2 + 50:
        answer = [put("headline", 0)]
    return [
        *start,
        own(words.measured(label), 4),
        put("care", 5),
        *answer,
        put("note", 1),
        put("rests", 2),
        own(words.SCOPE, 6),
    ]


def _fitted(pieces: Sequence[_Piece], most: int) -> str:
    """Return the sentences that fit into so many words, the most needed ones first."""
    left = most
    chosen: set[int] = set()
    for place in sorted(range(len(pieces)), key=lambda at: (pieces[at].need, at)):
        piece = pieces[place]
        if piece.words and (piece.words <= left or piece.need == 0):
            chosen.add(place)
            left -= piece.words
    return " ".join(piece.text for place, piece in enumerate(pieces) if place in chosen)
