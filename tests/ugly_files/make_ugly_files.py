"""Write the ugly files that a script can make: python -m tests.ugly_files.make_ugly_files

All hold the twelve readings of six cells that ``tests/ingest/bench.py`` makes, with what their
names say done to them. Those that LibreOffice writes are made where it is found, and else left as
they are. All numbers are made up for the purpose.
"""

from __future__ import annotations

import datetime
import io
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from openpyxl import Workbook

from tests.ingest.bench import (
    CELL_HEADINGS,
    CODES,
    ISC,
    LIGHT,
    LOAD,
    VOC,
    cell_rows,
    changed,
    ods,
    ods_body,
    ods_parts,
    resaved,
    table,
)

HERE = Path(__file__).resolve().parent
HEAD = ["item", "reading", *CELL_HEADINGS]
ROWS = cell_rows(CODES[:6])
ARABIC = str.maketrans("0123456789.", "٠١٢٣٤٥٦٧٨٩٫")
WIDE = str.maketrans("0123456789.", "０１２３４５６７８９．")
RAISED = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")
WIDE_LETTERS = {n: n + 0xFEE0 for n in range(0x21, 0x7F)}
Rows = Sequence[Sequence[str]]


def each(change: Callable[[str], str], columns: Iterable[int] = (2, 3, 4, 5)) -> Rows:
    """Return the rows with some columns changed."""
    return [[change(c) if i in columns else c for i, c in enumerate(row)] for row in ROWS]


def moved(places: int, column: int) -> Callable[[Rows], Rows]:
    """Return rows whose numbers in a column have the decimal mark elsewhere, by so many places."""

    def move(rows: Rows) -> Rows:
        return [
            [f"{Decimal(c).scaleb(places):f}" if i == column else c for i, c in enumerate(row)]
            for row in rows
        ]

    return move


MILLI = moved(3, 2)(ROWS)  # voltage in mV
MICRO = moved(3, 3)(ROWS)  # current in µA: over a thousand


def text(
    rows: Rows = ROWS, head: Sequence[str] = HEAD, delimiter: str = ";", *, decimal: str = "."
) -> str:
    """Return a table as text."""
    return table(rows, head, delimiter, decimal=decimal)


def named(*changes: tuple[int, str]) -> list[str]:
    """Return the headings with some replaced."""
    new = dict(changes)
    return [new.get(i, name) for i, name in enumerate(HEAD)]


def power(form: str, decimal: str = ".") -> str:
    """Return a table whose voltages are written with powers of ten."""
    rows = [
        [*r[:2], form.format(f"{Decimal(r[2]).scaleb(1):f}".replace(".", decimal)), *r[3:]]
        for r in ROWS
    ]
    return text(rows)


def thousands(mark: str, decimal: str) -> str:
    """Return a table whose currents are over a thousand, with a mark between."""
    rows = [
        [*r[:2], r[2].replace(".", decimal),
         f"{Decimal(r[3]):,.1f}".replace(",", "m").replace(".", decimal).replace("m", mark),
         r[4].replace(".", decimal), r[5]]
        for r in MICRO
    ]  # fmt: skip
    return text(rows, named((3, f"{ISC} (µA)")))


def long(*, units: bool) -> str:
    """Return a table with one number a row."""
    lines = ["item;reading;quantity;value" + (";unit" if units else "")]
    for row in ROWS:
        for k, name in enumerate((VOC, ISC, LOAD, LIGHT)):
            value, unit = row[2 + k], ("V", "mA", "V", "W/m²")[k]
            if units and k == 0 and row[1] == "2":
                value, unit = f"{Decimal(value).scaleb(3):f}", "mV"
            lines.append(";".join([*row[:2], name, value, *([unit] if units else [])]))
    return "\n".join(lines) + "\n"


