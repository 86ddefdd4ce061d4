"""How many to make so that enough work, and how many a version needs to show a difference.

Each item works or fails by itself with one chance, so that the number that work is binomial.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from trials.design.power import one_way_power
from trials.errors import RequestError
from trials.study.values import Study, TakenSpread

CHANCE = 0.95
POWER = 0.8
MOST_SPARES = 10_000
# Items up to which a binomial chance is summed: no library takes long to load, no number runs over.
_SUMMED = 900


def deciding(study: Study) -> TakenSpread | None:
    """Return the spread taken from a practice run for the response that decides, else the first.

    None where the study takes none.
    """
    taken = [(r, r.spread) for r in study.responses if isinstance(r.spread, TakenSpread)]
    return next((spread for r, spread in taken if r.primary), taken[0][1] if taken else None)


def spares(wanted: int, failing: float, chance: float = CHANCE) -> int | None:
    """Return the fewest items to make beyond ``wanted`` so that ``wanted`` of all of them work.

    Parameters
    ----------
    wanted : items that have to work.
    failing : share of items that fail, 0 to 1.
    chance : how surely enough of them work.

    Returns
    -------
    None where more than 10,000 would be needed.

    Examples
    --------
    >>> spares(12, 0.0), spares(12, 0.25), spares(12, 1.0)
    (0, 8, None)
    >>> round(working_chance(20, 0.25, 12), 3), round(working_chance(19, 0.25, 12), 3)
    (0.959, 0.923)
    """
    if wanted <= 0 or failing <= 0:
        return 0
    if failing >= 1:
        return None
    high = 1
    while working_chance(wanted + high, failing, wanted) < chance:
        high *= 2
        if high > MOST_SPARES:
            return None
    low = high // 2 if high > 1 else -1
    while high - low > 1:
        middle = (low + high) // 2
        if working_chance(wanted + middle, failing, wanted) < chance:
            low = middle
        else:
            high = middle
    return high


def working_chance(made: int, failing: float, wanted: int) -> float:
    """Return the chance that at least ``wanted`` of ``made`` items work (exact binomial)."""
    if wanted > made:
        return 0.0
    if made <= _SUMMED:
        return min(math.fsum(_chances(made, failing, made - wanted)), 1.0)
    from scipy.special import bdtr  # a fraction of the time that scipy.stats takes to load

    return float(bdtr(made - wanted, made, failing))


def _chances(made: int, failing: float, most: int) -> Iterator[float]:
    """Yield the chance that none fails, one, and so on up to ``most``."""
    ways = 1
    for failed in range(most + 1):
        yield ways * (failing**failed * (1 - failing) ** (made - failed))
        ways = ways * (made - failed) // (failed + 1)


def surely_working(made: int, failing: float, chance: float = CHANCE) -> int:
    """Return how many of ``made`` items work at least, with this chance.

    Examples
    --------
    >>> surely_working(20, 0.25), surely_working(48, 0.25), surely_working(4, 1.0)
    (12, 31, 0)
    """
    count = made
    while count > 0 and working_chance(made, failing, count) < chance:
        count -= 1
    return count


def per_version(difference: float, sd: float, power: float = POWER) -> int | None:
    """Return how many items of each of two versions show a true difference at the 5 % level.

    Parameters
    ----------
    difference, sd : on one scale; for a ratio the logarithm of both.
    power : in what share of studies it shows.

    Returns
    -------
    At least 2; None where more than a million would be needed.

    Examples
    --------
    >>> per_version(1.0, 1.0), per_version(0.5, 1.0)  # J. Cohen, 1988, table 2.4.1
    (17, 64)
    """
    if sd <= 0:
        return 2
    try:
        return one_way_power(2, difference=difference, sd=sd, power=power).per_group
    except RequestError:  # smaller than any number of items would show
        return None
