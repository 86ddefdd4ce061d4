"""Impossible studies: one for every way in which what is asked for can't be."""

from __future__ import annotations

from dataclasses import dataclass

TOP = 'title = "Cells"\nquestion = "Which is stronger?"\nitem_name = "slide"\n'
DYE = '[factors.dye]\nlevels = ["red", "blue", "none"]\n'
SOAK = '[factors.soak]\nlevels = [2, 10]\nkind = "quantity"\nunit = "min"\n'
HEAT = '[factors.heat]\nlevels = ["oven", "burner", "lamp"]\napplied_to = "firing"\n'
END = '[responses.power]\nunit = "mW"\n'
FOUR = "".join(f'[factors.{name}]\nlevels = ["low", "high"]\n' for name in "pqrs")


def text_of(*parts: str, limits: str = "", more: str = "") -> str:
    return "\n".join((TOP, *parts, END, f"[limits]\n{limits}", more, ""))


def group(name: str, lines: str) -> str:
    return f"[groups.{name}]\n{lines}\n"


@dataclass(frozen=True)
class Impossible:
    """A study, the code of what is told of it, the keys that can't all hold, and one change."""

    text: str
    code: str
    keys: tuple[str, ...]
    change: str
    items: int | None = None  # asked for beside study.toml


SITUATIONS = {
    "fewer items than recipes": Impossible(
        text_of(DYE, SOAK, limits="items = 5"),
        "study.more_recipes_than_items",
        ("limits.items",),
        "1 more slide (6 instead of 5)",
    ),
    "fewer items than things to find out": Impossible(
        text_of(FOUR, limits="items = 9\nfraction = true"),
        "plan.too_few_to_tell",
        ("limits.items",),
        "2 more slides (11 instead of 9)",
    ),
    "too few items asked for on the command line": Impossible(
        text_of(DYE, SOAK),
        "plan.more_recipes_than_items",
        ("the command line",),
        "2 more slides (6 instead of 4)",
        items=4,
    ),
    "more items asked for than can be made": Impossible(
        text_of(DYE, SOAK, limits="items = 12"),
        "plan.more_than_can_be_made",
        ("limits.items", "the command line"),
        "2 slides fewer (12 instead of 14)",
        items=14,
    ),
    "more copies than items": Impossible(
        text_of(DYE, SOAK, limits="items = 12\ncopies = 3"),
        "study.more_recipes_than_items",
        ("limits.copies", "limits.items"),
        "every recipe 2 times instead of 3 (12 slides)",
    ),
    "sizes for another number of groups": Impossible(
        text_of(DYE, SOAK, group("firing", "count = 4\nsizes = [6, 6]")),
        "study.sizes_count",
        ("groups.firing.count", "groups.firing.sizes"),
        "2 firings fewer (2 instead of 4)",
    ),
    "a size that does not fit in": Impossible(
        text_of(DYE, SOAK, group("firing", "sizes = [6, 7]\ncapacity = 6")),
        "study.sizes_room",
        ("groups.firing.sizes", "groups.firing.capacity"),
        "firings of 6 and 6 slides instead of 6 and 7",
    ),
    "sizes of more items than can be made": Impossible(
        text_of(DYE, SOAK, group("firing", "sizes = [6, 6, 6, 6]"), limits="items = 20"),
        "study.sizes_sum",
        ("groups.firing.sizes", "limits.items"),
        "4 more slides (24 instead of 20)",
    ),
    "sizes that do not add up within others": Impossible(
        text_of(
            DYE,
            SOAK,
            group("session", "sizes = [10, 8]"),
            group("firing", 'count = 2\nwithin = "session"\nsizes = [5, 4]'),
        ),
        "plan.sizes_sum",
        ("groups.session.sizes", "groups.firing.sizes"),
        "firings of 5, 5, 4 and 4 slides instead of 5 and 4",
    ),
    "fewer groups than versions for them": Impossible(
        text_of(HEAT, SOAK, group("firing", "count = 2\ncapacity = 12")),
        "study.too_few_units",
        ("groups.firing.count", "factors.heat.applied_to"),
        "1 more firing (3 instead of 2)",
    ),
    "bans that leave a version no recipe": Impossible(
        text_of(
            DYE,
            SOAK,
            limits='forbidden = [\n{ dye = "blue", soak = 2 },\n{ dye = "red", soak = 2 },\n'
            '{ dye = "red", soak = 10 },\n]',
        ),
        "study.level_without_recipe",
        ("limits.forbidden[2]", "limits.forbidden[3]"),
        "without the version red of dye",
    ),
    "bans that tie two factors": Impossible(
        text_of(
            SOAK,
            '[factors.time]\nlevels = ["a", "b"]\n',
            limits='items = 12\nforbidden = [{ soak = 2, time = "a" }, { soak = 10, time = "b" }]',
        ),
        "plan.tied_by_bans",
        ("limits.forbidden[1]", "limits.forbidden[2]"),
        "one ban fewer: soak 2 with time a may be made",
    ),
    "required and forbidden": Impossible(
        text_of(
            DYE,
            SOAK,
            limits='forbidden = [{ dye = "red", soak = 2 }]\n'
            'required = [{ dye = "red", soak = 10 }, { dye = "red", soak = 2 }]',
        ),
        "study.required_forbidden",
        ("limits.forbidden[1]", "limits.required[2]"),
        "one required combination fewer: dye red with soak 2 need not be made",
    ),
    "more required than items": Impossible(
        text_of(
            DYE,
            SOAK,
            limits="items = 4\nfraction = true\nrequired = ["
            + ", ".join(f'{{ dye = "{d}", soak = {s} }}' for d in ("red", "blue") for s in (2, 10))
            + ', { dye = "none", soak = 2 }]',
            more="[analysis]\ninteractions = 1",
        ),
        "plan.required_missing",
        (*(f"limits.required[{n}]" for n in range(1, 6)), "limits.items"),
        "1 more slide (5 instead of 4)",
    ),
    "more items than the firings hold": Impossible(
        text_of(DYE, SOAK, group("firing", "count = 2\ncapacity = 6"), limits="items = 14"),
        "plan.no_room",
        ("groups.firing.count", "groups.firing.capacity", "limits.items"),
        "2 slides fewer (12 instead of 14)",
    ),
    "more recipes than the firings hold": Impossible(
        text_of(DYE, SOAK, group("firing", "count = 1\ncapacity = 5")),
        "study.capacity",
        ("groups.firing.count", "groups.firing.capacity"),
        "room for 6 slides in each firing (instead of 5)",
    ),
    "more groups than items": Impossible(
        text_of(DYE, SOAK, group("team", "count = 9"), limits="items = 6"),
        "plan.empty_groups",
        ("groups.team.count", "limits.items"),
        "3 teams fewer (6 instead of 9)",
    ),
    "teams that take what is left to tell": Impossible(
        text_of(
            "".join(f'[factors.{name}]\nlevels = ["low", "high"]\n' for name in "pqr"),
            group("team", "count = 4"),
            limits='items = 8\nfraction = true\nforbidden = [{ p = "low", q = "low" }]',
        ),
        "search.too_few_items",
        ("groups.team.count", "limits.items"),
        "1 more slide (9 instead of 8)",
    ),
    "required against what whole groups get": Impossible(
        text_of(
            '[factors.dye]\nlevels = ["red", "blue"]\napplied_to = "session"\n',
            '[factors.heat]\nlevels = ["oven", "burner"]\napplied_to = "firing"\n',
            SOAK,
            group("session", "count = 2"),
            group("firing", 'count = 1\nwithin = "session"'),
            limits="items = 16\n"
            'required = [{ dye = "red", heat = "oven" }, { dye = "red", heat = "burner" }]',
            more="[analysis]\ninteractions = 1",
        ),
        "plan.too_few_to_tell",
        (
            "limits.required[1]",
            "limits.required[2]",
            "groups.session.count",
            "groups.firing.count",
            "factors.dye.applied_to",
            "factors.heat.applied_to",
        ),
        "1 more session (3 instead of 2)",
    ),
}
