"""The report on hand-made findings: every verdict, every number, every part."""

from __future__ import annotations

import csv
import datetime
import io
import itertools
import json
import re
from dataclasses import replace

import pytest
from pypdf import PdfReader

from tests.page_text import page_text, read_pages
from tests.remembered import forget_pages
from trials.analysis.findings import BestRecipe, Findings, OthersHeld
from trials.design.values import AuditFinding
from trials.errors import RequestError
from trials.record.values import Question
from trials.render.blocks import figures
from trials.render.html import html_page
from trials.render.plain import plain_lines
from trials.render.table import shown as cells_shown
from trials.report import report_document, report_files, story_of
from trials.words.forbidden import find_forbidden
from trials.words.numbers import MINUS, NBSP

from ..render.test_render_document import check_page
from .made import TODAY, Made, make
from .telling import (
    Scale,
    files,
    made,
    section,
    student_text,
    tables_in,
    text_of,
    told,
    without_pictures,
    worded,
)

REASONS = {
    "beyond": "mattered",
    "inside": "made no practical difference",
    "clear_but_small": "made no practical difference",
    "inside_on_average": "not settled",
    "clear_not_surely_big": "not settled",
    "wide": "not settled",
    "no_replication": "not settled",
    "error_unsure": "not settled",
    "failures_disagree": "not settled",
}


@pytest.mark.parametrize(
    ("reason", "scale"), list(itertools.product(REASONS, ("difference", "ratio")))
)
def test_every_verdict_is_told_in_plain_words(reason: str, scale: Scale) -> None:
    verdicts = dict.fromkeys(("dye", "heat", "coats"), (REASONS[reason], reason))
    with without_pictures():
        document = make(scale, verdicts=verdicts).document()
    text = student_text(document)
    assert find_forbidden(text) == ()
    assert "None" not in text
    assert "nan" not in text.casefold().split()
    answer = text_of(section(document, "answer"))
    named = REASONS[reason]
    heading = {"mattered": "What mattered", "not settled": "What is not settled"}.get(
        named, "What made no practical difference"
    )
    lines = answer.split("\n")
    assert "dye" in lines[lines.index(heading) + 1].casefold()
    part = text_of(section(document, "power-heat-part"))
    assert ("Not settled." in part) == (named == "not settled")
    assert ("Advice" in part) == (named == "mattered")


def test_the_order_of_the_parts() -> None:
    document = told("difference")
    assert [part.key for part in document.parts] == ["report", "technical"]
    assert [s.key for s in document.parts[0].sections] == [
        "question", "answer", "power-seen", "power-which-part", "variables", "power-together",
        "power-sure", "limits", "trouble", "next", "cautions", "again", "words",
    ]  # fmt: skip
    assert [s.key for s in document.parts[1].sections] == [
        "method", "checks", "checklist", "technical-words", "tables",
    ]  # fmt: skip


def test_the_same_values_give_the_same_report() -> None:
    first = told("difference"), files("difference")
    forget_pages()
    assert make("difference").document() == first[0]
    assert report_files(first[0]) == first[1]


def test_the_page_is_whole_and_small() -> None:
    for scale in ("difference", "ratio"):
        page = files(scale)["report.html"].decode()
        check_page(page)
        assert len(page) < 3_000_000
        assert "Invented school, invented data." in page


# ---- every number is that of the findings -----------------------------------------------------


def number_of(text: str) -> float:
    return float(text.replace(MINUS, "-").replace(NBSP, "").replace("<", ""))


def same_as_shown(shown: str, value: float | None) -> None:
    """A printed number is the value, rounded at the printed digit."""
    if value is None:
        assert shown == "–"
        return
    if shown.startswith("<"):
        assert value < number_of(shown)
        return
    digits = len(shown.split(".")[1]) if "." in shown else 0
    assert abs(number_of(shown) - value) <= 0.5 * 10**-digits * (1 + 1e-9), (shown, value)


