"""Files: all of it or nothing at all, and nothing that runs by itself."""

from __future__ import annotations

import csv
import io
import os
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials import files
from trials.errors import FileError


def test_writing_replaces_all_of_a_file(tmp_path: Path) -> None:
    path = tmp_path / "new" / "a.txt"
    files.write_text(path, "long first content\n")
    files.write_text(path, "µ\n")
    assert path.read_bytes() == "µ\n".encode()
    assert [p.name for p in path.parent.iterdir()] == ["a.txt"]


def test_a_failed_write_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.txt"
    files.write_text(path, "old")

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FileError) as problem:
        files.write_text(path, "new")
    assert problem.value.text() == (
        "The file can't be written; what stood there before is unchanged.\n"
        f"Where: {path}\n"
        "Found: No space left on device\n"
        "What to do: Make room on the disk or choose a folder you may write to, then run it again."
    )
    assert path.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


def test_stopping_in_the_middle_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.txt"
    files.write_text(path, "old")

    def stopped(_descriptor: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stopped)
    with pytest.raises(KeyboardInterrupt):
        files.write_text(path, "new")
    assert path.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has other permissions")
def test_a_written_file_may_be_read_by_whom_the_system_says(tmp_path: Path) -> None:
    before = os.umask(0o022)
    try:
        files.write_text(tmp_path / "a", "x")
    finally:
        os.umask(before)
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o644


def test_a_missing_file_and_a_folder_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(FileError) as missing:
        files.read_bytes(tmp_path / "none")
    assert missing.value.code == "file.missing"
    with pytest.raises(FileError) as folder:
        files.read_bytes(tmp_path)
    assert folder.value.code == "file.unreadable"


@given(st.lists(st.lists(st.text(max_size=8), min_size=2, max_size=2), max_size=5))
@settings(derandomize=True, max_examples=100, deadline=None)
def test_no_cell_of_a_table_starts_like_a_formula(rows: list[list[str]]) -> None:
    text = files.csv_text(["a", "b"], rows)
    back = list(csv.reader(io.StringIO(text, newline="")))
    assert len(back) >= 1
    for row in back:
        for cell in row:
            starts = cell[:1] in ("=", "@") or (
                cell[:1] in ("+", "-", "\t", "\r") and not _is_number(cell)
            )
            assert not starts, cell


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


@pytest.mark.parametrize("plain", ["beetroot", "-3.5", "+1e-3", "", "a=b", "µ", "1,5"])
def test_plain_cells_stay_as_they_are(plain: str) -> None:
    assert files.safe_cell(plain) == plain


@pytest.mark.parametrize(
    "text",
    ["=1+1", "\n=1+1", "\t=1+1", "\r=1+1", "\r\n=1+1", " =1+1", "\u00a0=1+1", "\ufeff=1+1",
     "\u200b=1+1", "\x00=1+1", "\uff1d1+1", "\n\uff1d1", "\ufe66A1", "\uff0b1", "\uff0dA1",
     "\uff20SUM(1)", "@SUM(1)", "-1+A1", "+A1", "-1_000", "-inf", "\tplain", "\nplain"],
)  # fmt: skip
def test_no_hidden_way_into_a_formula(text: str) -> None:
    """The signs that OWASP's page on CSV injection names, also behind what a reader skips."""
    kept = text.replace("\r\n", "\n").replace("\r", "\n")
    assert files.safe_cell(text) == "'" + kept
    assert files.csv_text(["a"], [[text]]).splitlines()[1].lstrip('"').startswith("'")


def test_a_carriage_return_within_a_cell_begins_no_row() -> None:
    """Python before 3.13 leaves a bare carriage return without quotation marks."""
    assert files.csv_text(["a"], [["note\r=1+1"]]) == 'a\n"note\n=1+1"\n'


def _shown(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_several_files_take_their_places_together_and_stale_ones_go(tmp_path: Path) -> None:
    files.write_all(tmp_path, {"page.html": b"1", "figures/a.svg": b"1", "figures/b.svg": b"1"})
    (tmp_path / "my notes.txt").write_bytes(b"mine")
    new = {"page.html": b"2", "figures/b.svg": b"2", "figures/c.svg": b"2"}
    files.write_all(tmp_path, new, stale="figures")
    assert _shown(tmp_path) == {**new, "my notes.txt": b"mine"}


@pytest.mark.parametrize("fails", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_several_files_that_do_not_fit_leave_all_the_old_ones(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails: BaseException
) -> None:
    old = {"page.html": b"1", "figures/a.svg": b"1"}
    files.write_all(tmp_path, old)
    left = 1

    def full(_descriptor: int) -> None:
        nonlocal left
        left -= 1
        if left < 0:
            raise fails

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises((FileError, KeyboardInterrupt)):
        files.write_all(tmp_path, {"page.html": b"2", "figures/b.svg": b"2"}, stale="figures")
    assert _shown(tmp_path) == old


def test_what_a_stopped_program_left_beside_is_taken_away(tmp_path: Path) -> None:
    (tmp_path / ".being-written").mkdir()
    (tmp_path / ".being-written" / "page.html").write_bytes(b"half")
    files.write_all(tmp_path, {"page.html": b"2"})
    assert _shown(tmp_path) == {"page.html": b"2"}


def test_of_a_file_that_is_too_large_only_the_first_bytes_are_read(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    path.write_bytes(b"0123456789")
    assert files.read_bytes(path, 10) == files.read_bytes(path) == b"0123456789"
    assert files.read_bytes(path, 4) == b"01234"
