"""Which picture stands beside a step of the making, by the plain words that name it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

from trials.words.language import ENGLISH, SPANISH, language

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
    (r"ruler|tape measure|cal(?:l)?iper", "ruler"),
    (r"thermometer", "thermometer"),
    (r"\w*meter|multimeter|pen\b|probe|sensor", "meter"),
    (r"scales?|balance", "scales"),
    (r"lamp|light", "lamp"),
    (r"timer|clock|watch", "clock"),
    (r"oven|furnace|hot ?plate", "oven"),
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
_MEASURES: Final = r"measur|read|test|count"

_DONE_ES: Final = (
    (r"lav(?!anda)|enjuag|limpi", "wash"),
    (r"lanz|arroj|vuel[ae]", "throw"),
    (r"cort(?:a|ar|e|ad[oa]s?)\b|recort", "scissors"),
    (r"dobla|doblez|pleg|plieg", "fold"),
    (r"unt[ae]|exti[eé]nd|pint[ae]|pincel|cepill|recubr", "brush"),
    (r"quem|a la llama|soplete", "flame"),
    (r"horne|cuec|coc(?:e|er|ción|id[oa]s?)\b|cali[eé]nt|calent|tost|tuest|sinteriz", "oven"),
    (r"remoj|sum[eé]r[gj]|bañ|empap", "dish"),
    (r"infusi|infund", "cup"),
    (r"viert|verte|llen[ae]", "kettle"),
    (r"remov|rem[uú]ev|revuelv|mezcl|m[eé]zcl|agit|disuelv|disolv", "beaker"),
    (r"filtr|cuel[ae]|colar\b|tami", "funnel"),
    (r"got(?:a|as|ea|ear)\b", "dropper"),
    (r"pes(?:a|ar|e)\b|p[eé]sal", "scales"),
    (r"cierr|cerrar|un(?:e|ir)\b|junt[ae]|mont[ae]|arm[ae]r?\b|peg[ae]|apil|prens|sujet", "clip"),
    (r"siembr|sembr|plant[ae]|cultiv|crec|semill|germin", "sprout"),
    (r"rieg|regar|aliment|abon|agua", "jug"),
    (r"estante|coloc|pon\b|poner|guard|almacen", "shelf"),
    (r"esper|repos|s[eé]c|enfr[ií]|descans", "clock"),
    (r"etiquet|rotul|marc[ae]|escrib|dibuj|anot", "pencil"),
)
_USED_ES: Final = (
    (r"regla|cinta métrica|metro\b|calibrador|pie de rey", "ruler"),
    (r"termómetro", "thermometer"),
    (r"cronómetro|reloj|temporizador", "clock"),
    (r"\w+metro\b|medidor|sonda|sensor", "meter"),
    (r"báscula|balanza", "scales"),
    (r"lámpara|luz|foco|bombilla|linterna", "lamp"),
    (r"horno|mufla|placa calefactora|parrilla", "oven"),
    (r"mechero|quemador|vela", "flame"),
    (r"hervidor|tetera", "kettle"),
    (r"gotero|cuentagotas|pipeta|jering", "dropper"),
    (r"tazas?\b", "cup"),
    (r"plato|cuenco|tazón|bandeja|charola", "dish"),
    (r"vaso|frasco|tarro|varilla", "beaker"),
    (r"pinza|clip|cinta", "clip"),
    (r"tijera|cuchill|cúter", "scissors"),
    (r"pincel|brocha|cepillo", "brush"),
    (r"fregadero|grifo|lavabo", "wash"),
    (r"l[aá]pi[cz]|marcador|rotulador|plumón", "pencil"),
)
_MEASURES_ES: Final = r"m[ií]d[ae]|medi|lee|prueb|cuent|cont(?:ar|eo)"

_Words = Sequence[tuple[str, str]]
_BY_LANGUAGE: Final[Mapping[str, tuple[_Words, _Words, str]]] = MappingProxyType(
    {ENGLISH: (_DONE, _USED, _MEASURES), SPANISH: (_DONE_ES, _USED_ES, _MEASURES_ES)}
)


def picture_of(name: str, label: str, equipment: Sequence[str]) -> str:
    """Return the name of the picture for a step, whose words are of the language written now.

    Examples
    --------
    >>> picture_of("clean", "Wash the glass", ["sink"]), picture_of("measure", "", ["ruler"])
    ('wash', 'ruler')
    >>> picture_of("throw", "Throw and measure", ["tape measure"]), picture_of("gather", "", [])
    ('throw', 'hand')
    """
    done_words, used_words, measuring = _BY_LANGUAGE[language()]
    done = _first(done_words, f"{label} {name}")
    used = next((found for one in equipment if (found := _first(used_words, one))), "")
    measures = _stands(measuring, f"{label} {name}")
    if done and not (measures and used and done != "throw"):
        return done
    return used or ("meter" if measures else ANY)


def _first(table: _Words, text: str) -> str:
    return next((found for words, found in table if _stands(words, text)), "")


def _stands(words: str, text: str) -> bool:
    """Return whether a word of ``text`` begins with one of these."""
    return re.search(rf"\b(?:{words})", text, re.IGNORECASE) is not None