def tables_of_page(page: str) -> dict[str, list[list[str]]]:
    """Every table of a page by its caption, heading row first."""
    out: dict[str, list[list[str]]] = {}
    for body in re.findall(r"<table[^>]*>(.*?)</table>", page, re.DOTALL):
        caption = re.search(r"<caption[^>]*>(.*?)</caption>", body, re.DOTALL)
        rows = [
            re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL)
            for row in re.findall(r"<tr[^>]*>(.*?)</tr>", body, re.DOTALL)
        ]
        assert caption
        out.setdefault(caption[1], rows)
    return out


@pytest.mark.parametrize("scale", ["difference", "ratio"])
def test_every_number_of_the_page_is_that_of_the_findings(scale: Scale) -> None:
    found = made(scale).found
    tables = tables_of_page(files(scale)["report.html"].decode())
    means = [m for m in found.means if m.term == "dye"]
    for row, mean in zip(tables["Averages for dye"][1:], means, strict=True):
        assert row[0] == mean.levels["dye"]
        for cell, value in zip(row[1:], (mean.n, mean.mean, *mean.interval), strict=True):
            same_as_shown(cell, value)
    for row, effect in zip(tables["Effects"][1:], found.effects, strict=True):
        wanted = (effect.num_df, effect.den_df, effect.f, effect.p, effect.p_randomisation,
                  effect.partial_omega_sq, effect.partial_eta_sq,
                  *(effect.partial_eta_sq_interval or ()))  # fmt: skip
        for cell, value in zip(row[2:], wanted, strict=True):
            same_as_shown(cell, value)
    for row, mean in zip(tables["Means"][1:], found.means, strict=True):
        for cell, value in zip(
            row[2:], (mean.n, mean.mean, mean.se, mean.df, *mean.interval), strict=True
        ):
            same_as_shown(cell, value)
    for row, one in zip(tables["Comparisons"][1:], found.comparisons, strict=True):
        estimate = one.ratio if scale == "ratio" else one.difference
        wanted = (estimate, *one.interval_adjusted, one.se, one.df, one.p, one.p_adjusted)
        for cell, value in zip(row[2:9], wanted, strict=True):
            same_as_shown(cell, value)
    for row, part in zip(tables["Variance components"][1:], found.variance_components, strict=True):
        same_as_shown(row[1], part.variance)
        same_as_shown(row[2], part.unbounded)
    shares = tables["Share of variation for the versions you tried"][1:]
    by_label = {"dye": 0.41, "heat": 0.12, "coating passes": 0.0}
    for row in shares[:3]:
        same_as_shown(row[1], 100 * by_label[row[0]])
    assert [row[0] for row in shares[:3]] == ["dye", "heat", "coating passes"]


@pytest.mark.parametrize("scale", ["difference", "ratio"])
def test_the_answer_holds_the_verdicts_own_numbers(scale: Scale) -> None:
    verdict = next(v for v in made(scale).found.verdicts if v.factor == "dye")
    answer = text_of(section(told(scale), "answer"))
    match = re.search(
        r"hibiscus gave ([\d.]+) (?:mW more than|times as much as) beetroot \(([\d.]+) to ([\d.]+)",
        answer,
    )
    assert match
    low, high = verdict.interval or (None, None)
    for shown, value in zip(match.groups(), (verdict.largest_difference, low, high), strict=True):
        same_as_shown(shown, value)
    # 20 firings in all are 12 more than the 8 there are: 6 more for each of two kinds of heat
    # of 6 cells each, as 48 cells are planned in 8 firings: 72 cells
    assert "Heat (about 6 more firings of each kind (about 72 more cells) would prob" in answer


