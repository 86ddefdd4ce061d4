"""Checks of names: of factors, groups, responses and steps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from trials.study.messages import Places, shorten
from trials.study.positions import Path
from trials.study.toml import is_control
from trials.study.values import Study

RESERVED = ("run", "measure", "item", "reading")  # columns of the plan and the readings
_FORBIDDEN = "/:="
_LONGEST = 60


def check_names(study: Study, places: Places) -> None:
    """Refuse names that stand twice, are reserved, or can't head a column.

    Raises
    ------
    StudyError : the first such name.
    """
    for path, kind, name in _names(study):
        _check_one(path, kind, name, places)
    seen: dict[str, tuple[str, str]] = {}
    for path, kind, name in _names(study):
        folded = name.casefold()
        if folded not in seen:
            seen[folded] = (kind, name)
            continue
        other_kind, other = seen[folded]
        both = f"Two {kind}s are" if kind == other_kind else f"A {other_kind} and a {kind} are both"
        raise places.error(
            path,
            f"{both} called '{shorten(name)}'.",
            code="name_twice",
            found=shorten(name) if name == other else f"{shorten(other)} and {shorten(name)}",
            allowed="each name once, over all factors, groups and responses",
            do="Give one of the two another name.",
        )
    for one in study.equipment:
        _check_one(("equipment", one.name), "piece of equipment", one.name, places)
    _check_steps(study, places)


def _names(study: Study) -> Iterator[tuple[Path, str, str]]:
    for factor in study.factors:
        yield ("factors", factor.name), "factor", factor.name
    for group in study.groups:
        yield ("groups", group.name), "group", group.name
    for response in study.responses:
        yield ("responses", response.name), "response", response.name


def _check_steps(study: Study, places: Places) -> None:
    names = [step.name for step in study.steps]
    for place, name in enumerate(names):
        path = ("steps", place, "name")
        if not name.strip():
            raise places.error(
                path,
                "A step has no name.",
                code="empty_name",
                found=f'"{name}"',
                allowed="a short name",
                do='Write a name such as name = "measure".',
            )
        twice_in(names, place, path, "step", places)


def twice_in(names: Sequence[str], place: int, path: Path, kind: str, places: Places) -> None:
    """Refuse the name at ``place`` if it stands before it too."""
    folded = [" ".join(name.split()).casefold() for name in names]
    if folded[place] in folded[:place]:
        raise places.error(
            path,
            f"Two {kind}s are called '{shorten(names[place])}'.",
            code="name_twice",
            found=shorten(names[place]),
            allowed="each name once",
            do="Give one of the two another name.",
        )


def name_fault(name: str) -> str | None:
    """Return what is wrong with a name, with %s for what it names; None if it will do.

    Examples
    --------
    >>> name_fault("soak time") is None, name_fault("run")
    (True, "A %s can't be called 'run': the plan has a column of that name.")
    """
    odd = any(letter in _FORBIDDEN or letter in "\n\t" or is_control(letter) for letter in name)
    faults = (
        (not name.strip(), "A %s has no name."),
        (name != name.strip(), "The name of a %s has a space before or after it."),
        (
            name.casefold() in RESERVED,
            f"A %s can't be called '{name}': the plan has a column of that name.",
        ),
        (odd, "The name of a %s holds a sign that is needed for other things."),
        (not name[:1].isalnum(), "The name of a %s begins with neither letter nor figure."),
        (len(name) > _LONGEST, "The name of a %s is too long."),
    )
    return next((what for wrong, what in faults if wrong), None)


def _check_one(path: Path, kind: str, name: str, places: Places) -> None:
    what = name_fault(name)
    if what is not None:
        raise places.error(
            path,
            what.replace("%s", kind),
            code="bad_name",
            found=f'"{shorten(name)}"',
            allowed=f"at most {_LONGEST} letters, beginning with a letter or figure, "
            f"without / : =, and not {', '.join(RESERVED)}",
            do="Choose another name; what people read goes under label.",
        )
