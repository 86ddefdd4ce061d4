"""A lesson later a team is away and slides are cracked: what changes on paper, and what stays."""

from __future__ import annotations

import re
from collections import Counter, defaultdict

import pytest

from tests.classroom.by_the_minute import misread
from tests.remembered import words_of_pages
from trials.classroom.left import past_works
from trials.classroom.lessons import timetable_of
from trials.classroom.readers import Helpers
from trials.classroom.rest import hand_over, schedule_rest
from trials.design.values import Away, Plan, PlannedWork
from trials.render.typeset import mark_of
from trials.sheets import Handouts, make_sheets
from trials.sheets.measuring import planned
from trials.sheets.parts import Job
from trials.study.values import Study
from trials.words.gone import DASH, TAKEN_OVER, printed_again

AWAY = "marsh"
MARKED = (
    "materials.pdf", "timetable.pdf", "lesson.pdf", "making-sheets.pdf", "logbook.pdf",
    "measuring-sheets.pdf",
)  # fmt: skip
FIRST, SECOND = "timetable 1", "timetable 2, from lesson 2 on"
FOOT = re.compile(rf"(?:{SECOND}|{FIRST}) page \d+ of \d+$")
WRITE = "Write its code on each one before you start."


def pages(handouts: Handouts, name: str) -> list[str]:
    return list(words_of_pages(handouts.files[name]))


def again(study: Study, plan: Plan, lost: tuple[str, ...], away: tuple[str, ...]) -> Plan:
    """Return the plan with the rest placed again from lesson 2 on."""
    others = hand_over(plan, away, lost)
    table = timetable_of(
        study, schedule_rest(study, plan, since=2, gone=lost, helpers=Helpers(others, away))
    )
    assert table is not None
    assert plan.timetable is not None
    told = {
        "away": tuple(Away(team=team, since=2) for team in away),
        "past": past_works(plan.timetable, table, 2, lost),
        "since": 2,
        "again": plan.timetable.again + 1,
    }
    return plan.model_copy(update={"timetable": table.model_copy(update=told)})


def cracked(plan: Plan) -> tuple[str, ...]:
    """Return three slides of the first firing, none of the team that is away."""
    first = [row for row in plan.rows if row.groups["firing"] == "F1"]
    return tuple(row.item for row in first if row.groups["team"] != AWAY)[:3]


@pytest.fixture(scope="module")
def later(in_lessons: tuple[Study, Plan]) -> Plan:
    study, plan = in_lessons
    return again(study, plan, cracked(plan), (AWAY,))


@pytest.fixture(scope="module")
def after(in_lessons: tuple[Study, Plan], later: Plan) -> Handouts:
    return make_sheets(in_lessons[0], later, lost=cracked(later))


def finishers(plan: Plan) -> dict[str, str]:
    """Return who closes what the team that is away made, from the works alone."""
    assert plan.timetable is not None
    own = {row.item for row in plan.rows if row.groups["team"] == AWAY}
    crews: dict[str, set[str]] = defaultdict(set)
    for work in plan.timetable.works:
        if work.step == "close" and own & {*work.items}:
            crews[work.items[0]].add(work.crew)
    assert all(len(who) == 1 for who in crews.values())
    found = {item: who.pop() for item, who in crews.items()}
    assert found.keys() == own
    assert AWAY not in found.values()
    return found


def sheet(handouts: Handouts, team: str) -> str:
    """Return the making sheet of one team: its pages up to the next sheet or the first card."""
    text = " ".join(pages(handouts, "making-sheets.pdf"))
    found = re.search(rf"Making sheet: team {team} .*?(?=Making sheet: |Card for |$)", text)
    assert found is not None
    return found[0]


def lesson(handouts: Handouts, name: str, number: int) -> str:
    """Return what is told of a lesson, without the feet of the pages."""
    text = " ".join(pages(handouts, name))
    foot = rf" Two lessons: does [^·]*· [^·]*· plan check code \w+ {FOOT.pattern[:-1]}"
    text = re.sub(foot, "", text)
    found = re.search(
        rf"Lesson {number}, \w+day .*?(?=Between lessons |Lesson \d, \w+day |$)", text
    )
    assert found is not None
    return found[0].strip()