def test_values_of_all_items_stand_in_the_page_and_the_file() -> None:
    rows = tables_of_page(files("difference")["report.html"].decode())["Power"][1:]
    values = {v.item: v for v in made("difference").measured.values}
    assert len(rows) == 48
    for row in rows:
        same_as_shown(row[-3], values[row[0]].value)
        assert row[-1] == values[row[0]].status
    read = list(csv.DictReader(io.StringIO(files("difference")["power-items.csv"].decode())))
    for line in read:
        value = values[line["item"]].value
        assert line["value (mW)"] == ("" if value is None else repr(value))


def test_what_there_is_to_know_of_a_value_stands_beside_it_and_that_of_all_is_a_limit() -> None:
    whole = make("difference")
    of_all, of_one = "no load was read", "the light was 38% away"
    values = tuple(
        replace(value, notes=(of_all, of_one) if place == 5 else (of_all,))
        for place, value in enumerate(whole.measured.values)
    )
    with without_pictures():
        plain = replace(whole, measured=replace(whole.measured, values=values)).document()
    assert "Power: no load was read." in text_of(section(plain, "limits"))
    assert of_one not in text_of(section(plain, "limits"))
    (table,) = [table for table in plain.data if table.name == "power-items"]
    assert "Of all: no load was read." in table.notes
    assert table.columns[-1].name == "remarks"
    remarks = {row[0]: row[-1] for row in table.rows if row[-1]}
    assert remarks == {values[5].item: of_one}
    without = told("difference")
    (table,) = [table for table in without.data if table.name == "power-items"]
    assert table.columns[-1].name == "status"


# ---- what can go wrong -------------------------------------------------------------------------


def test_when_nothing_worked_there_is_still_a_report() -> None:
    whole = make("difference")
    nothing = replace(
        whole.with_found(),
        measured=replace(
            whole.measured,
            values=tuple(replace(v, status="failed", value=None) for v in whole.measured.values),
        ),
    )
    document = nothing.document()
    assert "No cell gave a value, so there is no answer yet." in student_text(document)
    assert "Find out why no cell gave a value" in student_text(document)
    assert figures(document) == ()
    check_page(html_page(document))


def test_without_a_margin_there_is_no_verdict_but_the_differences() -> None:
    document = worded("difference", worthwhile=0)
    text = student_text(document)
    assert "No smallest difference worth caring about was set" in text
    assert "hibiscus gave 0.235 mW more than beetroot" in text
    assert "mattered" not in text_of(section(document, "answer"))
    assert "power-which" not in [figure.name for figure in figures(document)]


def test_open_questions_corrections_and_departures_are_listed() -> None:
    whole = made("difference")
    question = Question(
        id="Q7", code="slip", file="team3.xlsx", row=12, item="K10", column="power (mW)",
        found="410", why="It is a thousand times the other readings.", do="trials answer . Q7 keep",
    )  # fmt: skip
    measured = replace(
        whole.measured,
        open_questions=(question,),
        corrections=("K10: '0,41' read as 0.41.",),
        departures=("Two cells swapped places.",),
    )
    plan = whole.plan.model_copy(
        update={
            "seeds_tried": (3, 11),
            "audit": (
                AuditFinding(code="x", severity="warn", message="One pot for each dye."),
                AuditFinding(code="y", severity="note", message="Only a note."),
            ),
        }
    )
    findings = whole.findings.model_copy(update={"plan_digest": plan.digest()})
    with without_pictures():
        document = Made(whole.study, plan, measured, findings).document()
    trouble = text_of(section(document, "trouble"))
    assert "Q7 (team3.xlsx, row 12): It is a thousand times the other readings." in trouble
    assert "K10: '0,41' read as 0.41." in trouble
    assert "Two cells swapped places." in trouble
    assert "The plan was drawn" not in trouble  # that is for the departures to tell, once
    assert "Settle the 1 open question" in text_of(section(document, "next"))
    limits = text_of(section(document, "limits"))
    assert "One pot for each dye." in limits
    assert "Only a note." not in limits


def test_nothing_wrong_is_said_too() -> None:
    assert "Nothing that we know of." in text_of(section(worded("ratio", failed=0), "trouble"))


