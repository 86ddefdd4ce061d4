"""Any study that may be asked can be written, and reads back as the same study."""

from __future__ import annotations

import string
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sizes import examples
from trials.reduction.meanings import heading_key
from trials.study import (
    Caution,
    Equipment,
    FailedRule,
    Lessons,
    Limits,
    Material,
    Options,
    Planning,
    Response,
    Spread,
    Step,
    Study,
    StudyFactor,
    StudyGroup,
    check_study,
    parse_study,
    settled,
    write_study,
)

WORDS = st.text(
    st.characters(
        codec="utf-8",
        exclude_categories=("Cc", "Cs"),
        include_characters='"\\\n\t#=[]{}',
    ),
    max_size=20,
)
SOME_WORDS = WORDS.filter(lambda text: bool(text.strip()))
LETTERS = string.ascii_letters + string.digits + " _-.'\"é"
NAMES = (
    st.text(LETTERS, min_size=1, max_size=12)
    .map(str.strip)
    .filter(lambda name: name[:1].isalnum())
    .filter(lambda name: name.casefold() not in ("run", "measure", "item", "reading"))
)
SIZES = st.floats(0.001, 1000).filter(lambda x: x > 0)
MAYBE_WORDS = st.one_of(st.just(""), WORDS)


def folded(names: list[str]) -> list[str]:
    return [" ".join(name.split()).casefold() for name in names]


def unlike(elements: st.SearchStrategy[str], low: int, high: int) -> Any:
    """Return lists of texts that a person can tell apart."""
    return st.lists(
        elements, min_size=low, max_size=high, unique_by=lambda t: " ".join(t.split()).casefold()
    )


def not_a_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return True
    return False


@st.composite
def factors(draw: st.DrawFn, name: str, groups: list[StudyGroup]) -> StudyFactor:
    quantity = draw(st.booleans())
    if quantity:
        numbers = draw(st.lists(st.floats(0.01, 1e6), min_size=2, max_size=3, unique=True))
        levels = tuple(repr(number) for number in numbers)
    else:
        levels = tuple(draw(unlike(SOME_WORDS.filter(not_a_number), 2, 3)))
    roomy = [group.name for group in groups if group.count >= 50 and group.random is not False]
    return StudyFactor(
        name=name,
        label=draw(MAYBE_WORDS),
        levels=levels,
        kind="quantity" if quantity else "category",
        unit=draw(MAYBE_WORDS),
        scale=draw(st.sampled_from(["linear", "log"])) if quantity else "linear",
        applied_to=draw(st.sampled_from([None, *roomy])),
        shared=draw(st.sampled_from([None, True, False])),
        control=draw(st.sampled_from([None, *levels])),
        how={level: draw(WORDS) for level in levels if draw(st.booleans())},
    )


@st.composite
def group_lists(draw: st.DrawFn, names: list[str], steps: list[str]) -> list[StudyGroup]:
    made: list[StudyGroup] = []
    for name in names:
        within = draw(st.sampled_from([None, *(g.name for g in made[:1] if g.count <= 20)]))
        count = draw(st.sampled_from([1, 2, 6, 50]))
        total = count * (made[0].count if within else 1)
        named = within is None and total <= 6 and draw(st.booleans())
        made.append(
            StudyGroup(
                name=name,
                label=draw(MAYBE_WORDS),
                count=count,
                within=within,
                step=draw(st.sampled_from([None, *steps])),
                capacity=draw(st.sampled_from([None, 500])),
                role="maker" if not made and draw(st.booleans()) else None,
                random=draw(st.sampled_from([None, True, False])),
                members=tuple(draw(unlike(SOME_WORDS, total, total))) if named else (),
            )
        )
    return made


@st.composite
def responses(draw: st.DrawFn, name: str, groups: list[StudyGroup], primary: bool) -> Response:
    ratio = draw(st.booleans())
    least = 1.0 if ratio else 0.0
    worthwhile = draw(st.one_of(st.none(), SIZES.map(lambda x: least + x)))
    spread = Spread(
        items=draw(st.floats(0.01, 2)),
        readings=draw(st.one_of(st.none(), st.floats(0, 2))),
        groups={group.name: draw(st.floats(0, 2)) for group in groups if draw(st.booleans())},
        source=draw(st.sampled_from(["practice run", "own guess", "shipped guess"])),
    )
    return Response(
        name=name,
        label=draw(MAYBE_WORDS),
        unit=draw(st.sampled_from(["m", "µW/cm²", "leaves", ""])),
        reducer=draw(st.sampled_from(["value", "mean"])),
        settings={
            "column": "first" if primary else "second",  # two responses never read one column
            **draw(st.sampled_from([{}, {"step": 0.5}])),
        },
        better=draw(st.sampled_from(["high", "low"])),
        compare="ratio" if ratio else "difference",
        worthwhile=worthwhile,
        expected=None if worthwhile is None else worthwhile * 2,
        spread=draw(st.sampled_from([None, spread])),
        primary=primary,
        failed=draw(st.sampled_from([None, FailedRule(below=0.5, text=draw(WORDS))])),
        readings=draw(st.integers(1, 9)),
        low=draw(st.sampled_from([None, 0.0])),
        high=draw(st.sampled_from([None, 1e5])),
    )