def test_each_page_that_a_timetable_changes_says_of_which_one_it_is(
    printed: Handouts, after: Handouts
) -> None:
    """All but the page that is signed once, and what is as before."""
    for handouts, mark in ((printed, FIRST), (after, SECOND)):
        names = [name for name in handouts.files if name.endswith(".pdf")]
        assert {*MARKED} < {*names}
        for name in names:
            of_timetable = name in MARKED
            assert mark_of(handouts.files[name]) == (mark if of_timetable else "")
            for at, page in enumerate(pages(handouts, name)):
                signed = (name, at) == ("making-sheets.pdf", 0)
                marks = re.findall(rf"({FIRST}|{SECOND}) page {at + 1} of", page)
                assert marks == ([mark] if of_timetable and not signed else []), (name, at)
    for name in ("cautions.pdf", "risk-form.pdf"):
        assert printed.files[name] == after.files[name]


def test_the_mark_counts_how_often_the_rest_was_placed_again(
    in_lessons: tuple[Study, Plan], later: Plan
) -> None:
    study, plan = in_lessons
    assert later.timetable is not None
    third = later.timetable.model_copy(update={"again": 2, "since": 3})
    job = Job(study, later.model_copy(update={"timetable": third}), "a4")
    assert job.mark == "timetable 3, from lesson 3 on"
    assert Job(study, plan.model_copy(update={"timetable": None}), "a4").mark == ""
    other = study.model_copy(update={"steps": study.steps[1:]})
    assert Job(other, plan, "a4").mark == ""  # its times are told nowhere then


def test_who_finishes_for_others_is_told_to_bring_that_as_well(
    printed: Handouts, after: Handouts, later: Plan
) -> None:
    both = "What you made, and what you finish for other teams, you bring to whoever reads it."
    own = "What you made, you bring to whoever reads it."
    for team in {*later.groups[0].members} - {AWAY}:
        assert own in sheet(printed, team)
        finishes = team in finishers(later).values()
        assert (both in sheet(after, team), own in sheet(after, team)) == (finishes, not finishes)


def test_the_first_print_says_who_takes_over_after_lesson_1_and_brings_it_to_lesson_2(
    printed: Handouts,
) -> None:
    first, second = pages(printed, "lesson.pdf")
    assert (
        "After the lesson the responsible adult takes over 24 cells, with what belongs to them, "
        "for 'Fire the slides' and 'Lay the slides in their dye'."
    ) in first
    assert "From before" not in first
    assert "From before: 24 cells, as they are after 'Lay the slides in their dye', each" in second
    assert "The responsible adult brings them." in second
    assert "After the lesson" not in second


@pytest.mark.parametrize("name", ["timetable.pdf", "lesson.pdf"])
def test_the_page_of_a_lesson_that_is_over_is_not_printed_again(
    printed: Handouts, after: Handouts, name: str
) -> None:
    """Neither is what the adult did before lesson 2: all of that is over, too."""
    assert "printed before" not in " ".join(pages(printed, name))
    first, *others = pages(after, name)
    assert first.startswith("Lesson 1 is over: its page is the one printed before. Lesson 2, ")
    for page in (first, *others):
        assert "Lesson 1, " not in page
        assert "Between lessons" not in page
        assert "Done before this lesson" not in page


def test_what_is_not_done_yet_between_lessons_is_printed(
    in_lessons: tuple[Study, Plan], later: Plan
) -> None:
    """The dye bath is still to come: its rows stand there, those of the firings don't."""
    table = later.timetable
    assert table is not None
    over = tuple(at for at in table.over if table.works[at].step != "soak")
    still = later.model_copy(update={"timetable": table.model_copy(update={"over": over})})
    handouts = make_sheets(in_lessons[0], still, lost=cracked(later))
    text = " ".join(pages(handouts, "timetable.pdf"))
    adult = text[text.index("Between lessons") : text.index("Lesson 2, ")]
    soaked = [work.items[0] for work in table.works if work.step == "soak"]
    assert all(code in adult for code in soaked)
    assert "firing F" not in adult
    assert "Done before this lesson" in " ".join(pages(handouts, "lesson.pdf"))


def test_where_all_lessons_are_over_one_line_says_so(in_lessons: tuple[Study, Plan]) -> None:
    study, plan = in_lessons
    table = plan.timetable
    assert table is not None
    done = table.model_copy(update={"over": tuple(range(len(table.works))), "since": 3})
    handouts = make_sheets(study, plan.model_copy(update={"timetable": done}))
    for name in ("timetable.pdf", "lesson.pdf"):
        (page,) = pages(handouts, name)
        assert page.startswith("Lessons 1 and 2 are over: their pages are those printed before.")


