"""The display board on hand-made findings: its words, its numbers, what an edit may change.

Outside sources. Sizes: S. L. Smith, "Letter size and legibility", Human Factors 21(6), 661-670
(1979): letters 7 mm high at 1 m. The largest board (76 x 122 x 274 cm) and 24 points: common rules
of fairs. PDF/UA-1: ISO 14289-1:2014, 7.1. Paper: ISO 216 and ANSI/ASME Y14.1.
"""

from __future__ import annotations

import io
import itertools
import re
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from pypdf import PdfReader

from tests.words.reading_grade import flesch_kincaid
from trials.design.values import PlanRow
from trials.errors import TextError
from trials.render.blocks import Bullets, Figure, Paragraph, texts
from trials.render.tiles import Board
from trials.render.typeset import Paper
from trials.report import Story, Texts, board_files, edited_texts
from trials.report.abstracts import LIMITS, printed
from trials.report.board import board_of
from trials.report.board_draft import title_problem
from trials.report.board_facts import told_of
from trials.report.limits import next_section
from trials.study.values import Equipment, Material
from trials.words.board import Headline, headline
from trials.words.extending import fairly_added
from trials.words.forbidden import find_causal, find_forbidden
from trials.words.numbers import MINUS, NBSP

from .made import TODAY, a_question, make
from .test_report_document import REASONS, same_as_shown
from .whole import TWO_BY_TWO, whole

SETTLED = {
    "dye": ("mattered", "beyond"),
    "heat": ("made no practical difference", "inside"),
    "coats": ("made no practical difference", "inside"),
}


def story_of(made: Any) -> Story:
    return Story(made.study, made.plan, made.measured, made.findings, TODAY, "9.9", "study")


@cache
def story(scale: Any = "difference", **more: Any) -> Story:
    return story_of(make(scale, **more))


def draft(of: Story) -> Texts:
    return edited_texts(of, None, None)


def told(of: Story, key: str) -> str:
    return told_of(of)[key].text.replace(NBSP, " ")


@cache
def pdf(paper: Paper) -> bytes:
    of = story()
    return board_files(of, draft(of), paper)["board.pdf"]


def settled() -> Story:
    """Hibiscus is surely ahead of the other two, and nothing is open."""
    whole_ = make("ratio", verdicts=SETTLED, failed=0)
    pairs = tuple(
        one.model_copy(update={"interval_adjusted": (1.31, 2.2)})
        if one.term == "dye" and one.a["dye"] == "hibiscus"
        else one
        for one in whole_.found.comparisons
    )
    return story_of(whole_.with_found(whole_.found.model_copy(update={"comparisons": pairs})))


# ---- words -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reason", "scale"), list(itertools.product(REASONS, ("difference", "ratio")))
)
def test_every_verdict_is_told_without_a_forbidden_word(reason: str, scale: Any) -> None:
    verdicts = dict.fromkeys(("dye", "heat", "coats"), (REASONS[reason], reason))
    of = story_of(make(scale, verdicts=verdicts))
    texts = draft(of)
    for text in (texts.board, texts.abstract):
        assert find_forbidden(text) == ()
        assert "None" not in text
    line = told(of, "headline")
    open_ = REASONS[reason] == "not settled"
    assert ("not settled yet" in line) == open_ == bool(told(of, "open"))
    assert ("mattered" in line) == (REASONS[reason] == "mattered")
    assert ("no practical difference" in line) == (REASONS[reason].startswith("made"))


@pytest.mark.parametrize("looks", [1, 2])
def test_board_and_report_say_alike_how_more_may_be_made(looks: int) -> None:
    """More cells after a result: a new study, or a second look that is declared or marked."""
    made = make("difference")
    plan = made.study.plan.model_copy(update={"looks": looks})
    of = story_of(replace(made, study=made.study.model_copy(update={"plan": plan})))
    rule = fairly_added(declared=looks == 2)
    assert f"To settle heat, {rule[0].lower()}{rule[1:]}" in told(of, "next")
    assert rule in texts((next_section(of, of.responses[0]),))
    assert ("'after looking'" in rule, "that the plan declared" in rule) == (looks == 1, looks == 2)


