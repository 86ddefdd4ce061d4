"""What a paper on some kind of thing is usually asked to tell, by the way its values are read.

One table for each field of work, named by its reducers. Where the answer stands is found by what
the study gives (a setting, a raw column, a sentence of its makers), so nothing is ticked unseen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from trials.words.language import marked

NOT_TOLD: Final = marked("not told here")
TOLD: Final = "yes"
HERE: Final = marked("in this table")


@dataclass(frozen=True)
class Asked:
    """One thing to tell, and how it is found.

    Parameters
    ----------
    what : in words.
    setting : setting of the response that tells it; its value is shown.
    said : pattern that a sentence of the makers fits which tells it (things kept the same, and
        steps of measuring); the sentence is shown.
    column : raw column that tells it, reading by reading, in ``section``.
    section : key of the section that tells it, where no setting and no sentence does.
    """

    what: str
    setting: str = ""
    said: str = ""
    column: str = ""
    section: str = ""


@dataclass(frozen=True)
class Reporting:
    """What the papers of one field of work should tell, and who says so."""

    title: str
    source: str
    items: tuple[Asked, ...]


_COMMON = (
    Asked(marked("the area that counts"), setting="area_cm2"),
    Asked(marked("how that area is set apart (a mask)"), said=r"\b(mask|aperture)"),
    Asked(
        marked("where the light comes from"), said=r"\b(lamp|sun|simulator|leds?|halogen|window)\b"
    ),
    Asked(marked("how strong the light is"), setting="reference_light"),
    Asked(marked("the light at each reading"), column="light", section="readings"),
    Asked(
        marked("what the light is measured with"),
        said=marked(r"\b(light meter|lux ?meter|pyranometer|reference cell|photodiode)"),
    ),
)
_AFTER = (
    Asked(marked("how warm the cells are"), said=r"°C|\btemperature\b"),
    Asked(
        marked("how long after closing a cell is measured"),
        said=marked(r"\b(minutes?|min|hours?|days?) after\b"),
    ),
    Asked(marked("how many cells the numbers rest on"), section="answer"),
    Asked(marked("how far cells made alike differ"), section="tables"),
    Asked(marked("cells that failed, by a rule set beforehand"), section="method"),
    Asked(
        marked("how long a cell keeps, and under what conditions"),
        said=marked(r"\b(keeps?|lasts?|aged?|ageing|half-life|weeks? later|days? later)\b"),
    ),
)
_POINTS = (Asked(marked("which point of the curve is read: the load"), setting="load_ohm"),)
_SWEEP = (
    Asked(
        marked("which way the curve is swept"),
        said=marked(r"\b(both ways|up and down|from (short|open)|forwards?|backwards?|reverse)\b"),
    ),
    Asked(
        marked("how fast it is swept"),
        said=marked(r"\bseconds? (each|a point|per point|for each)|\bwait \w+ seconds"),
    ),
)

_TITLE: Final = marked("What a report on solar cells should tell")
_SOURCE: Final = marked(
    "After the Solar Cells Reporting Summary of the Nature Portfolio, told from memory and in our "
    "own words."
)

OF_REDUCER: Mapping[str, Reporting] = MappingProxyType(
    {
        "iv_point": Reporting(_TITLE, _SOURCE, (*_COMMON, *_POINTS, *_AFTER)),
        "iv_sweep": Reporting(_TITLE, _SOURCE, (*_COMMON, *_SWEEP, *_AFTER)),
    }
)

HOW = marked("What is 'not told here' is no fault of the comparison, but say it if you know it.")