def beside(form: str) -> str:
    """Return a table whose two readings stand side by side."""
    names = (VOC, ISC, LOAD, LIGHT)
    units = ("V", "mA", "V", "W/m²")
    head = [form.format(n=n, name=a, unit=u) for a, u in zip(names, units, strict=True)
            for n in (1, 2)]  # fmt: skip
    rows = [
        [one[0], *(r[k] for k in range(2, 6) for r in (one, two))]
        for one, two in zip(ROWS[::2], ROWS[1::2], strict=True)
    ]
    return text(rows, ["item", *head])


def under(groups: Sequence[str], numbers: Sequence[str] = ()) -> str:
    """Return a table of which each two columns stand under one text of the row above.

    Parameters
    ----------
    groups : the row above. numbers : the row of headings, if not the names twice.
    """
    rows = [
        [one[0], *one[2:], *two[2:]]
        if not numbers
        else [one[0], *(r[k] for k in range(2, 6) for r in (one, two))]
        for one, two in zip(ROWS[::2], ROWS[1::2], strict=True)
    ]
    head = numbers or ["item", *CELL_HEADINGS, *CELL_HEADINGS]
    return ";".join(groups) + "\n" + text(rows, head)


def lamps() -> str:
    """Return a table in which voltage and current were read under two lamps."""
    head = ["item", *CELL_HEADINGS[:2], *CELL_HEADINGS[:2], *CELL_HEADINGS[2:]]
    rows = [[a[0], *a[2:4], *b[2:4], *a[4:]] for a, b in zip(ROWS[::2], ROWS[1::2], strict=True)]
    return ";first lamp;;second lamp;;outside;\n" + text(rows, head)


def side_tables() -> str:
    """Return two tables with the same headings beside each other, a column free between them."""
    half = len(ROWS) // 2
    both = zip([HEAD, *ROWS[:half]], [HEAD, *ROWS[half:]], strict=True)
    return "".join(";".join([*one, "", *two]) + "\n" for one, two in both)


def second_table() -> str:
    """Return a table and below it another with the columns and units otherwise."""
    order = (0, 1, 3, 2, 5, 4)
    head = named((2, f"{VOC} (mV)"))
    rows = [[row[i] for i in order] for row in MILLI[6:]]
    return text(ROWS[:6]) + "\nafter the break;;;;;\n" + text(rows, [head[i] for i in order])


def merged_across() -> str:
    """Return a table whose items stand side by side, each over its two readings."""
    lines = [["quantity", *(c for row in ROWS[::2] for c in (row[0], ""))]]
    lines.append(["reading", *(row[1] for row in ROWS)])
    lines += [[name, *(row[2 + k] for row in ROWS)] for k, name in enumerate(CELL_HEADINGS)]
    return "\n".join(";".join(line) for line in lines) + "\n"


def doubtful() -> str:
    """Return a table with what people write where they are not sure."""
    written = ["n/a", "-", "?", "~0.41", "0.41±0.02", ">0.5", "0.41 0.42 0.43", "41 %", "0.41 a)",
               "0,416 V", "418 mV", "½"]  # fmt: skip
    return text([[*r[:2], word, *r[3:]] for r, word in zip(ROWS, written, strict=True)])


def across(*, units: bool) -> str:
    """Return a table whose items stand side by side."""
    head = ["quantity", *(["unit"] if units else []), *(row[0] for row in ROWS)]
    lines = [head, ["reading", *([""] if units else []), *(row[1] for row in ROWS)]]
    for k, name in enumerate((VOC, ISC, LOAD, LIGHT)):
        unit = ("V", "mA", "V", "W/m²")[k]
        heads = [name, unit] if units else [f"{name} ({unit})"]
        lines.append([*heads, *(row[2 + k] for row in ROWS)])
    return "\n".join(";".join(line) for line in lines) + "\n"


def paged(rows: Rows, size: int) -> str:
    """Return a table as it is printed: the headings again on each page, and a line at its end."""
    pages = [rows[i : i + size] for i in range(0, len(rows), size)]
    return "".join(
        text(page) + f"Page {n} of {len(pages)};;;;;\n\n" for n, page in enumerate(pages, start=1)
    )


