"""What is told beside an impossible request is true: each change is made, and the study planned."""

from __future__ import annotations

import json
import re
import tomllib
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import pytest

from tests.service.impossible_studies import (
    DYE,
    FOUR,
    SITUATIONS,
    SOAK,
    Impossible,
    group,
    text_of,
)
from tests.sizes import cases
from trials.design.draw import draw
from trials.design.settling import settle
from trials.errors import Nearest, TrialsError
from trials.service.alternatives import compare_plans
from trials.service.check import check_study
from trials.service.plan import draw_plan
from trials.service.power import power_of_study
from trials.study import parse_study, read_study

CELLS = Path(__file__).parents[2] / "study_demo" / "cells" / "study.toml"


def refused(folder: Path, text: str, items: int | None = None) -> TrialsError:
    (folder / "study.toml").write_text(text, encoding="utf-8")
    with pytest.raises(TrialsError) as caught:
        draw_plan(folder, items=items, seed=1)
    return caught.value


def near(error: TrialsError) -> tuple[Nearest, ...]:
    assert error.nearest is not None
    return error.nearest


def mended(text: str, lines: tuple[str, ...]) -> str:
    """Do to a study.toml what some lines say, as a person would."""
    document = tomllib.loads(text)
    for line in lines:
        if hit := re.fullmatch(r"delete \[(.+)\] and what stands under it", line):
            kind, name = hit[1].split(".", 1)
            del document[kind][name.strip('"')]
        elif hit := re.fullmatch(r"in \[(.+)\] delete (\S+)", line):
            del _at(document, hit[1])[hit[2]]
        elif hit := re.fullmatch(r"in \[(.+?)\] write (.+)", line, re.DOTALL):
            _at(document, hit[1]).update(tomllib.loads(hit[2]))
        elif hit := re.fullmatch(r'in the step "(.+?)" (delete|write) (.+)', line, re.DOTALL):
            step = next(step for step in document["steps"] if step["name"] == hit[1])
            if hit[2] == "delete":
                del step[hit[3]]
            else:
                step.update(tomllib.loads(hit[3]))
        else:
            raise AssertionError(f"nobody knows what to do: {line}")
    return "\n".join(f"{key} = {_inline(value)}" for key, value in document.items())


def _at(document: dict[str, Any], heading: str) -> dict[str, Any]:
    """Return the part of a study.toml under a heading, which is added if it isn't there."""
    named = tomllib.loads(f"[{heading}]\n")
    while named:
        key = next(iter(named))
        named, document = named[key], document.setdefault(key, {})
    return document


def _inline(value: object) -> str:
    if isinstance(value, dict):
        pairs = (f"{json.dumps(k)} = {_inline(v)}" for k, v in value.items())
        return f"{{ {', '.join(pairs)} }}"
    if isinstance(value, list):
        return f"[{', '.join(_inline(part) for part in value)}]"
    return json.dumps(value, ensure_ascii=False)


@pytest.fixture(scope="module", params=SITUATIONS.values(), ids=list(SITUATIONS))
def asked(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Impossible, Path, TrialsError]:
    """Give an impossible study, its folder and what was answered."""
    one: Impossible = request.param
    folder = tmp_path_factory.mktemp("impossible")
    return one, folder, refused(folder, one.text, one.items)


def test_it_is_told_what_cannot_hold_and_what_is_nearest(
    asked: tuple[Impossible, Path, TrialsError],
) -> None:
    one, _, error = asked
    assert error.code == one.code
    told = error.conflict
    number = len(one.keys)
    assert told[0].startswith("This line" if number == 1 else f"These {number} lines cannot all")
    assert len(told) == number + 1
    for line, key in zip(told[1:], one.keys, strict=True):
        assert re.search(rf"(?:^|, ){re.escape(key)}: ", line), line
        assert key == "the command line" or re.search(r"study\.toml, line \d+, ", line)
    assert one.change in [change.change for change in near(error)]
    assert 1 <= len(near(error)) <= 5
    assert len({change.change for change in near(error)}) == len(near(error))


def test_every_change_makes_it_possible(asked: tuple[Impossible, Path, TrialsError]) -> None:
    one, folder, error = asked
    for change in near(error):
        items = one.items
        if change.command:
            command = re.fullmatch(r"trials plan (.+) --items (\d+)", change.command)
            assert command is not None
            assert command[1] == str(folder)
            items = int(command[2])
        text = mended(one.text, change.lines)
        drawn = settle(parse_study(text), 7, items if one.items else None, plain=True)
        assert drawn.units.n == change.items, change
        if change.command and one.items is None:
            assert settle(parse_study(one.text), 7, items, plain=True).units.n == change.items


def test_check_and_the_other_plans_tell_the_same(tmp_path: Path) -> None:
    one = SITUATIONS["more items than the firings hold"]
    error = refused(tmp_path, one.text)
    for verb in (check_study, compare_plans, power_of_study):
        with pytest.raises(TrialsError) as caught:
            verb(tmp_path)
        assert caught.value.to_dict() == error.to_dict()
    assert error.to_dict()["nearest"][0] == {
        "change": "2 slides fewer (12 instead of 14)",
        "lines": ["in [limits] write items = 12"],
        "items": 12,
        "command": f"trials plan {tmp_path} --items 12",
        "stop": False,
    }
    told = error.text()
    assert "\nWhy: These 3 lines cannot all hold, and no fewer lines are to blame:\n  " in told
    assert (
        "\nNearest: 2 slides fewer (12 instead of 14): in [limits] write items = 12; "
        f"or once: trials plan {tmp_path} --items 12"
    ) in told


