"""What is lost or not made is on no list of what is to be used, made together or written about."""

from __future__ import annotations

import re

from tests.remembered import words_of_pages
from tests.sheets.test_sheets_materials import USED, table_of, text_of, using
from trials.classroom.left import bundles_left
from trials.design.values import Plan
from trials.sheets import Handouts, make_sheets
from trials.study.values import Study
from trials.words import materials as words
from trials.words.gone import nothing_left, printed_again


def pages(handouts: Handouts, name: str) -> list[str]:
    return list(words_of_pages(handouts.files[name]))


def card(handouts: Handouts, firing: str) -> str:
    """Return the text of one card; cards stand behind all making sheets."""
    text = " ".join(pages(handouts, "making-sheets.pdf"))
    found = re.search(rf"Card for firing {firing} .*?(?=Card for firing|$)", text)
    return found[0] if found else ""


def members(plan: Plan, group: str, member: str) -> list[str]:
    return [row.item for row in plan.rows if row.groups[group] == member]


def named(plan: Plan, text: str) -> set[str]:
    return {row.item for row in plan.rows if re.search(rf"\b{row.item}\b", text)}


def test_nothing_changes_before_something_is_gone(cells: tuple[Study, Plan]) -> None:
    """Readings alone take nothing off: byte for byte."""
    study, plan = using(cells[0], USED), cells[1]
    some = tuple(row.item for row in plan.rows[:10])
    before, after = make_sheets(study, plan), make_sheets(study, plan, measured=some)
    assert dict(before.files) == dict(after.files)


def test_materials_are_for_what_is_left(cells: tuple[Study, Plan]) -> None:
    """48 cells, 3 lost, 2 not made, 3 measured: 40. A quarter fails: 61 to make, 60 not enough.

    The chance that 40 of 61 work is 0.964, of 60 it is 0.946 (sum of the binomial's own
    terms). 40 drops, 61 with spares; 15 cm of tape each:
    6 m, and 9.15 m is 9.2 m to two digits.
    """
    study, plan = using(cells[0], USED), cells[1]
    codes = [row.item for row in plan.rows]
    handouts = make_sheets(
        study, plan, lost=tuple(codes[:3]), unmade=tuple(codes[3:5]), measured=tuple(codes[5:8])
    )
    text = text_of(handouts)
    assert (
        "From now on, for the 40 cells still to be made (6 teams); 3 are lost, 2 were not made, "
        "3 are measured."
    ) in text
    assert "enough to make 61 cells" in text
    assert "Electrolyte Close the cell 1 drop for each cell" in text
    assert "40 drops 61 drops" in text
    assert words.OVER not in text
    tape = next(row for row in table_of(handouts) if row["thing"] == "tape")
    assert (tape["the class"], tape["with spares"]) == ("600", "920")
    oven = next(row for row in table_of(handouts) if row["thing"] == "oven")
    left = [row for row in plan.rows if row.item in codes[8:]]
    firings = len({row.groups["firing"] for row in left})
    assert oven["the step is done with"] == f"40 cells in {firings} firings"


def test_cards_keep_their_numbers_and_what_has_passed_has_none(cells: tuple[Study, Plan]) -> None:
    """Of firing 1 one was lost, firing 2 is lost, of firing 3 one is read and one lost since."""
    study, plan = cells
    whole = bundles_left(study, plan, (), (), ())
    firings = [one for one in whole if one.group.name == "firing"]
    first, second, third = ([row.item for row in one.rows] for one in firings[:3])
    names = [one.label.removeprefix("firing ") for one in firings]
    handouts = make_sheets(
        study,
        plan,
        lost=(first[0], *second, third[0]),
        unmade=(third[1],),
        measured=(third[2],),
    )
    some = card(handouts, names[0])
    assert f"5 cells go together. Lost: {first[0]}." in some
    assert named(plan, some.replace(f"Lost: {first[0]}.", "")) == set(first[1:])
    assert card(handouts, names[1]) == ""
    assert card(handouts, names[2]) == ""  # it went in together: the card written on stays
    for name, firing in zip(names[3:], firings[3:], strict=True):
        assert "6 cells go together." in card(handouts, name)
        assert named(plan, card(handouts, name)) == {row.item for row in firing.rows}


def test_making_sheets_list_what_is_still_made(cells: tuple[Study, Plan]) -> None:
    study, plan = cells
    team = plan.rows[0].groups["team"]
    mine = [r.item for r in plan.rows if r.groups["team"] == team and r.groups["session"] == "1"]
    other = next(r for r in plan.rows if r.groups["team"] != team and r.groups["session"] == "1")
    handouts = make_sheets(study, plan, unmade=tuple(mine), lost=(other.item,))
    sheets = pages(handouts, "making-sheets.pdf")
    titles = [text for text in sheets if "Making sheet: " in text]
    assert not any(f"Making sheet: team {team}, session 1" in text for text in titles)
    assert re.search(r"No longer made: [^.(]* \(the team was absent\)\.", titles[0])
    assert named(plan, titles[0]) >= set(mine)  # told once, on the first sheet there is
    where = f"Making sheet: team {other.groups['team']}, session 1"
    theirs = next(text for text in titles if where in text)
    n = sum(
        r.groups["team"] == other.groups["team"] and r.groups["session"] == "1" for r in plan.rows
    )
    assert f"Make {n - 1} cells in the order" in theirs
    assert f"No longer made: {other.item} (lost)." in theirs
    assert theirs.count(other.item) == 1  # only where it says that it is no longer made


def test_logbook_pages_keep_their_numbers(cells: tuple[Study, Plan]) -> None:
    study, plan = cells
    before = make_sheets(study, plan)
    numbers = {text.split(" Logbook page")[0]: text for text in pages(before, "logbook.pdf")}
    team = plan.rows[0].groups["team"]
    away = tuple(members(plan, "team", team))
    lost = next(row.item for row in plan.rows if row.item not in away)
    after = make_sheets(study, plan, unmade=away, lost=(lost,))
    printed = pages(after, "logbook.pdf")
    assert printed
    for text in printed:
        title = text.split(" Logbook page")[0]
        same = re.search(r"Logbook page \d+ of \d+", numbers[title])
        assert same is not None
        assert same[0] in text
        assert named(plan, text) == named(plan, numbers[title]) - {*away, lost}
        assert printed_again() in text
    assert set().union(*(named(plan, text) for text in printed)) == {
        row.item for row in plan.rows
    } - {*away, lost}


def test_the_order_of_the_work_is_that_of_what_is_left(cells: tuple[Study, Plan]) -> None:
    study, plan = cells
    lost = tuple(row.item for row in plan.rows[:4])
    text = " ".join(pages(make_sheets(study, plan, lost=lost), "timetable.pdf"))
    assert named(plan, text) == {row.item for row in plan.rows[4:]}


def test_where_all_is_gone_each_page_says_so(cells: tuple[Study, Plan]) -> None:
    study, plan = using(cells[0], USED), cells[1]
    handouts = make_sheets(study, plan, lost=tuple(row.item for row in plan.rows))
    assert "Nothing more to get out: no cell is left to make; 48 are lost." in text_of(handouts)
    for name in ("logbook.pdf", "making-sheets.pdf"):
        assert nothing_left("cell") in " ".join(pages(handouts, name))
    assert table_of(handouts) == []


def test_a_study_without_amounts_says_how_many_are_left(cells: tuple[Study, Plan]) -> None:
    text = text_of(make_sheets(*cells, lost=(cells[1].rows[0].item,)))
    assert "From now on, for the 47 cells still to be made; 1 is lost. " + words.NO_AMOUNTS in text
