"""Sentences about a plan that was extended."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.words.numbers import repeats_of_ten

if TYPE_CHECKING:
    from trials.design.values import Plan

AFTER_LOOKING = (
    "This is an answer after looking: items were added when results were known, more often than "
    "had been declared. The new part is a study of its own, and stands beside it."
)


def asked_sentence(plan: Plan, looks: int) -> str:
    """Return what is said of the last part: whether the second look was declared."""
    number = sum(part.looked for part in plan.parts) + 1
    if not plan.parts[-1].looked:
        return "No result was known yet when it was asked for, so nothing is lost by it."
    if number <= looks:
        return (
            "This second look was declared in the plan, and the intervals are made wider to pay "
            "for it."
        )
    declared = (
        "no second look had been declared (looks = 2 under [plan])"
        if looks == 1
        else f"only {looks} looks had been declared"
    )
    return (
        f"Results were known already, and {declared}: looking again until something shows makes "
        "chance look like an effect. So the report says 'after looking' beside every answer."
    )


def settling_sentence(factor: str, response: str, chances: tuple[float, float]) -> str:
    """Return what the new part should settle.

    Parameters
    ----------
    chances : of a clear answer without and with the new part, each 0 to 1.

    Examples
    --------
    >>> settling_sentence("dye", "power", (0.31, 0.82))
    'If dye changes power as it did so far, a plan like the old one gives a clear answer in about 3
    of 10 repeats, with the new part in about 8 of 10 repeats.'
    """
    before, after = (repeats_of_ten(chance) for chance in chances)
    return (
        f"If {factor} changes {response} as it did so far, a plan like the old one gives a clear "
        f"answer {before}, with the new part {after}."
    )
