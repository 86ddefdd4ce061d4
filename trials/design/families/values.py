"""What a plan is called, and what it gives up."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from trials.words.families import FAMILY_WORDS, FamilyFacts, textbook_name

if TYPE_CHECKING:
    from trials.design.factorials import Codes

Arrangement = Literal[
    "completely_randomised",
    "randomised_blocks",
    "latin_square",
    "incomplete_blocks",
    "confounded",
    "split_plot",
    "criss_cross",
    "searched",
]
Treatments = Literal[
    "none", "one_factor", "with_control", "full_factorial", "fractional", "plackett_burman",
    "searched",
]  # fmt: skip
Terms = tuple[str, ...]


@dataclass(frozen=True)
class Recipes:
    """Which recipes are made: the kind of set, and what of it can't be told apart.

    ``mixed``: sets of factors and pairs of factors that can't be told from each other. ``facts``:
    what the kind's textbook name needs, such as ``resolution``.
    """

    kind: Treatments
    gives_up: Terms = ()
    partly: Terms = ()
    mixed: tuple[Terms, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Family:
    """What kind of plan this is.

    ``arrangement`` is how recipes lie over the groups, ``treatments`` which recipes are made.
    ``gives_up``: terms that can't be told at all, or not from something else; ``partly``: terms
    that lose a part of their information to groups, or are mixed up in part. ``mixed``: sets of
    terms that can't be told from each other. ``groups``: the groups the arrangement rests on.
    ``efficiency``: the smallest share of information on a version's comparison that stays within
    groups, where it is below 1. ``incomplete``: some larger unit lacks some versions.
    """

    arrangement: Arrangement
    treatments: Treatments
    gives_up: Terms = ()
    partly: Terms = ()
    mixed: tuple[Terms, ...] = ()
    groups: tuple[str, ...] = ()
    efficiency: float | None = None
    incomplete: bool = False
    facts: tuple[tuple[str, str], ...] = ()

    @property
    def name(self) -> str:
        """The one code that says most: a key of ``words.families.FAMILY_WORDS``."""
        layout, made = self.arrangement, self.treatments
        sized = layout in ("split_plot", "criss_cross")
        if not sized and "searched" in (layout, made):
            return "searched"
        if sized or layout not in ("completely_randomised", "randomised_blocks"):
            return layout
        if made in ("fractional", "plackett_burman", "with_control"):
            return made
        if layout == "completely_randomised":
            return {"full_factorial": made, "none": "practice_run"}.get(made, layout)
        return layout

    @property
    def textbook(self) -> str:
        """The textbook's name, for the list of options and the page on methods."""
        return textbook_name(
            FamilyFacts(self.arrangement, self.treatments, self.groups, dict(self.facts))
        )

    @property
    def plain(self) -> str:
        """One sentence for a student; it has no textbook name in it."""
        return FAMILY_WORDS[self.name].plain

    @property
    def notes(self) -> Terms:
        """Sentences for a student on what it gives up, in the names of the factors."""
        from trials.words.families import loss_sentences

        return loss_sentences(self.gives_up, self.partly, self.mixed, incomplete=self.incomplete)


@dataclass(frozen=True)
class Offer:
    """A textbook family that fits.

    ``runs``: items it takes in all; ``copies`` of its list of recipes; ``spare``: items left over
    (below 0: so many are missing). ``group``: the group used as blocks. ``recipes``: level codes
    of one copy, shape (runs of a copy, factors), in the order of ``levels``; ``block``: the block
    of each of its runs, where it has blocks. ``unclear``: pairs that were wanted and are given up.
    """

    family: Family
    runs: int
    copies: int
    spare: int
    group: str | None = None
    blocks: int | None = None
    unclear: Terms = ()
    recipes: Codes | None = field(default=None, compare=False, repr=False)
    block: Codes | None = field(default=None, compare=False, repr=False)
