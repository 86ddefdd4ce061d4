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
        yield Table(name, reporting.title, columns, rows, (reporting.source, HOW))


def _row(
    story: Story, response: Response, one: Asked, titles: Mapping[str, str]
) -> tuple[str, str, str]:
    """Return what should be told, what is said of it, and where; nothing is ticked unseen."""
    here, key = "", one.section
    if one.setting:
        here = _setting(response, one.setting)
        return (one.what, here or NOT_TOLD, HERE if here else "")
    if one.said:
        fits = (
            found for found in _sentences(story) if re.search(one.said, found[0], re.IGNORECASE)
        )
        here, key = next(fits, ("", ""))
    elif one.column:
        names = {same_name(column.name) for column in columns_of([response])}
        here = TOLD if same_name(one.column) in names else ""
    else:
        here = TOLD
    if not here or key not in titles:
        return (one.what, NOT_TOLD, "")
    return (one.what, here, titles[key])


def _setting(response: Response, name: str) -> str:
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