def materials(grouped: bool, levels: list[str]) -> st.SearchStrategy[Material]:
    """Draw materials; counted for each group only at a step that a group has."""
    return st.builds(
        Material,
        name=SOME_WORDS,
        amount=st.floats(0.01, 100),
        unit=st.sampled_from(["", "mL"]),
        per=st.sampled_from(["item", *(["group"] if grouped else []), "team", "lesson"]),
        level=st.sampled_from(["", *levels]),
    )


@st.composite
def step_lists(
    draw: st.DrawFn, names: list[str], made: list[StudyFactor], groups: list[StudyGroup]
) -> tuple[Step, ...]:
    caution = st.builds(
        Caution,
        text=SOME_WORDS,
        ghs=st.sampled_from([(), ("GHS02", "H225", "EUH066")]),
        iso7010=st.sampled_from([(), ("W017",)]),
    )
    grouped = {group.step for group in groups}
    levels = [level for factor in made for level in factor.levels]
    return tuple(
        Step(
            name=name,
            label=draw(MAYBE_WORDS),
            text=draw(WORDS),
            minutes=draw(st.one_of(st.none(), st.floats(0, 100))),
            waiting=draw(st.one_of(st.none(), st.floats(0, 1e5))),
            stage=draw(st.sampled_from(["make", "measure"])),
            equipment=("oven", *draw(st.lists(WORDS, max_size=3))),
            busy=draw(st.sampled_from([(), ("oven",)])),
            keeps=draw(st.sampled_from([None, 0.0, 12.5])),
            when=draw(st.sampled_from(["lesson", "between"])),
            by=draw(WORDS),
            flammable=draw(st.sampled_from([None, True, False])),
            flame=draw(st.sampled_from([None, True, False])),
            materials=tuple(draw(st.lists(materials(name in grouped, levels), max_size=2))),
            cautions=tuple(draw(st.lists(caution, max_size=2))),
            factors=tuple(f for f in (factor.name for factor in made) if draw(st.booleans())),
        )
        for name in names
    )


@st.composite
def limits(draw: st.DrawFn, made: list[StudyFactor]) -> Limits:
    plain = draw(st.sampled_from([Limits(), Limits(items=36), Limits(items=36, copies=1)]))
    if len(made) < 2 or draw(st.booleans()):
        return plain
    first = {factor.name: factor.levels[0] for factor in made[:2]}
    last = {factor.name: factor.levels[-1] for factor in made[:2]}
    return plain.model_copy(
        update={"fraction": draw(st.booleans()), "forbidden": (first,), "required": (last,)}
    )


@st.composite
def stock(draw: st.DrawFn, steps: tuple[Step, ...]) -> dict[str, float | str]:
    """Draw what there is of materials that are counted in one unit only."""
    units: dict[str, set[str]] = {}
    names: dict[str, str] = {}
    for one in (material for step in steps for material in step.materials):
        names.setdefault(one.name.strip().casefold(), one.name)
        units.setdefault(one.name.strip().casefold(), set()).add(one.unit)
    some: dict[str, float | str] = {}
    for key, name in names.items():
        if len(units[key]) == 1 and draw(st.booleans()):
            pieces = units[key] == {""}
            there = draw(st.floats(0, 1e6)) if pieces else draw(st.sampled_from(["5 mL", "1.5 L"]))
            some[name] = there
    return some


LESSONS = Lessons(
    minutes=50, count=2, starts=("2030-05-14 10:15", "2030-05-16 08:00"), students=30, hands=3
)
OVEN = Equipment(name="oven", label="hot-air oven", count=2, holds=6, together=True, flame=True)


@st.composite
def columns(draw: st.DrawFn, measured: list[Response], groups: list[StudyGroup]) -> dict[str, str]:
    known = ["item", "reading", "time", "note", "did it work?", "not needed"]
    known += [group.name for group in groups if heading_key(group.name)]
    known += [str(response.settings["column"]) for response in measured]
    names = draw(
        st.lists(
            SOME_WORDS.filter(lambda text: bool(heading_key(text))),
            max_size=3,
            unique_by=heading_key,
        )
    )
    return {name: draw(st.sampled_from(known)) for name in names}