@pytest.mark.parametrize("scale", ["difference", "ratio"])
def test_a_fifteen_year_old_can_read_the_board(scale: Any) -> None:
    one = story(scale)
    text = re.sub(r"<!--.*?-->|\{\{[a-z]+\}\}|[{}#*]", " ", draft(one).board, flags=re.DOTALL)
    running = [line.strip() for line in text.split("\n") if len(line.split()) > 3]
    text = " ".join(line if line.endswith((".", "?")) else f"{line}." for line in running)
    assert flesch_kincaid(text) <= 9.0


def test_failed_items_are_never_left_out_of_the_headline() -> None:
    assert told(story(), "headline").startswith("Of the cells that worked: dye mattered for power;")
    assert "Of the" not in told(story("difference", failed=0), "headline")


def test_a_headline_of_many_variables_counts_them() -> None:
    names = tuple(f"variable number {n}" for n in range(30))
    line = headline(Headline("power", "cell", names, names, names))
    assert line.startswith("30 variables mattered for power. 30 variables made")
    assert len(line.split()) < 40


def test_not_settled_is_never_told_as_no_difference() -> None:
    verdicts = dict.fromkeys(("dye", "heat", "coats"), ("not settled", "wide"))
    of = story_of(make("ratio", verdicts=verdicts))
    assert told(of, "headline").endswith("dye, heat and coating passes are not settled yet.")
    assert "'Not settled' is not the same as 'no difference'." in told(of, "open")
    for _, text in printed(told_of(of), draft(of).abstract):
        assert "not settled" in text.casefold()


def test_no_cause_is_claimed_where_some_failed() -> None:
    assert "we only say that a difference 'went with' a variable" in told(story(), "sure")
    assert "may be called caused" in told(story("difference", failed=0), "sure")


def test_no_cause_is_claimed_where_chance_decided_nothing() -> None:
    made = make("difference", failed=0)
    plan = made.plan.model_copy(
        update={"shuffle": made.plan.shuffle.model_copy(update={"size": 1.0})}
    )
    findings = made.findings.model_copy(update={"plan_digest": plan.digest()})
    of = story_of(replace(made, plan=plan, findings=findings))
    texts = draft(of)
    for text in (texts.board, texts.abstract):
        assert "Chance decided" not in text
        assert "Only one layout kept all our rules, so chance decided nothing." in text
    assert told(of, "headline").startswith("Dye went with a difference in power. Coating passes")
    assert "may be called caused" not in told(of, "sure")
    assert "we only say that a difference 'went with' a variable" in told(of, "sure")
    for key in ("headline", "found", "open", "sure"):
        assert find_causal(told(of, key)) == ()


def test_when_everything_was_lost_there_is_still_a_board() -> None:
    made = make("difference")
    values = tuple(replace(v, status="lost", value=None) for v in made.measured.values)
    of = story_of(replace(made.with_found(), measured=replace(made.measured, values=values)))
    texts = draft(of)
    assert "No cell gave a value, so there is no answer yet." in texts.board
    assert "{{table}}" not in texts.board
    assert board_files(of, texts)["board.pdf"].startswith(b"%PDF")


def test_without_a_margin_nothing_is_called_settled() -> None:
    of = story("difference", worthwhile=0)
    assert "nothing can be called settled" in told(of, "headline")
    assert "mattered" not in told(of, "headline") + told(of, "found")
    assert told(of, "care") == ""


def grown(row: PlanRow, place: int) -> float:
    noise = (-9.0, 4.0, 7.0, -5.0, 2.0, 1.0)[place]
    return 200.0 + (120 if row.factors.get("water") == "soft" else 0) + noise


def test_two_variables_and_a_winner() -> None:
    of = story_of(whole(TWO_BY_TWO, grown))
    assert told(of, "headline") == (
        "The most strength came with soft. Water mattered. Bag made no practical difference."
    )
    question = replace(of, measured=replace(of.measured, open_questions=(a_question(),)))
    assert "came with" not in told(question, "headline")
    assert "1 question about the data is still open" in told(question, "note")


def test_one_version_left_and_a_control() -> None:
    of = story_of(whole(TWO_BY_TWO, grown, failed=[("water", "hard")]))
    assert "water" in told(of, "open").casefold()
    assert "came with" not in told(of, "headline")
    three = TWO_BY_TWO.replace(
        'levels = ["soft", "hard"]', 'levels = ["soft", "hard", "salt"]\ncontrol = "hard"'
    )
    with_control = story_of(whole(three, grown))
    assert "soft gave" in told(with_control, "found")
    assert find_forbidden(draft(with_control).board) == ()


