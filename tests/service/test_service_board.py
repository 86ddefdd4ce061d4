"""board.md and abstract.md in a study folder: written once, then a person's, results renewed."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from trials.errors import TextError
from trials.report import board_files
from trials.service import report as service
from trials.service.report import Reported, write_report
from trials.workspace import Workspace

from ..report.made import TODAY, Made, make
from ..report.telling import without_pictures


def told(folder: Path, monkeypatch: pytest.MonkeyPatch, made: Made) -> Reported:
    """Write the report of hand-made findings as if they were those of the folder."""
    opened = SimpleNamespace(here=Workspace(folder), study=made.study, plan=made.plan)
    analysed: Any = SimpleNamespace(
        opened=opened, measured=made.measured, findings=made.findings, text=lambda: ["", "", ""]
    )
    monkeypatch.setattr(service, "analyse_folder", lambda _folder: analysed)
    with without_pictures():
        return write_report(folder, today=TODAY)


def test_an_edit_is_never_lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = told(tmp_path, monkeypatch, make("difference"))
    assert {"board.pdf", "abstract.txt"} <= set(first.files)
    assert "board.md and abstract.md" in "\n".join(first.text())
    board = tmp_path / "board.md"
    edited = board.read_text(encoding="utf-8").replace("## Conclusion", "## What we learned")
    board.write_bytes(edited.replace("\n", "\r\n").encode())
    told(tmp_path, monkeypatch, make("difference"))
    assert board.read_bytes() == edited.replace("\n", "\r\n").encode()
    again = told(tmp_path, monkeypatch, make("difference", failed=0))
    now = board.read_text(encoding="utf-8")
    assert "## What we learned" in now
    assert "Of the cells that worked" not in now
    assert again.notes == ()


def test_an_edited_number_stops_the_report_and_touches_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told(tmp_path, monkeypatch, make("difference"))
    board = tmp_path / "board.md"
    wrong = board.read_text(encoding="utf-8").replace("0.235 mW", "0.935 mW")
    board.write_text(wrong, encoding="utf-8")
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    with pytest.raises(TextError) as problem:
        told(tmp_path, monkeypatch, make("difference", failed=0))
    assert problem.value.exit_code == 1
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_a_text_in_other_letters_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "board.md").write_bytes("# T\xe9".encode("latin-1"))
    with pytest.raises(TextError) as problem:
        told(tmp_path, monkeypatch, make("difference"))
    assert problem.value.what == "board.md isn't written in UTF-8."
    assert problem.value.found == "byte 4: 0xe9"


def test_what_is_saved_while_the_report_is_made_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told(tmp_path, monkeypatch, make("difference"))
    board = tmp_path / "board.md"
    late = board.read_bytes() + b"\n## Thanks\n\nThank you all.\n"

    def slow(*given: Any) -> dict[str, bytes]:
        board.write_bytes(late)  # the person saves while the pages are being set
        return board_files(*given)

    monkeypatch.setattr(service, "board_files", slow)
    again = told(tmp_path, monkeypatch, make("difference", failed=0))
    assert board.read_bytes() == late
    assert again.notes == (
        "board.md was changed while the report was being made. It was left as it is now, but the "
        "report doesn't show that yet: make it again.",
    )
    assert "Of the cells that worked" not in (tmp_path / "abstract.md").read_text(encoding="utf-8")
    monkeypatch.setattr(service, "board_files", board_files)
    assert told(tmp_path, monkeypatch, make("difference", failed=0)).notes == ()
    now = board.read_text(encoding="utf-8")
    assert "## Thanks" in now
    assert "Of the cells that worked" not in now


def test_a_byte_order_mark_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # RFC 3629, section 6: EF BB BF may stand before UTF-8; editors on Windows write it
    told(tmp_path, monkeypatch, make("difference"))
    names = ("board.md", "abstract.md")
    for name in names:
        plain = (tmp_path / name).read_bytes()
        (tmp_path / name).write_bytes(b"\xef\xbb\xbf" + plain)
    marked = [(tmp_path / name).read_bytes() for name in names]
    told(tmp_path, monkeypatch, make("difference"))
    assert [(tmp_path / name).read_bytes() for name in names] == marked
    told(tmp_path, monkeypatch, make("difference", failed=0))
    for name, before in zip(names, marked, strict=True):
        now = (tmp_path / name).read_bytes()
        assert now.startswith(b"\xef\xbb\xbf")
        assert not now.startswith(b"\xef\xbb\xbf" * 2)
        assert now != before
