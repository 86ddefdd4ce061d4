"""A right study, and mistakes in it with what is told of each."""

from __future__ import annotations

RIGHT = """\
title = "Cells"
question = "Which is stronger?"

[factors.dye]
levels = ["hibiscus", "beetroot"]

[factors.heat]
levels = ["oven", "burner"]
applied_to = "firing"

[groups.session]
count = 2

[groups.firing]
count = 2
within = "session"
step = "heat"
capacity = 6

[responses.power]
unit = "mW"
reducer = "mean"
compare = "ratio"
worthwhile = 1.3
expected = 1.7

[responses.power.spread]
items = 0.3
groups = { firing = 0.1 }

[[steps]]
name = "heat"
minutes = 5

[[steps.cautions]]
text = "Hot."
iso7010 = ["W017"]
"""

# A right study, changed in one or two places; then the whole message.
WHOLE = (
    (
        "two_factors",
        (("[factors.heat]", "[factors.dye]"),),
        (
            "Two factors are called 'dye'.\n"
            "Where: study.toml, line 7, factors.dye\n"
            "Found: line 4 and line 7\n"
            "Allowed: each name once\n"
            "What to do: Give one of the two another name."
        ),
    ),
    (
        "factor_and_group",
        (
            ("[groups.session]", "[groups.dye]"),
            ('within = "session"', 'within = "dye"'),
        ),
        (
            "A factor and a group are both called 'dye'.\n"
            "Where: study.toml, line 11, groups.dye\n"
            "Found: dye\n"
            "Allowed: each name once, over all factors, groups and responses\n"
            "What to do: Give one of the two another name."
        ),
    ),
    (
        "level_twice",
        (('"beetroot"', '" Hibiscus"'),),
        (
            "A level of 'dye' stands twice.\n"
            "Where: study.toml, line 5, factors.dye.levels[2]\n"
            "Found: hibiscus and Hibiscus\n"
            "Allowed: each level once; big and small letters and spaces around it don't count\n"
            "What to do: Delete one of the two, or give it another name."
        ),
    ),
    (
        "level_twice_num",
        (('["hibiscus", "beetroot"]', "[1, 1.0]"),),
        (
            "A level of 'dye' stands twice.\n"
            "Where: study.toml, line 5, factors.dye.levels[2]\n"
            "Found: 1 and 1.0\n"
            "Allowed: each level once; big and small letters and spaces around it don't count\n"
            "What to do: Delete one of the two, or give it another name."
        ),
    ),
    (
        "one_level",
        (('["hibiscus", "beetroot"]', '["hibiscus"]'),),
        (
            "'dye' has only one level, so there is nothing to compare.\n"
            "Where: study.toml, line 5, factors.dye.levels\n"
            "Found: hibiscus\n"
            "Allowed: two levels or more\n"
            "What to do: Add another version, or list it under 'same' as something kept the same."
        ),
    ),
    (
        "quantity",
        (('levels = ["hibiscus", "beetroot"]', 'levels = [10, "40 min"]\nkind = "quantity"'),),
        (
            "A level of the quantity 'dye' isn't a number.\n"
            "Where: study.toml, line 5, factors.dye.levels[2]\n"
            "Found: 40 min\n"
            "Allowed: a number with a decimal point, without its unit\n"
            'What to do: Write only the number, with the unit under unit = "..."; or delete '
            'kind = "quantity".'
        ),
    ),
    (
        "quantity_comma",
        (('levels = ["hibiscus", "beetroot"]', 'levels = [1, "2,5"]\nkind = "quantity"'),),
        (
            "A level of the quantity 'dye' isn't a number.\n"
            "Where: study.toml, line 5, factors.dye.levels[2]\n"
            "Found: 2,5\n"
            "Allowed: a number with a decimal point, without its unit\n"
            "What to do: Write 2.5."
        ),
    ),
    (
        "log",
        (
            (
                'levels = ["hibiscus", "beetroot"]',
                'levels = [0, 40]\nkind = "quantity"\nscale = "log"',
            ),
        ),
        (
            "'dye' has a log scale, which has no place for zero or less.\n"
            "Where: study.toml, line 5, factors.dye.levels[1]\n"
            "Found: 0\n"
            "Allowed: numbers above 0\n"
            'What to do: Change the level, or write scale = "linear".'
        ),
    ),
    (
        "applied",
        (('applied_to = "firing"', 'applied_to = "fireing"'),),
        (
            "'heat' is applied to a group that isn't there.\n"
            "Where: study.toml, line 9, factors.heat.applied_to\n"
            "Found: fireing\n"
            "Allowed: session, firing\n"
            "What to do: Did you mean 'firing'?"
        ),
    ),
    (
        "within_self",
        (('within = "session"', 'within = "firing"'),),
        (
            "'firing' is within itself.\n"
            "Where: study.toml, line 16, groups.firing.within\n"
            "Found: firing within firing\n"
            "Allowed: a larger group, or no 'within' for the largest\n"
            "What to do: Delete 'within' at the largest of these groups."
        ),
    ),
    (
        "cycle",
        (("[groups.session]\ncount = 2", '[groups.session]\ncount = 2\nwithin = "firing"'),),
        (
            "'session' is within itself.\n"
            "Where: study.toml, line 13, groups.session.within\n"
            "Found: session within firing within session\n"
            "Allowed: a larger group, or no 'within' for the largest\n"
            "What to do: Delete 'within' at the largest of these groups."
        ),
    ),
    (
        "count",
        (("count = 2", "count = 0"),),
        (
            "The count of 'session' can't be this.\n"
            "Where: study.toml, line 12, groups.session.count\n"
            "Found: 0\n"
            "Allowed: a whole number from 1 to 10000\n"
            "What to do: Write how many there are."
        ),
    ),
    (
        "capacity",
        (("capacity = 6", "capacity = 6\n\n[limits]\ncopies = 10"),),
        (
            "The items don't fit into 'firing'.\n"
            "Where: study.toml, line 18, groups.firing.capacity\n"
            "Found: 40 items; room for 4 x 6 = 24\n"
            "Allowed: room for at least 40\n"
            "What to do: Raise the count to 4, raise the capacity, or make fewer."
        ),
    ),
    (
        "reserved",
        (("[factors.dye]", "[factors.run]"),),
        (
            "A factor can't be called 'run': the plan has a column of that name.\n"
            "Where: study.toml, line 4, factors.run\n"
            'Found: "run"\n'
            "Allowed: at most 60 letters, beginning with a letter or figure, without / : =, "
            "and not run, measure, item, reading\n"
            "What to do: Choose another name; what people read goes under label."
        ),
    ),
    (
        "items",
        (("capacity = 6", "capacity = 6\n\n[limits]\nitems = 3"),),
        (
            "There are more recipes than items.\n"
            "Where: study.toml, line 21, limits.items\n"
            "Found: 2 dye x 2 heat = 4 recipes; items: 3\n"
            "Allowed: at least 4 items\n"
            "What to do: Make more items, drop a level or a factor, or write fraction = true under "
            "[limits]: then some recipes are left out."
        ),
    ),
    (
        "worth",
        (("worthwhile = 1.3", "worthwhile = 0.3"),),
        (
            "'worthwhile' can't be this.\n"
            "Where: study.toml, line 24, responses.power.worthwhile\n"
            "Found: 0.3\n"
            "Allowed: a ratio above 1, such as 1.3 for 'by 30 %'\n"
            "What to do: For 'by 30 %' write 1.3."
        ),
    ),
    (
        "expected",
        (("expected = 1.7", "expected = 1.2"),),
        (
            "You expect less than what you would care about.\n"
            "Where: study.toml, line 25, responses.power.expected\n"
            "Found: expected 1.2, worthwhile 1.3\n"
            "Allowed: expected larger than worthwhile, best twice as large\n"
            "What to do: Swap the two if they were mixed up; else lower worthwhile or raise "
            "expected."
        ),
    ),
    (
        "primary",
        (("[[steps]]", '[responses.mass]\nunit = "g"\n\n[[steps]]'),),
        (
            "None of the responses is marked as the main one.\n"
            "Where: study.toml, line 20, responses\n"
            "Found: power, mass\n"
            "Allowed: primary = true at one response\n"
            "What to do: Decide now, before measuring, which one answers the question; write "
            "primary = true under it."
        ),
    ),
    (
        "reducer",
        (('reducer = "mean"', 'reducer = "meen"'),),
        (
            "There is no such way of turning readings into one value.\n"
            "Where: study.toml, line 22, responses.power.reducer\n"
            "Found: meen\n"
            "Allowed: value, mean, half_life, iv_point, iv_sweep\n"
            "What to do: Did you mean 'mean'?"
        ),
    ),
    (
        "misspelt",
        (("capacity = 6", "capasity = 6"),),
        (
            "There is no 'capasity' here.\n"
            "Where: study.toml, line 18, groups.firing.capasity\n"
            "Found: capasity\n"
            "Allowed: label, count, within, step, capacity, sizes, role, random, members\n"
            "What to do: Did you mean 'capacity'?"
        ),
    ),
    (
        "kind",
        (("minutes = 5", 'minutes = "5"'),),
        (
            "'minutes' can't be this.\n"
            "Where: study.toml, line 33, steps[1].minutes\n"
            'Found: "5"\n'
            "Allowed: a number\n"
            "What to do: Write it without quotes."
        ),
    ),
    (
        "choice",
        (('compare = "ratio"', 'compare = "ratios"'),),
        (
            "'compare' can't be this.\n"
            "Where: study.toml, line 23, responses.power.compare\n"
            'Found: "ratios"\n'
            "Allowed: difference, ratio\n"
            "What to do: Did you mean 'ratio'?"
        ),
    ),
    (
        "missing",
        (('question = "Which is stronger?"\n', ""),),
        (
            "'question' is missing.\n"
            "Where: study.toml, question\n"
            "Allowed: a text in quotes\n"
            'What to do: Add a line such as: question = "Does a dart fly further than a glider?"'
        ),
    ),
    (
        "missing_count",
        (("[groups.session]\ncount = 2", '[groups.session]\nlabel = "x"'),),
        (
            "'count' is missing in [groups.session].\n"
            "Where: study.toml, line 11, groups.session\n"
            "Allowed: a whole number\n"
            "What to do: Add a line such as: count = 2"
        ),
    ),
    (
        "nolist",
        (('levels = ["hibiscus", "beetroot"]', 'levels = "hibiscus"'),),
        (
            "'levels' can't be this.\n"
            "Where: study.toml, line 5, factors.dye.levels\n"
            'Found: "hibiscus"\n'
            "Allowed: a list of texts or numbers in square brackets\n"
            "What to do: Put it in square brackets, even if there is only one."
        ),
    ),
    (
        "date",
        (('levels = ["hibiscus", "beetroot"]', "levels = [2024-01-01, 2024-02-01]"),),
        (
            "A date or a time stands here without quotes.\n"
            "Where: study.toml, line 5, factors.dye.levels[1]\n"
            "Found: 2024-01-01\n"
            "Allowed: a text in quotes or a number\n"
            'What to do: Put it in quotes: "2024-01-01"'
        ),
    ),
    (
        "key_twice",
        (("count = 2", "count = 2\ncount = 3"),),
        (
            "The key 'count' stands twice.\n"
            "Where: study.toml, line 13, groups.session.count\n"
            "Found: line 12 and line 13\n"
            "Allowed: each name once\n"
            "What to do: Delete one of the two, or give it another name."
        ),
    ),
    (
        "control",
        (('applied_to = "firing"', 'control = "ovn"'),),
        (
            "The control isn't one of the levels of 'heat'.\n"
            "Where: study.toml, line 9, factors.heat.control\n"
            "Found: ovn\n"
            "Allowed: oven, burner\n"
            "What to do: Did you mean 'oven'?"
        ),
    ),
    (
        "spread",
        (("items = 0.3", "items = 30"),),
        (
            "The spread 'items' can't be this.\n"
            "Where: study.toml, line 28, responses.power.spread.items\n"
            "Found: 30\n"
            "Allowed: a share of the mean above 0\n"
            "What to do: For 30 % write 0.3."
        ),
    ),
    (
        "units",
        (
            ('count = 2\nwithin = "session"', "count = 1"),
            ('step = "heat"', 'step = "heat"\n#'),
        ),
        (
            "There are too few of 'firing' for what is applied to them.\n"
            "Where: study.toml, line 15, groups.firing.count\n"
            "Found: 1 of 'firing', 2 versions (heat)\n"
            "Allowed: at least 2, and twice that to compare fairly\n"
            "What to do: Raise the count, or drop a level."
        ),
    ),
    (
        "comma",
        (("worthwhile = 1.3", "worthwhile = 1,3"),),
        (
            "A number has a decimal comma.\n"
            "Where: study.toml, line 24\n"
            "Found: worthwhile = 1,3\n"
            "Allowed: numbers with a decimal point\n"
            "What to do: Write 1.3 in place of 1,3."
        ),
    ),
    (
        "quotes",
        (('title = "Cells"', "title = “Cells”"),),
        (
            "A text stands in curly quotes.\n"
            "Where: study.toml, line 1\n"
            "Found: title = “Cells”\n"
            'Allowed: straight quotes: "like this"\n'
            "What to do: Replace the curly quotes by straight ones, in a plain text editor."
        ),
    ),
    (
        "unclosed",
        (('levels = ["hibiscus", "beetroot"]', 'levels = ["hibiscus", "beetroot"'),),
        (
            "A list has no end, or a comma is missing in it.\n"
            "Where: study.toml, line 5\n"
            'Found: levels = ["hibiscus", "beetroot"\n'
            'Allowed: a list such as: levels = ["oven", "burner"]\n'
            "What to do: Close the list with ']' and put a comma between its parts."
        ),
    ),
    (
        "factorsvalue",
        (("[factors.dye]", "[factors]"),),
        (
            "It isn't said which factor this belongs to.\n"
            "Where: study.toml, line 5, factors.levels\n"
            "Found: [factors]\n"
            "Allowed: [factors.NAME]\n"
            "What to do: Write [factors.NAME] in place of [factors], with the name of the factor."
        ),
    ),
    (
        "top",
        (('title = "Cells"', 'titel = "Cells"'),),
        (
            "There is no 'titel' here.\n"
            "Where: study.toml, line 1, titel\n"
            "Found: titel\n"
            "Allowed: format_version, title, question, prediction, makers, note, item_name, "
            "language, "
            "practice, spread_from, factors, groups, responses, same, columns, steps, "
            "equipment, lessons, stock, limits, plan, analysis\n"
            "What to do: Did you mean 'title'?"
        ),
    ),
)

Changes = tuple[tuple[str, str], ...]
