"""The measuring sheets of a class with a timetable: who reads what, when, and with which piece."""

from __future__ import annotations

import re
from collections import Counter

from tests.remembered import words_of_pages
from tests.sheets.class_pages import at, clock, latest, pages, readers, works
from trials.design.values import Plan
from trials.sheets import Handouts, make_sheets
from trials.sheets.measuring import measuring_sheets, parted_by, planned
from trials.sheets.parts import Job
from trials.study.values import Study


def measured_by(plan: Plan, who: dict[str, str]) -> Plan:
    """Return the plan with others in whose line the measuring of each item stands."""
    assert plan.timetable is not None
    others = tuple(
        work.model_copy(update={"crew": who[work.items[0]]}) if work.step == "measure" else work
        for work in works(plan)
    )
    return plan.model_copy(
        update={"timetable": plan.timetable.model_copy(update={"works": others})}
    )


def test_who_reads_for_whom_is_said_where_it_is_measured(
    in_lessons: tuple[Study, Plan], printed: Handouts
) -> None:
    study, plan = in_lessons
    told = (
        "M, measuring: the team in whose line it stands reads, and hasn't seen the making sheet of "
        "the cell. Another team made it, or finished it, and hands it over. Who reads: brook for "
        "ridge; cliff for brook; dune for cliff; fjord for dune; marsh for fjord; ridge for marsh."
    )
    for name in ("timetable.pdf", "lesson.pdf"):
        said = [page for page in pages(printed, name) if told in page]
        assert [page[:8] for page in said] == ["Lesson 2"]
    helped = measured_by(plan, dict.fromkeys(readers(plan), "the helper"))
    text = " ".join(pages(make_sheets(study, helped), "timetable.pdf"))
    assert "M. Measure the cell the helper: " in text
    assert "nother team" not in text


def test_an_older_timetable_with_measuring_beside_the_makers_is_told_as_it_is(
    in_lessons: tuple[Study, Plan],
) -> None:
    study, plan = in_lessons
    makers = {row.item: row.groups["team"] for row in plan.rows}
    handouts = make_sheets(study, measured_by(plan, makers))
    told = (
        "M, measuring, stands in the line of a team that made or finished the cell. If another "
        "team is there, let somebody of it read."
    )
    for name in ("timetable.pdf", "lesson.pdf"):
        assert [page[:8] for page in pages(handouts, name) if told in page] == ["Lesson 2"]
        assert "Who reads: " not in " ".join(pages(handouts, name))
    assert "You read " not in " ".join(pages(handouts, "making-sheets.pdf"))
    mixed = makers | {plan.rows[0].item: readers(plan)[plan.rows[0].item]}
    text = " ".join(pages(make_sheets(study, measured_by(plan, mixed)), "timetable.pdf"))
    (codes,) = re.findall(r"M, measuring, of (.*?) stands in the line of a team that made", text)
    assert set(re.findall(r"\w+", codes)) - {"and"} == makers.keys() - {plan.rows[0].item}


def test_the_first_page_to_measure_on_has_room_for_several(
    in_lessons: tuple[Study, Plan], handed_out: Handouts
) -> None:
    first = pages(handed_out, "measuring-sheets.pdf")[0].split()
    assert sum(row.item in first for row in in_lessons[1].rows) >= 3


def parts_of(handouts: Handouts) -> dict[str, list[str]]:
    """Return the pages of the measuring sheets by what stands behind 'Measuring sheet:'."""
    found: dict[str, list[str]] = {}
    for page in pages(handouts, "measuring-sheets.pdf"):
        title = re.match(r"Measuring sheet: (.*?) \d+ cells?, ", page)
        if title is not None:
            found[title[1]] = []
        found[[*found][-1]].append(page)
    return found


def test_each_meter_pair_has_a_measuring_sheet_of_two_pages_in_the_order_of_time(
    in_lessons: tuple[Study, Plan], handed_out: Handouts
) -> None:
    """By hand: four pairs read six cells each; each cell stands on the sheet of its own pair."""
    _, plan = in_lessons
    found = parts_of(handed_out)
    assert [*found] == [f"meter pair {n}" for n in range(1, 5)]
    begun = {work.items[0]: at(work) for work in works(plan) if work.step == "measure"}
    seen: list[str] = []
    for pair, papers in found.items():
        assert len(papers) == 2
        text = " ".join(papers)
        lines = re.findall(r"(\d+) (\w{3}) \w+ (\d+:\d+), by \d+:\d+ \w+ (meter pair \d)", text)
        assert len(lines) == 6
        assert [code for _, code, *_ in lines] == sorted(
            (code for _, code, *_ in lines), key=begun.__getitem__
        )
        for order, code, begins, piece in lines:
            place = str(plan.row(code).measure)
            assert order in (place, f"2{place}")  # read as one with the 2 of reading 2 beside it
            assert begins == clock(begun[code])
            assert piece == pair
        seen += [code for _, code, *_ in lines]
        assert f"This sheet lies at {pair}." in papers[0]
        assert "later than planned, or than 'by': measure it all the same" in papers[0]
        assert "one reads, one writes" in papers[0]
    assert sorted(seen) == sorted(row.item for row in plan.rows)
    assert dict(handed_out.listing)["measuring-sheets.pdf"].startswith("a part for each meter pair")