# ---- numbers -----------------------------------------------------------------------------------


@pytest.mark.parametrize("scale", ["difference", "ratio"])
def test_every_number_of_the_answer_is_that_of_the_findings(scale: Any) -> None:
    of = story(scale)
    found = of.responses[0]
    verdict = next(v for v in found.verdicts if v.factor == "dye")
    match = re.search(
        r"hibiscus gave ([\d.]+) (?:mW more than|times as much as) beetroot \(([\d.]+) to ([\d.]+)",
        told(of, "found"),
    )
    assert match
    wanted = (verdict.largest_difference, *(verdict.interval or ()))
    for shown, value in zip(match.groups(), wanted, strict=True):
        same_as_shown(shown, value)
    assert re.findall(r"\d+", told(of, "rests")) == ["45", "48", "2", "1"]
    assert (found.n_items, found.n_failed, found.n_lost) == (45, 2, 1)


def test_the_averages_of_the_board_are_those_of_the_findings() -> None:
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf("a4"))).pages)
    text = " ".join(text.split())
    for mean in (m for m in story().responses[0].means if m.term in ("dye", "heat")):
        (level,) = mean.levels.values()
        number = rf"({MINUS}?[\d.]+)"
        match = re.search(rf"{level} {number} {number} {number}", text)
        assert match, level
        for shown, value in zip(match.groups(), (mean.mean, *mean.interval), strict=True):
            same_as_shown(shown, value)


# ---- the title ---------------------------------------------------------------------------------


def test_no_title_names_a_winner_while_something_is_open() -> None:
    one = story()
    boast = replace(one, study=one.study.model_copy(update={"title": "Hibiscus is the best dye"}))
    assert "# Which of dye, heat and coats changes the power of a hand-made cell?" in (
        draft(boast).board
    )
    assert title_problem(one, "Does hibiscus win?") is None
    assert title_problem(one, "Hibiscus wins") == "open"
    assert title_problem(one, "2 coating passes win") == "open"
    assert title_problem(settled(), "Hibiscus wins") is None
    assert title_problem(settled(), "Beetroot wins") == "other"


def test_an_edited_title_that_names_a_winner_is_refused() -> None:
    texts = draft(story())
    edited = re.sub(r"^# .*$", "# Hibiscus wins", texts.board, flags=re.MULTILINE)
    with pytest.raises(TextError) as problem:
        edited_texts(story(), edited, None)
    assert problem.value.text() == (
        "The title in board.md names a version, but not everything is settled.\n"
        "Where: board.md\n"
        "Found: Hibiscus wins\n"
        "Allowed: a title without the name of a version, or a question\n"
        "What to do: Ask in the title, or leave the names of versions to the text. "
        "Nothing was written."
    )


# ---- what a person edits -------------------------------------------------------------------------


def test_edits_are_kept_and_the_draft_is_stable() -> None:
    texts = draft(story())
    assert edited_texts(story(), texts.board, texts.abstract) == texts
    edited = texts.board.replace("## Conclusion", "## Ours\n\nWe liked it.\n\n## Conclusion")
    edited = edited.replace("one batch of paste", "one jar of paste")
    again = edited_texts(story(), edited, None)
    assert again.board == edited
    assert again.notes == ()


def test_results_that_grew_old_are_renewed_and_nothing_else() -> None:
    old = draft(story()).board.replace("# Does", "# Really: does")
    later = story("difference", failed=0)
    new = edited_texts(later, old, None).board
    assert "# Really: does" in new
    assert told(later, "headline") in new
    assert told(story(), "headline") not in new
    assert edited_texts(later, new, None).board == new


