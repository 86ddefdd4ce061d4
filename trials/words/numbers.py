"""Numbers as people read them: rounded to what is known, with a proper minus and their unit.

Nothing is computed here beyond rounding. A value with an interval is rounded to the digit that
leaves two digits in half the interval's width, and both ends to the same digit: two digits of an
uncertainty are what JCGM 100:2008, 7.2.6 asks for.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from decimal import Decimal

from trials.words import spanish
from trials.words.language import SPANISH, joined, language, marked, say

NBSP = "\u00a0"
MINUS = "\u2212"
_SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")

_ACCENTED = str.maketrans("áéíóúñü", "aeiounu")  # letters, as µ is not

End = float | None
Ends = tuple[End, End]


def number(x: float, decimals: int) -> str:
    """Return ``x`` with so many decimals; negative ``decimals`` rounds to tens, hundreds ...

    Very large and very small numbers are written with a power of ten.

    Examples
    --------
    >>> number(-0.2137, 2), number(-0.001, 2), number(1234.5, -1)
    ('−0.21', '0.00', '1230')
    >>> number(0.0000123, 6)
    '1.2\\xa0×\\xa010⁻⁵'
    """
    rounded = round(x, decimals)
    if rounded == 0:
        return f"{0:.{max(decimals, 0)}f}" if decimals <= 5 else "0"
    exponent = math.floor(math.log10(abs(rounded)))
    if -5 < exponent < 7:
        text = f"{abs(rounded):.{max(decimals, 0)}f}"
    else:
        mantissa = f"{abs(rounded) / 10.0**exponent:.{max(decimals + exponent, 0)}f}"
        text = f"{mantissa}{NBSP}×{NBSP}10{str(exponent).translate(_SUPERSCRIPT)}"
    return MINUS + text if rounded < 0 else text


def decimals_of(x: float, digits: int) -> int:
    """Return how many decimals show ``digits`` significant digits of ``x``.

    Examples
    --------
    >>> decimals_of(0.0456, 2), decimals_of(456.0, 2), decimals_of(0.0, 2)
    (3, -1, 2)
    """
    if x == 0 or not math.isfinite(x):
        return digits
    decimals = digits - 1 - math.floor(math.log10(abs(x)))
    # 0.0996 to two digits is 0.10: rounding up has added a digit
    if abs(round(x, decimals)) >= 10.0 ** (digits - decimals):
        decimals -= 1
    return decimals


def significant(x: float, digits: int = 3) -> str:
    """Return ``x`` with so many significant digits.

    Examples
    --------
    >>> significant(0.20478), significant(20478.0), significant(3.0, 2)
    ('0.205', '20500', '3.0')
    """
    return number(x, decimals_of(x, digits))


def interval_decimals(ends: Ends, estimate: End = None) -> int:
    """Return the decimals that leave two digits in half the width of an interval.

    With one end missing its distance from the estimate counts; with none, three digits of the
    estimate.

    Examples
    --------
    >>> interval_decimals((0.1042, 0.3232)), interval_decimals((None, None), 41.25)
    (2, 1)
    """
    low, high = ends
    if low is not None and high is not None:
        half = (high - low) / 2
    elif estimate is not None and (low is not None or high is not None):
        half = abs(estimate - (low if low is not None else high or 0.0))
    else:
        return decimals_of(estimate, 3) if estimate is not None else 2
    if half == 0:
        return decimals_of(estimate if estimate is not None else low or 0.0, 3)
    return decimals_of(half, 2)


def ratio_decimals(ends: Ends, estimate: End = None) -> int:
    """Return the decimals for a ratio and its interval: one or two, none above a hundred.

    Examples
    --------
    >>> ratio_decimals((1.12, 1.93)), ratio_decimals((8.0, 31.0)), ratio_decimals((0.004, 0.2))
    (2, 1, 4)
    """
    known = [abs(x) for x in (*ends, estimate) if x is not None and x > 0]
    if not known:
        return 2
    smallest = min(known)
    if smallest < 0.1:
        return min(decimals_of(smallest, 1) + 1, 6)
    return 2 if smallest < 5 else 1 if smallest < 100 else 0


def with_unit(text: str, unit: str) -> str:
    """Return a number's text and its unit, held together by a no-break space.

    Examples
    --------
    >>> with_unit("0.21", "mW"), with_unit("3", ""), with_unit("30", "°")
    ('0.21\\xa0mW', '3', '30°')
    """
    if not unit:
        return text
    return f"{text}{unit}" if unit in ("°", "′", "″") else f"{text}{NBSP}{unit}"


def times(x: float, decimals: int | None = None) -> str:
    """Return a ratio as "1.4 times".

    Examples
    --------
    >>> times(1.3), times(1.4249, 2)
    ('1.3\\xa0times', '1.42\\xa0times')
    """
    ratio = _short(x) if decimals is None else number(x, decimals)
    return say("{ratio}\u00a0times", ratio=ratio)


def given(x: float, unit: str = "") -> str:
    """Return a number that a person gave, with its unit and no digits they did not write.

    Examples
    --------
    >>> given(0.2, "mW"), given(12.0, "mm"), given(0.125)
    ('0.2\\xa0mW', '12\\xa0mm', '0.125')
    """
    return with_unit(_short(x), unit)


def _short(x: float) -> str:
    """Return the shortest text of a number, without an exponent where it can be read without."""
    text = format(Decimal(repr(x)).normalize(), "f")
    if len(text) > 9:
        return significant(x, 4)
    return MINUS + text[1:] if text.startswith("-") else text


def ends_text(ends: Ends, unit: str, decimals: int) -> str:
    """Return an interval's two ends in words, in increasing order.

    Examples
    --------
    >>> ends_text((-0.052, 0.1), "mW", 2), ends_text((0.4, None), "V", 1)
    ('−0.05 to 0.10\\xa0mW', 'more than 0.4\\xa0V')
    """
    low, high = ends
    if low is not None and high is not None:
        return say(
            "{low} to {high}",
            low=number(low, decimals),
            high=with_unit(number(high, decimals), unit),
        )
    if low is not None:
        return say("more than {low}", low=with_unit(number(low, decimals), unit))
    if high is not None:
        return say("less than {high}", high=with_unit(number(high, decimals), unit))
    return say("any value")


def percent(share: float, decimals: int = 0) -> str:
    """Return a share as a percentage.

    Examples
    --------
    >>> percent(0.318), percent(0.95), percent(0.9706, 2)
    ('32\\xa0%', '95\\xa0%', '97.06\\xa0%')
    """
    return with_unit(number(100 * share, decimals), "%")


def whole_percents(shares: Sequence[float]) -> tuple[float, ...]:
    """Return shares of one whole in hundredths that add up to it, rounded by largest remainder.

    Examples
    --------
    >>> whole_percents([0.334, 0.333, 0.333]), whole_percents([0.0249, 0.005, 0.9701])
    ((0.34, 0.33, 0.33), (0.02, 0.01, 0.97))
    """
    exact = [round(100 * share, 9) for share in shares]  # the same on any machine
    down = [math.floor(share) for share in exact]
    left = round(sum(exact)) - sum(down)
    by_rest = sorted(range(len(exact)), key=lambda place: down[place] - exact[place])
    up = set(by_rest[:left])
    return tuple((whole + (place in up)) / 100 for place, whole in enumerate(down))


def confidence_text(confidence: float) -> str:
    """Return a confidence level with no more digits than it has.

    Examples
    --------
    >>> confidence_text(0.95), confidence_text(0.9706)
    ('95\\xa0%', '97.06\\xa0%')
    """
    return with_unit(_short(round(100 * confidence, 6)), "%")


def chance_of(p: float) -> str:
    """Return a p-value as a count of repeats.

    Examples
    --------
    >>> chance_of(0.031), chance_of(0.0042), chance_of(0.00002)
    ('about 3 of 100 repeats', 'about 4 of 1000 repeats', 'fewer than 1 of 1000 repeats')
    """
    if p < 0.0005:
        return say("fewer than 1 of 1000 repeats")
    if p < 0.0095:
        return say("about {n} of 1000 repeats", n=max(round(1000 * p), 1))
    if p > 0.995:
        return say("nearly all repeats")
    return say("about {n} of 100 repeats", n=round(100 * p))


def chance_sentence(p: float, factor: str) -> str:
    """Return what a variable's p-value means, in a plain sentence.

    Examples
    --------
    >>> chance_sentence(0.031, "heat")
    'If heat made no difference, versions this far apart would turn up in about 3 of 100 repeats.'
    """
    return say(
        "If {factor} made no difference, versions this far apart would turn up in {repeats}.",
        factor=factor,
        repeats=chance_of(p),
    )


def p_text(p: float) -> str:
    r"""Return a p-value for the technical part: two digits, never 0.

    Examples
    --------
    >>> p_text(0.0312), p_text(0.00001), p_text(0.74)
    ('0.031', '<\xa00.0001', '0.74')
    """
    if p < 0.0001:
        return f"<{NBSP}0.0001"
    return number(p, min(max(decimals_of(p, 2), 2), 4))


def repeats_of_ten(share: float) -> str:
    """Return how often something came out in resamples, never as a probability.

    Examples
    --------
    >>> repeats_of_ten(0.71), repeats_of_ten(0.99), repeats_of_ten(0.02)
    ('in about 7 of 10 repeats', 'in nearly all repeats', 'in hardly any repeats')
    """
    tenths = round(10 * share)
    if tenths >= 10:
        return say("in nearly all repeats")
    if tenths <= 0:
        return say("in hardly any repeats")
    return say("in about {tenths} of 10 repeats", tenths=tenths)


def listing(words: Sequence[str], last: str = "and") -> str:
    """Return words as a list within a sentence.

    Examples
    --------
    >>> listing(["heat", "dye", "soak time"]), listing(["heat", "dye"]), listing([])
    ('heat, dye and soak time', 'heat and dye', '')
    """
    return joined(words, last)


def plural(noun: str) -> str:
    """Return the plural of a plain English noun, such as a study's name for its items.

    Examples
    --------
    >>> [plural(noun) for noun in ("cell", "pass", "battery", "tray", "leaf", "dish")]
    ['cells', 'passes', 'batteries', 'trays', 'leaves', 'dishes']
    """
    if language() == SPANISH:
        return spanish.plural(noun)
    if noun.endswith(("leaf", "shelf")):
        return noun[:-1] + "ves"
    if re.search(r"(s|x|z|ch|sh)$", noun):
        return noun + "es"
    if re.search(r"[^aeiou]y$", noun):
        return noun[:-1] + "ies"
    return noun + "s"


_LARGE = (
    (1e9, marked("{size}\u00a0billion layouts")),  # 10^9 and 10^6, as English says them
    (1e6, marked("{size}\u00a0million layouts")),
)


def layouts_text(size: float) -> str:
    """Return a number of layouts: whole where it is small enough to be counted, else rounded.

    Long ones stand in groups of three digits (SI Brochure, 9th edition, 5.4.4), longer ones are
    told in millions and billions, still longer ones by a power of ten.

    Examples
    --------
    >>> layouts_text(1.0), layouts_text(70.0), layouts_text(12960.0)
    ('1 layout', '70 layouts', '13\xa0000 layouts')
    >>> layouts_text(9953280.0), layouts_text(2.5e9), layouts_text(7.1e13)
    ('9.95\xa0million layouts', '2.5\xa0billion layouts', '7.10\xa0×\xa010¹³ layouts')
    """
    if size < 1000:
        return count(round(size), say("layout"))
    rounded = round(size, decimals_of(size, 3))
    for unit, text in _LARGE:
        if unit <= rounded < 1000 * unit:
            return say(text, size=_short(rounded / unit))
    if rounded < 1e6:
        digits = f"{rounded:,.0f}" if rounded >= 1e4 else f"{rounded:.0f}"
        return say("{size} layouts", size=digits.replace(",", NBSP))
    return say("{size} layouts", size=significant(size, 3))


def count(n: int, noun: str) -> str:
    """Return a number of things.

    Examples
    --------
    >>> count(1, "cell"), count(4, "cell"), count(0, "leaf")
    ('1 cell', '4 cells', 'no leaves')
    """
    if n == 0:
        return say("no {nouns}", nouns=plural(noun))
    return f"{n} {noun if n == 1 else plural(noun)}"


def capital(text: str) -> str:
    """Return a sentence's start with a capital, leaving words such as pH alone.

    Examples
    --------
    >>> capital("soak time"), capital("pH of the water"), capital("dye: red")
    ('Soak time', 'pH of the water', 'Dye: red')
    """
    first = text.split(" ", 1)[0].rstrip(":;,.").replace("-", "")
    if not first.islower() or not first.isalpha() or not first.translate(_ACCENTED).isascii():
        return text
    return text[0].upper() + text[1:]