def test_every_pair_of_variables_is_told_and_drawn_where_it_is_clear() -> None:
    alone = worded("difference", failed=0)
    text = text_of(section(alone, "power-together"))
    assert "What these two do together is not clear of chance." in text
    assert "nothing here changes the advice" in text
    assert "can easily go unseen" in text
    assert "power-dye-with-heat" not in [figure.name for figure in figures(alone)]
    both = worded("difference", p_pair=0.004)
    text = text_of(section(both, "power-together"))
    assert "clear of chance. Dye with heat: chance makes it in about 4 of 1000 repeats; " in text
    assert "together they add 2 % of the variation." in text
    assert "Of the cells that worked, did the difference that went with one variable" in text
    # no version is better with one and worse with the other: the advice stays, nothing is drawn
    assert made("difference", p_pair=0.004).found.crossings == ()
    assert "power-dye-with-heat" not in [figure.name for figure in figures(both)]


def test_a_pair_that_is_clear_only_on_its_own_is_not_called_clear() -> None:
    # 0.03 by itself, but 0.09 with the three pairs looked at counted in
    effects = tuple(
        e.model_copy(update={"p": 0.03, "p_adjusted": 0.09}) if ":" in e.term else e
        for e in made("difference").found.effects
    )
    with without_pictures():
        document = make("difference", effects=effects).document()
    assert "not clear of chance" in text_of(section(document, "power-together"))
    pairs = tables_in(document, "power-tables")["power-pairs-of-variables"]
    assert [row[0::3] for row in pairs.rows] == [("dye with heat", "no")]
    assert [cells[1] for cells in cells_shown(pairs)] == ["0.090"]


def test_less_is_better_turns_the_advice() -> None:
    document = worded("difference", better="low")
    text = text_of(section(document, "power-dye-part"))
    assert "For less power, choose among beetroot and red cabbage" in text


def test_ranks_are_told_as_repeats() -> None:
    ranks = {"dye": (0.71, 0.2, 0.09), "heat": (0.28, 0.6, 0.12), "coats": (0.01, 0.2, 0.79)}
    with without_pictures():
        document = make("difference", diagnostics={"rank_frequencies": ranks}).document()
    text = text_of(section(document, "power-which-part"))
    assert (
        "In imagined repeats of the study, drawn from its own numbers, dye would come first in "
        "about 7 of 10 repeats and heat in about 3 of 10 repeats."
    ) in text


def test_a_second_response_is_told_shortly() -> None:
    whole = make("difference")
    study = whole.study.model_copy(
        update={
            "responses": (
                *whole.study.responses,
                whole.study.responses[0].model_copy(
                    update={"name": "voltage", "label": "open voltage", "unit": "V",
                            "primary": False}
                ),
            )
        }
    )  # fmt: skip
    second = whole.found.model_copy(update={"name": "voltage", "unit": "V", "primary": False})
    measured = replace(
        whole.measured,
        values=(
            *whole.measured.values,
            *(replace(v, response="voltage") for v in whole.measured.values),
        ),
    )
    both = Made(study, whole.plan, measured, whole.with_found(second, whole.found).findings)
    with without_pictures():
        document = both.document()
    keys = [s.key for s in document.parts[0].sections]
    assert keys.index("power-seen") < keys.index("voltage-other")
    text = text_of(section(document, "voltage-other"))
    assert "not the main thing measured" in text
    assert "0.235 V more" in text
    assert "As for power." in text_of(section(document, "method"))
    names = [figure.name for figure in figures(document)]
    assert len(names) == len(set(names))
    check_page(html_page(document))


def test_findings_of_another_plan_are_refused() -> None:
    whole = made("difference")
    for other in (None, "0" * 64):
        findings: Findings = whole.findings.model_copy(update={"plan_digest": other})
        with pytest.raises(RequestError, match="another plan") as caught:
            report_document(
                story_of(
                    whole.study, whole.plan, whole.measured, findings, today=TODAY, version="1"
                )
            )
        assert caught.value.code == "report.other_plan"