def texts() -> dict[str, str]:
    """Return the files that are UTF-8 text."""
    lines = text().splitlines()
    micro = named((3, f"{ISC} (µA)"))
    return {
        "tabs_and_decimal_commas.tsv": text(delimiter="\t", decimal=","),
        "upright_strokes.csv": text(delimiter="|"),
        "sep_line_and_decimal_commas.csv": "sep=;\r\n" + text(decimal=",").replace("\n", "\r\n"),
        "sep_line_of_commas.csv": "sep=,\n" + text(delimiter=","),
        "separators_at_line_ends.csv": "\n".join(f"{line};;;" for line in lines) + "\n",
        "empty_first_column.csv": "\n".join(f";{line}" for line in lines) + "\n",
        "three_title_lines_and_blank_ones.csv": "Solar lesson 3;;\n\nlesson;3\n;;;\n\n" + text(),
        "blank_lines_between_items.csv": "\n".join(
            line + ("\n;;;;;" if n % 2 == 0 else "") for n, line in enumerate(lines)
        ),
        "header_repeated_each_page.csv": paged(ROWS, 4),
        "footer_with_means_and_signature.csv": text()
        + ";;;;;\nmean;;0.41;1.19;0.30;799\nSD;;0.01;0.05;0.01;5\nsigned: T3;;;;;\n",
        "units_in_a_row_below.csv": text(
            [["", "", "mV", "[mA]", "V", "(W/m²)"], *MILLI], ["item", "reading", VOC, ISC, LOAD,
                                                              LIGHT]),
        "unit_behind_a_stroke.csv": text(
            MILLI, ["item", "reading", "Voc/mV", "Isc / mA", f"{LOAD}/V", "light W/m²"]),
        "unit_behind_in.csv": text(
            MILLI, ["item", "reading", f"{VOC} in mV", f"{ISC}, mA", f"{LOAD} in V", LIGHT]),
        "units_behind_underscores.csv": text(
            MILLI, ["ITEM", "READING", "VOC_mV", "ISC_mA", "LOAD_VOLTAGE_V", "LIGHT_W_m2"]),
        "headings_in_other_order_of_letters.csv": text(
            ROWS, ["Item Code", "reading no.", "OPEN-CIRCUIT VOLTAGE [V]", "Short_Circuit Current "
                   "(mA)", "Load  Voltage(V)", "Irradiance (W/m^2)"]),
        "thousands_points_decimal_commas.csv": thousands(".", ","),
        "thousands_blanks.csv": thousands(" ", ","),
        "thousands_narrow_blanks.csv": thousands("\u202f", ","),
        "thousands_apostrophes.csv": thousands("'", "."),
        "thousands_commas.csv": thousands(",", "."),
        "decimal_marks_of_both_kinds.csv": text(
            [[c.replace(".", ",") if n % 2 and i > 1 else c for i, c in enumerate(row)]
             for n, row in enumerate(ROWS)]),
        "micro_greek_letter.csv": text(MICRO, named((3, f"{ISC} (μA)"))),
        "micro_sign.csv": text(MICRO, micro),
        "micro_as_u.csv": text(MICRO, named((3, "isc_uA"))),
        "micro_in_letters.csv": text(MICRO, named((3, f"{ISC} (microampere)"))),
        "micro_in_two_words.csv": text(MICRO, named((3, f"{ISC} [micro A]"))),
        "micro_in_each_cell_differently.csv": text(
            [[*r[:3], f"{r[3]} {('µA', 'μA', 'uA', 'microA', 'micro A', 'microampere')[n % 6]}",
              *r[4:]] for n, r in enumerate(MICRO)]),
        "micro_as_mc.csv": text(MICRO, named((3, f"{ISC} (mcA)"))),
        "powers_with_middle_dots.csv": power("{}·10^-1", ","),
        "powers_with_x.csv": power("{}x10-1"),
        "powers_raised.csv": power("{} × 10⁻¹"),
        "powers_with_e_and_commas.csv": power("{}E-01", ","),
        "true_minus_signs_in_powers.csv": power("{}*10^−1"),
        "figures_of_full_width.csv": text(each(lambda c: c.translate(WIDE))),
        "figures_in_arabic.csv": text(each(lambda c: c.translate(ARABIC))),
        "letters_that_can_not_be_seen.csv": text(
            [[f"\u200b{r[0]}\u200e", *(f"{c}\u200b" for c in r[1:])] for r in ROWS]),
        "apostrophes_before_everything.csv": text([[f"'{c}" for c in r] for r in ROWS]),
        "quotes_around_everything.csv": text(
            [[f'"{c}"' for c in r] for r in ROWS], [f'"{h}"' for h in HEAD], ","),
        "line_breaks_in_notes.csv": text(
            [[*r, '"first line\nsecond; line"'] for r in ROWS], [*HEAD, "note"]),
        "german_headings.csv": text(
            MILLI, ["cell", "Messung", "Leerlaufspannung (mV)", "Kurzschlussstrom (mA)",
                    "Lastspannung (V)", "Bestrahlungsstärke (W/m²)"], decimal=","),
        "french_headings.csv": text(
            MILLI, ["cell", "mesure", "tension en circuit ouvert (mV)",
                    "courant de court-circuit (mA)", f"{LOAD} (V)",
                    "éclairement énergétique (W/m²)"], decimal=","),
        "readings_side_by_side.csv": beside("{name} {n} ({unit})"),
        "readings_side_by_side_numbers_behind_units.csv": beside("{name} ({unit}) #{n}"),
        "two_tables_side_by_side.csv": side_tables(),
        "second_table_with_other_headings.csv": second_table(),
        "items_merged_over_two_readings.csv": merged_across(),
        "cells_with_doubts.csv": doubtful(),
        "column_without_heading.csv": text([[*r[:3], "99", *r[3:]] for r in ROWS],
                                           [*HEAD[:3], "", *HEAD[3:]]),
        "codes_with_blanks_and_strokes.csv": text(
            [[r[0][:2] + " - "[n % 2 : n % 2 + 1] + r[0][2:], *r[1:]] for n, r in enumerate(ROWS)]),
        "codes_of_full_width.csv": text(
            [[r[0].translate(WIDE_LETTERS), *r[1:]] for r in ROWS]),
        "sums_in_the_middle.csv": text(
            [*ROWS[:4], ["Total", "", "1.62", "4.59", "1.14", "3172"], *ROWS[4:],
             ["Mittelwert", "", "0.41", "1.19", "0.30", "799"]]),
        "drawn_with_strokes_and_lines.csv": "".join(
            f"| {' | '.join(line)} |\n" for line in [HEAD, ["---"] * 6, *ROWS]),
        "sixteen_thousand_columns.csv": ";".join([*HEAD, *(f"c{n}" for n in range(16_378))]),
        "items_side_by_side.csv": across(units=False),
        "items_side_by_side_with_units.csv": across(units=True),
        "one_number_a_row.csv": long(units=False),
        "one_number_a_row_in_mixed_units.csv": long(units=True),
        "groups_above_names.csv": ";;electrical;;;light\n" + text(),
        "groups_above_equal_names.csv": lamps(),
        "groups_above_the_wrong_columns.csv": under(["", "", "first lamp", "", "", "second lamp"]),
        "title_above_equal_names.csv": under(["Solar lesson 3"]),
        "readings_above_equal_names.csv": under(
            ["", "first reading", "", "", "", "2nd reading", "", "", ""]),
        "numbers_of_readings_below_names.csv": under(
            ["item", *(c for name in CELL_HEADINGS for c in (name, ""))], ["", *"12121212"]),
        "numbers_of_readings_below_names_and_above_codes.csv": under(
            ["", *(c for name in CELL_HEADINGS for c in (name, ""))], ["item", *"12121212"]),
        "heading_nobody_knows.csv": text(MILLI, named((2, "U ohne Last [mV]"))),
        "heading_that_may_be_two_things.csv": text(
            [[*r[:3], *r[3:4], r[5]] for r in ROWS],
            ["item", "reading", "volts (V)", CELL_HEADINGS[1], CELL_HEADINGS[3]]),
        "headings_declared_in_the_study.csv": text(
            MILLI, ["Muster", "Lauf", "U ohne Last [mV]", "I1", "U2", "Sonne"]),
        "item_heading_nobody_knows.csv": text(ROWS, named((0, "Muster"))),
        "two_equal_headings.csv": text(ROWS, named((4, CELL_HEADINGS[0]))),
        "minus_where_none_can_be.csv": text(changed(ROWS, "DG41", 2, 2, "−0.410")),
        "one_number_in_another_unit.csv": text(changed(ROWS, "FH58", 1, 2, "412")),
        "unit_of_another_kind.csv": text(ROWS, named((3, f"{ISC} (mV)"))),
        "unit_of_another_kind_in_one_cell.csv": text(changed(ROWS, "CF34", 2, 4, "0.289 A")),
        "code_mistyped.csv": text([["HK27" if r[0] == "HK72" else r[0], *r[1:]] for r in ROWS]),
        "row_entered_twice.csv": text([*ROWS, ROWS[4]]),
        "reading_with_two_results.csv": text([*ROWS, [*ROWS[4][:2], "0.444", *ROWS[4][3:]]]),
        "marks_for_missing.csv": text(changed(changed(ROWS, "CF34", 1, 2, "--"), "GJ65", 2, 4,
                                              "n/a")),
        "three_places_behind_a_point.csv": text(
            [[*r[:3], "1.130" if n == 0 else r[3].replace(".", ","), *r[4:]]
             for n, r in enumerate(ROWS)]),
        "web_page_saved_as_a_table.csv": "<html><table><tr><td>item</td><td>Voc</td></tr></table>",
        "quotes_that_never_close.csv": text([[*r, '"fine' if n == 3 else ""] for n, r in
                                             enumerate(ROWS)], [*HEAD, "note"]),
        "quotes_that_close_lines_later.csv": text([[*r, '"fine' if n in (3, 8) else ""] for n, r in
                                                   enumerate(ROWS)], [*HEAD, "note"]),
        "lines_longer_than_the_headings.csv": text([[*r, "late"] for r in ROWS]),
        "item_column_twice.csv": text(
            [[*r, r[0]] for r in ROWS], [*HEAD, "item"]),
    }  # fmt: skip


