"""Every kind of question about measurements: its code, what it is about, and an example.

A question that *must* be settled holds back the number or the row that it is about, and so may hold
back a verdict. With any other question open what was read is used as it was read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from trials.words.language import marked

Must = Literal["must", "ask", "either"]


@dataclass(frozen=True)
class QuestionCode:
    """One kind of question. ``must`` "either": it must be settled where it can't be at all."""

    code: str
    about: str  # a few words for a list
    must: Must
    example: str


_TABLE = (
    # whose reading it is
    QuestionCode("no_item", "rows without a code", "must", "numbers in a row with no item"),
    QuestionCode("unknown_item", "codes that the plan doesn't have", "must", "K77 for K7"),
    QuestionCode("other_group", "items read elsewhere than planned", "ask",
                 "planned for session 1, read in session 2"),
    QuestionCode("swapped", "items read in each other's place", "ask",
                 "K7 read where M2 belongs, and M2 where K7 does"),
    QuestionCode("labels_exchanged", "items whose numbers fit each other's place", "ask",
                 "K7 as strong as the other oven cells, though it is from the burner; M2 the other "
                 "way round"),
    QuestionCode("lost_with_readings", "readings of lost items", "ask",
                 "K7 was recorded as lost and has readings"),
    QuestionCode("readings_gone", "readings that a newer file no longer has", "ask",
                 "3 readings of K7 before, none now"),
    # the same thing twice
    QuestionCode("newer_copy", "newer copies of files under another name", "must",
                 "90 of 96 numbers of alder-2.xlsx stand in alder.xlsx too"),
    QuestionCode("entered_twice", "readings entered twice", "must",
                 "reading 2 stands in two files"),
    QuestionCode("read_twice", "other numbers for one reading", "ask",
                 "0.41 and 0.43 for reading 2 of K7"),
    QuestionCode("copied", marked("items with the numbers of another"), "ask",
                 "all 8 numbers of K7 are those of M2"),
    QuestionCode("copied_run", marked("readings with the numbers of another item"), "ask",
                 "readings 1 and 2 of K7 are readings 2 and 3 of M2"),
    QuestionCode("filled_down", marked("one number in row after row"), "ask",
                 "0.431 V in 12 rows, K7 to P3"),
    # what stands there is not known, is no number, or can be read in two ways
    QuestionCode("heading", "headings that the study doesn't know", "either", "'U open (V)'"),
    QuestionCode("not_a_number", "texts where a number is needed", "must", "0.4 or so"),
    QuestionCode("date", "numbers that became dates", "must", "1.5 shown as 1 May"),
    QuestionCode("formula", "formulas without a result", "must", "=B2*2"),
    QuestionCode("other_unit", "units of another kind", "must", "0.41 mA under a voltage"),
    QuestionCode("decimal_mark", "numbers that can be read in two ways", "ask", "1,234"),
    QuestionCode("worked_unclear", "whether items worked", "ask", "'so so' under did it work?"),
    # numbers that can't be, or look odd
    QuestionCode("impossible", "impossible numbers", "must", "light of 0 W/m²"),
    QuestionCode("negative", "signs", "must", "-0.41 V"),
    QuestionCode("unusual", "unusual numbers", "ask", "0.95 V where 0 to 0.8 V is usual"),
    QuestionCode("crossed", "numbers in each other's place", "ask",
                 "1.4 V and 0.467 mA, where 0.467 V and 1.4 mA would be usual"),
    QuestionCode("unusual_result", "unusual results", "ask", "a cell of 3000 µW/cm²"),
    QuestionCode("slip", "units or decimal marks that slipped", "either", "412 V for 0.412 V"),
    QuestionCode("implausible", "numbers far above all others", "ask", "4000000 mm tall"),
    QuestionCode("digits", "digits exchanged, doubled or left out", "ask",
                 "0.341 beside 0.429 and 0.433: perhaps 0.431"),
    # missing
    QuestionCode("missing", "missing numbers", "ask", "no light in row 7"),
    QuestionCode("missing_column", "missing columns", "ask", "no light anywhere"),
    QuestionCode("missing_condition", "missing conditions", "ask",
                 "light in 40 rows, none in the other 8"),
    # conditions and times
    QuestionCode("condition_jump", "conditions that jump", "ask",
                 "light of 820 and 610 W/m² for one cell"),
    QuestionCode("condition_constant", "conditions that never change", "ask",
                 "light of 814 W/m² in all 48 rows"),
    QuestionCode("no_time", "times that are none", "ask", "25:70"),
    QuestionCode("time_back", "times that run backwards", "ask", "1:05 after 12:55"),
    QuestionCode("too_early", "readings from before the plan", "ask",
                 "read on 3 May, sheets printed on 5 May"),
    # notes
    QuestionCode("deviation", "notes of something done otherwise", "ask", "'heated twice'"),
    # numbers that contradict each other
    QuestionCode("several_values", "several numbers where one is wanted", "ask", "5 and 6 leaves"),
    QuestionCode("rising", "values that rise though they should fall", "ask",
                 "a cell stronger on day 9 than on day 1"),
    QuestionCode("more_than_light", "more power than the light brings", "ask",
                 "90 mW/cm² in light of 80 mW/cm²"),
    QuestionCode("load_above_open", "voltages higher with a load than without", "ask",
                 "0.45 V at the load, 0.41 V with nothing connected"),
    QuestionCode("ammeter_above_open", "currents that the ammeter doesn't let through", "ask",
                 "4.2 mA through an ammeter of 100 ohm, 0.41 V with nothing connected"),
    QuestionCode("current_above_short", "currents larger through a load than shorted", "ask",
                 "1.3 mA through the load, 1.1 mA short circuit"),
    QuestionCode("fill_factor_above_one", "fill factors above 1", "ask", "fill factor 1.2"),
    QuestionCode("fill_factor_above_ideal", "fill factors above the ideal", "ask",
                 "fill factor 0.8 at 0.3 V"),
    QuestionCode("exchanged", "voltage and current in each other's column", "ask",
                 "a curve that only fits the other way round"),
    QuestionCode("noisy", "curves that scatter", "ask", "points far from any curve of a cell"),
)  # fmt: skip

QUESTION_CODES: Mapping[str, QuestionCode] = MappingProxyType({one.code: one for one in _TABLE})


def about_of(code: str) -> str:
    """Return what a kind of question is about; the code itself where a newer version asked.

    Examples
    --------
    >>> about_of("negative"), about_of("of_tomorrow")
    ('signs', 'of tomorrow')
    """
    known = QUESTION_CODES.get(code)
    return known.about if known is not None else code.replace("_", " ")
