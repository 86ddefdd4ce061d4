"""Tables that can't be taken apart by their headings: each is refused with what to do."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from trials.errors import IngestError
from trials.ingest.asking import SEVERAL
from trials.ingest.grid import Line, Sheet
from trials.ingest.heading_text import unit_at_end
from trials.ingest.headings import Layout
from trials.ingest.missing import is_missing
from trials.quantities import known, numeral


def refuse_storeys(
    lines: Sequence[Line], layout: Layout, codes: Collection[str], where: str
) -> None:
    """Refuse a table whose headings go on in a second row, with words or with units."""
    if not lines or lines[0].at(layout.item).text.casefold() in codes:
        return
    texts = [text for heading in layout.raw if (text := lines[0].at(heading.index).text)]
    units = [text for text in texts if known(text.strip("()[] ")) or unit_at_end(text)]
    words = [text for text in texts if numeral(text) is None and not is_missing(text)]
    if len(texts) < 2 or len(words) < len(texts) or not units:
        return
    head = layout.line.at(layout.raw[0].index).text
    raise IngestError(
        "The headings go on in a second row that can't be read by itself.",
        code="ingest.two_rows_of_headings",
        where=f"{where}, row {lines[0].number}",
        found=f"{', '.join(texts[:4])} below {head}",
        allowed="one row of headings, and below or above it at most one row with nothing but units",
        do="Write each name and its unit into one cell of one row, such as "
        f"'{layout.raw[0].column.header}', delete the other row and collect it again.",
    )


def refuse_split(lines: Sequence[Line], width: int, head: int, sheet: Sheet, where: str) -> None:
    """Refuse a table whose numbers are torn apart by their own decimal commas.

    Parameters
    ----------
    width : how many headings there are. head : lines up to this one are passed over.
    """
    split = [
        line
        for line in lines
        if len(line.cells) > width
        and line.number > head
        and any(cell.text for cell in line.cells[width:])
    ]
    if not split or not sheet.delimiter:
        return
    raise IngestError(
        "Some lines have more parts than there are headings, so it isn't clear what is what.",
        code="ingest.split_lines",
        where=f"{where}, row {split[0].number}" + (
            f" and {len(split) - 1} more" if len(split) > 1 else ""
        ),
        found=f"{len(split[0].cells)} parts under {width} headings",
        allowed="as many parts as headings",
        do="If numbers are written 0,41: save the table with semicolons between the columns, or "
        "write 0.41. Then collect it again.",
    )  # fmt: skip


def refuse_exchanged(lines: Sequence[Line], layout: Layout, where: str) -> None:
    """Refuse a table whose readings stand under 'reading', and their numbers under a quantity."""
    index = layout.reading
    if index is None:
        return
    said = [text for line in lines if (text := line.at(index).text)]
    broken = [
        text
        for text in said
        if (n := numeral(text)) and n.point is not None and n.point != n.point.to_integral_value()
    ]
    if 2 * len(broken) <= len(said) and (
        not any(_count_up(lines, layout.item, heading.index) for heading in layout.raw)
        or _count_up(lines, layout.item, index)
    ):
        return
    raw = " or ".join(f"'{heading.text}'" for heading in layout.raw)
    raise IngestError(
        "The numbers under 'reading' don't number the readings.",
        code="ingest.reading_numbers",
        where=where,
        found=", ".join((broken or said)[:4]) + f" under '{layout.line.at(index).text}'",
        allowed="1, 2, 3 and so on for each item",
        do=f"Look whether this heading and {raw} were exchanged. Mend the headings and collect it "
        "again.",
    )


def _count_up(lines: Sequence[Line], item: int, index: int) -> bool:
    """Whether a column holds 1, 2, 3 and so on for at least three items, and nothing else."""
    found: dict[str, list[str]] = {}
    for line in lines:
        code, text = line.at(item).text, line.at(index).text
        if code and text:
            if not text.isdecimal():
                return False
            found.setdefault(code, []).append(text)
    return sum(len(mine) > 1 for mine in found.values()) >= SEVERAL and all(
        sorted(mine) == sorted(str(n) for n in range(1, len(mine) + 1)) for mine in found.values()
    )
