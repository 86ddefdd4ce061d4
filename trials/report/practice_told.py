"""What a practice run found, as sentences: the same on the page and on a terminal."""

from __future__ import annotations

from dataclasses import dataclass

from trials.analysis.findings import FoundSpread, MakerGap, Needed, PracticeFindings
from trials.words.language import say
from trials.words.numbers import plural
from trials.words.practice import (
    NO_NEEDED,
    NO_SPREAD,
    AlikeFacts,
    GapFacts,
    MeterFacts,
    NeededFacts,
    gap_sentence,
    meter_sentence,
    needed_sentences,
    spread_lines,
    spread_sentences,
    worked_sentence,
)


@dataclass(frozen=True)
class Names:
    """What people call the items, the response and the makers."""

    item: str
    response: str
    maker: str


@dataclass(frozen=True)
class Told:
    """One response of a practice run in sentences; ``lines`` are those for a study file."""

    worked: str
    different: tuple[str, ...]
    needed: tuple[str, ...]
    makers: tuple[str, ...]
    lines: tuple[str, ...]

    @property
    def sentences(self) -> tuple[str, ...]:
        """Every sentence, in the order of reading."""
        return (self.worked, *self.different, *self.needed, *self.makers)


def told(found: PracticeFindings, names: Names) -> Told:
    """Return what a practice run found of one response."""
    worked = worked_sentence(found.made, found.worked, found.failing_interval, names.item)
    makers = () if found.makers is None else (_makers(found, found.makers, names),)
    if found.spread is None:
        none = say(NO_SPREAD, items=plural(names.item))
        return Told(worked, (none,), (), makers, ())
    alike = _alike(found, found.spread, names)
    different = spread_sentences(alike)
    if found.meter_share is not None:
        meter = MeterFacts(names.item, found.meter_share, found.meter_interval)
        different = (*different, meter_sentence(meter))
    needed = (say(NO_NEEDED),) if found.needed is None else _needed(found, found.needed, names)
    return Told(worked, different, needed, makers, spread_lines(alike))


def _alike(found: PracticeFindings, spread: FoundSpread, names: Names) -> AlikeFacts:
    return AlikeFacts(
        response=found.response,
        label=names.response,
        unit=found.unit,
        ratio=found.scale == "ratio",
        item=names.item,
        items=spread.items,
        interval=spread.items_interval,
        readings=spread.readings,
        groups=spread.groups,
        df=spread.items_df,
    )


def _makers(found: PracticeFindings, gap: MakerGap, names: Names) -> str:
    ratio = gap.ratio is not None
    return gap_sentence(
        GapFacts(
            maker=names.maker or gap.group,
            a=gap.a,
            b=gap.b,
            item=names.item,
            size=gap.ratio if gap.ratio is not None else gap.difference or 0.0,
            interval=gap.interval,
            unit=found.unit,
            ratio=ratio,
        )
    )


def _needed(found: PracticeFindings, needed: Needed, names: Names) -> tuple[str, ...]:
    return needed_sentences(
        NeededFacts(
            item=names.item,
            difference=needed.difference,
            unit=found.unit,
            ratio=needed.compare == "ratio",
            count=needed.count,
            interval=needed.interval,
            to_make=needed.to_make,
        )
    )