def encoded() -> dict[str, bytes]:
    """Return the text files in other codings."""
    greek = text(MICRO, named((3, f"{ISC} (µA)")))
    return {
        "utf16_without_mark_big_end_first.csv": greek.encode("utf-16-be"),
        "utf16_without_mark_little_end_first.csv": greek.encode("utf-16-le"),
        "utf16_with_mark_and_semicolons.csv": greek.encode("utf-16"),
        "utf8_with_mark_and_sep_line.csv": ("sep=;\r\n" + greek).encode("utf-8-sig"),
        "german_headings_latin1.csv": texts()["german_headings.csv"].encode("latin-1"),
        "bytes_that_are_no_letters.csv": bytes(range(32)) * 40,
    }


def saved(fill: Callable[[Any], None]) -> bytes:
    """Return a workbook that was filled in."""
    book = Workbook()
    fill(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def numbers() -> list[list[str | float]]:
    """Return the table with numbers as numbers."""
    found: list[list[str | float]] = [list(HEAD)]
    found += [[row[0], int(row[1]), *map(float, row[2:])] for row in ROWS]
    return found


def workbooks() -> dict[str, bytes]:
    """Return the workbooks."""

    def plain(book: Any) -> None:
        for row in numbers():
            book.active.append(row)

    def typed(book: Any) -> None:
        book.active.append(HEAD)
        for row in ROWS:
            book.active.append([*row[:2], *(c.replace(".", ",") for c in row[2:])])

    def units(book: Any) -> None:
        book.active.append(["item", "reading", VOC, ISC, LOAD, LIGHT])
        for milli, row in zip(MILLI, ROWS, strict=True):
            book.active.append(
                [*row[:2], f"{milli[2]} mV", f"{row[3]}mA", f"{row[4]} V", f"{row[5]} W/m²"]
            )

    def sheets(book: Any) -> None:
        book.active.title = "read me"
        book.active.append(["Solar lesson 3"])
        for n in (0, 1):
            page = book.create_sheet(f"session {n + 1}")
            for row in [numbers()[0], *numbers()[1 + 6 * n : 7 + 6 * n]]:
                page.append(row)

    def dated(book: Any) -> None:
        plain(book)
        book.active["D4"] = datetime.datetime(2031, 1, 15)  # 1.15 was typed

    def formula(book: Any) -> None:
        plain(book)
        book.active["D4"] = "=1.15*1"

    def merged(book: Any) -> None:
        book.active["B2"] = "Solar lesson 3"
        book.active.merge_cells("B2:G2")
        for r, row in enumerate(numbers()):
            for c, value in enumerate(row):
                book.active.cell(4 + r, 2 + c).value = value

    def storeys(book: Any) -> None:
        page = book.active
        page.append(["item", "reading", "electrical", None, None, CELL_HEADINGS[3]])
        page.append([None, None, *CELL_HEADINGS[:3]])
        for row in numbers()[1:]:
            page.append(row)
        for place in ("A1:A2", "B1:B2", "C1:E1", "F1:F2"):
            page.merge_cells(place)

    def dated_code(book: Any) -> None:
        plain(book)
        for place in ("A6", "A7"):
            book.active[place] = datetime.datetime(2031, 3, 1)  # MAR1 was typed

    def errors(book: Any) -> None:
        plain(book)
        for place, error in (("C3", "#DIV/0!"), ("F4", "#N/A"), ("E5", "#REF!")):
            book.active[place] = error
            book.active[place].data_type = "e"

    def hidden(book: Any) -> None:
        sheets(book)
        book.worksheets[2].sheet_state = "hidden"

    def far(book: Any) -> None:
        plain(book)
        book.active.cell(1, 16_384).value = "end"

    def each_item(book: Any) -> None:
        for code in CODES[:6]:
            page = book.create_sheet(code)
            for row in numbers():
                if row[0] in ("item", code):
                    page.append(row[1:])

    return {
        "code_turned_into_a_date.xlsx": saved(dated_code),
        "errors_of_formulas.xlsx": saved(errors),
        "hidden_sheet.xlsx": saved(hidden),
        "cell_far_away.xlsx": saved(far),
        "sheet_for_each_item.xlsx": saved(each_item),
        "headings_merged_over_two_rows.xlsx": saved(storeys),
        "numbers_as_texts_with_commas.xlsx": saved(typed),
        "units_typed_in_cells.xlsx": saved(units),
        "sheet_for_each_session.xlsx": saved(sheets),
        "date_for_a_number.xlsx": saved(dated),
        "formula_without_its_result.xlsx": saved(formula),
        "merged_title_and_empty_column.xlsx": saved(merged),
    }


def opendocuments() -> dict[str, bytes]:
    """Return the OpenDocument files, good and bad."""
    half = numbers()
    whole = '<table:table table:name="S"><table:table-row {}>{}</table:table-row></table:table>'
    cell = "<table:table-cell><text:p>{}</text:p></table:table-cell>"
    return {
        "opendocument.ods": ods({"S": half}),
        "opendocument_of_two_sheets.ods": ods(
            {"one": half[:7], "empty": [], "two": [half[0], *half[7:]]}
        ),
        "rows_repeated_without_end.ods": ods_body(
            whole.format('table:number-rows-repeated="1048576"', cell.format("BD27"))
        ),
        "entities_in_entities.ods": ods_body(
            whole.format("", cell.format("&b;")),
            before='<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]>',
        ),
        "nested_a_thousand_deep.ods": ods_body(
            whole.format("", cell.format("<a>" * 1000 + "</a>" * 1000))
        ),
        "locked_with_a_password.ods": ods_parts(
            {"content.xml": "", "META-INF/manifest.xml": "<manifest:encryption-data/>"}
        ),
        "letter_called_ods.ods": ods_parts(
            {"content.xml": "<a/>"}, "application/vnd.oasis.opendocument.text"
        ),
        "old_workbook.xls": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504),
        "packed_folder.zip": ods_parts({"readings.csv": text()}, "application/zip"),
    }


