"""Chance that an F test finds a true difference.

Source: J. Cohen (1988), Statistical Power Analysis for the Behavioral Sciences, 2nd ed., ch. 8; the
noncentral F distribution is scipy's.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from trials.errors import RequestError
from trials.words.options import share_hint

METHOD = (
    "one-way analysis of variance, noncentral F; the largest gap is D, the other means are "
    "half-way, f = D / sd x sqrt(1 / (2 groups))"
)
MOST_PER_GROUP = 1_000_000
MOST_F = 1e6


@dataclass(frozen=True)
class OneWayPower:
    """Groups of equal size compared by one F test; ``difference`` is in the unit of ``sd``."""

    power: float
    per_group: int
    difference: float | None
    f: float
    method: str = METHOD

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for ``--json``."""
        return {
            "power": self.power,
            "per_group": self.per_group,
            "difference": self.difference,
            "f": self.f,
            "method": self.method,
        }


def f_test_power(num_df: float, den_df: float, noncentrality: float, alpha: float = 0.05) -> float:
    """Return the chance that an F test comes out beyond its critical value.

    Examples
    --------
    >>> round(f_test_power(3, 44, 9.6), 6)  # R 4.2.2, power.anova.test: 4 groups of 12, f = 0.4472
    0.699543
    """
    from scipy.special import ncfdtr

    if noncentrality <= 0:
        return alpha
    chance = 1.0 - float(ncfdtr(num_df, den_df, noncentrality, _critical(num_df, den_df, alpha)))
    # far out the series of the noncentral F runs out of digits; there the chance is 1
    return chance if math.isfinite(chance) else 1.0


@lru_cache(maxsize=1024)
def _critical(num_df: float, den_df: float, alpha: float) -> float:
    """Return the value that an F test must exceed; asked for again at every step of a search."""
    from scipy.special import fdtri

    return float(fdtri(num_df, den_df, 1 - alpha))


def cohens_f(difference: float, sd: float, groups: int) -> float:
    """Return Cohen's f of a largest gap with the other means half-way (pattern of least f).

    Examples
    --------
    >>> cohens_f(1.0, 1.0, 2)
    0.5
    """
    return abs(difference) / sd * math.sqrt(1 / (2 * groups))


def one_way_power(
    groups: int,
    *,
    per_group: int | None = None,
    f: float | None = None,
    difference: float | None = None,
    sd: float | None = None,
    power: float | None = None,
    alpha: float = 0.05,
) -> OneWayPower:
    """Return the one thing left out: power, items per group, or the difference that can be found.

    Parameters
    ----------
    groups : number of groups, 2 or more.
    per_group : items in each group, 2 or more.
    f : Cohen's effect size; or else
    difference, sd : largest gap between two group means and the SD inside a group, in one unit.
    power : wanted chance of finding it, between ``alpha`` and 1.

    Raises
    ------
    RequestError : not exactly one thing left out, or a number that makes no sense.

    Examples
    --------
    >>> round(one_way_power(4, per_group=12, f=0.4).power, 3)
    0.592
    >>> one_way_power(4, f=0.4, power=0.8).per_group
    19
    """
    _check_numbers(
        {
            "--groups": groups,
            "--per-group": per_group,
            "--f": f,
            "--difference": None if difference is None else abs(difference),
            "--sd": sd,
            "--alpha": alpha,
            "--power": power,
        },
        alpha,
    )
    size = _effect(groups, f, difference, sd)
    if size is not None and per_group is not None and power is None:
        n = per_group
    elif size is not None and per_group is None and power is not None:
        n = _smallest(groups, size, power, alpha)
    elif size is None and per_group is not None and power is not None:
        n = per_group
        size = _smallest_effect(groups, n, power, alpha)
    else:
        raise _leave_out_one(per_group, size, power)
    gap = difference if difference is not None else _gap(groups, size, sd)
    return OneWayPower(_chance(groups, n, size, alpha), n, gap, size)


def _chance(groups: int, per_group: int, f: float, alpha: float) -> float:
    return f_test_power(groups - 1, groups * (per_group - 1), groups * per_group * f**2, alpha)


