"""The notes that a fresh study.toml carries, so that it explains itself."""

from __future__ import annotations

from types import MappingProxyType

NOTES = MappingProxyType(
    {
        "top": (
            "What we ask, what we change, what we measure.",
            "Lines that start with # are notes for people. Change a line, save it, then run:",
            "trials check, and the folder this file is in.",
        ),
        "practice": (
            "A practice run: all items are built alike, to learn how different they come out.",
        ),
        "spread_from": (
            "How different equal items come out can be taken from a practice run: the folder of",
            "one, seen from this folder. It takes the place of the guesses below.",
        ),
        "same": (
            "What every item has in common. Anything forgotten here can spoil the comparison.",
        ),
        "factors": (
            "What we change. Each part is one factor; its levels are the versions we compare.",
            "applied_to: the group that gets one version together; without it, each item alone.",
            "shared: true if several items share one pot or batch of it.",
            "control: the version that the others are compared with.",
        ),
        "groups": (
            "What belongs together: who makes it, in which lesson, what is heated at once.",
            "count: how many there are, in each member of 'within' if that is given.",
            "capacity: how many items fit into one. sizes: items in each, where they differ.",
        ),
        "responses": (
            "What we measure.",
            "worthwhile: the smallest difference that would change what we do.",
            "expected: the difference we hope for, best twice as large.",
            "compare: by 'difference', or by 'ratio' (1.3 means 30 % more).",
        ),
        "spread_ratio": (
            "How different items come out that were built alike, as a share of their mean",
            "(0.3 is 30 %).",
        ),
        "spread_difference": (
            "How different items come out that were built alike: standard deviations in {unit}.",
        ),
        "shipped guess": (
            "These numbers are a guess, until spread_from (at the top) names a practice run.",
        ),
        "failed": ("When an item counts as made but not working. Decide it before building.",),
        "columns": (
            "What stands under the headings of people's own tables: a quantity with its unit in",
            "brackets; or item, reading, time, note, did it work?, a group, or not needed.",
        ),
        "limits": (
            "How many items we can make at most, and how often each recipe is made.",
            "fraction: true if some recipes may be left out, to make do with fewer items.",
            "forbidden: versions that can't go together on one item. required: that must.",
            'Forbidden to one team: {{ team = "T3", equipment = "oven" }}, or a version of it.',
        ),
        "plan": (
            "criterion: A for the best comparisons, D for all effects at once, I for predictions.",
            "looks: 2 if more items may be added after a first look at the results.",
        ),
        "analysis": ("How the results are worked out, where it differs from the usual.",),
        "lessons": (
            "When the class works. minutes: of one lesson. count: most lessons to be had.",
            "apart: hours from one lesson to the next. hands: what one team can do at a time.",
            "between: when steps are done between lessons, if starts says when lessons are.",
        ),
        "stock": (
            "How much there is of what is used up, by the names of the materials below:",
            "a number of pieces, or an amount with its unit in quotes.",
        ),
        "equipment": (
            "What there is not plenty of. count: how many. holds: items in one at a time.",
            'per = "team": count is what each team has for itself; else all teams share them.',
            "together: they go in and come out together. flame: burns openly.",
        ),
        "steps": (
            "How an item is made. The rules of your school and the risk assessment of a qualified",
            "person come first; the cautions here are the usual ones.",
            "flammable, flame: true if something that catches fire is open, or something burns;",
            "or the versions under which it is. Never both in one lesson.",
        ),
    }
)
