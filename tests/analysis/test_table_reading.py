"""Tables as people save them, and what is said about those that can't be read."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sizes import examples
from trials.analysis.table_reading import MAX_BYTES, read_table
from trials.errors import AnalysisError, FileError

ROWS = {"plant": ["A", "B"], "y": ["1.5", "2"]}


@pytest.mark.parametrize(
    "raw",
    [
        b"plant,y\nA,1.5\nB,2\n",
        b"plant,y\r\nA,1.5\r\nB,2",
        b"plant,y\rA,1.5\rB,2\r",
        b"plant;y\nA;1.5\nB;2\n",
        b"plant\ty\nA\t1.5\nB\t2\n",
        b"sep=;\nplant;y\nA;1.5\nB;2\n",
        b"\xef\xbb\xbfplant,y\nA,1.5\nB,2\n",
        "plant,y\nA,1.5\nB,2\n".encode("utf-16"),
        "plant,y\nA,1.5\nB,2\n".encode("utf-16-le"),
        "plant,y\nA,1.5\nB,2\n".encode("utf-16-be"),
        b'"plant", y \n"A","1.5"\n B ,2\n',
        b"\n\nplant,y,,\nA,1.5,,\n,,,\nB,2,,\n,,,\n\n",
        b"plant,y,,\nA,1.5\nB,2\n",
    ],
)
def test_one_table_saved_in_many_ways(raw: bytes) -> None:
    assert read_table(raw, "t.csv").to_dict("list") == ROWS


@pytest.mark.parametrize(
    ("raw", "encoding", "cell"),
    [
        ("plant,y\nMüller–Größe,1\n".encode(), "utf-8", "Müller–Größe"),
        ("plant,y\nMüller–Größe,1\n".encode("cp1252"), "cp1252", "Müller–Größe"),
        (b"plant,y\n\x81\xe9,1\n", "latin-1", None),
        ("plant,y\ne\u0301,1\n".encode(), "utf-8", "é"),
    ],
)
def test_encodings(raw: bytes, encoding: str, cell: str | None) -> None:
    if cell is None:
        with pytest.raises(AnalysisError) as caught:  # a control character: not text at all
            read_table(raw, "t.csv")
        assert caught.value.code == "table.binary"
        return
    frame = read_table(raw, "t.csv")
    assert frame.attrs["encoding"] == encoding
    assert frame["plant"].tolist() == [cell]


@pytest.mark.parametrize(
    ("raw", "separator"),
    [
        (b"plant\theight, mm\nA\t0,52\nB\t0,61\n", "\t"),
        (b"plant;height, mm\nA;0,52\nB;0,61\n", ";"),
        (b'plant,"a;b",y\nA,p;q,1\nB,r,2\n', ","),
        (b'"a,b";y\n"c,d";1\n', ";"),
    ],
)
def test_the_separator_that_fills_every_row_is_taken(raw: bytes, separator: str) -> None:
    assert read_table(raw, "t.csv").attrs["separator"] == separator


def test_lines_follow_the_file() -> None:
    frame = read_table(b'plant,note,y\nA,"two\nlines",1\n\nB,,2\n', "t.csv")
    assert frame.attrs["lines"] == (2, 5)
    assert frame["note"].tolist() == ["two\nlines", ""]
    assert (frame.dtypes == "str").all()


def test_a_formula_stays_text() -> None:
    assert read_table(b"plant,y\n=1+1,2\n", "t.csv")["plant"].tolist() == ["=1+1"]


@pytest.mark.parametrize(
    ("raw", "code", "where"),
    [
        (b"", "table.empty", "t.csv"),
        (b" \n\n", "table.empty", "t.csv"),
        (b",,\n,,\n", "table.empty", "t.csv"),
        (b"plant,y\n", "table.no_rows", "t.csv"),
        (b"plant,y\n,\n", "table.no_rows", "t.csv"),
        (b"PK\x03\x04rest", "table.binary", "t.csv"),
        (bytes(range(256)), "table.binary", "t.csv"),
        (b"plant,y,plant\nA,1,2\n", "table.heading_twice", "t.csv, line 1, columns 1 and 3"),
        (b"plant,,y\nA,,1\n", "table.heading_empty", "t.csv, line 1, column 2"),
        (b"plant,y,\nA,1,2\n", "table.heading_empty", "t.csv, line 1, column 3"),
        (b"plant,y\nA,1\nB,0,52\n", "table.row_too_long", "t.csv, line 3"),
        (b'plant,y\nA,"1\nB,2\n', "table.quotes", "t.csv, line 2"),
        (b'plant,y\nA,"1"2\n', "table.quotes", "t.csv, line 2"),
        (b'plant,y\nA,"' + b"x" * 200_000 + b'"\n', "table.quotes", "t.csv, line 2"),
        (b",".join(b"c%d" % i for i in range(2001)) + b"\n1\n", "table.too_big", "t.csv, line 1"),
    ],
)
def test_what_cannot_be_read_says_why(raw: bytes, code: str, where: str) -> None:
    with pytest.raises(AnalysisError) as caught:
        read_table(raw, "t.csv")
    assert (caught.value.code, caught.value.where) == (code, where)
    assert caught.value.do


def test_a_huge_file_is_refused_before_it_is_read_in() -> None:
    with pytest.raises(AnalysisError) as caught:
        read_table(b"a,b\n" + bytes(b"1,2\n" * (MAX_BYTES // 4)), "t.csv")
    assert caught.value.code == "table.too_big"


def test_decimal_commas_between_commas_get_the_right_remedy() -> None:
    with pytest.raises(AnalysisError, match="decimal commas, put semicolons"):
        read_table(b"plant,y\nA,1,5\n", "t.csv")


def test_files_on_disk(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(b"plant,y\nA,1.5\nB,2\n")
    assert read_table(path, "t.csv").to_dict("list") == ROWS
    with pytest.raises(FileError):
        read_table(tmp_path / "none.csv", "none.csv")


CELL = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Cn", "Co")), max_size=6
).map(str.strip)


@pytest.mark.long
@settings(derandomize=True, max_examples=examples(25, 60), deadline=None)
@given(
    st.sampled_from(",;\t"),
    st.lists(st.tuples(CELL, CELL, st.integers()), min_size=1, max_size=5),
)
def test_what_is_written_comes_back(separator: str, rows: list[tuple[str, str, int]]) -> None:
    import unicodedata

    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, quoting=csv.QUOTE_ALL, lineterminator="\n")
    writer.writerow(["plant", "note", "y"])
    writer.writerows(rows)
    frame = read_table(out.getvalue().encode("utf-8"), "t.csv")
    assert frame.attrs["separator"] == separator
    expected = [[unicodedata.normalize("NFC", str(cell)) for cell in row] for row in rows]
    assert frame.to_numpy().tolist() == expected
