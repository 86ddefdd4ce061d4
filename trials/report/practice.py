"""The report on a practice run: one page on how different things built alike came out."""

from __future__ import annotations

from trials.analysis.findings import PracticeFindings
from trials.render.blocks import Block, Bullets, Paragraph, Part, Remark, Section, Terms, texts
from trials.report.limits import cautions_section, trouble_section
from trials.report.practice_told import Names, Told, told
from trials.report.story import Story
from trials.report.tables import items_table
from trials.report.technical import origin_sentences, record_sentences
from trials.words.glossary import terms_in
from trials.words.language import say
from trials.words.numbers import capital, count, plural
from trials.words.practice import (
    METHOD,
    METHOD_MAKERS,
    OPEN,
    WHERE_THE_LINE,
    WHERE_TO_PASTE,
    from_line,
)


def practice_parts(story: Story) -> tuple[Part, ...]:
    """Return the two parts: the answer on one page, and what judges and teachers want beside it.

    Nothing was compared, so nothing is said of comparisons.
    """
    short = (
        Section("question", say("The question"), tuple(_question(story))),
        Section("answer", say("The answer"), tuple(_answers(story))),
    )
    around = (trouble_section(story), cautions_section(story))
    words = terms_in(texts((*short, *around)), story.item, technical=False)
    full = (
        *around,
        Section("words", say("Words"), (Terms(words),)),
        Section("method", say("How it was done"), tuple(_method(story))),
        Section(
            "items",
            capital(say("All {items}", items=plural(story.item))),
            tuple(items_table(story, response.name) for response in story.study.responses),
        ),
    )
    return (
        Part("report", say("The practice run"), "", short),
        Part("technical", say("What stands behind it"), "", full),
    )


def _question(story: Story) -> list[Block]:
    asked: list[Block] = [Paragraph(story.study.question)]
    if story.study.same:
        same = "; ".join(story.study.same)
        asked.append(Paragraph(f"{same}.", say("Kept the same for every {item}", item=story.item)))
    return asked


def _answers(story: Story) -> list[Block]:
    found = sorted(
        story.findings.practice,
        key=lambda one: not story.study.response(one.response).primary,
    )
    blocks: list[Block] = []
    still = len(story.measured.open_questions)
    if still:
        blocks.append(Paragraph(say(OPEN, questions=count(still, say("question")))))
    several = len(found) > 1
    lines: list[str] = []
    for one in found:
        names = Names(story.item, story.response_label(one.response), _maker(story, one))
        one_told = told(one, names)
        title = f"{capital(names.response)}: " if several else ""
        blocks += _boxes(one_told, title)
        lines += one_told.lines
    if lines:
        short = (Paragraph(say(WHERE_THE_LINE)), Paragraph(from_line(story.folder)))
        blocks.append(Remark("note", say("For your real study"), short))
        pasted = tuple(Paragraph(line) for line in lines)
        blocks.append(Remark("note", say(WHERE_TO_PASTE), pasted))
    return blocks


def _boxes(one: Told, title: str) -> list[Block]:
    """Return the framed answers: how many are needed first, for that is what a reader came for."""
    boxes: list[Block] = []
    parts = (
        (say("How many you need"), one.needed),
        (say("How many worked"), (one.worked,)),
        (say("How different they came out"), (*one.different, *one.makers)),
    )
    for heading, sentences in parts:
        if sentences:
            boxes.append(Remark("answer", title + heading, (Bullets(sentences),)))
    return boxes


def _maker(story: Story, found: PracticeFindings) -> str:
    return "" if found.makers is None else story.group_label(found.makers.group)


def _method(story: Story) -> list[Block]:
    makers = say(METHOD_MAKERS) if any(one.makers for one in story.findings.practice) else ""
    return [
        Paragraph(" ".join(record_sentences(story)), say("Record")),
        Paragraph(
            say(METHOD, items=plural(story.item), item=story.item, makers=makers), say("Analysis")
        ),
        Paragraph(" ".join(origin_sentences(story)), say("Where it came from")),
    ]
