"""The raw data: every reading as it was written down."""

from __future__ import annotations

from trials.quantities import nice
from trials.record.values import Cell as Written
from trials.record.values import Row
from trials.reduction import columns_of
from trials.render.table import Cell, Column, Table
from trials.report.reporting import setting_text
from trials.report.story import Story
from trials.words.language import say
from trials.words.quantity_names import quantity_name

MOST_SHOWN = 400  # more would fill pages with what readings.csv holds as well


def readings_table(story: Story) -> Table:
    """Return every reading that counts, in the units of its columns; one row a reading."""
    raw = [
        column
        for column in columns_of(story.study.responses)
        if any(row.cell(column.name) for row in story.measured.readings)
    ]
    columns = (
        Column("item", story.item),
        Column("reading", kind="count"),
        *(
            Column(
                column.name,
                quantity_name(column.name),
                unit=nice(column.unit),
                kind="number",
                decimals=_decimals(story, column.name),
            )
            for column in raw
        ),
        Column("time", say("read at")),
        Column("note"),
        Column("file"),
        Column("row", kind="count"),
    )
    rows = tuple(
        (
            row.item,
            row.reading,
            *(_value(row, column.name) for column in raw),
            row.time,
            row.note,
            row.place.file,
            row.place.row,
        )
        for row in story.measured.readings
    )
    used = [
        index for index in range(len(columns)) if any(row[index] not in (None, "") for row in rows)
    ]
    notes = (
        *_light_notes(story),
        say(
            "As they count: readings that were corrected stand here as corrected, and as "
            "first written "
            "under what went wrong."
        ),
    )
    return Table(
        "readings",
        say("Reading by reading"),
        tuple(columns[index] for index in used),
        tuple(tuple(row[index] for index in used) for row in rows),
        notes,
    )


def _light_notes(story: Story) -> tuple[str, ...]:
    """Return to which light readings are brought before anything is compared, where they are."""
    lit = any(row.cell("light") for row in story.measured.readings)
    kept = {
        setting_text(response, "reference_light")
        for response in story.study.responses
        if response.settings.get("reference_light") is not None
    }
    return tuple(
        say(
            "Each reading is brought to {light} before it counts: the current is taken as "
            "proportional to the light beside it, the voltage as it was read.",
            light=light,
        )
        for light in sorted(kept)
        if lit
    )


def _decimals(story: Story, column: str) -> int:
    """Return how many decimals were written down at most, in the unit of the column.

    A number turned from another unit is shown with two digits more than were written: the factor
    between the units may bring dozens.
    """
    cells = (row.cell(column) for row in story.measured.readings)
    return max((_places(cell) for cell in cells if cell), default=0)


def _places(cell: Written) -> int:
    if not cell.value or not cell.number:
        return 0
    last = cell.value.normalize().as_tuple().exponent
    written = cell.number.as_tuple().exponent
    if not isinstance(last, int) or not isinstance(written, int):
        return 0  # no finite number
    moved = cell.number.adjusted() - cell.value.adjusted()
    return max(0, min(-last, -written + moved + 2))


def _value(row: Row, column: str) -> Cell:
    cell = row.cell(column)
    if cell is None:
        return None
    if cell.value is None or not cell.value.is_finite():
        return cell.text  # as it was written down, "open" too
    return float(cell.value)
