"""The field's words with a plain gloss each; the report prints those that it uses.

A gloss may speak of the study's own things: ``{item}`` and ``{items}`` stand for what is made.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from trials.words.language import marked, marked_as, say, say_as
from trials.words.numbers import plural


@dataclass(frozen=True)
class Term:
    """One word, what it means, and how to find it in a text, each said in the language of the page.

    ``technical`` words belong to the part for judges and teachers only.
    """

    word: str
    gloss: str
    pattern: str
    technical: bool = False


GLOSSARY: tuple[Term, ...] = (
    Term(
        marked_as("glossary", "average"),
        marked(
            "The middle of what all {items} of one version gave. Each version of the other "
            "variables "
            "counts the same."
        ),
        marked_as("pattern", r"averages?"),
    ),
    Term(
        marked_as("glossary", "by chance"),
        marked("Drawn like lots, so that no version gets the better {items}, people or days."),
        marked_as("pattern", r"by chance"),
    ),
    Term(
        marked_as("glossary", "check code"),
        marked(
            "A short code worked out from a file. If anything in the file changes, the code "
            "changes."
        ),
        marked_as("pattern", r"check codes?"),
    ),
    Term(
        marked_as("glossary", "depends on each other"),
        marked("How much one variable matters is different for different versions of another."),
        marked_as("pattern", r"depends? on each other|depends on"),
    ),
    Term(
        marked_as("glossary", "failed"),
        marked("The {item} was made but does not work, by a rule set beforehand."),
        marked_as("pattern", r"failed"),
    ),
    Term(
        marked_as("glossary", "fitted model"),
        marked(
            "A formula worked out from all {items} at once, which also tells how far chance "
            "reaches."
        ),
        marked_as("pattern", r"fitted model"),
    ),
    Term(
        marked_as("glossary", "log scale"),
        marked("A scale on which equal steps multiply: from 1 to 10 is as far as from 10 to 100."),
        marked_as("pattern", r"log scale"),
    ),
    Term(
        marked_as("glossary", "lost"),
        marked(
            "The {item} broke or was never measured, for a reason that has nothing to do "
            "with how it "
            "was made."
        ),
        marked_as("pattern", r"lost"),
    ),
    Term(
        marked_as("glossary", "made no practical difference"),
        marked("We can be quite sure that any difference is too small to care about."),
        marked_as("pattern", r"no practical difference"),
    ),
    Term(
        marked_as("glossary", "mattered"),
        marked("We can be quite sure that the difference is big enough to care about."),
        marked_as("pattern", r"mattered"),
    ),
    Term(
        marked_as("glossary", "not settled"),
        marked(
            "The data don't show yet whether the difference is big enough to care about. "
            "There may be "
            "a difference, even a clear one: it does not mean 'no difference'."
        ),
        marked_as("pattern", r"not settled"),
    ),
    Term(
        marked_as("glossary", "open-circuit voltage"),
        marked("The voltage with nothing connected but the meter."),
        marked_as("pattern", r"open-circuit voltage"),
    ),
    Term(
        marked_as("glossary", "power at a fixed load"),
        marked("What one {item} delivers to a resistor that is the same for all."),
        marked_as("pattern", r"power (?:per area )?at a fixed load"),
    ),
    Term(
        marked_as("glossary", "range of doubt"),
        marked(
            "The values that the data can't rule out; those in the middle fit best. The "
            "range is made "
            "so that in about 19 of 20 studies like this one it holds the true value."
        ),
        marked_as("pattern", r"ranges? of doubt|fits? the data|data fit"),
    ),
    Term(
        marked_as("glossary", "reading"),
        marked(
            "One look at the meter. Several readings of one {item} are averaged; they never "
            "count as "
            "several {items}."
        ),
        marked_as("pattern", r"readings?"),
    ),
    Term(
        marked_as("glossary", "share of variation"),
        marked(
            "How much of all the ups and downs between {items} goes with one variable, for the "
            "versions you tried. Other versions would give another share."
        ),
        marked_as("pattern", r"shares? of variation"),
    ),
    Term(
        marked_as("glossary", "variable"),
        marked("A thing you change on purpose, to see what it does."),
        marked_as("pattern", r"variables?"),
    ),
    Term(
        marked_as("glossary", "verdict"),
        marked("The answer on a variable: mattered, made no practical difference, or not settled."),
        marked_as("pattern", r"verdicts?"),
    ),
    Term(
        marked_as("glossary", "version"),
        marked("One of the values or kinds of a variable that you tried."),
        marked_as("pattern", r"versions?"),
    ),
    Term(
        marked_as("glossary", "worth caring about"),
        marked(
            "The smallest difference that would change what you would do. It was set before "
            "anything "
            "was made."
        ),
        marked_as("pattern", r"care about|caring about"),
    ),
    Term(
        marked_as("glossary", "adjusted for many comparisons"),
        marked(
            "Comparing many pairs gives chance more goes at fooling you; the ranges are "
            "made wider to "
            "make up for it (Tukey-Kramer for all pairs, Dunnett against a control)."
        ),
        marked_as("pattern", r"tukey|dunnett|adjusted"),
        technical=True,
    ),
    Term(
        marked_as("glossary", "degrees of freedom (df)"),
        marked("How many independent pieces of information an estimate of spread rests on."),
        marked_as("pattern", r"degrees of freedom|\bdf\b"),
        technical=True,
    ),
    Term(
        marked_as("glossary", "F"),
        marked(
            "The spread between versions over the spread that chance alone gives, each per "
            "degree of "
            "freedom."
        ),
        marked_as("pattern", r"\bF\b"),
        technical=True,
    ),
    Term(
        marked_as("glossary", "geometric mean"),
        marked(
            "The kind of average that fits comparing by 'times as much': twice as much and half as "
            "much cancel out."
        ),
        marked_as("pattern", r"geometric means?"),
    ),
    Term(
        marked_as("glossary", "Hedges' g"),
        marked(
            "A difference counted in standard deviations of single items, corrected for few items."
        ),
        marked_as("pattern", r"hedges"),
        technical=True,
    ),
    Term(
        marked_as("glossary", "Kenward-Roger"),
        marked(
            "A small-sample correction of tests and intervals in models with several sources of "
            "spread (Kenward and Roger 1997)."
        ),
        marked_as("pattern", r"kenward-roger"),
        technical=True,
    ),
    Term(
        marked_as("glossary", "p"),
        marked(
            "If the variable did nothing: the chance of a result at least as far out as this one."
        ),
        marked_as("pattern", r"\bp\b"),
        technical=True,
    ),
    Term(
        marked_as("glossary", "REML"),
        marked(
            "Restricted maximum likelihood: estimates the spread of each source from what is left "
            "over once the versions are fitted."
        ),
        marked_as("pattern", r"\breml\b"),
        technical=True,
    ),
    Term(
        marked_as("glossary", "residual"),
        marked("What was measured minus what the fitted model says."),
        marked_as("pattern", r"residuals?"),
        technical=True,
    ),
    Term(
        marked_as("glossary", "standard error (se)"),
        marked(
            "The standard deviation that an estimate would have over many studies like this one."
        ),
        marked_as("pattern", r"standard errors?|\bse\b"),
        technical=True,
    ),
    Term(
        marked_as("glossary", "stratum"),
        marked(
            "One level of the unit structure, such as firings within sessions; a variable "
            "is tested "
            "against the spread of the units that it was applied to."
        ),
        marked_as("pattern", r"stratum|strata"),
        technical=True,
    ),
    Term(
        marked_as("glossary", "variance component"),
        marked("The variance that one grouping of the items adds."),
        marked_as("pattern", r"variance components?"),
        technical=True,
    ),
)


def terms_in(
    texts: Iterable[str], item: str, *, technical: bool, here: Mapping[str, str] | None = None
) -> tuple[tuple[str, str], ...]:
    """Return the terms that occur in ``texts`` with their gloss, in alphabetical order.

    ``here`` says of a word, as English has it, what it is in this study, by its own numbers.

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
    found = (
        (
            say_as("glossary", term.word),
            say(term.gloss, item=item, items=plural(item))
            + (say(" Here: {own}.", own=own[term.word]) if term.word in own else ""),
        )
        for term in GLOSSARY
        if term.technical == technical and _occurs(term, text)
    )
    return tuple(sorted(found, key=lambda entry: entry[0].casefold()))


def _occurs(term: Term, text: str) -> bool:
    pattern = say_as("pattern", term.pattern)
    return re.search(rf"(?<!\w)(?:{pattern})(?!\w)", text, re.IGNORECASE) is not None
