"""A new study folder: what is written, what is refused, what to do next."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import pytest

from trials.errors import FileError, RequestError, StudyError
from trials.service.examples import example_folder, example_names
from trials.service.new import Dialog, new
from trials.study import read_study

ANSWERS = """\
question = "Does dye matter?"
change = "dye, heat"
versions = "dye: hibiscus, beetroot; heat: oven, burner"
measure = "power in mW"
items = "24 cells"
together = "heat in batches of 6"
"""


def defaults(dialog: Dialog) -> Mapping[str, str]:
    said: dict[str, str] = {}
    for question in dialog.questions:
        said[question.key] = dialog.default(question.key, said)
        dialog.check(question.key, said[question.key], said)
        dialog.keep(said)
    return said


def test_from_an_example(tmp_path: Path) -> None:
    made = new(tmp_path / "s", example="tea")
    written = tmp_path / "s" / "study.toml"
    assert made.files == (written,)
    assert written.read_bytes() == (example_folder("tea") / "study.toml").read_bytes()
    assert made.next[1] == f"Then run: trials check {tmp_path / 's'}"


@pytest.mark.parametrize("name", example_names())
def test_an_example_says_which_lines_to_make_ones_own(tmp_path: Path, name: str) -> None:
    made = new(tmp_path / "s", example=name)
    lines = (tmp_path / "s" / "study.toml").read_text(encoding="utf-8").splitlines()
    at = {place.name: lines[place.first - 1] for place in made.change}
    assert {"title", "makers", "note", "[limits]"} <= at.keys()
    for key, line in at.items():  # a heading, or a key with its value
        assert line == key or re.match(rf"{re.escape(key)} = |\[{key.strip('[]')}\.", line)
    if name == "lessons":
        assert {"minutes", "count", "starts", "students", "[groups.team]", "[stock]"} <= at.keys()
        tools = [place.name for place in made.change[-2:]]  # what each team has can wait
        assert tools == ["oven", '"meter pair"']
        leave = next(n for n, line in enumerate(lines, 1) if line.startswith("# ---- Leave this"))
        assert made.change[-1].last < leave
    text = made.text()
    assert f"title (line {1 + lines.index(at['title'])})" in text[5]
    assert max(map(len, text[5:-2])) <= 110


def test_a_study_from_answers_names_no_lines(tmp_path: Path) -> None:
    assert new(tmp_path / "s", ask=defaults).change == ()


def test_from_answers(tmp_path: Path) -> None:
    file = tmp_path / "answers.toml"
    file.write_text(ANSWERS, encoding="utf-8")
    made = new(tmp_path / "my study", answers=file)
    assert read_study(tmp_path / "my study" / "study.toml") == made.study
    assert any(sentence.startswith("'heat' is set for a whole batch") for sentence in made.next)
    assert any("--practice" in sentence for sentence in made.next)
    assert f'trials check "{tmp_path / "my study"}"' in made.next[1]


def test_by_asking(tmp_path: Path) -> None:
    made = new(tmp_path / "s", ask=defaults)
    assert made.study.title == "What shape does to the distance"
    assert [path.name for path in made.files] == ["study.toml", "answers.toml"]
    again = new(tmp_path / "t", answers=tmp_path / "s" / "answers.toml")
    assert again.study == made.study


def test_a_practice_run(tmp_path: Path) -> None:
    made = new(tmp_path / "s", practice=True, ask=defaults)
    assert made.study.practice
    assert made.study == read_study(tmp_path / "s" / "study.toml")
    assert "four items exactly alike" in made.next[-1]


def test_what_was_answered_before_breaking_off_is_offered_again(tmp_path: Path) -> None:
    def broken_off(dialog: Dialog) -> Mapping[str, str]:
        dialog.keep({"question": "Does salt matter?", "change": "salt"})
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        new(tmp_path / "s", ask=broken_off)
    assert not (tmp_path / "s" / "study.toml").exists()
    made = new(tmp_path / "s", ask=defaults)
    assert made.study.question == "Does salt matter?"
    assert made.study.factor("salt").levels == ("as usual", "new")


def test_an_unreadable_file_of_earlier_answers_is_no_hindrance(tmp_path: Path) -> None:
    (tmp_path / "answers.toml").write_bytes(b"\xff\xfe\x00")
    assert new(tmp_path, ask=defaults).study.factor("shape")


def test_never_overwrites_a_study(tmp_path: Path) -> None:
    new(tmp_path, example="planes")
    before = (tmp_path / "study.toml").read_bytes()
    with pytest.raises(FileError) as caught:
        new(tmp_path, example="tea")
    assert caught.value.text() == (
        "There is a study in this folder already.\n"
        f"Where: {tmp_path / 'study.toml'}\n"
        "What to do: Choose another folder; or, to start over, move study.toml somewhere else "
        "first."
    )
    assert (tmp_path / "study.toml").read_bytes() == before


def test_an_unknown_example_lists_the_names(tmp_path: Path) -> None:
    with pytest.raises(FileError) as caught:
        new(tmp_path, example="cels")
    assert caught.value.text() == (
        "There is no example of that name.\n"
        "Found: cels\n"
        "Allowed: aviones, cells, classes, greenhouse, lessons, planes, tea\n"
        "What to do: Did you mean 'cells'?"
    )
    assert not (tmp_path / "study.toml").exists()


@pytest.mark.parametrize("name", ["../planes", "", ".", "planes/study.toml"])
def test_an_example_is_named_not_reached_by_a_path(tmp_path: Path, name: str) -> None:
    with pytest.raises(FileError):
        new(tmp_path, example=name)


def test_options_that_contradict_each_other(tmp_path: Path) -> None:
    with pytest.raises(RequestError) as caught:
        new(tmp_path, example="tea", practice=True)
    assert caught.value.exit_code == 2
    assert caught.value.found == "--example --practice"


def test_nobody_to_ask(tmp_path: Path) -> None:
    with pytest.raises(RequestError) as caught:
        new(tmp_path)
    assert caught.value.allowed == "--answers FILE or --example NAME"


def test_answers_that_make_no_study_write_nothing(tmp_path: Path) -> None:
    file = tmp_path / "answers.toml"
    file.write_text(ANSWERS.replace("24 cells", "3 cells"), encoding="utf-8")
    with pytest.raises(StudyError):
        new(tmp_path / "s", answers=file)
    assert not (tmp_path / "s").exists()


def test_the_result_as_json_and_as_text(tmp_path: Path) -> None:
    made = new(tmp_path / "s", example="planes")
    assert made.to_dict() == {
        "folder": str(tmp_path / "s"),
        "title": "Which paper plane flies further?",
        "files": [str(tmp_path / "s" / "study.toml")],
        "next": list(made.next),
        "change": [
            {"name": name, "first": line, "last": line}
            for name, line in (("title", 5), ("makers", 8), ("note", 9), ("[limits]", 48))
        ],
    }
    assert made.text()[:2] == [
        "Which paper plane flies further?",
        f"Written: {tmp_path / 's' / 'study.toml'}",
    ]
