"""A study with some lines of study.toml changed: what a remedy asks a person to write."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from trials.study.values import Study
from trials.study.writing import toml_key, toml_value

Keys = tuple[str, ...]


def with_changes(study: Study, changes: Iterable[tuple[Keys, Any]]) -> Study:
    """Return the study as it would read with other values at some keys.

    Parameters
    ----------
    changes : for each the keys as in the file, such as ("groups", "pot", "count"), and the value. A
        factor, group or response that isn't there yet is added. None: the key is deleted, and a
        factor, group or response with all that stands under it.

    Raises
    ------
    ValueError : a value of the wrong kind (pydantic's ValidationError is one).

    Examples
    --------
    >>> from trials.study.values import Response, StudyGroup
    >>> study = Study(title="t", question="q", factors=(), responses=(Response(name="y"),),
    ...               groups=(StudyGroup(name="pot", count=2),))
    >>> with_changes(study, [(("groups", "pot", "count"), 6), (("limits", "items"), 12)]).groups
    (StudyGroup(name='pot', label='', count=6, ...),)
    """
    document = study.model_dump(mode="json")
    for keys, value in changes:
        at: Any = document
        for key in keys[:-1]:
            at = _inside(at, key)
        if value is not None:
            at[keys[-1]] = value
        elif isinstance(at, list):
            at[:] = [part for part in at if part["name"] != keys[-1]]
        else:
            at.pop(keys[-1], None)
    return Study.model_validate(document)


def _inside(at: Any, key: str) -> Any:
    """Return what a key leads to; the named lists of a study are looked up by name."""
    if isinstance(at, list):
        for part in at:
            if part["name"] == key:
                return part
        at.append({"name": key})
        return at[-1]
    if at.get(key) is None:
        at[key] = {}
    return at[key]


def lines_of(changes: Iterable[tuple[Keys, Any]]) -> tuple[tuple[str, str], ...]:
    """Return for each change the heading it stands under and the line to write.

    Examples
    --------
    >>> lines_of([(("groups", "water pot", "count"), 6), (("same",), ("one kettle",))])
    (('[groups."water pot"]', 'count = 6'), ('', 'same = ["one kettle"]'))
    """
    out = []
    for keys, value in changes:
        heading = ".".join(toml_key(key) for key in keys[:-1])
        written = toml_value(tuple(value) if isinstance(value, list) else value)
        out.append((f"[{heading}]" if heading else "", f"{toml_key(keys[-1])} = {written}"))
    return tuple(out)