def libreoffice() -> dict[str, bytes]:
    """Return files as LibreOffice writes them."""

    def fill(book: Any) -> None:
        for row in numbers():
            book.active.append(row)
        book.active["H1"] = "mean light"
        book.active["H2"] = "=AVERAGE(F2:F13)"
        book.active["C5"] = "=0.4+0.007"

    book = saved(fill)
    kinds = {
        "written_by_libreoffice.xlsx": "xlsx",
        "written_by_libreoffice.ods": "ods",
        # separator ;, quotation mark ", Western European letters
        "written_by_libreoffice.csv": "csv:Text - txt - csv (StarCalc):59,34,1",
    }

    def copied(book: Any) -> None:
        fill(book)
        for row in range(3, 14, 2):
            book.active[f"A{row}"] = f"=A{row - 1}"

    codes = saved(copied)
    two = workbooks()["headings_merged_over_two_rows.xlsx"]
    with tempfile.TemporaryDirectory() as folder:
        made = {
            name: resaved(book, "made.xlsx", kind, Path(folder)) for name, kind in kinds.items()
        }
        made["headings_merged_over_two_rows.ods"] = resaved(two, "two.xlsx", "ods", Path(folder))
        for ending in ("xlsx", "ods"):
            name = f"codes_by_formulas.{ending}"
            made[name] = resaved(codes, "codes.xlsx", ending, Path(folder))
    return made


