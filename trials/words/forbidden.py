"""Words that may not stand where a student reads, with what to say instead."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from trials.words.language import ENGLISH, SPANISH, language


@dataclass(frozen=True)
class Forbidden:
    """A word (regular expression, whole words, any case) and what to say instead."""

    pattern: str
    instead: str


FORBIDDEN: tuple[Forbidden, ...] = (
    Forbidden(r"strat(?:um|a)", "the part of the plan that tests it"),
    Forbidden(r"digests?", "check code"),
    Forbidden(r"efficiency factors?", "how much of the information the plan keeps"),
    Forbidden(r"quer(?:y|ies)", "question to settle"),
    Forbidden(r"skeletons?", "what this plan can tell"),
    Forbidden(r"sealed", "locked, so nobody can change the plan after seeing results"),
    Forbidden(r"(?:hetero|homo)sc?k?edastic(?:ity)?", "like versions spread more than others"),
    Forbidden(r"null hypothes[ie]s", "if nothing mattered"),
    Forbidden(r"alternative hypothes[ie]s", "if it mattered"),
    Forbidden(r"(?:in|non-)?significan(?:t|ce|tly)", "clear of what chance does"),
    Forbidden(r"prove[sdn]?", "shows"),
    Forbidden(r"p-values?|p\s*[<>=]", "would turn up in about 3 of 100 repeats"),
    Forbidden(r"degrees? of freedom|df", "how much information there is"),
    Forbidden(r"REML|restricted maximum likelihood", "the fitted model"),
    Forbidden(r"kenward(?:-roger)?|satterthwaite", "a correction for few items"),
    Forbidden(r"ANOVA|analysis of variance|F[- ]tests?|t[- ]tests?", "the test"),
    Forbidden(r"tukey(?:-kramer)?|dunnett|bonferroni|holm", "adjusted for many comparisons"),
    Forbidden(r"variance(?: components?)?", "how much like items differ"),
    Forbidden(r"standard (?:errors?|deviations?)", "range of doubt, or typical spread"),
    Forbidden(r"confidence intervals?", "range of doubt"),
    Forbidden(r"orthogonal(?:ity)?", "balanced"),
    Forbidden(r"covariates?", "something measured beside it"),
    Forbidden(r"confound(?:ed|ing|s)?|alias(?:ed|es|ing)?", "mixed up with"),
    Forbidden(r"(?:pseudo-?)?replicat(?:es?|ed|ions?)", "repeats"),
    Forbidden(r"residuals?", "what is left over"),
    Forbidden(r"coefficients?|estimators?|parameters?", "the number itself, by its name"),
    Forbidden(r"multiplicity|simultaneous", "for all pairs at once"),
    Forbidden(r"estimable", "can be worked out"),
    Forbidden(r"probabilit(?:y|ies)", "in about 7 of 10 repeats"),
    Forbidden(r"no effect", "not settled, or made no practical difference"),
    Forbidden(r"main effects?|interactions?", "how much one variable depends on another"),
    Forbidden(r"factors?", "variable"),
    Forbidden(r"blind(?:ed|ing)?", "without knowing which version it is"),
    Forbidden(r"outliers?", "a value far from the others"),
    Forbidden(r"regression|mixed models?|fixed effects?|random effects?", "the fitted model"),
    Forbidden(r"eta(?:-| )squared|omega(?:-| )squared|hedges", "share of variation"),
)

# Words that claim a cause. They may stand only where chance gave out the versions.
CAUSAL = re.compile(
    r"(?<!\w)(?:caus(?:e|ed|es|ing)|because of|due to|leads? to|led to|(?:an?|the) effect of|"
    r"mattered|made (?:a|no practical|little) difference|improves?|improved|raises?|raised|"
    r"increases?|increased|reduces?|reduced|changes? the|changed the)(?!\w)",
    re.IGNORECASE,
)

FORBIDDEN_ES: tuple[Forbidden, ...] = (
    Forbidden(r"esqueletos?", "lo que este plan puede decir"),
    Forbidden(r"(?:hetero|homo)(?:s?c)edas\w+", "versiones iguales que se dispersan más que otras"),
    Forbidden(r"multiplicidad|simultáne[oa]s?", "para todos los pares a la vez"),
    Forbidden(r"estimables?", "se puede calcular"),
    Forbidden(r"(?:eta|omega)(?: al)? cuadrado|hedges", "parte de la variación"),
    Forbidden(r"estratos?", "la parte del plan que lo prueba"),
    Forbidden(r"hipótesis nulas?", "si nada importara"),
    Forbidden(r"hipótesis alternativas?", "si importara"),
    Forbidden(
        r"(?:in)?significativ(?:[oa]s?|amente)|significancia", "fuera de lo que hace el azar"
    ),
    Forbidden(
        r"(?:prueban?|probó|probaron|probamos|probado) que|pruebas? de que|demuestr\w+|demostr\w+",
        "muestra",
    ),
    Forbidden(r"p-valor(?:es)?|valor(?:es)? p|p\s*[<>=]", "saldría en unas 3 de 100 repeticiones"),
    Forbidden(r"grados? de libertad", "cuánta información hay"),
    Forbidden(r"REML|máxima verosimilitud(?: restringida)?", "el modelo ajustado"),
    Forbidden(r"kenward(?:-roger)?|satterthwaite", "una corrección para pocas piezas"),
    Forbidden(r"ANOVA|análisis de (?:la )?varianza|(?:prueba|test) [ft]", "la prueba"),
    Forbidden(
        r"tukey(?:-kramer)?|dunnett|bonferroni|holm", "ajustado por ser muchas comparaciones"
    ),
    Forbidden(r"varianzas?", "cuánto difieren piezas iguales"),
    Forbidden(
        r"error(?:es)? (?:estándar|típicos?)|desviaci(?:ón|ones) (?:estándar|típicas?)",
        "margen de duda, o dispersión típica",
    ),
    Forbidden(r"intervalos? de confianza", "margen de duda"),
    Forbidden(r"ortogonal(?:es|idad)?", "equilibrado"),
    Forbidden(r"covariables?", "algo que se midió además"),
    Forbidden(r"(?:seudo|pseudo)?r?r(?:é|e)plica(?:s|ci(?:ón|ones))?", "repeticiones"),
    Forbidden(r"residual(?:es)?", "lo que queda"),
    Forbidden(r"coeficientes?|estimador(?:es)?|parámetros?", "el propio número, por su nombre"),
    Forbidden(r"probabilidad(?:es)?", "en unas 7 de 10 repeticiones"),
    Forbidden(r"(?:sin|ningún) efecto", "sin decidir, o no hizo una diferencia práctica"),
    Forbidden(
        r"efectos? principal(?:es)?|interacci(?:ón|ones)", "cuánto depende una variable de otra"
    ),
    Forbidden(r"factor(?:es)?(?! de forma)", "variable"),  # that is a quantity of a cell
    Forbidden(r"a ciegas|cegad[oa]s?", "sin saber qué versión es"),
    Forbidden(r"atípic[oa]s?", "un valor lejos de los demás"),
    Forbidden(
        r"regresi(?:ón|ones)|modelos? mixtos?|efectos? (?:fij|aleatori)os?", "el modelo ajustado"
    ),
)

CAUSAL_ES = re.compile(
    r"(?<!\w)(?:caus(?:an?|ó|aron|ad[oa]s?|ando)|a causa del?|debido al?|por culpa de|gracias al?|"
    r"se deb(?:en?|ió|ieron) al?|provoc(?:an?|ó|aron|ad[oa]s?|ando)|h(?:ace|acen|izo|icieron) que|"
    r"llev(?:an?|ó|aron) a|(?:un|el) efecto del?|import(?:a|ó|aron)|"
    r"cambi(?:an?|ó|aron) (?:el|las?|los)|"
    r"hi(?:zo|cieron) (?:una diferencia|poca diferencia)|mejor(?:an?|ó|aron)|"
    r"aument(?:an?|ó|aron)|redu(?:cen?|jo|jeron)|disminuy(?:en?|ó|eron)|elev(?:an?|ó|aron))(?!\w)",
    re.IGNORECASE,
)

_LISTS: Final[Mapping[str, tuple[tuple[Forbidden, ...], re.Pattern[str]]]] = MappingProxyType(
    {ENGLISH: (FORBIDDEN, CAUSAL), SPANISH: (FORBIDDEN_ES, CAUSAL_ES)}
)


@dataclass(frozen=True)
class Found:
    """A forbidden word, where it stands, and what to say instead."""

    word: str
    around: str
    instead: str


def find_forbidden(text: str) -> tuple[Found, ...]:
    """Return every forbidden word in ``text``, of the language that is written now, in order.

    Examples
    --------
    >>> [(found.word, found.instead) for found in find_forbidden("This query was improved.")]
    [('query', 'question to settle')]
    """
    hits = [
        (match.start(), Found(match[0], _around(text, match), entry.instead))
        for entry in _LISTS[language()][0]
        for match in re.finditer(rf"(?<!\w)(?:{entry.pattern})(?!\w)", text, re.IGNORECASE)
    ]
    return tuple(found for _, found in sorted(hits, key=lambda hit: hit[0]))


def find_causal(text: str) -> tuple[str, ...]:
    """Return every word of ``text`` that claims a cause.

    Examples
    --------
    >>> find_causal("Team 3 went with more power, because of care.")
    ('because of',)
    """
    return tuple(_LISTS[language()][1].findall(text))


def _around(text: str, match: re.Match[str]) -> str:
    return text[max(match.start() - 30, 0) : match.end() + 30].replace("\n", " ")
