"""Eight paper planes: two labels exchanged, one folded to the wrong shape, and all of it told."""

from __future__ import annotations

from typing import Any

import pytest

from tests.command_line import CommandLine
from tests.journeys.bench import fill_in, plan_rows, thrown


def _analysed(line: CommandLine) -> Any:
    (found,) = line.json("analyse", "planes")["responses"]
    return found


def test_exchanged_labels_are_put_right(planes: CommandLine) -> None:
    rows = plan_rows(planes.folder / "planes")
    dart = next(item for item, row in rows.items() if row["shape"] == "dart")
    glider = next(item for item, row in rows.items() if row["shape"] == "glider")
    other = {dart: rows[glider], glider: rows[dart]}
    fill_in(planes.folder / "planes", planes.folder / "filled.xlsx",
            lambda row, n, heading: thrown(other.get(row["item"], row), n, heading))  # fmt: skip
    planes.run("collect", "planes", "filled.xlsx")
    wrong = _analysed(planes)
    assert wrong["verdicts"][0]["verdict"] == "not settled"
    told = planes.run("swapped", "planes", dart.lower(), glider, "--why", "seen on the film",
                      "--by", "T1")  # fmt: skip
    assert "Their readings change places" in told
    right = _analysed(planes)
    assert right["verdicts"][0]["verdict"] == "mattered"
    (moved,) = right["moved_verdicts"]
    assert (moved["decision"], moved["verdict"]) == (f"swapped {dart} {glider}", "not settled")
    assert f"Without the exchange of {dart} and {glider}" in planes.run("analyse", "planes")
    points = {point["item"]: point["value"] for point in right["points"]}
    values = [thrown(rows[dart], n, "distance") or 0.0 for n in (1, 2, 3)]
    assert points[dart] == pytest.approx(sum(values) / 3)

    again = planes.json("swapped", "planes", glider, dart, "--why", "x", "--by", "T1", code=1)
    assert again["error"]["code"] == "swapped.known"
    planes.run("report", "planes")
    page = (planes.folder / "planes" / "report" / "report.html").read_text(encoding="utf-8")
    assert f"{dart} and {glider} had each other" in page
    assert "What rests on one decision" in page
    back = planes.json("swapped", "planes", dart, glider, "--undo", "--why", "no", "--by", "T1")
    assert (back["undone"], back["swapped_in_all"]) == (True, [])
    assert _analysed(planes) == wrong


def test_a_plane_folded_to_the_wrong_shape(planes: CommandLine) -> None:
    rows = plan_rows(planes.folder / "planes")
    glider = next(item for item, row in rows.items() if row["shape"] == "glider")
    folded = {glider: {**rows[glider], "shape": "dart"}}
    fill_in(planes.folder / "planes", planes.folder / "filled.xlsx",
            lambda row, n, heading: thrown(folded.get(row["item"], row), n, heading))  # fmt: skip
    planes.run("collect", "planes", "filled.xlsx")
    before = _analysed(planes)
    assert before["as_made"] is None
    said = ("--why", "folded from the other sheet", "--by", "T2")
    told = planes.run("made", "planes", glider, "--factor", "shape=dart", *said)
    assert "The answer goes on taking it as planned" in told
    after = _analysed(planes)
    made = after.pop("as_made")
    before.pop("as_made")
    assert after == before  # chance dealt out what was planned
    assert (made["items"], made["n_items"]) == ([glider], 8)
    assert (before["verdicts"][0]["verdict"], made["verdicts"][0]["verdict"]) == (
        "not settled", "mattered",
    )  # fmt: skip
    text = planes.run("analyse", "planes")
    assert f"{glider} was made otherwise than planned." in text
    assert "another verdict would stand: Shape mattered" in text
    planes.run("report", "planes")
    page = (planes.folder / "planes" / "report" / "report.html").read_text(encoding="utf-8")
    assert "As planned and as made" in page
    assert f"{glider} was made with dart instead of glider: folded from the other sheet" in page
    planes.run("made", "planes", glider, "--factor", "shape=glider", *said)
    assert _analysed(planes)["as_made"] is None


@pytest.mark.parametrize(
    ("said", "code", "words"),
    [
        (["XXX", "--factor", "shape=dart"], "record.unknown_item", "Read the code"),
        (["ITEM", "--factor", "shape=drat"], "made.unknown_level", "Did you mean dart?"),
        (["ITEM", "--factor", "shap=dart"], "made.unknown_factor", "Did you mean shape?"),
        (["ITEM", "--group", "team=a"], "made.unknown_group", "plan"),
        (["ITEM", "--factor", "shape"], "made.form", "shape"),
        (["ITEM"], "made.nothing", "--factor"),
        (["ITEM", "--factor", "shape=glider"], "made.known", "Nothing more to do"),
    ],
)
def test_what_can_not_be_said_is_told_in_words(
    planes: CommandLine, said: list[str], code: str, words: str
) -> None:
    rows = plan_rows(planes.folder / "planes")
    glider = next(item for item, row in rows.items() if row["shape"] == "glider")
    arguments = [glider if word == "ITEM" else word for word in said]
    arguments += ["--why", "w", "--by", "T1"]
    error = planes.json("made", "planes", *arguments, code=1)["error"]
    assert error["code"] == code
    assert words in error["do"]