def test_the_day_and_the_version_come_from_outside() -> None:
    whole = made("difference")
    with without_pictures():
        later = report_document(story_of(
            whole.study, whole.plan, whole.measured, whole.findings,
            today=datetime.date(1999, 1, 2), version="0.0.1",
        ))  # fmt: skip
    assert "1999-01-02" in " ".join(later.foot)
    assert "0.0.1" in text_of(section(later, "method"))


# ---- the files ---------------------------------------------------------------------------------


def test_every_figure_has_picture_print_and_numbers() -> None:
    got = files("difference")
    for figure in figures(told("difference")):
        for ending in ("svg", "png", "csv"):
            assert f"figures/{figure.name}.{ending}" in got
        rows = list(csv.reader(io.StringIO(got[f"figures/{figure.name}.csv"].decode())))
        assert len(rows) == len(figure.data.rows) + 1


def test_the_description_fits_the_tables() -> None:
    # Data Package standard, version 2 (https://datapackage.org/standard/): a resource has a name of
    # lower-case letters, digits and . _ - /, a path, and a schema whose fields are the header.
    got = files("ratio")
    package = json.loads(got["datapackage.json"])
    assert package["$schema"].endswith("datapackage.json")
    names = [resource["name"] for resource in package["resources"]]
    assert len(names) == len(set(names))
    described = set()
    for resource in package["resources"]:
        assert re.fullmatch(r"[a-z0-9._/-]+", resource["name"])
        described.add(resource["path"])
        header, *rows = csv.reader(io.StringIO(got[resource["path"]].decode()))
        fields = resource["schema"]["fields"]
        assert [field["name"] for field in fields] == header
        for row in rows:
            for cell, field in zip(row, fields, strict=True):
                if field["type"] == "number" and cell:
                    float(cell)
                if field["type"] == "integer" and cell:
                    int(cell)
    assert described == {path for path in got if path.endswith(".csv")}


def test_the_plan_goes_with_the_report() -> None:
    rows = list(csv.DictReader(io.StringIO(files("ratio")["plan.csv"].decode())))
    plan = made("ratio").plan
    assert list(rows[0])[:3] == ["run", "measure", "item"]
    for row, planned in zip(rows, plan.rows, strict=True):
        assert row["item"] == planned.item
        assert row["firing"] == planned.groups["firing"]
        assert row["dye"] == planned.factors["dye"]


def test_paper_and_plain_text_say_the_same_as_the_page() -> None:
    document = told("difference")
    content = files("difference")["report.pdf"]
    paper = re.sub(r"\s+", " ", " ".join(map(page_text, read_pages(content))))
    paper = paper.replace("\u200b", "")
    plain = re.sub(r"[\s|]+", " ", "\n".join(plain_lines(document)))
    for piece in (
        "In short, for power of the cells that worked",
        "What we can't tell",
        "Fire the slides",
        "W017 hot surface",
        "Kenward and Roger",
    ):
        assert piece in paper
        assert piece in plain
    metadata = PdfReader(io.BytesIO(content)).metadata
    assert metadata is not None
    assert metadata.title == made("difference").study.title


def test_the_rarest_the_plan_can_show_is_said_to_be_so() -> None:
    whole = make("difference")
    effects = tuple(
        e.model_copy(update={"p_randomisation": 0.0286}) if e.term == "heat" else e
        for e in whole.found.effects
    )
    with without_pictures():
        document = make("difference", effects=effects).document()
    told = "comes by luck in 1 of 35 draws. So the second number can't be smaller."  # 1 / 0.0286
    assert told in text_of(section(document, "power-heat-part"))
    assert "can't be smaller" not in text_of(section(document, "power-dye-part"))