@pytest.mark.parametrize(
    ("change", "what", "found"),
    [
        (("0.235 mW", "0.935 mW"), "A result in board.md was changed by hand.", "0.935 mW"),
        (
            ("## Conclusion\n", "## Conclusion\n\nIt gave 3.5 times as much.\n"),
            "board.md says a number that is none of this study's own.",
            "3.5 times",
        ),
        (
            ("## Conclusion\n", "## Conclusion\n\nIt gave twice as much.\n"),
            "board.md says in words how big a difference is.",
            "twice",
        ),
        (
            ("{{steps}}", "{{stpes}}"),
            "board.md asks for a result that the program doesn't know.",
            "{{stpes}}",
        ),
        (
            ("{{steps}}", "{{steps"),
            "Something in board.md begins and doesn't end, or ends and doesn't begin.",
            "{{",
        ),
    ],
)
def test_what_the_findings_do_not_say_is_refused(
    change: tuple[str, str], what: str, found: str
) -> None:
    text = draft(story()).board
    assert change[0] in text
    edited = text.replace(*change)
    with pytest.raises(TextError) as problem:
        edited_texts(story(), edited, None)
    assert problem.value.what == what
    assert found in problem.value.found
    line = int(problem.value.where.removeprefix("board.md, line "))
    assert found.split(maxsplit=1)[0] in edited.split("\n")[line - 1]
    assert problem.value.allowed
    assert problem.value.do


def test_numbers_of_the_study_itself_may_be_used_with_their_own_word() -> None:
    text = draft(story()).board
    fine = text.replace("## Conclusion\n", "## Conclusion\n\nWe tried 2 coating passes.\n")
    assert edited_texts(story(), fine, None).board == fine
    with pytest.raises(TextError):
        edited_texts(story(), fine.replace("2 coating passes", "2 times"), None)


@pytest.mark.parametrize(
    "said",
    [
        "12mW more", "2mW", "3x more", "x3", "5fold", "5-fold", ".5 mW", "gave12 mW", "1e3 W",
        "\u00bd as much", "1\u00bd times", "p<.05", "_12_ mW", "**12** mW", "4\u00d73", "12\u202f%",
    ],
)  # fmt: skip
def test_numbers_glued_to_letters_or_signs_are_numbers(said: str) -> None:
    text = draft(story()).board.replace("## Conclusion\n", f"## Conclusion\n\nSo {said}.\n")
    with pytest.raises(TextError) as problem:
        edited_texts(story(), text, None)
    assert problem.value.what == "board.md says a number that is none of this study's own."


@pytest.mark.parametrize(
    "said",
    [
        "one and a half times", "one-and-a-half times", "a third more", "two thirds as much",
        "half again", "a quarter less", "tenfold", "ten-fold", "one point five times", "trebled",
        "a tenth stronger",
    ],
)  # fmt: skip
def test_sizes_in_words_are_sizes(said: str) -> None:
    text = draft(story()).board.replace("## Conclusion\n", f"## Conclusion\n\nSo {said}.\n")
    with pytest.raises(TextError) as problem:
        edited_texts(story(), text, None)
    assert problem.value.what == "board.md says in words how big a difference is."


@pytest.mark.parametrize(
    "said",
    [
        "We made 48 cells of 12 recipes", "We took 3 readings of each cell", "We were 6 teams",
        "We care about 0.1 mW", "We care about 0.1mW", "**48** cells", "48\ncells",
        "We tried 3 dyes, so 3 versions", "Less than 0.01 mW was a failure", "It took 25 minutes",
        "It took 25 min, then 1.5 hours or 90 min", "2 sessions of 4 firings", "4 ml of paste",
        "TiO2, N719 and I3 need no leave", "half of the cells", "two and a half hours",
        "the third dye", "2 ovens", "3 variables", "48 small cells", "48 small,\nhand-made cells",
        "2 trays each, 12 trays in all",
    ],
)  # fmt: skip
def test_every_number_of_the_study_may_be_used_with_its_noun(said: str) -> None:
    one = story()
    oven = Equipment(name="oven", count=2)
    paste = Material(name="paste", amount=4, unit="ml")
    step = one.study.steps[0].model_copy(
        update={"minutes": 25.0, "waiting": 90.0, "materials": (paste,)}
    )
    tray = Equipment(name="tray", count=2, per="team")
    update = {"steps": (step,), "equipment": (oven, tray)}
    of = replace(one, study=one.study.model_copy(update=update))
    text = draft(of).board.replace("## Conclusion\n", f"## Conclusion\n\n{said}.\n")
    assert edited_texts(of, text, None).board == text


