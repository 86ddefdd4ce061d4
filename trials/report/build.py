"""The report as one document: the student's part first, the technical part apart from it."""

from __future__ import annotations

from trials.analysis.findings import ResponseFindings
from trials.render.blocks import Document, Part, Section, Terms, texts
from trials.render.table import Cell, Column, Table
from trials.report.again import again_section
from trials.report.answer import (
    answer_section,
    other_responses,
    question_section,
    seen_section,
    which_section,
)
from trials.report.checklist import checklist_section
from trials.report.checks import checks_section
from trials.report.in_numbers import in_numbers
from trials.report.limits import (
    cautions_section,
    limits_section,
    next_section,
    trouble_section,
)
from trials.report.practice import practice_parts
from trials.report.readings import readings_table
from trials.report.story import Story, foot
from trials.report.sure import best_section, sure_section
from trials.report.tables import items_table, tables_section
from trials.report.technical import method_section
from trials.report.together import together_section
from trials.report.variables import variable_section
from trials.words.glossary import terms_in
from trials.words.language import say


def report_document(story: Story) -> Document:
    """Return the report of a story; an equal story gives an equal document."""
    study = story.study
    return Document(
        title=study.title,
        subtitle=study.makers,
        note=study.note,
        foot=foot(story),
        parts=practice_parts(story) if study.practice else _parts(story),
        data=_data(story),
    )


def _parts(story: Story) -> tuple[Part, ...]:
    student = _student(story)
    return student, _technical(story, student.sections)


def _student(story: Story) -> Part:
    found = story.responses[0] if story.responses else None
    sections = [question_section(story), answer_section(story, found)]
    if found is not None:
        sections += _seen(story, found)
    sections += [
        limits_section(story, found),
        trouble_section(story),
        next_section(story, found),
        cautions_section(story),
        again_section(story),
    ]
    here = in_numbers(story, found)
    words = terms_in(texts(tuple(sections)), story.item, technical=False, here=here)
    sections.append(Section("words", say("Words"), (Terms(words),)))
    return Part("report", say("The report"), "", tuple(sections))


def _seen(story: Story, found: ResponseFindings) -> list[Section]:
    variables = tuple(variable_section(story, found, factor.name) for factor in story.study.factors)
    title, several = say("Each variable on its own"), len(variables) > 1
    each = Section("variables", title, (), variables, page=several)
    sections = [seen_section(story, found), which_section(story, found), each]
    further = (
        together_section(story, found),
        best_section(story, found),
        sure_section(story, found),
    )
    sections += [section for section in further if section is not None]
    return [*sections, *other_responses(story)]


def _technical(story: Story, told: tuple[Section, ...]) -> Part:
    method, checks, tables = method_section(story), checks_section(story), tables_section(story)
    entries = terms_in(texts((method, checks, tables)), story.item, technical=True)
    words = Section("technical-words", say("Technical words"), (Terms(entries),))
    listed = checklist_section(story, (*told, method, checks, tables))
    sections = (method, checks, listed, words, tables)
    intro = say("For judges and teachers: how every number came about, and all of them in full.")
    return Part("technical", say("How it was done, in full"), intro, tuple(sections))


def _data(story: Story) -> tuple[Table, ...]:
    """Return the tables that belong to the report as files: the plan and every item's values."""
    plan = story.plan
    columns = (
        Column("run", say("order of making"), kind="count"),
        Column("measure", say("order of measuring"), kind="count"),
        Column("item", story.item),
        *(Column(group.name, story.group_label(group.path)) for group in plan.groups),
        *(Column(factor.name, story.factor_label(factor.name)) for factor in plan.factors),
    )
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            row.run,
            row.measure,
            row.item,
            *(row.groups[group.name] for group in plan.groups),
            *(row.factors[factor.name] for factor in plan.factors),
        )
        for row in plan.rows
    )
    layout = Table("plan", say("The plan: one row an item"), columns, rows, heads=3)
    items = (items_table(story, response.name) for response in story.study.responses)
    return (layout, *items, *([readings_table(story)] if story.measured.readings else []))
