"""Which picture stands beside a step of the making, by the plain words that name it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from trials.words.language import marked

ANY: Final = "hand"  # beside a step whose words name nothing that can be drawn

# What is done, in the order in which it is looked for: the first word that fits decides.
_DONE: Final = (
    (r"wash|rins|clean", "wash"),
    (r"throw|launch|fly", "throw"),
    (r"cut(?:s|ting)?\b|trim", "scissors"),
    (r"fold", "fold"),
    (r"coat|spread|paint|brush|smear", "brush"),
    (r"burn|flame|torch", "flame"),
    (r"fir(?:e|es|ing)\b|bak(?:e|ing)|heat|roast|sinter|anneal", "oven"),
    (r"soak|dip|bath|immers", "dish"),
    (r"brew|steep", "cup"),
    (r"pour|fill", "kettle"),
    (r"stir|mix|shak|dissolv", "beaker"),
    (r"strain|filter|siev", "funnel"),
    (r"drip|drop", "dropper"),
    (r"weigh", "scales"),
    (r"clos|clip|clamp|join|assembl|glu|stack|press", "clip"),
    (r"sow|plant|grow|seed(?!l)", "sprout"),
    (r"feed|water", "jug"),
    (r"shelf|put|place|stor", "shelf"),
    (r"wait|rest\b|dry|dries|cool", "clock"),
    (r"label|mark|writ|draw", "pencil"),
)

# What is used: it decides for a step that measures, and where no other word did.
_USED: Final = (
    (marked(r"ruler|tape measure|cal(?:l)?iper"), "ruler"),
    (r"thermometer", "thermometer"),
    (r"\w*meter|multimeter|pen\b|probe|sensor", "meter"),
    (r"scales?|balance", "scales"),
    (r"lamp|light", "lamp"),
    (r"timer|clock|watch", "clock"),
    (marked(r"oven|furnace|hot ?plate"), "oven"),
    (r"burner|candle", "flame"),
    (r"kettle", "kettle"),
    (r"dropper|pipette|syringe", "dropper"),
    (r"cup|mug", "cup"),
    (r"dish|bowl|tray", "dish"),
    (r"beaker|jar|rod", "beaker"),
    (r"clip|clamp|tape", "clip"),
    (r"scissors|knife", "scissors"),
    (r"brush", "brush"),
    (r"sink|tap", "wash"),
    (r"pencil|marker", "pencil"),
)
_MEASURES: Final = re.compile(r"\b(?:measur|read|test|count)", re.IGNORECASE)


def picture_of(name: str, label: str, equipment: Sequence[str]) -> str:
    """Return the name of the picture for a step.

    Examples
    --------
    >>> picture_of("clean", "Wash the glass", ["sink"]), picture_of("measure", "", ["ruler"])
    ('wash', 'ruler')
    >>> picture_of("throw", "Throw and measure", ["tape measure"]), picture_of("gather", "", [])
    ('throw', 'hand')
    """
    done = _first(_DONE, f"{label} {name}")
    used = next((found for one in equipment if (found := _first(_USED, one))), "")
    measures = _MEASURES.search(f"{label} {name}") is not None
    if done and not (measures and used and done != "throw"):
        return done
    return used or ("meter" if measures else ANY)


def _first(table: Sequence[tuple[str, str]], text: str) -> str:
    return next(
        (found for word, found in table if re.search(rf"\b(?:{word})", text, re.IGNORECASE)), ""
    )
