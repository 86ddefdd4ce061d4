"""The teacher's page: how repeatable teams were, what they may have misunderstood, who did what."""

from __future__ import annotations

from collections import Counter

from trials.analysis.findings import Interval, Repeatability, ResponseFindings
from trials.render.blocks import Block, Bullets, Document, Paragraph, Part, Section
from trials.render.table import Cell, Column, Kind, Table
from trials.report.retold import finding_told
from trials.report.story import Story, foot, slug
from trials.words.absent import FINISHED
from trials.words.fairness_areas import AREAS
from trials.words.language import say, say_as
from trials.words.numbers import capital, confidence_text, plural, significant, with_unit
from trials.words.placing import DEPARTED
from trials.words.question_codes import about_of
from trials.words.teams import (
    ALL_TEAMS,
    INTRO,
    LEFT_IN,
    NO_SIGN,
    NO_TEAM,
    QUESTIONS,
    READ,
    SIGNS,
    TITLE,
    TOO_FEW,
    WHY_TOO_FEW,
    alike_sentence,
    seen_text,
)

_TOO_WIDE = 5.0  # times a spread, its upper end: common practice, no source
_ODD = ("unusual", "unusual_result", "implausible")


def teacher_document(story: Story) -> Document | None:
    """Return the teacher's page; None where the plan has no teams."""
    maker = next((g for g in story.plan.groups if g.role == "maker"), None)
    if maker is None or len(maker.members) < 2:
        return None
    told = [
        _repeatable(story, found, found.repeatability)
        for found in story.responses
        if found.repeatability is not None
    ]
    sections = (*told, _signs_section(story), _who(story, maker.name, maker.members))
    return Document(
        title=story.study.title,
        subtitle=story.study.makers,
        note=story.study.note,
        foot=foot(story),
        parts=(Part("teacher", say(TITLE), say(INTRO), sections),),
    )


def _repeatable(story: Story, found: ResponseFindings, told: Repeatability) -> Section:
    items = plural(story.item)
    left_in = "groups_left_in" in told.notes
    alike = say(LEFT_IN) if left_in else alike_sentence(told.p_making, items, 1 - told.confidence)
    confidence = confidence_text(told.confidence)
    read = say(READ, item=story.item, items=items, confidence=confidence)
    table = _spreads(story, found, told)
    if table is None:
        blocks: tuple[Block, ...] = (Paragraph(" ".join([alike, *_of_all(found, told)])),)
    else:
        blocks = (Paragraph(alike), Paragraph(read), table)
    label = story.response_label(found.name)
    title = say("How repeatable each team was: {label}", label=label)
    return Section(f"{slug(found.name)}-teams", title, blocks)


def _spreads(story: Story, found: ResponseFindings, told: Repeatability) -> Table | None:
    """Return the spread of each team, of making where it is known; None where there is none."""
    compared = told.p_making is not None
    if not compared and all(one.reading is None for one in told.teams):
        return None
    making, measuring = _spread_columns(found)
    items = plural(story.item)
    rows: list[tuple[Cell, ...]] = [
        (
            one.member,
            one.items,
            *(_spread(one.making, one.making_interval) if compared else ()),
            *_spread(one.reading, one.reading_interval),
        )
        for one in told.teams
    ]
    notes = []
    if not compared:
        few = [] if "groups_left_in" in told.notes else [say(NO_TEAM, items=items)]
        notes = [" ".join([*few, *_of_all(found, told)])] if few or told.making is not None else []
    if story.measured.finished:
        notes.append(say(FINISHED))
    if any(say(TOO_FEW) in row for row in rows):
        notes.append(say(WHY_TOO_FEW, items=items))
    count = sum(one.items for one in told.teams)
    whole = (told.making, None, None) if compared else ()
    rows.append((say_as("teams", "all"), count, *whole, told.reading, None, None))
    columns = (
        Column("team", story.group_label(told.group)),
        Column("items", items, kind="count"),
        *(making if compared else ()),
        *measuring,
    )
    return Table(
        f"{slug(found.name)}-teams", say("Typical spread"), columns, tuple(rows), tuple(notes)
    )


def _of_all(found: ResponseFindings, told: Repeatability) -> list[str]:
    """Return what the spread of making is, where only that of all teams together is known."""
    if told.making is None:
        return []
    ratio = found.scale == "ratio"
    size = significant(100 * told.making if ratio else told.making, 2)
    return [say(ALL_TEAMS, spread=with_unit(size, "%" if ratio else found.unit))]


