"""study.toml into a Study: what is kept, what goes without saying, where things stand."""

from __future__ import annotations

from pathlib import Path

import pytest

from trials.errors import FileError, StudyError
from trials.study import Study, parse_study, read_study
from trials.study.positions import find_positions

SMALL = """\
title = "Planes"
question = "Which flies further?"

[factors.shape]
levels = ["dart", "glider"]

[responses.distance]
unit = "m"
"""


def test_a_small_study_takes_the_usual_for_everything_it_leaves_out() -> None:
    study = parse_study(SMALL)
    assert study.factor("shape").kind == "category"
    assert study.response("distance").reducer == "value"
    assert study.response("distance").primary
    assert study.groups == ()
    assert study.analysis.confidence == 0.95
    assert not study.practice


def test_factors_keep_the_order_of_the_file() -> None:
    text = SMALL + '[factors.zeal]\nlevels = ["a", "b"]\n[factors.air]\nlevels = ["c", "d"]\n'
    assert [factor.name for factor in parse_study(text).factors] == ["shape", "zeal", "air"]


@pytest.mark.parametrize(
    ("written", "kept"),
    [
        ("[10, 40]", ("10", "40")),
        ("[1.0, 2.50]", ("1.0", "2.50")),
        ('["1.0", "2"]', ("1.0", "2")),
        ("[1e3, 2E3]", ("1e3", "2E3")),
        ("[+5, -5]", ("5", "-5")),
        ("[1_000, 2_000]", ("1000", "2000")),
        ("[0x10, 0o21]", ("16", "17")),
        ("[\n  1, # one\n  2,\n]", ("1", "2")),
    ],
)
def test_numbers_among_levels_are_kept_as_written(written: str, kept: tuple[str, ...]) -> None:
    text = SMALL + f'[factors.soak]\nlevels = {written}\nkind = "quantity"\n'
    assert parse_study(text).factor("soak").levels == kept


def test_a_control_and_members_may_be_written_as_numbers() -> None:
    text = SMALL + (
        '[factors.soak]\nlevels = [1.50, 2]\nkind = "quantity"\ncontrol = 1.50\n'
        "[groups.tray]\ncount = 2\nmembers = [1, 2]\n"
    )
    study = parse_study(text)
    assert study.factor("soak").control == "1.50"
    assert study.group("tray").members == ("1", "2")


def test_bytes_order_mark_and_windows_line_ends_change_nothing(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode())
    assert read_study(path) == parse_study(SMALL)


def test_lines_are_those_of_an_editor_even_with_windows_line_ends() -> None:
    with pytest.raises(StudyError) as caught:
        parse_study("\ufeff" + SMALL.replace("\n", "\r\n").replace("levels", "lvels"))
    assert caught.value.where == "study.toml, line 5, factors.shape.lvels"


def test_a_missing_file_is_a_file_error(tmp_path: Path) -> None:
    with pytest.raises(FileError) as caught:
        read_study(tmp_path / "study.toml")
    assert caught.value.code == "file.missing"


def test_the_same_study_has_the_same_digest_however_it_is_laid_out() -> None:
    other = SMALL.replace("[factors.shape]\nlevels", "[factors]\nshape.levels").replace(
        '"dart", "glider"', '\n  "dart",\n  "glider",\n'
    )
    assert parse_study(other).digest() == parse_study(SMALL).digest()


def test_inline_tables_dotted_keys_and_lists_of_tables_have_lines() -> None:
    text = (
        "a.b = 1\n"
        "c = { d = 2, e = [3,\n"
        " 4] }\n"
        "[[steps]]\n"
        'name = "x"\n'
        "[[steps.cautions]]\n"
        'text = "hot"\n'
        "[[steps]]\n"
        '"long name" = 1\n'
        "[[steps.cautions]]\n"
        "ghs = []\n"
    )
    where = find_positions(text)
    assert where.lines["a", "b"] == 1
    assert where.lines["c", "e", 1] == 3
    assert where.lines["steps", 0, "cautions", 0, "text"] == 7
    assert where.lines["steps", 1, "long name"] == 9
    assert where.lines["steps", 1, "cautions", 0, "ghs"] == 11
    assert where.line(("steps", 1, "cautions", 0, "text")) == 10
    assert where.line(("nothing",)) is None
    assert not where.twice
    assert where.unreadable is None


def test_a_practice_run_has_no_factors() -> None:
    text = 'title = "t"\nquestion = "q"\npractice = true\n[responses.mass]\nunit = "g"\n'
    study = parse_study(text)
    assert isinstance(study, Study)
    assert study.practice
    assert study.factors == ()
