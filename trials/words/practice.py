"""What a practice run found, in words, and as lines to write into a study file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from trials.words.language import marked, say
from trials.words.numbers import (
    count,
    decimals_of,
    ends_text,
    given,
    interval_decimals,
    listing,
    number,
    percent,
    plural,
    ratio_decimals,
    significant,
    times,
    with_unit,
)

Ends = tuple[float | None, float | None]
MOST_TOLD = 1000  # items of a version: more is 'more than 1000'


@dataclass(frozen=True)
class AlikeFacts:
    """How different things built alike came out; SDs in ``unit``, or CVs where ``ratio``.

    ``df`` is how many differences the spread was learnt from.
    """

    response: str  # its name in the study file
    label: str
    unit: str
    ratio: bool
    item: str
    items: float
    interval: Ends
    readings: float | None
    groups: Mapping[str, float] = field(default_factory=dict)
    df: float = 2.0


@dataclass(frozen=True)
class MeterFacts:
    """What part of the variation between items their readings explain, 0 to 1."""

    item: str
    share: float
    interval: Ends


@dataclass(frozen=True)
class GapFacts:
    """The two makers furthest apart: ``a`` minus ``b`` in ``unit``, or a over b (``ratio``)."""

    maker: str
    a: str
    b: str
    item: str
    size: float
    interval: Ends
    unit: str
    ratio: bool


@dataclass(frozen=True)
class NeededFacts:
    """How many items of each version show a difference (a ratio where ``ratio``)."""

    item: str
    difference: float
    unit: str
    ratio: bool
    count: int | None
    interval: tuple[int | None, int | None]
    to_make: int | None = None


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
    lines = [
        f"[responses.{facts.response}.spread]",
        f"items = {_plain(facts.items)}",
    ]
    if facts.readings is not None:
        lines.append(f"readings = {_plain(facts.readings)}")
    if facts.groups:
        inside = ", ".join(f"{name} = {_plain(sd)}" for name, sd in facts.groups.items())
        lines.append(f"groups = {{ {inside} }}")
    return (*lines, 'source = "practice run"')


def _plain(x: float) -> str:
    """Return a number with three digits as a file takes it."""
    return f"{x:.{max(decimals_of(x, 3), 0)}f}"


def from_line(folder: str) -> str:
    """Return the one line by which a study takes the spread from this folder.

    Examples
    --------
    >>> from_line("planes-practice")
    'spread_from = "../planes-practice"'
    """
    return f'spread_from = "../{folder}"'


def worked_sentence(made: int, worked: int, ends: Ends, item: str) -> str:
    """Return how many worked, and what that says of the share that fails.

    Examples
    --------
    >>> worked_sentence(4, 4, (0.0, 0.6024), "cell").replace("\xa0", " ")
    'All 4 cells worked. From so few, the share that fails may still be anything up to 60 %.'
    >>> worked_sentence(4, 3, (0.0063, 0.8059), "cell").replace("\xa0", " ")
    '3 of 4 cells worked, 1 failed. From so few, the share that fails may be 0.6 % to 81 %.'
    >>> worked_sentence(4, 0, (0.3976, 1.0), "cell").replace("\xa0", " ")
    'None of the 4 cells worked. From so few, the share that fails may be anything above 40 %.'
    """
    n_items = count(made, item)
    if 0 < worked < made:
        seen = say(
            "{worked} of {n_items} worked, {failed} failed.",
            worked=worked,
            n_items=n_items,
            failed=made - worked,
        )
    elif worked:
        seen = (
            say("All {n_items} worked.", n_items=n_items)
            if made > 1
            else say("The one {item} worked.", item=item)
        )
    else:
        seen = (
            say("None of the {n_items} worked.", n_items=n_items)
            if made > 1
            else say("The one {item} failed.", item=item)
        )
    low, high = (0.0 if end is None else end for end in ends)
    return f"{seen} {_failing(made, worked, _share(low), _share(high))}"


_FEW = 20  # items from which a share is told without a warning


def _failing(made: int, worked: int, low: str, high: str) -> str:
    """Return what the share that fails may be."""
    if worked == made:
        return (
            say("From so few, the share that fails may still be anything up to {high}.", high=high)
            if made < _FEW
            else say("The share that fails may still be anything up to {high}.", high=high)
        )
    if not worked:
        return (
            say("From so few, the share that fails may be anything above {low}.", low=low)
            if made < _FEW
            else say("The share that fails may be anything above {low}.", low=low)
        )
    return (
        say("From so few, the share that fails may be {low} to {high}.", low=low, high=high)
        if made < _FEW
        else say("The share that fails may be {low} to {high}.", low=low, high=high)
    )


def _share(share: float) -> str:
    return percent(share, 1 if 0.0005 <= share < 0.0095 else 0)


def spread_sentences(facts: AlikeFacts) -> tuple[str, ...]:
    """Return how different things built alike came out, and how well that is known."""
    items = plural(facts.item)
    told = [
        say(
            "In {label}, {items} built alike differed from their average by about "
            "{size}. That is the typical spread between {items}.",
            label=facts.label,
            items=items,
            size=_size(facts, facts.items),
        )
    ]
    told.append(_known(facts))
    if facts.readings is not None:
        told.append(
            say(
                "Readings of one {item} differed by about {size}.",
                item=facts.item,
                size=_size(facts, facts.readings),
            )
        )
    return tuple(told)


def _known(facts: AlikeFacts) -> str:
    """Return how well the spread is known from so few."""
    items = plural(facts.item)
    low, high = facts.interval
    scale, unit = (100.0, "%") if facts.ratio else (1.0, facts.unit)
    start = say("From so few {items} the spread is only roughly known", items=items)
    if facts.df < 1.5:
        start = say("Two {items} are hardly any information on the spread", items=items)
    if low is not None and high is not None and low > 0:
        ends = (scale * low, scale * high)
        fit = say(
            "anything from {ends}",
            ends=ends_text(ends, unit, decimals_of(scale * low, 2)),
        )
    elif high is not None:
        fit = say("anything up to {high}", high=with_unit(significant(scale * high, 2), unit))
    else:
        return say("{start}. More {items} built alike make it surer.", start=start, items=items)
    return say(
        "{start}: the data fit {fit}. More {items} built alike make it surer.",
        start=start,
        fit=fit,
        items=items,
    )


def _size(facts: AlikeFacts, sd: float) -> str:
    if facts.ratio:
        return with_unit(significant(100 * sd, 2), "%")
    return with_unit(significant(sd, 2), facts.unit)


def meter_sentence(facts: MeterFacts) -> str:
    """Return how much of the differences is the meter, and what to do about it.

    Examples
    --------
    >>> meter_sentence(MeterFacts("cell", 0.12, (0.003, 0.73))).replace("\xa0", " ")
    'How much of that is the meter: readings explain about 12 % of the variation between cells (the
    data fit 0.3 % to 73 %). Reading each cell more often would change little; more cells help.'
    """
    low, high = (0.0 if end is None else end for end in facts.interval)
    items = plural(facts.item)
    if facts.share >= 1:
        return say(
            "How much of that is the meter: readings explain all of it. So the spread between "
            "{items} can't be told from that of the readings: read each {item} more often, or "
            "steady the way you read.",
            items=items,
            item=facts.item,
        )
    advice = (
        say("Read each {item} more often, or steady the way you read.", item=facts.item)
        if facts.share > 0.5
        else say(
            "Reading each {item} more often would change little; more {items} help.",
            item=facts.item,
            items=items,
        )
    )
    return say(
        "How much of that is the meter: readings explain about {share} of the variation between "
        "{items} (the data fit {low} to {high}). {advice}",
        share=_share(facts.share),
        items=items,
        low=_share(low),
        high=_share(high),
        advice=advice,
    )


def gap_sentence(facts: GapFacts) -> str:
    """Return how far the makers lie apart: it went with them, and nothing more is known.

    Examples
    --------
    >>> gap_sentence(GapFacts("maker", "M2", "M1", "plane", 2.7, (-0.1, 5.5), "m",
    ...                       False)).replace("\xa0", " ")
    'The planes of maker M2 came out 2.7 m higher on average than those of maker M1 (range of doubt:
    −0.1 to 5.5 m). Chance alone can do that. It went with the maker; nobody dealt out the makers by
    chance, so it says nothing of why.'
    """
    a, b, size, (low, high) = _turned(facts)
    none, unit = (1.0, say("times")) if facts.ratio else (0.0, facts.unit)
    digits = (ratio_decimals if facts.ratio else interval_decimals)((low, high), size)
    doubt = ""
    if low is not None and high is not None:
        doubt = say(" (range of doubt: {ends})", ends=ends_text((low, high), unit, digits))
    names = {"items": plural(facts.item), "maker": facts.maker, "a": a, "b": b, "doubt": doubt}
    size_text = with_unit(number(size, digits), unit)
    told = [
        say(
            "The {items} of {maker} {a} came out {size} as much on average as those of "
            "{maker} {b}{doubt}.",
            size=size_text,
            **names,
        )
        if facts.ratio
        else say(
            "The {items} of {maker} {a} came out {size} higher on average than those of "
            "{maker} {b}{doubt}.",
            size=size_text,
            **names,
        )
    ]
    if low is None or low <= none:
        told.append(say("Chance alone can do that."))
    told.append(
        say(
            "It went with the {maker}; nobody dealt out the {makers} by chance, so it says nothing "
            "of why.",
            maker=facts.maker,
            makers=plural(facts.maker),
        )
    )
    return " ".join(told)


def _turned(facts: GapFacts) -> tuple[str, str, float, Ends]:
    """Return the higher maker, the lower one, how far apart they are, and the range of doubt."""
    low, high = facts.interval
    if facts.ratio and facts.size < 1:
        ends = tuple(None if end is None or end <= 0 else 1 / end for end in (high, low))
        return facts.b, facts.a, 1 / facts.size, (ends[0], ends[1])
    if not facts.ratio and facts.size < 0:
        ends = tuple(None if end is None else -end for end in (high, low))
        return facts.b, facts.a, -facts.size, (ends[0], ends[1])
    return facts.a, facts.b, facts.size, (low, high)


def needed_sentences(facts: NeededFacts) -> tuple[str, ...]:
    """Return how many items of each version a study needs, and how sure that is.

    Examples
    --------
    >>> for s in needed_sentences(NeededFacts("plane", 1.5, "m", True, 9, (3, 150), 11)):
    ...     print(s.replace("\xa0", " "))
    With planes like these you need about 9 of each version to see 1.5 times (if it is there, it
    shows in 8 of 10 such studies).
    The spread is only roughly known, so it may be anything between 3 and 150.
    If as many fail again, make 11 of each, and 9 of them will very likely work.
    """
    items = plural(facts.item)
    size = times(facts.difference) if facts.ratio else given(facts.difference, facts.unit)
    what = size if facts.ratio else say("a difference of {size}", size=size)
    if facts.count is None or facts.count > MOST_TOLD:
        return (
            say(
                "With {items} like these you need more than {most} of each version to see {what}. "
                "Build them more alike first.",
                items=items,
                most=MOST_TOLD,
                what=what,
            ),
        )
    told = [
        say(
            "With {items} like these you need about {count} of each version to see {what} (if "
            "it is there, it shows in 8 of 10 such studies).",
            items=items,
            count=facts.count,
            what=what,
        )
    ]
    few, many = facts.interval
    if few is not None and (many is None or many > MOST_TOLD):
        told.append(
            say(
                "The spread is only roughly known, so it may be anything between {few} and "
                "more than {most}.",
                few=few,
                most=MOST_TOLD,
            )
        )
    elif few is not None and many is not None and few < many:
        told.append(
            say(
                "The spread is only roughly known, so it may be anything between {few} and {many}.",
                few=few,
                many=many,
            )
        )
    if facts.to_make is not None and facts.to_make > facts.count:
        told.append(
            say(
                "If as many fail again, make {to_make} of each, and {count} of them will "
                "very likely work.",
                to_make=facts.to_make,
                count=facts.count,
            )
        )
    return tuple(told)


@dataclass(frozen=True)
class TakenFacts:
    """A spread that a study took from a practice run; ``instead`` of a shipped guess."""

    label: str
    unit: str
    ratio: bool
    item: str
    items: float
    interval: Ends
    made: int
    instead: bool = False
    guessed: tuple[str, ...] = ()  # groups for which the guess stays


@dataclass(frozen=True)
class SpareFacts:
    """How many to make so that as many work as were ``planned``, by what failed of ``made``.

    ``more`` None: no number is enough. ``whole``: in all, in whole copies of the recipes.
    ``limit``: most that can be made. ``sure``: how many of ``planned`` work very likely.
    """

    item: str
    planned: int
    made: int
    failed: int
    share: tuple[float, float]
    more: int | None
    whole: int | None
    limit: int | None
    sure: int
    folder: str


def taken_sentence(facts: TakenFacts) -> str:
    """Return the spread that a study took over, and how well it is known.

    Examples
    --------
    >>> taken_sentence(TakenFacts("power", "mW", True, "cell", 0.21, (0.11, 2.2),
    ...                           4)).replace("\xa0", " ")
    'In power, cells built alike differ by about 21 % (4 were made; the data fit 11 to 220 %).'
    """
    scale, unit = (100.0, "%") if facts.ratio else (1.0, facts.unit)
    low, high = facts.interval
    size = with_unit(significant(scale * facts.items, 2), unit)
    fit = ""
    if low is not None and high is not None and low > 0:
        ends = (scale * low, scale * high)
        fit = say(
            "; the data fit {ends}",
            ends=ends_text(ends, unit, decimals_of(scale * low, 2)),
        )
    elif high is not None:
        fit = say(
            "; the data fit anything up to {high}",
            high=with_unit(significant(scale * high, 2), unit),
        )
    guess = say(" This takes the place of the guess in study.toml.") if facts.instead else ""
    if facts.guessed:
        groups = listing([plural(group) for group in facts.guessed])
        guess += say(
            " It says nothing sure of how {groups} differ: there the guess stays.", groups=groups
        )
    return say(
        "In {label}, {items} built alike differ by about {size} ({made} were made{fit}).{guess}",
        label=facts.label,
        items=plural(facts.item),
        size=size,
        made=facts.made,
        fit=fit,
        guess=guess,
    )


def spare_sentences(facts: SpareFacts) -> tuple[str, ...]:
    """Return how many more to make in case some fail.

    Examples
    --------
    >>> for s in spare_sentences(SpareFacts("cell", 12, 4, 1, (0.006, 0.806), 8, 20, 24, 6, "s")):
    ...     print(s.replace("\xa0", " "))
    1 of 4 cells failed in it (the share that fails may be 0.6 % to 81 %).
    Make 8 more in case some fail: if as many fail again, at least 12 of 20 very likely work; of 12
    you can only count on 6. To plan for it: trials plan s --items 20
    """
    items, (low, high) = plural(facts.item), facts.share
    if not facts.failed:
        return (
            say(
                "None of {made} {items} failed in it, so no spare ones are reckoned with; but "
                "from so few, the share that fails may still be anything up to {high}.",
                made=facts.made,
                items=items,
                high=_share(high),
            ),
        )
    if facts.more is None or facts.whole is None:
        return (
            say(
                "All {n_items} failed in it. Find out why before you plan a study.",
                n_items=count(facts.made, facts.item),
            ),
        )
    start = say(
        "{failed} of {n_items} failed in it (the share that fails may be {low} to {high}).",
        failed=facts.failed,
        n_items=count(facts.made, facts.item),
        low=_share(low),
        high=_share(high),
    )
    told = say(
        "Make {more} more in case some fail: if as many fail again, at least {planned} of "
        "{whole} very likely work; of {planned} you can only count on {sure}.",
        more=facts.whole - facts.planned,
        planned=facts.planned,
        whole=facts.whole,
        sure=facts.sure,
    )
    if facts.limit is not None and facts.whole > facts.limit:
        told += say(
            " But study.toml says that at most {limit} can be made: raise items under "
            "[limits], or plan with fewer that work.",
            limit=facts.limit,
        )
    else:
        told += say(
            " To plan for it: trials plan {folder} --items {whole}",
            folder=facts.folder,
            whole=facts.whole,
        )
    return (start, told)


def nothing_taken(folder: str) -> str:
    """Return that a practice run is named in vain."""
    return say(
        "Nothing is taken from the practice run in {folder}: every response has a [spread] of its "
        "own. Delete the one whose place it shall take.",
        folder=folder,
    )


WHERE_TO_PASTE = marked(
    "Or write these lines into study.toml of your real study, in place of the ones that begin so. "
    "Then 'trials check' tells what it can show."
)

WHERE_THE_LINE = marked(
    "Take it over: write this line into study.toml of your real study, at the top, above the first "
    "heading in square brackets (its folder beside this one)."
)

METHOD = marked(
    "Spread between {items}: the standard deviation of their values within what the groups have "
    "in common, less what averaged readings add to it, with the modified large-sample interval of "
    "a difference of two mean squares (Burdick and Graybill 1992), which without repeated "
    "readings is that of a normal sample's variance (chi-squared). Spread of readings: pooled "
    "within {items}; their share of the variance has an interval by F. On the ratio scale both "
    "are coefficients of variation. Share that fails: exact interval (Clopper and Pearson). "
    "{makers}Number of each version: two versions, an F test at the 5 % level that finds the "
    "difference in 80 % of studies, each {item} a repeat of its own; the band goes with the "
    "interval of the standard deviation. Number to make: enough work with a chance of 95 % "
    "(binomial), at the share that failed here."
)

METHOD_MAKERS = marked(
    "Makers: largest difference, with a simultaneous interval (Tukey and Kramer). "
)

OPEN = marked("{questions} about the data still open (see the next page): the answer may change.")

NO_SPREAD = marked(
    "The spread can't be told yet: it takes at least two {items} of one maker that gave a value, "
    "and values that differ."
)

NO_NEEDED = marked(
    "Write 'worthwhile = ...' under the response in study.toml of this practice run, and this page "
    "tells how many of each version show it."
)

TELLS_LATER = marked(
    "Nothing is compared here. Once the {items} are measured, 'trials report' tells how different "
    "things built alike come out, and how many of each version a real study needs."
)