def test_a_variable_that_was_shuffled_alone_says_so_and_against_how_many() -> None:
    held = OthersHeld(layouts=70.0, smallest_p=2 / 70, counted=True)
    effects = tuple(
        e.model_copy(update={"p_randomisation": 0.0286, "exact": True, "others_held": held})
        if e.term == "heat"
        else e
        for e in make("difference").found.effects
    )
    with without_pictures():
        document = make("difference", effects=effects).document()
    told = text_of(section(document, "power-heat-part"))
    assert "lots for heat again on paper, with all else left where it was, gave such a diff" in told
    assert "even the clearest result for heat comes by luck in 1 of 35 draws. So the second" in told
    assert "with all else left" not in text_of(section(document, "power-dye-part"))
    said = "\n".join(plain_lines(document))
    assert "heat: 70 layouts, smallest possible p 0.029." in re.sub(r"\s+", " ", said)


def test_little_on_average_is_not_drawn_as_settled() -> None:
    verdicts = {"coats": ("not settled", "inside_on_average")}
    with without_pictures():
        document = make("difference", verdicts=verdicts).document()
    chart = next(f for f in figures(document) if f.name == "power-which")
    assert chart.alt.endswith("not settled (little on average).")
    pairs = tables_in(document, "power-coats-part")["power-coats-pairs"]
    assert {row[-1] for row in cells_shown(pairs)} == {"too small to care about, on average"}


@pytest.mark.parametrize(
    ("at_beetroot", "at_burner", "told_so"),
    [(0.13, 0.12, "dye and heat"), (0.13, 0.09, "dye"), (0.05, 0.12, "heat")],
)
def test_all_variables_are_named_whose_versions_may_make_it_matter(
    at_beetroot: float, at_burner: float, told_so: str
) -> None:
    """0.1 mW is enough to care about: every range that reaches it counts, not just the widest."""
    whole = make("difference", verdicts={"coats": ("not settled", "inside_on_average")})
    one = next(c for c in whole.found.comparisons if c.term == "coats")
    held = [
        one.model_copy(
            update={
                "term": f"{factor}:coats",
                "a": one.a | {factor: level},
                "b": one.b | {factor: level},
                "interval_adjusted": (-0.02, high),
            }
        )
        for factor, level, high in (("dye", "beetroot", at_beetroot), ("heat", "burner", at_burner))
    ]
    pairs = (*(c for c in whole.found.comparisons if len(c.a) == 1), *held)
    found = whole.found.model_copy(update={"comparisons": pairs})
    with without_pictures():
        document = whole.with_found(found).document()
    part = text_of(section(document, "power-coats-part"))
    assert f"with some versions of {told_so}. " in part


@pytest.mark.parametrize(("runner_up", "told_so"), [("coats", True), ("heat", False)])
def test_fresh_items_are_counted_for_the_check_that_is_advised(
    runner_up: str, *, told_so: bool
) -> None:
    """The demo's dye is given to single cells and heat to firings: their noise is not the same."""
    best = {"dye": "hibiscus", "heat": "oven", "coats": "2"}
    other = best | {runner_up: {"coats": "1", "heat": "burner"}[runner_up]}
    whole = make("difference")
    picked = BestRecipe(
        levels=best, mean=3.1, interval=(2.7, 3.5), runner_up=other, gap=0.2,
        gap_interval=(-0.1, 0.5), fresh=14, fresh_for=0.2,
    )  # fmt: skip
    found = whole.found.model_copy(update={"best_recipe": picked})
    with without_pictures():
        document = whole.with_found(found).document()
    advice = text_of(section(document, "next"))
    assert (
        "the best recipe (hibiscus, oven, 2 coating passes), as many with red cabbage instead of "
        "hibiscus, in an order drawn by chance." in advice
    )
    assert ("14 of each show that there is a difference" in advice) == told_so
    assert ("Make at least 3 of each." in advice) != told_so
