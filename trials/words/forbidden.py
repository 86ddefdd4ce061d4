"""Words that may not stand where a student reads, with what to say instead."""

from __future__ import annotations

import re
from dataclasses import dataclass


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


@dataclass(frozen=True)
class Found:
    """A forbidden word, where it stands, and what to say instead."""

    word: str
    around: str
    instead: str


def find_forbidden(text: str) -> tuple[Found, ...]:
    """Return every forbidden word in ``text``, in order.

    Examples
    --------
    >>> [(found.word, found.instead) for found in find_forbidden("This query was improved.")]
    [('query', 'question to settle')]
    """
    hits = [
        (match.start(), Found(match[0], _around(text, match), entry.instead))
        for entry in FORBIDDEN
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
    return tuple(CAUSAL.findall(text))


def _around(text: str, match: re.Match[str]) -> str:
    return text[max(match.start() - 30, 0) : match.end() + 30].replace("\n", " ")
