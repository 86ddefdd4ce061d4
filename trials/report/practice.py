"""The report on a practice run: how different things built alike came out."""

from __future__ import annotations

from trials.analysis.findings import ResponseFindings
from trials.render.blocks import Block, Bullets, Paragraph, Part, Remark, Section, Terms, texts
from trials.report.limits import cautions_section, trouble_section
from trials.report.story import Story
from trials.report.tables import items_table
from trials.report.technical import origin_sentences, record_sentences
from trials.words.glossary import terms_in
from trials.words.numbers import count, plural
from trials.words.practice import (
    NO_SPREAD,
    WHERE_TO_PASTE,
    AlikeFacts,
    spread_lines,
    spread_sentences,
)


def practice_parts(story: Story) -> tuple[Part, ...]:
    """Return the two parts of a practice run's report; nothing was compared, so nothing is said."""
    study = story.study
    asked: list[Block] = [Paragraph(study.question)]
    if study.same:
        asked += [Paragraph(f"Kept the same for every {story.item}:"), Bullets(study.same)]
    sections = [
        Section("question", "The question", tuple(asked)),
        Section("answer", "How different they came out", tuple(_answer(story))),
        trouble_section(story),
        cautions_section(story),
    ]
    words = terms_in(texts(tuple(sections)), story.item, technical=False)
    sections.append(Section("words", "Words", (Terms(words),)))
    full = (
        Section("method", "How it was done", tuple(_method(story))),
        Section(
            "items",
            f"All {plural(story.item)}",
            tuple(items_table(story, response.name) for response in study.responses),
        ),
    )
    intro = "For judges and teachers: how every number came about."
    return (
        Part("report", "The practice run", "", tuple(sections)),
        Part("technical", "How it was done, in full", intro, full),
    )


def alike_facts(story: Story, found: ResponseFindings) -> AlikeFacts | None:
    """Return what is told of one response; None where no spread could be worked out."""
    spread = found.spread
    if spread is None:
        return None
    return AlikeFacts(
        response=found.name,
        label=story.response_label(found.name),
        unit=found.unit,
        ratio=found.scale == "ratio",
        item=story.item,
        items=spread.items,
        interval=spread.items_interval,
        readings=spread.readings,
        groups=spread.groups,
    )


def _answer(story: Story) -> list[Block]:
    blocks: list[Block] = []
    for found in story.responses:
        facts = alike_facts(story, found)
        if facts is None:
            blocks.append(Paragraph(NO_SPREAD.format(items=plural(story.item))))
            continue
        title = f"{count(found.n_items, story.item)}, {count(found.n_readings, 'reading')}"
        told = tuple(Paragraph(sentence) for sentence in spread_sentences(facts))
        blocks.append(Remark("answer", title, told))
        lines = tuple(Paragraph(line) for line in spread_lines(facts))
        blocks.append(Remark("note", WHERE_TO_PASTE, lines))
    if not story.responses:
        blocks.append(Paragraph(f"No {story.item} gave a value, so there is no answer yet."))
    return blocks


def _method(story: Story) -> list[Block]:
    how = (
        f"Spread between {plural(story.item)}: the standard deviation of their values within what "
        "the groups have in common, less what averaged readings add to it; its interval is that of "
        "the standard deviation of a normal sample. Spread of readings: pooled within "
        f"{plural(story.item)}. On the ratio scale both are coefficients of variation."
    )
    return [
        Paragraph(" ".join(record_sentences(story)), "Record"),
        Paragraph(how, "Analysis"),
        Paragraph(" ".join(origin_sentences(story)), "Where it came from"),
    ]
