"""What the papers of a field of work should tell, ticked with what this study says of it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from trials.quantities import nice
from trials.reduction.table import columns_of, reducer_of, same_name
from trials.render.table import Column, Table
from trials.report.story import Story
from trials.study.values import Response
from trials.words.language import say
from trials.words.numbers import given
from trials.words.reporting import HERE, HOW, NOT_TOLD, OF_REDUCER, TOLD, Asked


def reporting_tables(story: Story, titles: Mapping[str, str]) -> Iterator[Table]:
    """Yield a table for each field of work that the study's responses belong to.

    ``titles``: the sections of the report that there are, by key.
    """
    told: set[str] = set()
    for response in story.study.responses:
        reporting = OF_REDUCER.get(response.reducer)
        if reporting is None or reporting.title in told:
            continue
        told.add(reporting.title)
        columns = (
            Column("told", say("what should be told")),
            Column("here", say("what this study says")),
            Column("where", say("where it stands here")),
        )
        rows = tuple(_row(story, response, one, titles) for one in reporting.items)
        name = f"reporting-{response.reducer.replace('_', '-')}"
        notes = (say(reporting.source), say(HOW))
        yield Table(name, say(reporting.title), columns, rows, notes)


def _row(
    story: Story, response: Response, one: Asked, titles: Mapping[str, str]
) -> tuple[str, str, str]:
    """Return what should be told, what is said of it, and where; nothing is ticked unseen."""
    what, here, key = say(one.what), "", one.section
    if one.setting:
        here = setting_text(response, one.setting)
        return (what, here or say(NOT_TOLD), say(HERE) if here else "")
    if one.said:
        fits = (
            found for found in _sentences(story) if re.search(one.said, found[0], re.IGNORECASE)
        )
        here, key = next(fits, ("", ""))
    elif one.column:
        names = {same_name(column.name) for column in columns_of([response])}
        here = say(TOLD) if same_name(one.column) in names else ""
    else:
        here = say(TOLD)
    if not here or key not in titles:
        return (what, say(NOT_TOLD), "")
    return (what, here, titles[key])


def setting_text(response: Response, name: str) -> str:
    """Return what a setting of a reducer says, with its unit; "" where nothing is said."""
    value = response.settings.get(name)
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    unit = next((one.unit for one in reducer_of(response).settings if one.name == name), "")
    if name == "reference_light":
        unit = str(response.settings.get("light_unit", "W/m^2"))
    return given(value, nice(unit))


def _sentences(story: Story) -> Iterator[tuple[str, str]]:
    """Give what the makers say of measuring, and the section that tells it.

    That is what they keep the same, and their steps of measuring.
    """
    yield from ((text, "question") for text in story.study.same)
    for step in story.study.steps:
        if step.stage == "measure":
            yield from ((text, "again") for text in re.split(r"(?<=[.!?])\s+", step.text))
