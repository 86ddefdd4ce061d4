"""The field's words with a plain gloss each; the report prints those that it uses.

A gloss may speak of the study's own things: ``{item}`` and ``{items}`` stand for what is made.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from trials.words.language import marked, say
from trials.words.numbers import plural


@dataclass(frozen=True)
class Term:
    """One word, what it means, and how to find it in a text.

    ``technical`` words belong to the part for judges and teachers only.
    """

    word: str
    gloss: str
    pattern: str
    technical: bool = False


GLOSSARY: tuple[Term, ...] = (
    Term(
        "average",
        marked(
            "The middle of what all {items} of one version gave. Each version of the other "
            "variables "
            "counts the same."
        ),
        r"averages?",
    ),
    Term(
        marked("by chance"),
        marked("Drawn like lots, so that no version gets the better {items}, people or days."),
        marked(r"by chance"),
    ),
    Term(
        marked("check code"),
        marked(
            "A short code worked out from a file. If anything in the file changes, the code "
            "changes."
        ),
        marked(r"check codes?"),
    ),
    Term(
        marked("depends on each other"),
        marked("How much one variable matters is different for different versions of another."),
        marked(r"depends? on each other|depends on"),
    ),
    Term(
        "failed",
        marked("The {item} was made but does not work, by a rule set beforehand."),
        r"failed",
    ),
    Term(
        "lost",
        marked(
            "The {item} broke or was never measured, for a reason that has nothing to do "
            "with how it "
            "was made."
        ),
        r"lost",
    ),
    Term(
        marked("made no practical difference"),
        marked("We can be quite sure that any difference is too small to care about."),
        marked(r"no practical difference"),
    ),
    Term(
        "mattered",
        marked("We can be quite sure that the difference is big enough to care about."),
        r"mattered",
    ),
    Term(
        marked("not settled"),
        marked(
            "The data don't show yet whether the difference is big enough to care about. "
            "There may be "
            "a difference, even a clear one: it does not mean 'no difference'."
        ),
        marked(r"not settled"),
    ),
    Term(
        marked("range of doubt"),
        marked(
            "The values that the data can't rule out; those in the middle fit best. The "
            "range is made "
            "so that in about 19 of 20 studies like this one it holds the true value."
        ),
        marked(r"ranges? of doubt|fits? the data|data fit"),
    ),
    Term(
        "reading",
        marked(
            "One look at the meter. Several readings of one {item} are averaged; they never "
            "count as "
            "several {items}."
        ),
        r"readings?",
    ),
    Term(
        marked("share of variation"),
        marked(
            "How much of all the ups and downs between {items} goes with one variable, for the "
            "versions you tried. Other versions would give another share."
        ),
        marked(r"shares? of variation"),
    ),
    Term("variable", marked("A thing you change on purpose, to see what it does."), r"variables?"),
    Term(
        "version", marked("One of the values or kinds of a variable that you tried."), r"versions?"
    ),
    Term(
        marked("worth caring about"),
        marked(
            "The smallest difference that would change what you would do. It was set before "
            "anything "
            "was made."
        ),
        marked(r"care about|caring about"),
    ),
    Term(
        marked("adjusted for many comparisons"),
        marked(
            "Comparing many pairs gives chance more goes at fooling you; the ranges are "
            "made wider to "
            "make up for it (Tukey-Kramer for all pairs, Dunnett against a control)."
        ),
        r"tukey|dunnett|adjusted",
        technical=True,
    ),
    Term(
        marked("degrees of freedom (df)"),
        marked("How many independent pieces of information an estimate of spread rests on."),
        marked(r"degrees of freedom|\bdf\b"),
        technical=True,
    ),
    Term(
        "F",
        marked(
            "The spread between versions over the spread that chance alone gives, each per "
            "degree of "
            "freedom."
        ),
        r"\bF\b",
        technical=True,
    ),
    Term(
        marked("geometric mean"),
        marked(
            "The kind of average that fits comparing by 'times as much': twice as much and half as "
            "much cancel out."
        ),
        marked(r"geometric means?"),
    ),
    Term(
        marked("Hedges' g"),
        marked(
            "A difference counted in standard deviations of single items, corrected for few items."
        ),
        r"hedges",
        technical=True,
    ),
    Term(
        "Kenward-Roger",
        marked(
            "A small-sample correction of tests and intervals in models with several sources of "
            "spread (Kenward and Roger 1997)."
        ),
        r"kenward-roger",
        technical=True,
    ),
    Term(
        "p",
        marked(
            "If the variable did nothing: the chance of a result at least as far out as this one."
        ),
        r"\bp\b",
        technical=True,
    ),
    Term(
        "REML",
        marked(
            "Restricted maximum likelihood: estimates the spread of each source from what is left "
            "over once the versions are fitted."
        ),
        r"\breml\b",
        technical=True,
    ),
    Term(
        "residual",
        marked("What was measured minus what the fitted model says."),
        r"residuals?",
        technical=True,
    ),
    Term(
        marked("standard error (se)"),
        marked(
            "The standard deviation that an estimate would have over many studies like this one."
        ),
        marked(r"standard errors?|\bse\b"),
        technical=True,
    ),
    Term(
        "stratum",
        marked(
            "One level of the unit structure, such as firings within sessions; a variable "
            "is tested "
            "against the spread of the units that it was applied to."
        ),
        r"stratum|strata",
        technical=True,
    ),
    Term(
        marked("variance component"),
        marked("The variance that one grouping of the items adds."),
        marked(r"variance components?"),
        technical=True,
    ),
)


def terms_in(
    texts: Iterable[str], item: str, *, technical: bool, here: Mapping[str, str] | None = None
) -> tuple[tuple[str, str], ...]:
    """Return the terms that occur in ``texts`` with their gloss, in alphabetical order.

    ``here`` says of a word what it is in this study, by the study's own numbers.

    Examples
    --------
    >>> terms_in(["Two readings were lost."], "cell", technical=False)[0]
    ('lost', 'The cell broke or was never measured, for a reason that has nothing to do with how it
    was made.')
    >>> terms_in(["Two were lost."], "cell", technical=False, here={"lost": "2 cells"})[0][1][-14:]
    'Here: 2 cells.'
    """
    text = "\n".join(texts)
    own = here or {}
    return tuple(
        (
            term.word,
            term.gloss.format(item=item, items=plural(item))
            + (say(" Here: {own}.", own=own[term.word]) if term.word in own else ""),
        )
        for term in sorted(GLOSSARY, key=lambda t: t.word.casefold())
        if term.technical == technical and re.search(_whole(term.pattern), text, re.IGNORECASE)
    )


def _whole(pattern: str) -> str:
    return rf"(?<!\w)(?:{pattern})(?!\w)"