def test_nothing_that_was_begun_is_said_not_to_be_made(
    in_lessons: tuple[Study, Plan], after: Handouts
) -> None:
    a, b, c = cracked(in_lessons[1])
    for name in after.files:
        if name.endswith(".pdf"):
            assert "No longer made" not in " ".join(pages(after, name))
    for name in ("timetable.pdf", "lesson.pdf"):
        assert f"Begun, then lost: {a}, {b} and {c}." in lesson(after, name, 2)


def test_a_sheet_keeps_what_was_lost_later_and_has_boxes_for_what_is_to_come(
    in_lessons: tuple[Study, Plan], after: Handouts
) -> None:
    """Steps 1 to 5 are over by lesson 2, step 6 (closing) isn't: it alone has a column."""
    plan = in_lessons[1]
    for code in cracked(plan):
        row = plan.row(code)
        text = sheet(after, row.groups["team"])
        assert "Finish 3 cells: go by the times below." in text
        assert "Write its code on each one" not in text
        coats = f"{row.factors['dye']} {row.factors['coats']}"
        assert "Coating passes 6 Notes: what went differently" in text
        assert f" {row.run} {code} F1 {coats} – lost " in text
        assert DASH not in text  # 'lost' says why
        for other in plan.rows:
            if other.groups["team"] == row.groups["team"] and other.item not in cracked(plan):
                versions = f"{other.factors['dye']} {other.factors['coats']}"
                line = f" {other.run} {other.item} {other.groups['firing']} {versions} "
                assert re.search(f"{line}[^–]", text)  # a box
        assert f"Begun, then lost: {code}." in text


def test_who_finishes_what_stands_on_the_finishers_sheets(
    in_lessons: tuple[Study, Plan], later: Plan, after: Handouts
) -> None:
    plan, who = in_lessons[1], finishers(later)
    for team in plan.groups[0].members:
        if team == AWAY:
            continue
        text = sheet(after, team)
        mine = [item for item, crew in who.items() if crew == team]
        assert (TAKEN_OVER in text) == bool(mine)
        for item in mine:
            row = plan.row(item)
            versions = f"{row.factors['dye']} {row.factors['coats']}"
            # whose it is, its versions, and a box for closing it, which is all that isn't over
            line = f"{row.run} {item} {AWAY} {row.groups['firing']} {versions} "
            assert re.search(f"Coating passes 6 Notes: .*{line}[^–]", text)
        several = f"{len(mine)} cells of other teams" if len(mine) > 1 else "1 cell of another team"
        assert (f"Also finish {several}: see below." in text) == bool(mine)
    readers = planned(Job(in_lessons[0], later, "a4", cracked(plan)))
    for item, team in who.items():
        reader = readers[item].lines[1]
        assert reader not in (team, AWAY)
        times = sheet(after, team).split("When each step begins")[1]
        assert re.search(rf"{item} \d+:\d+ \d+:\d+ \({reader} reads\) \d+:\d+ ", times)
        assert re.search(
            rf"You read [^.]*for {team}: [^.]*{item} \(meter pair \d\)", sheet(after, reader)
        )


def test_who_is_away_reads_nothing_and_who_made_or_finished_never_does(
    in_lessons: tuple[Study, Plan], later: Plan
) -> None:
    """By hand: five teams read 21 cells; 4 of these the one that is away was to read."""
    study, plan = in_lessons
    table = later.timetable
    assert table is not None
    assert misread(later, table.works, away=(AWAY,), over=table.over) == []
    told = planned(Job(study, later, "a4", cracked(plan)))
    reads = Counter(one.lines[1] for one in told.values())
    assert reads.total() == 21
    assert reads.keys() == {*plan.groups[0].members} - {AWAY}
    assert max(reads.values()) - min(reads.values()) <= 2
    hands = Counter(
        (work.crew, minute)
        for work in table.works
        if work.lesson == 2 and not work.between
        for minute in range(work.start, work.start + work.minutes)
    )
    assert study.lessons is not None
    assert max(hands.values()) <= study.lessons.hands


