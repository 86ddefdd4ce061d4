"""What a board and an abstract tell of the results: words that no person may change by hand.

Each has a short key. It stands in a person's text as ``{{key: words}}``, and what is printed is
always what the findings say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from trials.analysis.findings import ResponseFindings, Verdict
from trials.design.looks import look_left
from trials.render.blocks import Block, Bullets, Paragraph
from trials.report.answer import (
    answer_without_margin,
    beside_the_answer,
    may_we_say_caused,
    missing,
    rests_on,
)
from trials.report.limits import NOTHING_TO_DO, first_steps
from trials.report.story import Story, best_of, cross_facts, names_of, verdict_facts
from trials.report.told import what_it_hangs_on
from trials.words import board as words
from trials.words.answering import answer_sentences
from trials.words.comparing import margin
from trials.words.crossing import distinct
from trials.words.language import say
from trials.words.missing import at_least_sentence
from trials.words.numbers import capital, plural
from trials.words.sentences import MATTERED, NO_DIFFERENCE, NOT_SETTLED

Kind = Literal["inline", "paragraphs", "bullets", "numbered"]


@dataclass(frozen=True)
class Told:
    """Words that the findings give: with nothing to say they are empty.

    ``kind`` is how they are printed: within a sentence, as paragraphs, or as a list.
    """

    key: str
    kind: Kind
    parts: tuple[Paragraph, ...]

    @property
    def text(self) -> str:
        """All of it on one line, as it stands in a person's file."""
        lines = [f"{part.opening} {part.text}".strip() for part in self.parts]
        if self.kind == "numbered":
            lines = [f"{place}. {line}" for place, line in enumerate(lines, start=1)]
        return " ".join(lines)

    def blocks(self) -> tuple[Block, ...]:
        """All of it as it is printed."""
        if self.kind in ("bullets", "numbered") and self.parts:
            lines = tuple(f"{part.opening} {part.text}".strip() for part in self.parts)
            return (Bullets(lines, numbered=self.kind == "numbered"),)
        return self.parts


def told_of(story: Story) -> Mapping[str, Told]:
    """Return all that may stand on a board, by key; the main response only."""
    found = story.responses[0] if story.responses else None
    told = (
        Told("headline", "inline", (Paragraph(_headline(story, found)),)),
        Told("made", "inline", (Paragraph(_made(story)),)),
        Told("care", "inline", _care(story)),
        Told("found", "paragraphs", _found(story, found)),
        Told("open", "bullets", _open(story, found)),
        Told("sure", "paragraphs", _sure(story, found)),
        Told("rests", "inline", () if found is None else (Paragraph(rests_on(story, found)),)),
        Told("note", "paragraphs", _note(story, found)),
        Told("next", "numbered", _next(story, found)),
    )
    return {one.key: one for one in told}


def untold(told: Mapping[str, Told], used: set[str]) -> tuple[str, ...]:
    """Return the keys that say what is not settled, or beside the answer, and are not used."""
    if told["open"].parts and not used & {"headline", "open"}:
        return ("open",)
    return ("note",) if told["note"].parts and "note" not in used else ()


def settled(story: Story, found: ResponseFindings | None) -> bool:
    """Tell whether every variable has a verdict that nothing leaves open."""
    return (
        found is not None
        and bool(found.verdicts)
        and all(verdict.verdict != NOT_SETTLED for verdict in found.verdicts)
        and not found.crossings
        and not found.missing_levels
        and not story.measured.open_questions
    )


def winners(story: Story, found: ResponseFindings | None) -> dict[str, str]:
    """Return the one best version of each variable that mattered, where everything is settled."""
    if found is None or found.ranked is not None or not settled(story, found):
        return {}
    best = {}
    for verdict in found.verdicts:
        if verdict.verdict != MATTERED:
            continue
        name, rivals, unknown = best_of(story, found, verdict.factor)
        if name is None or rivals or unknown:
            return {}
        best[verdict.factor] = name
    return best


