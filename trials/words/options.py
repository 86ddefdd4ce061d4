"""The options of an analysis in words: one list for the command line, study.toml and Python.

Kept apart from the values they set, so that a help page needs nothing heavy.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class OptionText:
    """One option as a person meets it.

    ``name`` is the key in study.toml and in Python; ``flag`` the word on the command line;
    ``usual`` what is taken if nothing is said, where that is worth telling.
    """

    name: str
    flag: str
    help: str
    kind: Literal["text", "number", "whole", "switch"] = "text"
    metavar: str = "TEXT"
    repeats: bool = False
    usual: str = ""


# What the columns of a table are: its two structures.
COLUMNS = (
    OptionText(
        name="factors",
        flag="--factor",
        help="column with the versions of something you changed",
        metavar="A",
        repeats=True,
    ),
    OptionText(
        name="numbers",
        flag="--number",
        help="column with a quantity you changed, taken as a straight-line trend",
        metavar="B",
        repeats=True,
    ),
    OptionText(
        name="groups",
        flag="--group",
        help="column that says which rows belong together; G1/G2 is G2 nested in G1",
        metavar="G",
        repeats=True,
    ),
    OptionText(
        name="applied",
        flag="--applied",
        help="factor A was applied to a whole GROUP",
        metavar="A=GROUP",
        repeats=True,
    ),
)

# How the analysis is done: the fields of study.Options.
CHOICES = (
    OptionText(
        name="response",
        flag="--response",
        help="column with the measured value (else: the only one left over)",
        metavar="Y",
    ),
    OptionText(
        name="item",
        flag="--item",
        help="column that names the item; several rows with one name are its readings",
        metavar="COLUMN",
    ),
    OptionText(
        name="covariates",
        flag="--covariate",
        help="measured quantity to adjust for, that no factor can have changed",
        metavar="X",
        repeats=True,
    ),
    OptionText(
        name="interactions",
        flag="--interactions",
        help="highest number of factors in one interaction",
        kind="whole",
        metavar="N",
        usual="2",
    ),
    OptionText(
        name="compare",
        flag="--compare",
        help="compare by 'difference' or by 'ratio'",
        metavar="WAY",
        usual="difference",
    ),
    OptionText(
        name="df",
        flag="--df",
        help="small-sample method: 'strata', 'kenward-roger' or 'satterthwaite'; "
        "'auto' takes strata where the table is balanced, else kenward-roger",
        metavar="METHOD",
        usual="auto",
    ),
    OptionText(
        name="bounded",
        flag="--bounded",
        help="keep variance estimates at zero or above",
        kind="switch",
    ),
    OptionText(
        name="random",
        flag="--random",
        help="group to treat as random, or 'all'",
        metavar="GROUP",
        repeats=True,
    ),
    OptionText(
        name="sums",
        flag="--sums",
        help="type of sums of squares: III, II or I",
        metavar="TYPE",
        usual="III",
    ),
    OptionText(
        name="weights",
        flag="--weights",
        help="averages over other factors: each version counts equally, or as often as it occurs",
        metavar="equal|proportional",
        usual="equal",
    ),
    OptionText(
        name="better",
        flag="--better",
        help="which values are better: high or low; needed to say what may be the best",
        metavar="high|low",
    ),
    OptionText(
        name="control",
        flag="--control",
        help="version that the others are compared with",
        metavar="B=LEVEL",
        repeats=True,
    ),
    OptionText(
        name="worthwhile",
        flag="--worthwhile",
        help="smallest difference (or ratio) that would change what you'd do; none, no verdict",
        kind="number",
        metavar="D",
    ),
    OptionText(
        name="confidence",
        flag="--confidence",
        help="confidence of the intervals",
        kind="number",
        metavar="C",
        usual="0.95",
    ),
    OptionText(
        name="resamples",
        flag="--resamples",
        help="shuffles for the permutation test; 0 for none",
        kind="whole",
        metavar="N",
        usual="9999",
    ),
    OptionText(
        name="seed",
        flag="--seed",
        help="seed of everything drawn by chance",
        kind="whole",
        metavar="N",
        usual="1",
    ),
)

# What `trials power` takes: one comparison of equal groups.
POWER = (
    OptionText(
        name="groups",
        flag="--groups",
        help="how many versions are compared",
        kind="whole",
        metavar="K",
    ),
    OptionText(
        name="per_group",
        flag="--per-group",
        help="how many items of each version",
        kind="whole",
        metavar="N",
    ),
    OptionText(
        name="f",
        flag="--f",
        help="size of the effect: spread between the versions' means over the spread of items",
        kind="number",
        metavar="F",
    ),
    OptionText(
        name="difference",
        flag="--difference",
        help="largest difference between two versions, the others half-way; needs --sd",
        kind="number",
        metavar="D",
    ),
    OptionText(
        name="sd",
        flag="--sd",
        help="standard deviation of items made alike",
        kind="number",
        metavar="S",
    ),
    OptionText(
        name="power",
        flag="--power",
        help="chance of finding the difference",
        kind="number",
        metavar="P",
    ),
    OptionText(
        name="alpha",
        flag="--alpha",
        help="chance of a false alarm that you allow",
        kind="number",
        metavar="A",
        usual="0.05",
    ),
)

# What `trials power FOLDER` takes: studies made up by chance and analysed, as a check.
SIMULATED = (
    OptionText(
        name="simulate",
        flag="--simulate",
        help="so many studies made up by chance and analysed, beside what is calculated",
        kind="whole",
        metavar="N",
    ),
    OptionText(
        name="seed",
        flag="--seed",
        help="number that chance starts from in the simulated studies",
        kind="whole",
        metavar="N",
        usual="1",
    ),
)


_LIMITS = (
    ("greater than or equal to ", "", " or more"),
    ("less than or equal to ", "", " or less"),
    ("greater than ", "above ", ""),
    ("less than ", "below ", ""),
)


def limit_text(why: str) -> str:
    """Return what a value may be, from how the check of values words it.

    Examples
    --------
    >>> limit_text("greater than or equal to 2"), limit_text("a valid integer, unable to parse")
    ('2 or more', 'a whole number')
    """
    if "valid integer" in why:
        return "a whole number"
    if "valid number" in why:
        return "a number, such as 0.25"
    if " is not one of " in why:
        return f"one of {why.split(' is not one of ')[1].rstrip('.')}"
    for start, before, after in _LIMITS:
        if why.startswith(start):
            return f"{before}{why.removeprefix(start)}{after}"
    return why


def share_hint(flag: str, value: float) -> str:
    """Return what to write for a share that was given in per cent; nothing for other numbers.

    Examples
    --------
    >>> share_hint("--power", 80.0), share_hint("--power", 0.8)
    ('It is a share of 1, not per cent: for 80 % write --power 0.8', '')
    """
    if not 1 < value < 100:
        return ""
    return f"It is a share of 1, not per cent: for {value:g} % write {flag} {value / 100:g}"


def option_help(name: str) -> str:
    """Return the help text of an analysis option.

    Examples
    --------
    >>> option_help("confidence")
    'confidence of the intervals'
    """
    return next(option.help for option in CHOICES if option.name == name)


# What is known of a sweep besides its points.
SWEEP = (
    OptionText(
        name="area",
        flag="--area",
        help="area that catches light, in cm²",
        kind="number",
        metavar="CM2",
    ),
    OptionText(
        name="irradiance",
        flag="--irradiance",
        help="light on the cell, in W/m²",
        kind="number",
        metavar="W_M2",
    ),
    OptionText(
        name="reference_cell",
        flag="--reference-cell",
        help="the light was read with a reference cell, not with a pyranometer",
        kind="switch",
    ),
    OptionText(
        name="area_error",
        flag="--area-error",
        help="limit of error of the area, in %",
        kind="number",
        metavar="PERCENT",
        usual="5",
    ),
    OptionText(
        name="light_error",
        flag="--light-error",
        help="limit of error of the light meter, in %",
        kind="number",
        metavar="PERCENT",
        usual="5; 8 for a reference cell",
    ),
    OptionText(
        name="lux",
        flag="--lux",
        help="light on the cell by a lux meter, in lx; tells W/m² of daylight only",
        kind="number",
        metavar="LX",
    ),
    OptionText(name="lamp", flag="--lamp", help="the light came from a lamp", kind="switch"),
    OptionText(
        name="item",
        flag="--item",
        help="which item, where the file holds several",
        metavar="CODE",
    ),
    OptionText(
        name="voltage_error",
        flag="--voltage-error",
        help="limit of error that its maker states of the voltmeter, in % of the reading",
        kind="number",
        metavar="PERCENT",
    ),
    OptionText(
        name="current_error",
        flag="--current-error",
        help="limit of error that its maker states of the ammeter, in % of the reading",
        kind="number",
        metavar="PERCENT",
    ),
    OptionText(
        name="voltage_digits",
        flag="--voltage-digits",
        help="digits that the maker of the voltmeter adds to its limit of error",
        kind="whole",
        metavar="N",
    ),
    OptionText(
        name="current_digits",
        flag="--current-digits",
        help="digits that the maker of the ammeter adds to its limit of error",
        kind="whole",
        metavar="N",
    ),
    OptionText(
        name="load_error",
        flag="--load-error",
        help="limit of error of each load resistor, in %",
        kind="number",
        metavar="PERCENT",
    ),
    OptionText(
        name="ammeter_ohm",
        flag="--ammeter",
        help="what the ammeter itself resists; give it if the voltmeter sat behind the ammeter",
        kind="number",
        metavar="OHM",
    ),
    OptionText(
        name="draws",
        flag="--draws",
        help="check the uncertainties on so many noisy copies of the sweep",
        kind="whole",
        metavar="N",
    ),
)

# What is expected of cells, where loads are to be advised and there is no sweep yet.
LOADS = (
    OptionText(
        name="expect_voltage",
        flag="--expect-voltage",
        help="which resistors to buy: expected voltage with nothing connected, in V",
        kind="number",
        metavar="V",
    ),
    OptionText(
        name="expect_current",
        flag="--expect-current",
        help="which resistors to buy: expected short-circuit current, in mA",
        kind="number",
        metavar="MA",
    ),
    OptionText(
        name="spread",
        flag="--spread",
        help="how many times weaker or stronger than expected a cell may be",
        kind="number",
        metavar="TIMES",
        usual="3",
    ),
    OptionText(
        name="seconds",
        flag="--seconds",
        help="how long one point of a sweep takes, in s",
        kind="number",
        metavar="S",
        usual="15",
    ),
)