def test_words_that_say_too_much_and_what_is_missing_are_noted() -> None:
    text = draft(story()).board
    bold = text.replace("## Conclusion\n", "## Conclusion\n\nThis proves it. Heat caused it.\n")
    notes = edited_texts(story(), bold, None).notes
    assert any("'proves'" in note and "say shows" in note for note in notes)
    assert any("'caused'" in note for note in notes)
    silent = re.sub(r"\{\{(?:headline|open):.*?\}\}", "", text)
    assert edited_texts(story(), silent, None).notes == (
        "board.md doesn't tell what is not settled. Put {{open}} back, so that nobody is misled.",
    )


def boarded(text: str) -> tuple[Board, Texts]:
    texts = edited_texts(story(), text, None)
    return board_of(story(), told_of(story()), texts.board), texts


def sayings(blocks: Iterable[Any]) -> list[str]:
    paragraphs = (block for block in blocks if isinstance(block, Paragraph))
    return [f"{one.opening} {one.text}".strip().replace(NBSP, " ") for one in paragraphs]


def test_results_in_bold_letters_are_printed() -> None:
    text = draft(story()).board
    line, care, open_ = (told(story(), key) for key in ("headline", "care", "open"))
    bold = re.sub(r"(\{\{headline:.*?\}\})", r"**\1**", text)
    assert bold != text
    board, _ = boarded(bold)
    assert board.lines[0].replace(NBSP, " ") == line
    edited = text.replace(
        "## Conclusion\n",
        "## Conclusion\n\n**We say {{headline}}** Yes.\n\n**So {{care}} and:** yes.\n\n"
        "**{{found}}**\n\n- **{{open}}**\n",
    )
    board, texts = boarded(edited)
    (tile,) = (tile for tile in board.tiles if tile.title == "Conclusion")
    said = sayings(tile.blocks)
    assert said[:2] == [f"We say {line} Yes.", f"So {care} and: yes."]
    assert " ".join(said[2:4]) == told(story(), "found")
    lists = [block for block in tile.blocks if isinstance(block, Bullets)]
    assert [" ".join(one.items).replace(NBSP, " ") for one in lists] == [open_]
    pages = PdfReader(io.BytesIO(board_files(story(), texts)["board.pdf"])).pages
    assert not any("\x00" in page.extract_text() for page in pages)


def test_what_stands_below_the_title_is_printed_whatever_it_is() -> None:
    text = draft(story()).board
    headline_ = re.compile(r"\{\{headline:.*?\}\}")
    board, _ = boarded(headline_.sub("**We are:** three.\n\n- one\n- two\n\n{{open}}", text))
    assert board.lines[:3] == ("We are: three.", "one", "two")
    rest = " ".join(board.lines[3:]).replace(NBSP, " ")
    assert told(story(), "open") in rest


@pytest.mark.parametrize(
    "said",
    [
        "48 fewer cells", "48 failed cells", "48 small better cells", "49 small cells",
        "48 small percent", "48 small\n\ncells", "48, small cells", "48 small-cells",
    ],
)  # fmt: skip
def test_a_word_between_that_makes_it_another_number_is_refused(said: str) -> None:
    text = draft(story()).board.replace("## Conclusion\n", f"## Conclusion\n\nSo {said}.\n")
    with pytest.raises(TextError) as problem:
        edited_texts(story(), text, None)
    assert problem.value.what == "board.md says a number that is none of this study's own."


def test_a_graph_below_the_title_is_told_of() -> None:
    text = draft(story()).board
    headline_ = re.compile(r"\{\{headline:.*?\}\}")
    moved = headline_.sub(lambda match: f"{match[0]}\n\n{{{{graph}}}}", text, count=1)
    (note,) = edited_texts(story(), moved, None).notes
    assert "has {{graph}} below the title. It isn't printed" in note
    assert "a heading that starts with ##" in note
    assert edited_texts(story(), text, None).notes == ()


@pytest.mark.parametrize("heading", ["##", "## ", "## {{graph}}", "## **{{found}}**"])
def test_a_heading_without_words_is_refused(heading: str) -> None:
    text = draft(story()).board
    edited = text.replace(
        "## Conclusion\n", f"{{{{care:\n}}}}\n{heading}\n\nMore.\n\n## Conclusion\n"
    )
    with pytest.raises(TextError) as problem:
        edited_texts(story(), edited, None)
    assert problem.value.what == "board.md has a heading without words."
    line = int(problem.value.where.removeprefix("board.md, line "))
    assert edited.split("\n")[line - 1] == heading
    assert problem.value.allowed == "words after ## and a space"
    abstract = draft(story()).abstract.replace("## In 250", "##\n\nMore.\n\n## In 250")
    with pytest.raises(TextError) as problem:
        edited_texts(story(), None, abstract)
    assert problem.value.what == "abstract.md has a heading without words."