def test_a_team_that_is_away_has_no_sheet_and_those_that_finish_are_told_it_is_away(
    later: Plan, after: Handouts
) -> None:
    front, *others = pages(after, "making-sheets.pdf")
    assert not any(f"Making sheet: team {AWAY}" in page for page in (front, *others))
    shares = defaultdict(list)
    for row in later.rows:
        if row.groups["team"] == AWAY:
            shares[finishers(later)[row.item]].append(row.item)
    for page in others:
        (team,) = re.findall(r"Making sheet: team (\w+)", page)
        assert (f"Team {AWAY} is away from lesson 2 on. Also finish" in page) == (team in shares)
        assert "Others finish" not in page
    for name in ("timetable.pdf", "lesson.pdf"):  # there all of it stands
        told = re.search(
            rf"Team {AWAY} is away from lesson 2 on\. Others finish: ([^.]*)\.",
            pages(after, name)[0],
        )
        assert told is not None
        given = dict(part.split(" ", 1) for part in told[1].split("; "))
        assert {
            team: set(re.findall(r"\w{3}", text.replace("and", ""))) for team, text in given.items()
        } == {team: {*items} for team, items in shares.items()}


def test_a_sheet_for_one_step_is_one_page(printed: Handouts, after: Handouts, later: Plan) -> None:
    """Page 1 to sign, then a page for each of the five teams, with list, times and step 6."""
    assert not any("Card for" in page for page in pages(after, "making-sheets.pdf"))
    assert "Card for firing F1" in " ".join(pages(printed, "making-sheets.pdf"))
    _, *sheets = pages(after, "making-sheets.pdf")
    there = [team for team in later.groups[0].members if team != AWAY]
    for team, page in zip(there, sheets, strict=True):
        assert page.startswith(f"Making sheet: team {team} ")
        assert "When each step begins" in page
        assert "6. Close the cell Lift the slide out" in page
        assert "5. Lay the slides" not in page


def test_each_finds_the_times_of_what_it_does_and_of_nothing_else(
    later: Plan, after: Handouts
) -> None:
    assert later.timetable is not None
    closed = {w.items[0]: w for w in later.timetable.works if w.step == "close"}
    for item, team in finishers(later).items():
        text = sheet(after, team)
        times = text[text.index("When each step begins") :]
        minute = closed[item].start + 15  # of lessons that begin at 10:15
        assert times.count("Lesson 2, ") == 1
        assert "Lesson 1, " not in times
        assert re.search(rf" {item} 10:{minute} \d+:\d+ ", times)


def test_logbook_pages_are_of_those_who_are_there(
    later: Plan, printed: Handouts, after: Handouts
) -> None:
    """The pages keep their numbers; those of lesson 1 and of who is away then are left out."""
    who = finishers(later)
    was, now = (
        {p.split(" Date ")[0]: p for p in pages(h, "logbook.pdf")} for h in (printed, after)
    )
    numbered = {re.sub(r" Logbook page.*", "", title): title for title in was}
    over = {title for title in was if ": lesson 1" in title}
    assert len(over) == len(was) / 2
    assert {*was} - {*now} == {*over, numbered[f"Team {AWAY}: lesson 2"]}
    assert {*now} <= {*was}
    for title, text in now.items():
        assert printed_again() in text
        for item, team in who.items():
            line = f"{item} (team {AWAY}) 6"
            assert (line in text) == title.startswith(f"Team {team}: lesson 2")
        assert not any(re.search(rf"\b{code}\b", text) for code in cracked(later))


def test_more_than_a_page_holds_gets_a_page_with_a_number_of_its_own(
    in_lessons: tuple[Study, Plan], printed: Handouts
) -> None:
    """All but two teams are away: 8 cells each for the two, and 12 to read of the other one.

    With 4 own ones that is 24 lines: 10 on the page that each had, 6, 6 and 2 on three more.
    """
    study, plan = in_lessons
    assert plan.timetable is not None
    teams = plan.groups[0].members
    there, away = teams[:2], teams[2:]
    others = hand_over(plan, away, ())
    closes = {row.item: others.get(row.item, row.groups["team"]) for row in plan.rows}
    reads = {item: there[closes[item] == there[0]] for item in closes}
    crews = {"close": closes, "measure": reads}
    crewed = tuple(
        work.model_copy(update={"crew": crews[work.step][work.items[0]]})
        if work.lesson == 2 and not work.between
        else work
        for work in plan.timetable.works
    )
    over = tuple(n for n, w in enumerate(crewed) if w.lesson == 1 or w.between)
    table = plan.timetable.model_copy(update={"works": crewed, "over": over})
    handouts = make_sheets(study, plan.model_copy(update={"timetable": table}))
    found = pages(handouts, "logbook.pdf")
    titles = [text.split(" Date ")[0] for text in found]
    assert f"Team {there[0]}: lesson 2 Logbook page 2 of 18" in titles
    for number, team in enumerate((there[0],) * 3 + (there[1],) * 3, 13):
        assert f"Team {team}: lesson 2 (continued) Logbook page {number} of 18" in titles
    assert not any(f"Team {team}: lesson 2" in title for team in away for title in titles)
    written = " ".join(text for text in found if ": lesson 2" in text)
    for row in plan.rows:  # once where it is closed, once where it is read
        assert len(re.findall(rf"\b{row.item}\b", written)) == 2
        assert len(re.findall(rf"\b{row.item} (?:\(team \w+\) )?M\b", written)) == 1
    assert len(found) == len(pages(printed, "logbook.pdf")) - len(away) + 6


