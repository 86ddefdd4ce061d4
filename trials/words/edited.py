"""What is said of a text that a person edited, where it says what the findings don't."""

from __future__ import annotations

from typing import Final

from trials.words.language import marked, say

CODES_NOTE: Final = marked("Codes of the words in braces, please leave this line:")

# Sizes written in words: they are results too.
_COUNTS: Final = (
    r"(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|fifteen|twenty|thirty|"
    r"forty|fifty|sixty|seventy|eighty|ninety|(?:a[\s-]+)?(?:hundred|thousand|dozen))"
)
_PARTS: Final = r"(?:hal(?:f|ves)|(?:third|quarter|fifth|sixth|seventh|eighth|ninth|tenth)s?)"
_THAN: Final = (
    r"(?:as|again|more|less|higher|lower|larger|smaller|bigger|greater|stronger|weaker|better|"
    r"worse|longer|shorter|faster|slower|brighter|dimmer)"
)
SIZE_WORDS: Final = (
    r"\b(?:twice|thrice|double[sd]?|doubling|(?:triple|treble|quadruple)[sd]?|halve[sd]?|per ?cent|"
    rf"{_COUNTS}[\s-]?fold|"
    rf"{_COUNTS}(?:[\s-]+and[\s-]+(?:a|one|two|three)[\s-]+{_PARTS})?[\s-]+times|"
    rf"{_COUNTS}[\s-]+point(?:[\s-]+(?:zero|{_COUNTS}))+|"
    rf"{_PARTS}[\s-]+{_THAN})\b"
)

# Words that may stand between a number and its noun: they make it no other number, as "failed",
# "fewer" or "better" would.
DESCRIBING: Final = (
    r"(?:small|little|tiny|large|big|thin|flat|round|square|simple|single|separate|different|own|"
    r"whole|(?:hand|home|self)-?made)"
)

WHAT_CLOSE: Final = marked("Something in {name} begins and doesn't end, or ends and doesn't begin.")
DO_CLOSE: Final = marked("Write both its beginning and its end, or take it out.")
WHAT_KEY: Final = marked("{name} asks for a result that the program doesn't know.")
ALLOWED_KEYS: Final = marked("one of:")
DO_KEY: Final = marked("Use one of these, or take it out.")
WHAT_BRACES: Final = marked("A result in {name} was changed by hand.")
DO_BRACES: Final = marked(
    "Write {{{{{key}}}}} there and nothing more: it fills itself in. Your own words go before or "
    "after the braces. Nothing was written."
)
WHAT_NUMBER: Final = marked("{name} says a number that is none of this study's own.")
WHAT_SIZE: Final = marked("{name} says in words how big a difference is.")
ALLOWED_NUMBERS: Final = marked(
    "numbers of study.toml with the word that follows them there (a word such as 'small' may stand "
    "between), and what stands in {{ }}"
)
DO_NUMBER: Final = marked(
    "Take it out. Results stand in {{found}}, {{open}} and the others. A number that is no result "
    "may be written as a word. Nothing was written."
)
WHAT_TITLE: Final = marked("The title in {name} names a version, but not everything is settled.")
WHAT_TITLE_OTHER: Final = marked("The title in {name} names a version that isn't the best one.")
ALLOWED_TITLE: Final = marked("a title without the name of a version, or a question")
DO_TITLE: Final = marked(
    "Ask in the title, or leave the names of versions to the text. Nothing was written."
)
WHAT_WORDS: Final = marked("{name} has too many words under '{title}'.")
DO_WORDS: Final = marked("Make it shorter. Words in braces count too. Nothing was written.")
WHAT_NO_TITLE: Final = marked("{name} has no title.")
ALLOWED_NO_TITLE: Final = marked("a first line that starts with one # and a space")
DO_NO_TITLE: Final = marked("Write the title there, or delete the file to get a fresh draft.")
WHAT_HEADING: Final = marked("{name} has a heading without words.")
ALLOWED_HEADING: Final = marked("words after ## and a space")
DO_HEADING: Final = marked(
    "Write the heading there, or take out the ##. A table, a picture or a list of results goes on "
    "a line of its own below it. Nothing was written."
)
WHAT_ENCODING: Final = marked("{name} isn't written in UTF-8.")
DO_ENCODING: Final = marked("Save it again as UTF-8 text, or delete it to get a fresh draft.")


def said_otherwise(name: str, word: str, instead: str) -> str:
    """Return that a word tells more than the findings do.

    Examples
    --------
    >>> said_otherwise("board.md", "proves", "shows")
    "board.md says 'proves', which tells more than the findings do or is hard to read: say shows."
    """
    return say(
        "{name} says '{word}', which tells more than the findings do or is hard to read: say "
        "{instead}.",
        name=name,
        word=word,
        instead=instead,
    )


def said_cause(name: str, word: str) -> str:
    """Return that a word claims a cause which the study can't claim."""
    return say(
        "{name} says '{word}'. Some items failed, so of those that worked we only say that a "
        "difference 'went with' a variable.",
        name=name,
        word=word,
    )


def not_told(name: str, key: str) -> str:
    """Return that a person took out what a reader has to know."""
    what = {"open": say("what is not settled"), "note": say("what to know beside the answer")}[key]
    return say(
        "{name} doesn't tell {what}. Put {{{{{key}}}}} back, so that nobody is misled.",
        name=name,
        what=what,
        key=key,
    )


def not_below_title(name: str, key: str) -> str:
    """Return that a picture or a table below the title is not printed, and where it can stand."""
    return say(
        "{name} has {{{{{key}}}}} below the title. It isn't printed, because the title's tile has "
        "room for lines only. Put it below a heading that starts with ##.",
        name=name,
        key=key,
    )


def changed_meanwhile(name: str) -> str:
    """Return that a person changed a file while the report was made from what it said before."""
    return say(
        "{name} was changed while the report was being made. It was left as it is now, but the "
        "report doesn't show that yet: make it again.",
        name=name,
    )
