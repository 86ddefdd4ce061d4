"""One factor with a control: how many items of each when only comparisons with it count.

With t other versions, the control should have about the square root of t times as many items as
each of them (C. W. Dunnett, 1955, JASA 50, 1096-1121, section 6; D. J. Finney, 1952, *Statistical
Method in Biological Assay*, from memory). The best whole numbers are found by trying.
"""

from __future__ import annotations

from collections.abc import Sequence

NEAR = 1e-9


def control_counts(others: int, items: int) -> tuple[int, ...]:
    """Return how many items of the control and of each other version to make.

    The average variance of the comparisons with the control, in units of an item's own, is the
    smallest that whole numbers allow; where two answers are as good, the more even one is taken.

    Parameters
    ----------
    others : versions beside the control, at least 1.
    items : at least one of each version.

    Returns
    -------
    The control's count first.

    Raises
    ------
    ValueError : too few items.

    Examples
    --------
    >>> control_counts(4, 24), control_counts(4, 14)
    ((8, 4, 4, 4, 4), (5, 3, 2, 2, 2))
    """
    if others < 1 or items < others + 1:
        raise ValueError(f"{items} items are too few for {others} versions and a control")
    answers = [(first, *_even(items - first, others)) for first in range(1, items - others + 1)]
    least = min(average_variance(answer) for answer in answers)
    return min(
        (answer for answer in answers if average_variance(answer) < least + NEAR),
        key=lambda answer: max(answer) - min(answer),
    )


def _even(total: int, parts: int) -> tuple[int, ...]:
    whole, more = divmod(total, parts)
    return (whole + 1,) * more + (whole,) * (parts - more)


def average_variance(counts: Sequence[int]) -> float:
    """Return the average variance of the comparisons with the first version, without blocks.

    Examples
    --------
    >>> average_variance((8, 4, 4, 4, 4))
    0.375
    """
    return 1 / counts[0] + sum(1 / count for count in counts[1:]) / (len(counts) - 1)
