"""A checklist of what a report of statistics should tell, ticked with where it stands here."""

from __future__ import annotations

from collections.abc import Sequence

from trials.render.blocks import Section, walk
from trials.render.table import Column, Table
from trials.report.reporting import reporting_tables
from trials.report.story import Story
from trials.words.checklist import ITEMS, SAMPL
from trials.words.language import say


def checklist_section(story: Story, sections: Sequence[Section]) -> Section:
    """Return the checklists of a report of these sections; what none of them tells is left open."""
    titles = {section.key: section.title for section in walk(tuple(sections))}
    columns = (
        Column("told", say("what should be told")),
        Column("where", say("where it stands here")),
    )
    rows = tuple((item, titles.get(key, "not told here")) for item, key in ITEMS)
    table = Table(
        "sampl", say("What a report of statistics should tell"), columns, rows, (SAMPL + ".",)
    )
    return Section("checklist", "Checklist", (table, *reporting_tables(story, titles)))