@st.composite
def studies(draw: st.DrawFn) -> Study:
    names = draw(unlike(NAMES, 6, 6))
    step_names = draw(unlike(SOME_WORDS, 0, 3))
    groups = draw(group_lists(names[: draw(st.integers(0, 2))], step_names))
    practice = draw(st.booleans())
    made = [
        draw(factors(name, groups))
        for name in names[2 : 2 + draw(st.integers(1, 2))] * (not practice)
    ]
    count = draw(st.integers(1, 2))
    main = draw(st.integers(0, count - 1))
    measured = [draw(responses(names[4 + i], groups, i == main)) for i in range(count)]
    steps = draw(step_lists(step_names, made, groups))
    return Study(
        title=draw(SOME_WORDS),
        question=draw(SOME_WORDS),
        prediction=draw(WORDS),
        makers=draw(WORDS),
        note=draw(WORDS),
        item_name=draw(SOME_WORDS),
        practice=practice,
        factors=tuple(made),
        groups=tuple(groups),
        responses=tuple(measured),
        same=tuple(draw(st.lists(WORDS, max_size=3))),
        columns=draw(columns(measured, groups)),
        steps=steps,
        equipment=draw(st.sampled_from([(), (OVEN,)])) if steps else (),
        lessons=draw(st.sampled_from([None, Lessons(minutes=45), LESSONS])),
        stock=draw(stock(steps)),
        limits=draw(limits(made)),
        plan=draw(st.sampled_from([Planning(), Planning(criterion="D", looks=2)])),
        analysis=draw(
            st.sampled_from(
                [
                    Options(),
                    Options(confidence=0.9, random=("all",), bounded=True),
                    Options(interactions=1, df="satterthwaite", sums="II", resamples=0, seed=7),
                ]
            )
        ),
    )


@pytest.mark.long
@given(studies())
@settings(derandomize=True, max_examples=examples(60, 200), deadline=None)
def test_a_study_written_and_read_is_the_same_study(study: Study) -> None:
    check_study(study)
    assert parse_study(write_study(study)) == study


@given(studies())
@settings(derandomize=True, max_examples=30, deadline=None)
def test_writing_twice_gives_the_same_text(study: Study) -> None:
    text = write_study(study)
    assert write_study(parse_study(text)) == text


def test_a_fresh_file_explains_itself() -> None:
    study = settled(
        Study(
            title="Planes",
            question="Which flies further?",
            factors=(StudyFactor(name="shape", levels=("dart", "glider")),),
            responses=(
                Response(name="distance", unit="m", spread=Spread(items=1, source="shipped guess")),
            ),
        )
    )
    text = write_study(study)
    assert text.startswith("# What we ask, what we change, what we measure.\n")
    assert "# worthwhile: the smallest difference that would change what we do.\n" in text
    assert "standard deviations in m.\n# These numbers are a guess, until spread_from" in text
    assert '\n# spread_from = "../practice"\n' in text
    assert "[groups" not in text
    assert max(map(len, text.split("\n"))) <= 100


def test_a_practice_run_is_offered_by_name_and_kept_where_it_is_named() -> None:
    text = (
        'title = "t"\nquestion = "q"\n[factors.shape]\nlevels = ["dart", "glider"]\n'
        '[responses.x]\nunit = "m"\n[responses.x.spread]\nitems = 1\nsource = "shipped guess"\n'
    )
    offered = write_study(parse_study(text), "../first run")
    assert '\n# spread_from = "../first run"\n' in offered
    named = parse_study(offered.replace("# spread_from", "spread_from"))
    assert named.spread_from == "../first run"
    assert parse_study(write_study(named)) == named
    assert "spread_from" not in write_study(parse_study(text.replace("shipped", "own")))


def test_what_is_done_one_by_one_is_written() -> None:
    text = (
        'title = "t"\nquestion = "q"\n[factors.heat]\nlevels = ["oven", "burner"]\n'
        'applied_to = "firing"\n[groups.firing]\ncount = 4\nstep = "heat"\n'
        '[responses.x]\nunit = "m"\n[[steps]]\nname = "heat"\nminutes = 10\n'
        'one_by_one = ["burner"]\n'
    )
    study = parse_study(text)
    assert study.steps[0].one_by_one == ("burner",)
    assert parse_study(write_study(study)) == study


def test_quantities_are_written_as_numbers_and_names_in_quotes() -> None:
    study = parse_study(
        'title = "t"\nquestion = "q"\n[factors.soak]\nlevels = [1.50, 2e1]\nkind = "quantity"\n'
        '[factors.dish]\nlevels = [1, 2]\n[responses.x]\nunit = "m"\n'
    )
    text = write_study(study)
    assert "levels = [1.50, 2e1]" in text
    assert 'levels = ["1", "2"]' in text