def test_when_the_team_is_back_and_the_loss_taken_back_all_is_as_it_was(
    in_lessons: tuple[Study, Plan], later: Plan, printed: Handouts
) -> None:
    study, plan = in_lessons
    back = again(study, later, (), ())
    assert plan.timetable is not None
    assert back.timetable is not None
    assert (back.timetable.past, back.timetable.away) == ((), ())

    def key(work: PlannedWork) -> str:
        return repr(work)

    def is_over(work: PlannedWork) -> bool:
        return work.lesson == 1 or work.between

    was, now = plan.timetable.works, back.timetable.works
    assert sorted(filter(is_over, now), key=key) == sorted(filter(is_over, was), key=key)
    assert {(w.step, w.items, w.crew) for w in now} == {(w.step, w.items, w.crew) for w in was}
    assert back.timetable.again == 2
    once = back.timetable.model_copy(update={"again": 1})
    returned = make_sheets(study, back.model_copy(update={"timetable": once}))
    assert len(pages(returned, "lesson.pdf")) == 1
    for name in ("labels.pdf", "cautions.pdf", "risk-form.pdf", "entry-workbook.xlsx"):
        assert returned.files[name] == printed.files[name]
    for team in plan.groups[0].members:
        text = sheet(returned, team)
        assert TAKEN_OVER not in text
        head = text.split("When each step begins")[0]
        assert DASH not in head
        head = head.replace("passes 6 Notes", "passes 1 2 3 4 5 6 Notes")  # the others are over
        head = head.replace("Finish 4", "Make 4").replace(" Tick each", f" {WRITE} Tick each")
        assert head == sheet(printed, team).split("When each step begins")[0]
    was_written = [page for page in pages(printed, "logbook.pdf") if ": lesson 1" not in page]
    books = zip(pages(returned, "logbook.pdf"), was_written, strict=True)
    for now_written, then_written in books:
        text = now_written.replace(f" • {printed_again()}", "")
        assert FOOT.sub("", text) == FOOT.sub("", then_written)


def test_what_is_back_and_not_yet_placed_is_said_to_be_so(
    in_lessons: tuple[Study, Plan], later: Plan
) -> None:
    """The loss was taken back, and 'trials lessons' is still to come."""
    a, b, c = cracked(later)
    handouts = make_sheets(in_lessons[0], later)
    assert f"Not in the timetable: {a}, {b} and {c}." in lesson(handouts, "timetable.pdf", 2)
    for code in (a, b, c):
        text = sheet(handouts, later.row(code).groups["team"])
        assert "Finish 4 cells" in text
        assert "lost" not in text.split("When each step begins")[0].replace("write 'lost'", "")


def test_what_is_laid_out_is_for_those_who_are_there(later: Plan, after: Handouts) -> None:
    """By hand: 5 of 6 teams of five are there; 21 of 24 cells are left, with 2 clips each."""
    (second,) = pages(after, "lesson.pdf")
    assert "Eye protection (M004): 25" in second
    assert "Protective gloves (M009): 25 pairs, listed below" in second
    materials = " ".join(pages(after, "materials.pdf"))
    who, gone = finishers(later), cracked(later)
    assert "Without spare ones" not in second  # materials.pdf has none any more
    closes = Counter(
        who.get(row.item, row.groups["team"]) for row in later.rows if row.item not in gone
    )
    assert sum(closes.values()) == 21
    low, high = min(closes.values()), max(closes.values())
    for told, listed in (
        ("Disposable gloves: 25 pairs", "3 pairs for each team 3 pairs 15 pairs"),  # 2 to measure
        ("Binder clip: 42", f"2 for each cell {2 * low} to {2 * high} 42"),
        ("Iodide electrolyte: 1.1 mL", "1.1 mL"),
        ("Paper towel: 21", f"1 for each cell {low} to {high} 21"),
    ):
        assert told in second
        assert listed in materials