def test_a_picture_in_a_heading_comes_below_it() -> None:
    text = draft(story()).board.replace("\n\n{{graph}}", "")
    text = text.replace("## Every cell a dot", "## Our graph {{graph}}")
    board, _ = boarded(text)
    (tile,) = (tile for tile in board.tiles if tile.title == "Our graph")
    assert any(isinstance(block, Figure) for block in tile.blocks)


def test_what_is_not_settled_and_the_note_have_their_place_from_the_first_day() -> None:
    first = draft(settled()).board
    assert told(settled(), "open") == told(settled(), "note") == ""
    assert "{{open}}" in first
    assert "{{note}}" in first
    tiles_ = board_of(settled(), told_of(settled()), first).tiles
    assert "Not settled yet" not in [tile.title for tile in tiles_]
    edited = first.replace("## Conclusion", "## What we learned")
    edited = re.sub(r"\{\{headline.*?\}\}", "", edited)
    later = edited_texts(story(), edited, None)
    assert later.notes == ()
    assert told(story(), "open") in later.board.replace(NBSP, " ")
    assert told(story(), "note") in later.board.replace(NBSP, " ")


def test_a_draft_that_nobody_touched_is_drafted_again() -> None:
    first = draft(settled())
    again = edited_texts(story(), first.board, first.abstract.replace("\n", "\r\n"))
    assert again == draft(story())
    windows = first.board.replace("\n", "\r\n")
    assert edited_texts(settled(), windows, None).board == windows
    edited = first.abstract.replace("This speaks only", "All this speaks only")
    kept = edited_texts(story(), None, edited)
    assert "All this speaks only" in kept.abstract
    assert kept.abstract != draft(story()).abstract
    changed = first.board.replace("practical difference.", "difference at all.", 1)
    assert changed != first.board
    with pytest.raises(TextError):  # a result that a person changed is no draft
        edited_texts(settled(), changed, None)


def test_what_stands_in_a_note_is_not_told() -> None:
    text = re.sub(r"\{\{headline:.*?\}\}", "", draft(story()).board)
    hidden = re.sub(r"(\{\{open:.*?\}\})", r"<!-- \1 -->", text)
    assert edited_texts(story(), text, None).notes == ()
    assert edited_texts(story(), hidden, None).notes == (
        "board.md doesn't tell what is not settled. Put {{open}} back, so that nobody is misled.",
    )
    short = re.sub(r"\{\{(headline|open):.*?\}\}", r"<!-- {{\1}} -->", draft(story()).abstract)
    (note,) = edited_texts(story(), None, short).notes
    assert note.startswith("abstract.md doesn't tell what is not settled.")


# ---- abstracts -----------------------------------------------------------------------------------


@pytest.mark.parametrize("scale", ["difference", "ratio"])
def test_abstracts_keep_their_limits(scale: Any) -> None:
    of = story(scale)
    parts = dict(printed(told_of(of), draft(of).abstract))
    assert parts.keys() == LIMITS.keys()
    for title, most in LIMITS.items():
        assert most / 3 < len(parts[title].split()) <= most
        assert "mattered" in parts[title]


def test_an_abstract_that_is_too_long_is_refused() -> None:
    text = draft(story()).abstract.replace("## In 250 words", "so " * 80 + "\n\n## In 250 words")
    with pytest.raises(TextError) as problem:
        edited_texts(story(), None, text)
    assert problem.value.what == "abstract.md has too many words under 'In 100 words'."
    assert problem.value.allowed == "at most 100 words"


def test_a_study_with_endless_labels_still_fits() -> None:
    made = make("difference")
    factors = tuple(
        f.model_copy(update={"label": " ".join(["very"] * 40 + [f.name])})
        for f in made.study.factors
    )
    of = story_of(replace(made, study=made.study.model_copy(update={"factors": factors})))
    for title, text in printed(told_of(of), draft(of).abstract):
        assert len(text.split()) <= LIMITS[title]
