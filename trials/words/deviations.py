"""Words in notes that tell of something done otherwise than planned, in three languages.

Notes are compared in small letters, without accents and with umlauts written ae, oe, ue. A word of
denial shortly before a match ("did not leak", "nichts verschüttet", "pas de fuite") takes it back.
The lists are common practice, no source: what students write, as far as we know.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

_UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "æ": "ae", "œ": "oe",
                          "’": "'", "`": "'"})  # fmt: skip
_DENIED = re.compile(
    r"(?:\b(?:not|no|never|without|nothing|none|nicht|nichts|kein|keine|keinen|ohne|nie|pas|sans|"
    r"jamais|aucun|aucune|rien)\b|n't\b)(?:\W+\w+){0,2}\W*\Z"
)


@dataclass(frozen=True)
class Deviation:
    """One kind of thing done otherwise.

    ``broke``: it happened to the item and may have spoiled it. Else it was made otherwise.
    """

    kind: str
    broke: bool
    english: str
    german: str
    french: str


DEVIATIONS = (
    Deviation(
        "longer or shorter", False,
        r"(?:much |far |a bit |\d+ ?min(?:utes?)? )?(?:too long|too short|longer|shorter)|"
        r"overnight|"
        r"\d+ ?min(?:utes?)? (?:too much|more|less)|left in|over-?soaked|over-?heated|over-?baked",
        r"zu (?:lange?|kurz)|(?:laenger|kuerzer)(?: als)?|ueber nacht",
        r"trop longtemps|trop court|plus (?:longtemps|long|longue|court|courte)|toute la nuit",
    ),
    Deviation(
        "again", False,
        r"(?:heated|fired|baked|soaked|coated|dyed|rinsed|washed|made|closed|stained|clipped|built)"
        r" (?:it )?(?:again|twice|two times|2x|a second time)|re-?(?:heated|fired|baked|soaked|"
        r"coated|dyed|made|closed|built|clipped|opened)|second (?:coat|heating|firing|soak)",
        r"(?:noch ?mals?|noch einmal|erneut|zweimal|2x|wieder) (?:\w+ )?(?:erhitzt|gebrannt|"
        r"gefaerbt|"
        r"getraenkt|beschichtet|gebacken|gespuelt|gebaut|geschlossen|geoeffnet)",
        r"(?:re)?(?:chauffee?|cuite?|trempee?|enduite?|coloree?|rincee?|fermee?)s? (?:encore|"
        r"a nouveau|"
        r"deux fois|2 fois|une seconde fois)|rechauffee?|recuite?|refaite?",
    ),
    Deviation(
        "other material", False,
        r"(?:different|wrong|another|other|old|new) (?:dye|paste|glass|slide|electrolyte|bottle|"
        r"batch|"
        r"temperature|heat|oven|burner|dish|lamp|meter|resistor|load|mask|recipe|pack)|used up|"
        r"ran out|instead of|swapped|mixed up",
        r"(?:andere[rsnm]?|falsche[rsnm]?|alte[rsnm]?|neue[rsnm]?) (?:farbstoff|farbe|paste|glas|"
        r"elektrolyt|flasche|charge|temperatur|ofen|brenner|schale|lampe|messgeraet|widerstand|"
        r"maske)|"
        r"statt(?:dessen)?|anstatt|anstelle|vertauscht|verwechselt|ausgegangen",
        r"(?:autre|mauvais|mauvaise|vieux|vieille|nouveau|nouvelle) (?:colorant|teinture|pate|"
        r"verre|"
        r"electrolyte|bouteille|lot|temperature|four|bruleur|coupelle|lampe|appareil|resistance|"
        r"masque)|"
        r"au lieu d|a la place|melange[er]?s?|confondue?s?|interverti\w*|il n'y en avait plus",
    ),
    Deviation(
        "forgotten", False,
        r"forg[oe]t(?:ten)?|skipped|left out|missed (?:out|the|a)|by mistake|by accident|"
        r"accidentally",
        r"vergessen|ausgelassen|weggelassen|uebersprungen|aus versehen|versehentlich|irrtuemlich",
        r"oublie\w*|saute (?:une|l)|par erreur|par accident|accidentellement",
    ),
    Deviation(
        "refilled", False,
        r"re-?filled|topped up|more (?:electrolyte|dye|paste|water)|second drop|another drop|"
        r"two drops|"
        r"added (?:more|another|a drop)",
        r"nach ?gefuellt|aufgefuellt|mehr (?:elektrolyt|farbe|paste|wasser)|"
        r"(?:zweiter|noch ein|zwei) tropfen",
        r"(?:re)?remplie?s?|rajoute\w*|plus d'electrolyte|encore une goutte|(?:deux|"
        r"deuxieme) gouttes?",
    ),
    Deviation(
        "leaked or spilled", True,
        r"leak(?:s|ed|ing|y)?|spill(?:s|ed|ing)?|spilt|ran (?:out|over)|dripp(?:ed|ing)|"
        r"knocked over|"
        r"overflow(?:ed)?",
        r"ausgelaufen|laeuft aus|lief aus|undicht|verschuettet|uebergelaufen|getropft|umgekippt|"
        r"umgestossen|leck(?:t|te)?",
        r"fuites?|fui[te]?|coule[er]?s?|renverse\w*|deborde\w*|goutte\b",
    ),
    Deviation(
        "dropped", True,
        r"dropped (?:it|on|the cell|the slide|once|twice)|was dropped|dropped\Z|fell(?: down|"
        r" off)?|"
        r"fallen",
        r"(?:herunter|runter|hinunter|hin)?gefallen|fallen ?gelassen",
        r"tombe\w*|lachee?s?|fait tomber",
    ),
    Deviation(
        "dried", True,
        r"dried (?:out|up|in)|(?:is|was|had|has|almost|nearly|completely|half) (?:dry|dried)|"
        r"(?:electrolyte|drop|cell) (?:dry|dried)|dried\Z",
        r"(?:aus|ein|ver)getrocknet|zu trocken|(?:war|ist|fast) trocken",
        r"(?:des|as)sechee?s?|seche\w*|trop sec|trop seche",
    ),
    Deviation(
        "cracked or scratched", True,
        r"crack(?:s|ed)?|chipp?(?:ed)?|scratch(?:es|ed)?|peel(?:s|ed|ing)?(?: off)?|flak(?:ed|ing)|"
        r"split|burnt|burned|smudged|touched|came (?:off|apart|loose)|hole in",
        r"riss(?:e|ig)?|gerissen|gesprungen|sprung|abgeplatzt|zerkratzt|kratzer|abgeblaettert|"
        r"abgeloest|verbrannt|angebrannt|verschmiert|beruehrt|loch in",
        r"fissure\w*|fele[er]?s?|craquele\w*|ebrech\w*|raye\w*|rayures?|decolle\w*|brule\w*|"
        r"etale\w*|"
        r"touchee?|trou dans",
    ),
)  # fmt: skip

_FORMS = tuple(
    (one, re.compile(rf"(?<!\w)(?:{one.english}|{one.german}|{one.french})(?!\w)"))
    for one in DEVIATIONS
)


def plain(note: str) -> str:
    """Return a note in small letters without accents.

    Examples
    --------
    >>> plain("Verschüttet, séchée")
    'verschuettet, sechee'
    """
    text = unicodedata.normalize("NFC", note).casefold().translate(_UMLAUTS)
    return "".join(c for c in unicodedata.normalize("NFD", text) if not unicodedata.combining(c))


def deviations_in(note: str) -> tuple[Deviation, ...]:
    """Return what a note tells of things done otherwise, in the order of the list.

    Examples
    --------
    >>> [one.kind for one in deviations_in("heated again, then it leaked")]
    ['again', 'leaked or spilled']
    >>> deviations_in("did not leak"), deviations_in("read by B")
    ((), ())
    """
    text = plain(note)
    return tuple(
        one
        for one, form in _FORMS
        if any(not _DENIED.search(text[: match.start()]) for match in form.finditer(text))
    )