def _spread_columns(found: ResponseFindings) -> tuple[tuple[Column, ...], tuple[Column, ...]]:
    ratio = found.scale == "ratio"
    unit = "%" if ratio else found.unit
    kind: Kind = "percent" if ratio else "significant"
    return (
        Column("making", unit=unit, kind=kind, digits=2),
        Column("making from", unit=unit, kind=kind, digits=2),
        Column("making to", unit=unit, kind=kind, digits=2),
    ), (
        Column("measuring", unit=unit, kind=kind, digits=2),
        Column("measuring from", unit=unit, kind=kind, digits=2),
        Column("measuring to", unit=unit, kind=kind, digits=2),
    )


def _spread(size: float | None, ends: Interval) -> tuple[Cell, Cell, Cell]:
    """Return a spread with its range, or that it is too little known to be told."""
    if size is not None and ends[1] is not None and ends[1] > _TOO_WIDE * size:
        return say(TOO_FEW), None, None
    return size, *ends


def signs(story: Story) -> list[tuple[str, str]]:
    """Return the code of each sign that plan or record shows, and what was seen."""
    seen = [(one.code, finding_told(one)) for one in story.plan.audit if one.code in SIGNS]
    measured = story.measured
    asked = [*measured.open_questions, *measured.answered]
    standing = Counter(q.code for q in asked if q.answer != "keep")
    counts = {code: standing[code] for code in ("copied", "copied_run", "filled_down")}
    counts["odd_dropped"] = sum(q.code in _ODD and q.answer == "set-aside" for q in asked)
    planned = {one.name: one.readings for one in story.study.responses}
    counts["no_reason"] = len(
        {v.item for v in measured.values if v.status == "unmeasured" and not v.reason}
    )
    counts["more_readings"] = len(
        {v.item for v in measured.values if v.readings > planned[v.response]}
    )
    counts["otherwise"] = len({one.item for one in measured.otherwise})
    counts["after_looking"] = int(
        any("after_looking" in found.method.notes for found in story.responses)
    )
    seen += [
        (code, seen_text(code, number, story.item, about_of(code)))
        for code, number in counts.items()
        if number
    ]
    return seen


def _signs_section(story: Story) -> Section:
    found = signs(story)
    blocks: list[Block] = [] if found else [Paragraph(say(NO_SIGN))]
    inner = []
    for area, title in AREAS.items():
        own = [(SIGNS[code], seen) for code, seen in found if SIGNS[code].area == area]
        if not own:
            continue
        told = tuple(
            say(
                "{seen} Some may think: \u201c{belief}\u201d Ask: \u201c{ask}\u201d",
                seen=seen,
                belief=say(sign.belief),
                ask=say(sign.ask),
            )
            for sign, seen in own
        )
        inner.append(Section(f"signs-{area}", capital(say(title)), (Bullets(told),)))
    return Section("signs", say("What may be misunderstood"), tuple(blocks), tuple(inner))


def _who(story: Story, maker: str, members: tuple[str, ...]) -> Section:
    team = {row.item: row.groups[maker] for row in story.plan.rows}
    name = next((f.name for f in story.responses), story.study.responses[0].name)
    values = story.measured.of(name)
    status = Counter((team[v.item], v.status) for v in values)
    readings: Counter[str] = Counter()
    for value in values:
        readings[team[value.item]] += value.readings
    made = Counter(team.values())
    settled = Counter(team[q.item] for q in story.measured.answered if q.item in team)
    still = Counter(team[q.item] for q in story.measured.open_questions if q.item in team)
    never = Counter(team[v.item] for v in values if v.never_made)
    finished = {item: by for item, by in story.measured.finished.items() if by != team[item]}
    by_others, for_others = Counter(team[item] for item in finished), Counter(finished.values())
    columns = (
        Column("team", story.group_label(maker)),
        Column("planned", kind="count"),
        Column("gave a value", kind="count"),
        Column("failed", kind="count"),
        Column("lost", kind="count"),
        *([Column("never made", kind="count")] if never else []),
        *([Column("finished by others", kind="count")] if finished else []),
        *([Column("finished for others", kind="count")] if finished else []),
        Column("readings", kind="count"),
        Column("questions settled", kind="count"),
        Column("questions open", kind="count"),
    )
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (one, made[one], status[one, "measured"] + status[one, "at least"], status[one, "failed"],
         status[one, "lost"] - never[one], *([never[one]] if never else []),
         *([by_others[one], for_others[one]] if finished else []), readings[one],
         settled[one], still[one])
        for one in members
    )  # fmt: skip
    caption = say("By team, for {response}", response=story.response_label(name))
    notes = [say(QUESTIONS, items=plural(story.item))]
    if finished:
        notes.append(say(FINISHED))
    blocks: list[Block] = [Table("who", caption, columns, rows, tuple(notes))]
    if story.measured.departures:
        blocks += [Paragraph(say(DEPARTED)), Bullets(story.measured.departures)]
    return Section("who", say("Who did what"), tuple(blocks))