def _headline(story: Story, found: ResponseFindings | None) -> str:
    if found is None:
        return words.nothing_worked(story.item)
    if not found.verdicts:
        return say(words.NO_MARGIN)
    pairs = distinct([cross_facts(story, found, one) for one in found.crossings])

    def labels(verdict: str) -> tuple[str, ...]:
        return tuple(
            story.factor_label(one.factor)
            for one in found.verdicts
            if one.verdict == verdict and one.reason != "depends"
        )

    return words.headline(
        words.Headline(
            response=story.response_label(found.name),
            item=story.item,
            mattered=labels(MATTERED),
            little=labels(NO_DIFFERENCE),
            open=labels(NOT_SETTLED),
            together=pairs,
            winners=tuple(winners(story, found).values()),
            failed=found.n_failed > 0,
            low=found.better == "low",
            by_lot=story.plan.by_lot,
        )
    )


def _made(story: Story) -> str:
    recipes = {tuple(sorted(row.factors.items())) for row in story.plan.rows}
    return words.made(len(story.plan.rows), len(recipes), story.item)


def _care(story: Story) -> tuple[Paragraph, ...]:
    response = next((one for one in story.study.responses if one.primary),
                    story.study.responses[0])  # fmt: skip
    if response.worthwhile is None:
        return ()
    care = margin(response.worthwhile, response.compare, response.unit)
    return (Paragraph(words.set_beforehand(care)),)


def _found(story: Story, found: ResponseFindings | None) -> tuple[Paragraph, ...]:
    """Tell what mattered and what made no practical difference, and of which items."""
    if found is None:
        return (Paragraph(words.nothing_worked(story.item)),)
    gone = [Paragraph(text, say("A whole version is missing")) for text in missing(story, found)]
    if not found.verdicts:
        return (*gone, *answer_without_margin(story, found))
    facts = tuple(verdict_facts(story, found, verdict) for verdict in found.verdicts)
    among = say(", of the {items} that worked", items=plural(story.item)) if found.n_failed else ""
    told = [
        Paragraph(text, f"{lead}{among if place == 0 else ''}")
        for place, (lead, text) in enumerate(answer_sentences(facts)[:2])
    ]
    return (*gone, *told)


def _open(story: Story, found: ResponseFindings | None) -> tuple[Paragraph, ...]:
    """Tell what is not settled, one variable after the other."""
    told = []
    for verdict in found.verdicts if found else ():
        if _is_open(verdict) and found is not None:
            facts = verdict_facts(story, found, verdict)
            told.append(Paragraph(answer_sentences((facts,))[2][1]))
    return (*told, Paragraph(say(words.NOT_THE_SAME))) if told else ()


def _is_open(verdict: Verdict) -> bool:
    return verdict.verdict == NOT_SETTLED and verdict.reason != "depends"


def _sure(story: Story, found: ResponseFindings | None) -> tuple[Paragraph, ...]:
    if found is None:
        return ()
    firm = " ".join(what_it_hangs_on(found, names_of(story, found)))
    return (
        Paragraph(rests_on(story, found)),
        Paragraph(may_we_say_caused(story, found)),
        *((Paragraph(firm),) if firm else ()),
    )


def _note(story: Story, found: ResponseFindings | None) -> tuple[Paragraph, ...]:
    """Tell what a reader has to know beside the answer."""
    told = []
    still = len(story.measured.open_questions)
    if still:
        told.append(Paragraph(say(words.OPEN_QUESTIONS), words.open_questions(still)))
    if found is not None and found.ranked is not None:
        label = story.response_label(found.name)
        text = at_least_sentence(len(found.ranked.items), found.n_items, story.item, label)
        told.append(Paragraph(text, say("{label} is told by ranks", label=capital(label))))
    return (*told, *(beside_the_answer(story, found) if found is not None else ()))


def _next(story: Story, found: ResponseFindings | None) -> tuple[Paragraph, ...]:
    """Tell what to do next; by how much more each would be settled stands where it is open."""
    todo = first_steps(story, found)
    open_ = [story.factor_label(v.factor) for v in found.verdicts if _is_open(v)] if found else []
    if open_:
        todo.append(words.settle(open_, declared=look_left(story.study, story.plan)))
    return tuple(Paragraph(text) for text in todo or [say(NOTHING_TO_DO)])
