"""Every mistake in study.toml is told with its line, what is allowed and what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.study.mistakes import RIGHT, WHOLE, Changes
from tests.study.short_mistakes import SHORT
from trials.errors import StudyError
from trials.study import parse_study, read_study
from trials.study.toml import decode


def changed(changes: Changes) -> str:
    text = RIGHT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def refused(text: str) -> StudyError:
    with pytest.raises(StudyError) as caught:
        parse_study(text)
    return caught.value


def test_the_right_study_is_right() -> None:
    assert parse_study(RIGHT).path("firing") == "session/firing"


@pytest.mark.parametrize(("changes", "message"), [w[1:] for w in WHOLE], ids=[w[0] for w in WHOLE])
def test_the_whole_message(changes: Changes, message: str) -> None:
    assert refused(changed(changes)).text() == message


@pytest.mark.parametrize(
    ("changes", "code", "where", "do"), [s[1:] for s in SHORT], ids=[s[0] for s in SHORT]
)
def test_code_place_and_remedy(changes: Changes, code: str, where: str, do: str) -> None:
    error = refused(changed(changes))
    assert (error.code, error.where, error.do) == (code, where, do)


def test_nothing_changed_and_nothing_measured() -> None:
    head = 'title = "t"\nquestion = "q"\n'
    assert refused(head + '[responses.x]\nunit = "m"').code == "study.no_factor"
    assert refused(head + '[factors.x]\nlevels = ["a", "b"]').code == "study.no_response"


@pytest.mark.parametrize("text", ["", " \n\n", "# only notes\n", "\ufeff"])
def test_an_empty_file(text: str) -> None:
    assert refused(text).text() == (
        "The study file is empty.\n"
        "Where: study.toml\n"
        "Allowed: a title, a question, [factors.NAME] and [responses.NAME]\n"
        "What to do: 'trials new FOLDER' asks nine questions and writes one for you."
    )


@pytest.mark.parametrize(
    ("content", "code", "found"),
    [
        (b"PK\x03\x04\x00\x00", "study.binary", "a workbook, a document or a zip file"),
        (b"%PDF-1.7\n\x00", "study.binary", "a PDF"),
        (b"\x89PNG\r\n\x1a\n\x00", "study.binary", "a picture"),
        (b"SQLite format 3\x00", "study.binary", "a database"),
        (b"a\x00b", "study.binary", "bytes that no text has"),
        (
            'title = "x"\nmakers = "Größe"'.encode("latin-1"),
            "study.encoding",
            "it looks like Windows-1252 or Latin-1",
        ),
        (
            "title = 1".encode("utf-16"),
            "study.encoding",
            "it looks like UTF-16, which some editors call 'Unicode'",
        ),
        (b"#" * 1_000_001, "study.too_large", "1,000,001 bytes"),
    ],
)
def test_a_file_that_is_no_study_at_all(
    tmp_path: Path, content: bytes, code: str, found: str
) -> None:
    path = tmp_path / "study.toml"
    path.write_bytes(content)
    with pytest.raises(StudyError) as caught:
        read_study(path)
    assert (caught.value.code, caught.value.found) == (code, found)
    assert caught.value.where.startswith(str(path))


def test_the_line_of_a_letter_in_another_encoding_is_told() -> None:
    with pytest.raises(StudyError) as caught:
        decode(b'title = "x"\nmakers = "Gr\xf6\xdfe"', "study.toml")
    assert caught.value.where == "study.toml, line 2"


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 5000,
        "a" + ".a" * 5000 + " = 1",
        "a = " + "9" * 5000,
        "a = " + "{a = " * 3000,
        'a = "\\uD800"',
        'title = "' + "x" * 3000 + '"',
        "[[factors]]\n[factors.dye]\n",
        "factors.dye = 1\n",
        "same = 3\ntitle = 1\n",
        "[steps]\n",
        "steps = [1, 2]\n",
        "[responses.x]\nspread = 1\n",
        "[responses.x.settings]\na = [1]\n",
        "[factors.x.how]\na = 1\n",
        "limits = []\n",
        "analysis = 1\n",
        "format_version = '1'\n",
        "\ud800 = 1",
    ],
)
def test_odd_files_get_a_message_and_never_a_crash(text: str) -> None:
    error = refused(text)
    assert error.do
    assert max(map(len, error.text().split("\n"))) < 320
