"""What the headings of people's own tables mean, as study.toml declares it under [columns]."""

from __future__ import annotations

from collections.abc import Iterable

from trials.quantities import convertible, known, nice, same
from trials.reduction.meanings import KINDS, Meaning, heading_key, meaning_of
from trials.reduction.table import columns_of
from trials.reduction.values import Column
from trials.study.messages import Places, meant, shorten
from trials.study.values import Study


def declared_columns(study: Study) -> dict[str, Meaning]:
    """Return what [columns] says, by the key of each heading."""
    columns, groups = columns_of(study.responses), [group.name for group in study.groups]
    found = {
        heading_key(heading): meaning_of(text, columns, groups)
        for heading, text in study.columns.items()
    }
    return {key: meaning for key, meaning in found.items() if meaning is not None}


def check_columns(study: Study, places: Places) -> None:
    """Refuse a line under [columns] that says nothing, or says something twice.

    Raises
    ------
    StudyError : the first such line.
    """
    if not study.columns:
        return
    columns = columns_of(study.responses)
    groups = [group.name for group in study.groups]
    seen: dict[str, str] = {}
    for heading, text in study.columns.items():
        path = ("columns", heading)
        key = heading_key(heading)
        if not key:
            raise places.error(
                path,
                "A heading under [columns] is empty.",
                code="column_heading",
                found=f'"{heading}" = "{shorten(text)}"',
                allowed="the heading of a column as people wrote it",
                do='Write for instance: "Sample" = "item"',
            )
        if key in seen:
            raise places.error(
                path,
                "A heading stands twice under [columns].",
                code="column_heading",
                found=shorten(heading)
                if heading == seen[key]
                else f"{shorten(seen[key])} and {shorten(heading)}",
                allowed="each heading once; big and small letters, blanks and signs don't count",
                do="Delete one of the two lines.",
            )
        seen[key] = heading
        meaning = meaning_of(text, columns, groups)
        if meaning is None:
            others = [*KINDS, *groups]
            names = [name for column in columns for name in (column.name, *column.aliases)]
            raise places.error(
                path,
                f"It isn't clear what the column '{shorten(heading)}' holds.",
                code="column_meaning",
                found=shorten(text) or '""',
                allowed=", ".join([*(column.header for column in columns), *others]),
                do=meant(text, [*names, *others], "Use one of the names that are allowed."),
            )
        if meaning.kind == "quantity" and meaning.unit:
            _check_unit(meaning, columns, places, path)


def _check_unit(
    meaning: Meaning, columns: Iterable[Column], places: Places, path: tuple[str, str]
) -> None:
    unit = next(column.unit for column in columns if column.name == meaning.name)
    if same(meaning.unit, unit) or (known(meaning.unit) and convertible(meaning.unit, unit)):
        return
    raise places.error(
        path,
        f"'{shorten(meaning.unit)}' can't be the unit of the {shorten(meaning.name)}.",
        code="column_unit",
        found=shorten(meaning.unit),
        allowed=f"{nice(unit)}, or a unit of the same kind" if unit else "no unit",
        do=f'Write for instance: "{meaning.name} ({unit})"' if unit else "Leave the unit out.",
    )