def test_a_change_that_ends_at_a_stop_says_so_and_comes_last(tmp_path: Path) -> None:
    """Each is drawn as it says, and the check of the plan that comes out is looked at."""
    text = SITUATIONS["fewer items than recipes"].text
    told = near(refused(tmp_path, text))
    for change in told:
        other = parse_study(mended(text, change.lines))
        found = draw(other, seed=3)
        assert change.stop == any(one.severity == "stop" for one in found.audit), change
        assert change.stop == ("the fair-test check then says Stop" in change.text())
    assert [change.stop for change in told] == sorted(change.stop for change in told)
    assert {change.stop for change in told} == {False, True}


def test_what_is_written_wrong_has_no_nearest_plan(tmp_path: Path) -> None:
    error = refused(tmp_path, SITUATIONS["fewer items than recipes"].text.replace("dye", "soak"))
    assert error.nearest is None
    assert "nearest" not in error.to_dict()


def test_the_number_of_items_that_goes_unsaid_may_be_too_small(tmp_path: Path) -> None:
    text = SITUATIONS["teams that take what is left to tell"].text
    text = text.replace("items = 8\nfraction = true\n", "").replace(
        "count = 4", "count = 4\ncapacity = 2"
    )
    error = refused(tmp_path, text)  # full teams hold 8, of which whole copies are 6
    assert error.conflict == () or error.conflict[0]
    assert near(error)


def test_more_recipes_than_can_be_looked_at(tmp_path: Path) -> None:
    levels = json.dumps([f"v{number}" for number in range(20)])
    factors = "".join(f"[factors.f{n}]\nlevels = {levels}\n" for n in range(5))
    text = (
        f'title = "t"\nquestion = "q"\n{factors}[responses.y]\nunit = "m"\n[limits]\nitems = 30\n'
    )
    error = refused(tmp_path, text)
    assert error.code == "study.more_recipes_than_items"
    assert error.conflict == ()


CLASS = {
    "too few": ("items = 48\ncopies = 2", "items = 20"),
    "too few to tell": ("items = 48\ncopies = 2", "items = 14\nfraction = true"),
    "small firings": ("capacity = 6", "capacity = 5"),
    "bans": (
        "items = 48\ncopies = 2",
        'items = 48\nforbidden = [{ heat = "oven", soak = 10 }, { heat = "burner", soak = 40 }, '
        '{ dye = "beetroot", coats = 1 }]',
    ),
}


SOME_CLASSES = cases(CLASS, "too few", "bans")


@pytest.mark.long
@pytest.mark.parametrize("change", SOME_CLASSES.values(), ids=SOME_CLASSES)
def test_a_class_of_48_is_told_what_is_near(tmp_path: Path, change: tuple[str, str]) -> None:
    read_study(CELLS)  # loads what every start loads
    before, after = change
    text = CELLS.read_text(encoding="utf-8")
    assert before in text
    error = refused(tmp_path, text.replace(before, after))
    assert len(near(error)) >= 3
    for one in near(error):
        assert parse_study(mended(text.replace(before, after), one.lines))


COUNTED = {
    "as the recipes say": (text_of(DYE, SOAK, limits="items = 5"), None, 6),
    "more groups than that": (
        text_of(DYE, SOAK, group("team", "count = 8"), limits="items = 5"), None, 8,
    ),
    "groups that take what is left to tell": (
        text_of(DYE, SOAK, group("team", "count = 3"),
                limits='items = 3\nforbidden = [{ dye = "red", soak = 2 }]'), None, 7,
    ),
    "a part of the recipes, in groups": (
        text_of(FOUR, group("team", "count = 2"), limits="items = 6\nfraction = true"), None, 12,
    ),
    "asked for on the command line": (
        text_of(DYE, SOAK, group("team", "count = 8")), 5, 8,
    ),
    "no number is enough": (
        text_of(DYE, SOAK, group("team", "count = 4\nsizes = [1, 1, 1, 1]"),
                limits="items = 4"), None, None,
    ),
}  # fmt: skip


@pytest.mark.parametrize("one", COUNTED.values(), ids=COUNTED)
def test_the_number_that_is_allowed_is_the_smallest_that_works(
    tmp_path: Path, one: tuple[str, int | None, int | None], monkeypatch: pytest.MonkeyPatch
) -> None:
    text, said, least = one
    error = refused(tmp_path, text, said)
    assert ("at least" in error.allowed) == (least is not None)
    if least is None:
        return
    assert re.match(r"at least (\d+) items", error.allowed)
    assert f"at least {least} items" in error.allowed
    assert "(at least" not in error.do or f"(at least {least})" in error.do
    # all below are refused, and this one is not; what is near each of them nobody reads
    monkeypatch.setattr("trials.service.plan.with_nearest", lambda *_: nullcontext())
    for number in range(2, least + 1):
        if said is None:
            other, items = re.sub(r"items = \d+", f"items = {number}", text), None
        else:
            other, items = text, number
        (tmp_path / "study.toml").write_text(other, encoding="utf-8")
        if number < least:
            with pytest.raises(TrialsError):
                draw_plan(tmp_path, items=items, seed=1)
        else:
            assert len(draw_plan(tmp_path, items=items, seed=1).plan.rows) == least