def _smallest(groups: int, f: float, power: float, alpha: float) -> int:
    """Return the fewest items per group that reach the power."""
    high = 2
    while _chance(groups, high, f, alpha) < power:
        high *= 2
        if high > MOST_PER_GROUP:
            raise RequestError(
                "No number of items that anybody could make would find so small a difference.",
                code="power.too_small",
                where="trials power",
                found=f"f = {f:g}",
                allowed=f"an effect found with at most {MOST_PER_GROUP} items per group",
                do="Ask for a larger difference, or for less power.",
            )
    low = max(high // 2, 1)
    while high - low > 1:
        middle = (low + high) // 2
        if _chance(groups, middle, f, alpha) < power:
            low = middle
        else:
            high = middle
    return high


def _smallest_effect(groups: int, per_group: int, power: float, alpha: float) -> float:
    from scipy.optimize import brentq

    high = 0.1
    while _chance(groups, per_group, high, alpha) < power:
        high *= 2
    return float(
        brentq(lambda f: _chance(groups, per_group, f, alpha) - power, 0.0, high, xtol=1e-12)
    )


def _gap(groups: int, f: float, sd: float | None) -> float | None:
    return None if sd is None else f * sd * math.sqrt(2 * groups)


def _effect(
    groups: int, f: float | None, difference: float | None, sd: float | None
) -> float | None:
    if f is not None and (difference is not None or sd is not None):
        raise RequestError(
            "The effect is given twice.",
            code="power.effect_twice",
            where="trials power",
            found="--f together with --difference or --sd",
            allowed="--f alone, or --difference with --sd",
            do="Leave one of them out.",
        )
    if f is not None:
        return abs(f)
    if difference is None:
        return None
    if sd is None:
        raise RequestError(
            "A difference alone says nothing: it must be held against the spread.",
            code="power.no_sd",
            where="trials power",
            found="--difference without --sd",
            allowed="--difference with --sd",
            do="Add --sd, the standard deviation between things made alike.",
        )
    f = cohens_f(difference, sd, groups)
    if not 1e-9 <= f <= MOST_F:
        raise RequestError(
            "The difference is out of all proportion to the spread.",
            code="power.number",
            where="trials power --difference and --sd",
            found=f"{difference:g} against a standard deviation of {sd:g}",
            allowed="a difference from a millionth of the spread to a million times as much",
            do="Check that both are in the same unit.",
        )
    return f


def _leave_out_one(per_group: int | None, f: float | None, power: float | None) -> RequestError:
    values = {"--per-group": per_group, "--power": power, "--f (or --difference)": f}
    missing = [name for name, value in values.items() if value is None]
    return RequestError(
        "Give two of the three and leave out the one you want to know.",
        code="power.leave_out_one",
        where="trials power",
        found="left out: " + (", ".join(missing) or "nothing"),
        allowed="exactly one of " + ", ".join(values),
        do="For the power of 12 items per group: --groups 4 --per-group 12 --f 0.25",
    )


def _check_numbers(numbers: Mapping[str, float | None], alpha: float) -> None:
    """Refuse numbers outside what they can be; ``numbers`` is keyed by flag."""
    limits: dict[str, tuple[float, float, str]] = {
        "--groups": (2, 1000, "a whole number from 2 to 1000"),
        "--per-group": (2, MOST_PER_GROUP, f"a whole number from 2 to {MOST_PER_GROUP}"),
        "--f": (1e-9, MOST_F, "a number above 0, at most a million"),
        "--difference": (1e-300, 1e300, "a finite number other than 0"),
        "--sd": (1e-300, 1e300, "a finite number above 0"),
        "--alpha": (1e-12, 0.5, "a share above 0, at most 0.5"),
        "--power": (math.nextafter(alpha, 1), 1 - 1e-9, f"a share between {alpha:g} and 1"),
    }
    for flag, value in numbers.items():
        low, high, allowed = limits[flag]
        if value is not None and not low <= value <= high:
            raise RequestError(
                "A number is outside what it can be.",
                code="power.number",
                where=f"trials power {flag}",
                found=f"{value:g}",
                allowed=allowed,
                do=(share_hint(flag, value) if flag in ("--power", "--alpha") else "")
                or "Correct the number.",
            )