LOCK = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE script:module PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "module.dtd">
<script:module xmlns:script="http://openoffice.org/2000/script" script:name="Module1"
 script:language="StarBasic">Sub Save(source, target, filter, kind, word)
Dim hidden(0) As New com.sun.star.beans.PropertyValue
hidden(0).Name = "Hidden"
hidden(0).Value = True
Dim key(1) As New com.sun.star.beans.NamedValue
key(0).Name = "OOXPassword"
key(0).Value = word
key(1).Name = "CryptoType"
key(1).Value = "Standard"
Dim how(1) As New com.sun.star.beans.PropertyValue
how(0).Name = "FilterName"
how(0).Value = filter
how(1).Name = kind
If kind = "Password" Then
how(1).Value = word
Else
how(1).Value = key()
End If
book = StarDesktop.loadComponentFromURL(source, "_blank", 0, hidden())
book.storeToURL(target, how())
book.close(True)
End Sub
</script:module>
"""


def locked() -> dict[str, bytes]:
    """Return workbooks that LibreOffice locks with a password, by a macro of its own."""
    kinds = {"ods": ("calc8", "Password"), "xlsx": ("Calc MS Excel 2007 XML", "EncryptionData")}
    found = {}
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        resaved(workbooks()["numbers_as_texts_with_commas.xlsx"], "made.xlsx", "ods", folder)
        (folder / "profile/user/basic/Standard/Module1.xba").write_text(LOCK, encoding="utf-8")
        for ending, (kind, how) in kinds.items():
            target = folder / f"locked.{ending}"
            told = (f'"{(folder / "made.xlsx").as_uri()}","{target.as_uri()}","{kind}","{how}",'
                    '"secret"')  # fmt: skip
            subprocess.run(
                ["soffice", f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless",
                 f"macro:///Standard.Module1.Save({told})"],
                check=True, capture_output=True, timeout=120,
            )  # fmt: skip
            found[f"locked_with_a_password_by_libreoffice.{ending}"] = target.read_bytes()
    return found


def main() -> None:
    """Write all files beside this script."""
    made = {name: text.encode() for name, text in texts().items()}
    made |= encoded() | workbooks() | opendocuments()
    if shutil.which("soffice"):
        made |= libreoffice() | locked()
    for name, content in made.items():
        (HERE / name).write_bytes(content)


if __name__ == "__main__":
    main()
