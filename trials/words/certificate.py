"""What a fair test is worth that settles nothing: the differences that it rules out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trials.words.comparing import Scale
from trials.words.judge import Told, studies
from trials.words.language import marked, say
from trials.words.numbers import listing, number, times, with_unit

CERTIFICATE = marked("What this study is worth")


@dataclass(frozen=True)
class RuledOut:
    """The largest difference between two versions of a variable that the data still fit."""

    factor: str
    size: float
    decimals: int
    scale: Scale
    unit: str

    @property
    def text(self) -> str:
        """The difference, with its unit."""
        if self.scale == "ratio":
            return times(self.size, self.decimals)
        return with_unit(number(self.size, self.decimals), self.unit)


def certificate_told(
    ruled_out: Sequence[RuledOut],
    silent: Sequence[str],
    response: str,
    confidence: float,
    failed: str = "",
) -> Told:
    """Return what a fair test that settles nothing is worth, and what 'rules out' means.

    Parameters
    ----------
    silent : variables of which nothing can be ruled out.
    failed : what the items are called ("cells"), if some failed; else "".

    Examples
    --------
    >>> heat = RuledOut("heat", 0.3232, 2, "difference", "mW")
    >>> certificate_told([heat], [], "power", 0.95)[0].replace(chr(160), " ")
    'You ran a fair test. It rules out differences larger than 0.32 mW between versions of heat.'
    """
    parts = [
        say("larger than {size} between versions of {factor}", size=one.text, factor=one.factor)
        for one in ruled_out
    ]
    differences = listing(parts)
    line = (
        say(
            "You ran a fair test. Of the {items} that worked, it rules out differences "
            "{differences}.",
            items=failed,
            differences=differences,
        )
        if failed
        else say(
            "You ran a fair test. It rules out differences {differences}.", differences=differences
        )
    )
    if silent:
        line += say(" Of {variables} it rules out nothing.", variables=listing(silent))
    averages = say(" These are averages over the other variables.") if len(ruled_out) > 1 else ""
    gloss = say(
        "They are differences in {response}. Ruled out means outside the range of doubt: for each "
        "variable such ranges hold all true differences in {studies}.{averages}",
        response=response,
        studies=studies(confidence),
        averages=averages,
    )
    return line, gloss
