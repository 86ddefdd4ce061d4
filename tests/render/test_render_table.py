"""The table model and its drawings."""

from __future__ import annotations

import csv
import gettext
import io

import pytest

from trials.render.table import Column, Table, shown, to_csv, to_data, to_text

MIXED = Table(
    "mixed",
    "Everything at once",
    (
        Column("level", "version"),
        Column("mean", unit="mW", kind="number"),
        Column("f", kind="significant", digits=2),
        Column("n", kind="count"),
        Column("p", kind="p"),
        Column("share", unit="%", kind="percent"),
    ),
    (
        ("oven", 0.51234, 37.6864, 24, 0.00001, 0.412),
        ("=burner", -0.3, 0.0, 7, 0.74, None),
        (None, None, None, None, None, None),
    ),
    ("Made by hand.",),
)


def test_cells_are_shown_as_their_column_says() -> None:
    assert shown(MIXED) == (
        ("oven", "0.512", "38", "24", "<\u00a00.0001", "41"),
        ("=burner", "−0.300", "0", "7", "0.74", "–"),
        ("–",) * 6,
    )


def test_the_csv_keeps_every_digit_and_runs_nothing() -> None:
    rows = list(csv.reader(io.StringIO(to_csv(MIXED))))
    assert rows[0] == ["level", "mean (mW)", "f", "n", "p", "share (%)"]
    assert rows[1] == ["oven", "0.51234", "37.6864", "24", "1e-05", "41.2"]
    assert rows[2][0] == "'=burner"
    assert rows[3] == [""] * 6


def test_plain_text_lines_up() -> None:
    lines = to_text(MIXED)
    assert lines[0] == "Everything at once"
    assert lines[-1] == "Made by hand."
    ends = [line.rfind("(%)") for line in lines[1:2]]
    assert len(lines[3]) == ends[0] + 3


def test_plain_values_for_paper() -> None:
    data = to_data(MIXED)
    assert data["align"] == ["left", "right", "right", "right", "right", "right"]
    assert data["header"][1] == "mean (mW)"
    assert data["rows"][2] == ["–"] * 6


def test_a_whole_column_has_the_same_decimals() -> None:
    table = Table("t", "", (Column("x", kind="number"),), ((1234.5,), (0.12345,), (0.0,)))
    assert [row[0] for row in shown(table)] == ["1234", "0", "0"]
    fixed = Table("t", "", (Column("x", kind="number", decimals=3),), ((1.0,), (None,)))
    assert [row[0] for row in shown(fixed)] == ["1.000", "–"]


def test_a_row_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="zip"):
        shown(Table("t", "", (Column("x"), Column("y")), (("only one",),)))


def test_a_word_of_the_program_is_told_in_the_page_s_language_and_kept_in_the_file(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    known = gettext.NullTranslations()
    monkeypatch.setattr(known, "gettext", {"failed": "falló"}.__getitem__)
    monkeypatch.setattr(known, "pgettext", lambda _, text: {"status": "estado"}.get(text, text))
    monkeypatch.setattr("trials.words.language._catalogue", lambda _: known)
    columns = (Column("item", "pieza"), Column("status", kind="word"))
    table = Table("t", "", columns, (("failed", "failed"), ("QXB", "suyo"), ("ZZT", None)))
    assert [column.heading for column in columns] == ["pieza", "estado"]
    # only the program's own words are told: what a person wrote stays
    assert shown(table) == (("failed", "falló"), ("QXB", "suyo"), ("ZZT", "–"))
    assert to_csv(table).split() == ["item,status", "failed,failed", "QXB,suyo", "ZZT,"]