def test_measuring_sheets_are_whole_where_no_piece_is_known_or_of_what_teams_have(
    in_lessons: tuple[Study, Plan],
) -> None:
    study, plan = in_lessons
    bare = make_sheets(study, plan.model_copy(update={"timetable": None}))
    assert [*parts_of(bare)] == ["all cells"]
    own = tuple(
        one.model_copy(update={"per": "team"}) if one.name == "meter pair" else one
        for one in study.equipment
    )
    job = Job(study.model_copy(update={"equipment": own}), plan, "a4")
    assert parted_by(job) == ""
    assert parted_by(Job(study, plan, "a4")) == "meter pair"


def test_what_is_lost_or_not_in_the_timetable_is_told_once(
    in_lessons: tuple[Study, Plan],
) -> None:
    study, plan = in_lessons
    first, *_ = (row.item for row in plan.rows)
    content = measuring_sheets(Job(study, plan, "a4", (first,)))
    text = " ".join(words_of_pages(content))
    assert text.count(f"Left out of this list. Lost: {first}.") == 1
    titles = re.findall(r"Measuring sheet: meter pair \d(?! \(continued\))", text)
    assert titles == [f"Measuring sheet: meter pair {n}" for n in range(1, 5)]


def test_each_page_says_of_which_part_it_is(in_lessons: tuple[Study, Plan]) -> None:
    """The title, or on the top of a page that has none of its own, that this one goes on."""
    pages = [*words_of_pages(measuring_sheets(Job(*in_lessons, "a4")))]
    heads = [re.match(r"Measuring sheet: (meter pair \d)( \(continued\))?", one) for one in pages]
    told = [head.groups() for head in heads if head is not None]
    assert told == [(f"meter pair {n}", on) for n in range(1, 5) for on in (None, " (continued)")]
    for head, page in zip(told, pages, strict=True):
        assert {*re.findall(r"\d\d:\d\d, by \d\d:\d\d \w+ (meter pair \d)", page)} == {head[0]}


def test_each_is_read_by_another_team_at_its_time_with_a_piece_of_its_own(
    in_lessons: tuple[Study, Plan],
) -> None:
    """All teams read four cells of another team, and no meter pair reads two cells in a minute."""
    study, plan = in_lessons
    told = planned(Job(study, plan, "a4"))
    assert set(told) == {row.item for row in plan.rows}
    maker = {row.item: row.groups["team"] for row in plan.rows}
    reads = Counter(one.lines[1] for one in told.values())
    assert reads == dict.fromkeys(plan.groups[0].members, 4)
    assert all(maker[item] != one.lines[1] for item, one in told.items())
    busy: set[tuple[str, int]] = set()
    for work in (one for one in works(plan) if one.step == "measure"):
        begins, _, piece = told[work.items[0]].lines
        assert begins == f"{clock(at(work))}, by {latest(plan, work.items[0])}"
        assert piece in {f"meter pair {n}" for n in range(1, 5)}
        minutes = {(piece, minute) for minute in range(work.start, work.start + work.minutes)}
        assert not busy & minutes
        busy |= minutes


def test_where_several_lessons_measure_each_time_has_its_lesson(
    in_lessons: tuple[Study, Plan],
) -> None:
    study, plan = in_lessons
    assert plan.timetable is not None
    late = next(work for work in works(plan) if work.step == "measure")
    moved = tuple(
        work.model_copy(update={"lesson": 3})
        if not work.between and work.items == late.items and work.lesson == 2
        else work
        for work in works(plan)
    )
    more = {"works": moved, "lessons": 3}
    table = plan.timetable.model_copy(update=more)
    told = planned(Job(study, plan.model_copy(update={"timetable": table}), "a4"))
    for work in (one for one in moved if one.step == "measure"):
        begins, *_ = told[work.items[0]].lines
        assert begins.startswith(f"lesson {work.lesson}, ")
        assert work.lesson == 3 or f" {clock(at(work))}, by {latest(plan, *work.items)}" in begins
    over = table.model_copy(update={"since": 3})
    told = planned(Job(study, plan.model_copy(update={"timetable": over}), "a4"))
    gone = {item for item, one in told.items() if one.lines == ("lesson 2, over",)}
    assert gone == {row.item for row in plan.rows} - {*late.items}


def test_without_a_timetable_there_is_room_for_which_piece_was_used(
    in_lessons: tuple[Study, Plan], printed: Handouts
) -> None:
    study, plan = in_lessons
    assert "cross out what was otherwise" in pages(printed, "measuring-sheets.pdf")[0]
    bare = make_sheets(study, plan.model_copy(update={"timetable": None}))
    assert "'With': number what there are several of" in pages(bare, "measuring-sheets.pdf")[0]
    alone = tuple(one.model_copy(update={"count": 1}) for one in study.equipment)
    one = study.model_copy(update={"equipment": alone})
    without = make_sheets(one, plan.model_copy(update={"timetable": None}))
    assert "'With'" not in pages(without, "measuring-sheets.pdf")[0]


def test_what_measures_is_numbered_where_it_is_laid_out(printed: Handouts) -> None:
    first, second = pages(printed, "lesson.pdf")
    assert "lamp and mask: 4 (number them 1 to 4)" in second
    assert "number them" not in first
