"""What a practice run found, in words, and as lines to write into a study file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from trials.words.numbers import decimals_of, ends_text, plural, significant, with_unit


@dataclass(frozen=True)
class AlikeFacts:
    """How different things built alike came out; SDs in ``unit``, or CVs where ``ratio``."""

    response: str  # its name in the study file
    label: str
    unit: str
    ratio: bool
    item: str
    items: float
    interval: tuple[float | None, float | None]
    readings: float | None
    groups: Mapping[str, float] = field(default_factory=dict)


def spread_lines(facts: AlikeFacts) -> tuple[str, ...]:
    """Return the lines that tell a study of its spread.

    Examples
    --------
    >>> for line in spread_lines(AlikeFacts("distance", "distance", "m", False, "plane", 0.4512,
    ...                                     (0.2, 2.8), 0.0631)):
    ...     print(line)
    [responses.distance.spread]
    items = 0.451
    readings = 0.0631
    source = "practice run"
    """
    lines = [f"[responses.{facts.response}.spread]", f"items = {_plain(facts.items)}"]
    if facts.readings is not None:
        lines.append(f"readings = {_plain(facts.readings)}")
    if facts.groups:
        inside = ", ".join(f"{name} = {_plain(sd)}" for name, sd in facts.groups.items())
        lines.append(f"groups = {{ {inside} }}")
    return (*lines, 'source = "practice run"')


def _plain(x: float) -> str:
    """Return a number with three digits as a file takes it."""
    return f"{x:.{max(decimals_of(x, 3), 0)}f}"


def spread_sentences(facts: AlikeFacts) -> tuple[str, ...]:
    """Return how different things built alike came out, and how well that is known."""
    items = plural(facts.item)
    told = [
        f"In {facts.label}, {items} built alike differed from their average by about "
        f"{_size(facts, facts.items)}. That is the typical spread between {items}."
    ]
    if facts.readings is not None:
        told.append(
            f"Readings of one {facts.item} differed by about {_size(facts, facts.readings)}."
        )
    low, high = facts.interval
    if low is not None and high is not None:
        scale, unit = (100.0, "%") if facts.ratio else (1.0, facts.unit)
        digits = decimals_of(scale * low, 2)
        told.append(
            f"From so few {items} the spread is only roughly known: the data fit anything from "
            f"{ends_text((scale * low, scale * high), unit, digits)}. More {items} built alike "
            "make it surer."
        )
    return tuple(told)


def _size(facts: AlikeFacts, sd: float) -> str:
    if facts.ratio:
        return with_unit(significant(100 * sd, 2), "%")
    return with_unit(significant(sd, 2), facts.unit)


WHERE_TO_PASTE = (
    "Write these lines into study.toml of your real study, in place of the ones that begin so. "
    "Then 'trials check' tells what it can show."
)

NO_SPREAD = (
    "The spread can't be told yet: it takes at least two {items} of one maker that gave a value, "
    "and values that differ."
)
