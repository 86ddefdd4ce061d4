"""What is expected of each ugly file: the one table of them all.

``Same``: it reads to the same answer as the clean table, every number exactly, without a question.
``Asked``: exactly these questions; every number that none of them is about is as in the clean
table. ``Refused``: nothing of it is taken in, with this code, and this is what was found.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from tests.ingest.bench import CELL_HEADINGS, CODES, ISC, LIGHT, LOAD, VOC


@dataclass(frozen=True)
class Same:
    """``note``: part of what is told of how it was read; ``columns``: what study.toml declares."""

    note: str = ""
    columns: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Question:
    """One question, by its code, row, item, column and proposal, and the sheet if it has any."""

    code: str
    row: int
    item: str | None
    column: str | None = None
    proposal: str = ""
    sheet: str = ""


@dataclass(frozen=True)
class Asked:
    """The questions of one file, in their order; ``missing``: columns that nothing is read of."""

    questions: tuple[Question, ...]
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class Refused:
    """Code of the refusal, and the beginning of what was found."""

    code: str
    found: str


def ask(*questions: Question, missing: tuple[str, ...] = ()) -> Asked:
    """Return what is asked of one file."""
    return Asked(questions, missing)


SIDE_BY_SIDE = "Several readings stand side by side in each row"
ACROSS = "The items stand side by side in row 1"
LONG = "Each number has a row of its own"
STOREYS = "The headings stand in rows 1 and 2; they were read together"
TWICE = f"'{VOC} (V)' and '{VOC} (V)'"
COMMAS = "with a comma as the decimal mark"
OWN = {"Muster": "item", "Lauf": "reading", "U ohne Last": VOC, "I1": f"{ISC} (mA)", "U2": LOAD,
       "Sonne": LIGHT}  # fmt: skip

EXPECTED: dict[str, Same | Asked | Refused] = {
    # ---- letters, separators, lines
    "semicolons_and_decimal_commas.csv": Same(COMMAS),
    "tabs_and_decimal_commas.tsv": Same("parted by tabs"),
    "upright_strokes.csv": Same("parted by upright strokes"),
    "mark_of_byte_order_and_quotes.csv": Same(),
    "tabs_in_utf16.tsv": Same("written in UTF-16"),
    "utf16_without_mark_big_end_first.csv": Same("written in UTF-16"),
    "utf16_without_mark_little_end_first.csv": Same("written in UTF-16"),
    "utf16_with_mark_and_semicolons.csv": Same("written in UTF-16"),
    "utf8_with_mark_and_sep_line.csv": Same("parted by semicolons"),
    "latin1_micro.csv": Same("old coding of letters (Latin-1)"),
    "german_headings_latin1.csv": Same("old coding of letters (Latin-1)"),
    "sep_line_and_decimal_commas.csv": Same(COMMAS),
    "sep_line_of_commas.csv": Same("parted by commas"),
    "separators_at_line_ends.csv": Same(),
    "old_line_ends.csv": Same(),
    "trailing_blanks.csv": Same(),
    "letters_that_can_not_be_seen.csv": Same(),
    "apostrophes_before_everything.csv": Same(),
    "quotes_around_everything.csv": Same(),
    "line_breaks_in_notes.csv": Same(),
    "formulas_in_notes.csv": Same(),
    # ---- what stands around the table
    "title_heading_twice_and_footers.csv": Same(),
    "three_title_lines_and_blank_ones.csv": Same(),
    "blank_lines_between_items.csv": Same(),
    "header_repeated_each_page.csv": Same("the heading row stands there 3 times"),
    "footer_with_means_and_signature.csv": Same("'mean' is taken as a summary and was not read"),
    "empty_first_column.csv": Same(),
    "column_without_heading.csv": Same("without a heading, so not read"),
    "sums_in_the_middle.csv": Same("'Mittelwert' is taken as a summary"),
    "drawn_with_strokes_and_lines.csv": Same("row 2: no reading, kept only in the file itself"),
    "sixteen_thousand_columns.csv": Refused("ingest.too_wide", "16384 parts"),
    "item_column_twice.csv": Same("Not needed here"),
    # ---- headings
    "other_order_small_letters.csv": Same(),
    "short_headings.csv": Same(),
    "headings_in_other_order_of_letters.csv": Same(),
    "units_behind_underscores.csv": Same("'VOC_mV' was turned from mV into V"),
    "unit_behind_a_stroke.csv": Same("'Voc/mV' was turned from mV into V"),
    "unit_behind_in.csv": Same("'open-circuit voltage in mV' was turned from mV into V"),
    "units_in_a_row_below.csv": Same("The units stand in row 2"),
    "german_headings.csv": Same("'Leerlaufspannung (mV)' was turned from mV into V"),
    "french_headings.csv": Same("'tension en circuit ouvert (mV)' was turned from mV into V"),
    "headings_declared_in_the_study.csv": Same(columns=OWN),
    "heading_nobody_knows.csv": ask(
        Question("heading", 1, None, "U ohne Last [mV]", f"{VOC} (mV)"), missing=(VOC,)
    ),
    "heading_that_may_be_two_things.csv": ask(
        Question("heading", 1, None, "volts (V)"), missing=(VOC, LOAD)
    ),
    "item_heading_nobody_knows.csv": Refused("ingest.no_item_column", "'Muster' in row 1"),
    "two_equal_headings.csv": Refused("ingest.column_twice", TWICE),
    "no_headings.csv": Refused("ingest.no_headings", "BD27 | 1 | 0.403 | 1.13 | 0.281 | 791"),
    # ---- headings in two rows
    "groups_above_names.csv": Same(),
    "groups_above_equal_names.csv": ask(
        *(
            Question("heading", 2, None, f"{lamp} lamp: {name}", name)
            for lamp in ("first", "second")
            for name in CELL_HEADINGS[:2]
        ),
        missing=(VOC, ISC),
    ),
    "groups_above_the_wrong_columns.csv": Refused("ingest.column_twice", TWICE),
    "title_above_equal_names.csv": Refused("ingest.column_twice", TWICE),
    "readings_above_equal_names.csv": Same(STOREYS),
    "numbers_of_readings_below_names.csv": Same(STOREYS),
    "numbers_of_readings_below_names_and_above_codes.csv": Same(STOREYS),
    "headings_merged_over_two_rows.xlsx": Same(STOREYS),
    "headings_merged_over_two_rows.ods": Same(STOREYS),
    # ---- numbers
    "thousands_points_decimal_commas.csv": Same(COMMAS),
    "thousands_blanks.csv": Same(COMMAS),
    "thousands_narrow_blanks.csv": Same(COMMAS),
    "thousands_apostrophes.csv": Same(),
    "thousands_commas.csv": Same(),
    "decimal_marks_of_both_kinds.csv": Same("6 numbers were read with a comma"),
    "powers_of_ten.csv": Same(),
    "powers_with_middle_dots.csv": Same(),
    "powers_with_x.csv": Same(),
    "powers_raised.csv": Same(),
    "powers_with_e_and_commas.csv": Same(),
    "true_minus_signs_in_powers.csv": Same(),
    "figures_of_full_width.csv": Same(),
    "figures_in_arabic.csv": Same(),
    "letters_for_figures.csv": ask(
        Question("not_a_number", 6, "DG41", VOC, "0.409"),
        Question("not_a_number", 9, "FH58", ISC, "1.22"),
    ),
    "minus_where_none_can_be.csv": ask(Question("negative", 7, "DG41", VOC, "0.410")),
    "three_places_behind_a_point.csv": ask(Question("decimal_mark", 2, "BD27", ISC, "1130")),
    "marks_for_missing.csv": ask(
        Question("missing", 4, "CF34", VOC), Question("missing", 11, "GJ65", LOAD)
    ),
    "torn_decimal_commas.csv": Refused("ingest.split_lines", "9 parts under 6 headings"),
    "lines_longer_than_the_headings.csv": Refused("ingest.split_lines", "7 parts under 6 headings"),
    "cells_with_doubts.csv": ask(
        *(
            Question("not_a_number", row, item, VOC, meant)
            for row, item, meant in (
                (5, "CF34", "0.41"),
                (6, "DG41", ""),
                (7, "DG41", ""),
                (8, "FH58", ""),
                (10, "GJ65", ""),
                (13, "HK72", ""),
            )
        ),
        Question("other_unit", 9, "FH58", VOC),
        Question("missing", 2, "BD27", VOC),
        Question("missing", 4, "CF34", VOC),
    ),
    # ---- units
    "micro_sign.csv": Same("was turned from µA into mA"),
    "micro_greek_letter.csv": Same("was turned from µA into mA"),
    "micro_as_u.csv": Same("was turned from µA into mA"),
    "micro_as_mc.csv": Same("into mA"),
    "micro_in_letters.csv": Same("into mA"),
    "micro_in_two_words.csv": Same("into mA"),
    "micro_in_each_cell_differently.csv": Same("typed with another unit and turned into mA"),
    "units_in_cells.csv": Same(),
    "one_number_in_another_unit.csv": ask(Question("slip", 8, "FH58", VOC, "0.412")),
    "unit_of_another_kind.csv": ask(Question("other_unit", 2, None, ISC, "mA"), missing=(ISC,)),
    "unit_of_another_kind_in_one_cell.csv": ask(Question("other_unit", 5, "CF34", LOAD)),
    # ---- other shapes
    "readings_side_by_side.csv": Same(SIDE_BY_SIDE),
    "readings_side_by_side_numbers_behind_units.csv": Same(SIDE_BY_SIDE),
    "items_side_by_side.csv": Same(ACROSS),
    "items_side_by_side_with_units.csv": Same(ACROSS),
    "one_number_a_row.csv": Same(LONG),
    "one_number_a_row_in_mixed_units.csv": Same(LONG),
    "items_merged_over_two_readings.csv": Same(ACROSS),
    "two_tables_side_by_side.csv": Same("another table begins in row 1, at 'item'"),
    "second_table_with_other_headings.csv": Same("another table begins in row 10, at 'item'"),
    # ---- items and readings
    "codes_only_once.csv": Same("6 rows without a code were read as further readings"),
    "codes_only_once_and_no_numbers_of_readings.csv": ask(
        *(
            Question("no_item", row, None, None, code)
            for row, code in zip(range(3, 14, 2), CODES[:6], strict=True)
        )
    ),
    "code_mistyped.csv": ask(Question("unknown_item", 12, "HK27", None, "HK72")),
    "row_entered_twice.csv": ask(Question("entered_twice", 14, "DG41")),
    "reading_with_two_results.csv": ask(Question("read_twice", 14, "DG41")),
    "another_study.csv": Refused("ingest.other_items", "ZZ27, ZZ34, ZZ41, ZZ58, ZZ65, ZZ72"),
    "codes_with_blanks_and_strokes.csv": Same("were read: 'BD 27' as BD27, 'BD-27' as BD27"),
    "codes_of_full_width.csv": Same("codes with other blanks"),
    "code_turned_into_a_date.xlsx": ask(
        Question("unknown_item", 6, "2031-03-01 00:00:00", sheet="Sheet")
    ),
    "codes_by_formulas.xlsx": Same("Not needed here"),
    "codes_by_formulas.ods": Same("Not needed here"),
    # ---- workbooks
    "hidden_sheet.xlsx": Same("sheet 'session 2': this sheet is hidden"),
    "cell_far_away.xlsx": Same("beyond column 200"),
    "sheet_for_each_item.xlsx": Same("all of sheet 'HK72' was read as HK72"),
    "errors_of_formulas.xlsx": ask(
        Question("not_a_number", 3, "BD27", VOC, sheet="Sheet"),
        Question("not_a_number", 5, "CF34", LOAD, sheet="Sheet"),
        Question("missing", 4, "CF34", LIGHT, sheet="Sheet"),
    ),
    "numbers_as_texts_with_commas.xlsx": Same(COMMAS),
    "units_typed_in_cells.xlsx": Same("typed with another unit and turned into V"),
    "sheet_for_each_session.xlsx": Same("sheet 'read me' has no heading row"),
    "merged_title_and_empty_column.xlsx": Same(),
    "date_for_a_number.xlsx": ask(Question("date", 4, "CF34", ISC, sheet="Sheet")),
    "formula_without_its_result.xlsx": ask(Question("formula", 4, "CF34", ISC, sheet="Sheet")),
    "opendocument.ods": Same(),
    "opendocument_of_two_sheets.ods": Same(),
    "written_by_libreoffice.xlsx": Same("Not needed here"),
    "written_by_libreoffice.ods": Same("Not needed here"),
    "written_by_libreoffice.csv": Same("Not needed here"),
    "rows_repeated_without_end.ods": Refused("ingest.too_long", "row 1048576"),
    "entities_in_entities.ods": Refused("ingest.broken_workbook", "entities of its own"),
    "nested_a_thousand_deep.ods": Refused("ingest.broken_workbook", "more than 60 parts"),
    "locked_with_a_password.ods": Refused("ingest.encrypted", "an encrypted file"),
    "locked_with_a_password_by_libreoffice.ods": Refused("ingest.encrypted", "an encrypted file"),
    "locked_with_a_password_by_libreoffice.xlsx": Refused("ingest.encrypted", "an encrypted file"),
    "letter_called_ods.ods": Refused("ingest.not_a_workbook", "application/vnd.oasis"),
    "old_workbook.xls": Refused("ingest.kind", "an old or a protected workbook (XLS)"),
    # ---- no tables at all
    "nothing.csv": Refused("ingest.empty", "nothing"),
    "picture_called_csv.csv": Refused("ingest.kind", "a picture"),
    "web_page_saved_as_a_table.csv": Refused("ingest.kind", "a web page"),
    "packed_folder.zip": Refused("ingest.not_a_workbook", "another kind of packed file"),
    "bytes_that_are_no_letters.csv": Refused("ingest.binary", "bytes that are no letters"),
    "quotes_that_never_close.csv": Refused("ingest.broken", "a quotation mark that is never"),
    "quotes_that_close_lines_later.csv": Refused("ingest.broken", "fine DG41;1;0.409"),
}
