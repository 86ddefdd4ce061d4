"""The verbs: what each takes. The work is done by the service module of the same name."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from trials.cli.analyse import add_analyse
from trials.cli.described import Folder, Json
from trials.cli.drawing import show
from trials.cli.lessons import add_lessons
from trials.cli.negative import TakesNegative
from trials.cli.power import add_power
from trials.cli.record import add_record
from trials.cli.sweep import add_sweep
from trials.errors import RequestError

Paper = Annotated[
    Literal["a4", "us-letter"], typer.Option(help="Size of the paper.", case_sensitive=False)
]

app = typer.Typer(
    name="trials",
    add_completion=False,
    invoke_without_command=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help"], "max_content_width": 100},
)


@app.callback()
def start(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False,
) -> None:
    """Compare ways of building a small thing fairly.

    Plan, hand out, measure, judge, report. Start with: trials demo
    """
    if version:
        from trials import __version__

        typer.echo(f"trials {__version__}")
    elif context.invoked_subcommand is None:
        typer.echo(context.get_help())


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="The new study folder.", metavar="FOLDER")],
    example: Annotated[
        str | None, typer.Option(help="Start from an example study.", metavar="NAME")
    ] = None,
    answers: Annotated[
        Path | None, typer.Option(help="File with the answers; asks nothing.", metavar="FILE")
    ] = None,
    practice: Annotated[
        bool, typer.Option("--practice", help="A practice run: four items built alike.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Start a study: nine plain questions, and a study.toml that explains itself.

    \b
    Examples:
      trials new my-study
      trials new my-study --example tea
    """
    from trials.cli.asking import ask_on_terminal
    from trials.service.new import new as make_new

    made = make_new(
        folder, example=example, answers=answers, practice=practice, ask=ask_on_terminal
    )
    show(made, as_json)


@app.command()
def check(folder: Folder, as_json: Json = False) -> None:
    """Read study.toml and say what a plan for it could tell.

    The fair-test check, what the plan can tell, and how likely each answer is: before anything is
    made. Changes nothing.

    \b
    Example:
      trials check my-study
    """
    from trials.service.check import check_study

    show(check_study(folder), as_json)


@app.command()
def plan(
    folder: Folder,
    *,
    seed: Annotated[
        int | None,
        typer.Option(
            help="Another number for chance to start from. The first plan picks one, which the "
            "study then keeps; the report tells of every number tried.",
            metavar="N",
            min=0,
        ),
    ] = None,
    items: Annotated[
        int | None, typer.Option(help="How many items to make.", metavar="N", min=2)
    ] = None,
    options: Annotated[
        bool,
        typer.Option(
            "--options", help="Show other plans side by side, and what each gives up; draws none."
        ),
    ] = False,
    longer: Annotated[
        bool,
        typer.Option(
            "--extend", help="Add items to a plan that has measurements; what was made stays."
        ),
    ] = False,
    as_json: Json = False,
) -> None:
    """Draw the plan: who makes what, and in which order.

    Writes plan.csv (to read) and plan.json. After a change in study.toml draw it again, as often
    as you like until its sheets are printed.

    \b
    Examples:
      trials plan my-study
      trials plan my-study --seed 7 --items 24
      trials plan my-study --options
      trials plan my-study --extend --items 12
    """
    if options:
        from trials.service.alternatives import compare_plans

        show(compare_plans(folder), as_json)
        return
    if longer:
        from trials.service.extend import extend_plan

        show(extend_plan(folder, seed=seed, items=items), as_json)
        return
    from trials.service.plan import draw_plan

    show(draw_plan(folder, seed=seed, items=items), as_json)


@app.command()
def sheets(
    folder: Folder,
    paper: Paper = "a4",
    label_size: Annotated[
        str,
        typer.Option(
            "--labels",
            metavar="SIZE",
            help="Labels: plain (to cut out), large (large print), or the size of one label on "
            "your sticky sheets, such as '70 x 37 mm' or '2.625 x 1 in'.",
        ),
    ] = "plain",
    anyway: Annotated[
        bool, typer.Option("--anyway", help="Print although the fair-test check says stop.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Print the sheets, labels and the entry workbook.

    Writes the folder sheets/. This locks the plan, so that nobody changes it after seeing results.

    \b
    Example:
      trials sheets my-study
      trials sheets my-study --labels "70 x 37 mm"
    """
    from trials.service.sheets import make_sheets

    show(make_sheets(folder, paper=paper, label_size=label_size, anyway=anyway), as_json)


@app.command()
def collect(
    folder: Folder,
    files: Annotated[
        list[Path], typer.Argument(help="Filled-in workbooks or tables.", metavar="FILE")
    ],
    as_json: Json = False,
) -> None:
    """Take in measurements; list the questions to settle.

    Each file is kept as it is, and nothing is ever lost. The same file again changes nothing;
    a changed one counts as new.

    \b
    Example:
      trials collect my-study entry.xlsx team-rowan.csv
    """
    from trials.service.collect import collect_files

    show(collect_files(folder, tuple(files)), as_json)


@app.command(cls=TakesNegative)
def answer(
    folder: Folder,
    question: Annotated[str, typer.Argument(help="The question, such as Q3.", metavar="QUESTION")],
    decision: Annotated[
        str, typer.Argument(help="keep, correct or set-aside.", metavar="keep|correct|set-aside")
    ],
    value: Annotated[
        str | None, typer.Argument(help="The right value, after 'correct'.", metavar="VALUE")
    ] = None,
    *,
    why: Annotated[str, typer.Option(help="The reason, one sentence.", metavar="TEXT")] = "",
    by: Annotated[
        str, typer.Option(help="Who decided: initials or a code, no name.", metavar="CODE")
    ] = "",
    sure: Annotated[
        bool, typer.Option("--sure", help="The value is right, although it is not usual.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Settle a question about a measurement. What was written first stays in the record.

    \b
    Examples:
      trials answer my-study Q3 keep --why "checked on the meter" --by KW
      trials answer my-study Q4 correct 0.312 --why "written in mV" --by KW
    """
    from trials.service.answer import settle

    show(settle(folder, question, (decision, value or "", why, by), sure=sure), as_json)


@app.command()
def lost(
    folder: Folder,
    items: Annotated[
        list[str], typer.Argument(help="Codes of the items, such as K7.", metavar="ITEM")
    ],
    *,
    why: Annotated[str, typer.Option(help="What happened, one sentence.", metavar="TEXT")] = "",
    by: Annotated[str, typer.Option(help="Who says so: a code, no name.", metavar="CODE")] = "",
    undo: Annotated[bool, typer.Option("--undo", help="Take it back: they are not lost.")] = False,
    as_json: Json = False,
) -> None:
    """Record that items broke or were never measured.

    That is, for a reason outside the comparison.
    An item that was made and does not work is not lost: write down its reading as it is.
    If one was measured before it broke, you are asked whether its readings count.

    \b
    Example:
      trials lost my-study K7 --why "fell off the table, not measured" --by KW
    """
    from trials.service.lost import record_lost

    show(record_lost(folder, tuple(items), why=why, by=by, undo=undo), as_json)


@app.command()
def swapped(
    folder: Folder,
    item: Annotated[str, typer.Argument(help="Code of one item, such as K7.", metavar="ITEM")],
    partner: Annotated[str, typer.Argument(help="Code of the other.", metavar="ITEM")],
    *,
    why: Annotated[str, typer.Option(help="How you know, one sentence.", metavar="TEXT")] = "",
    by: Annotated[str, typer.Option(help="Who says so: a code, no name.", metavar="CODE")] = "",
    undo: Annotated[bool, typer.Option("--undo", help="Take it back: they were not.")] = False,
    as_json: Json = False,
) -> None:
    """Record that two items had each other's label.

    Only where you know it (a photo, a mark on the glass). All their readings change places; what
    was written first stays in the record, and the report tells of it.

    \b
    Example:
      trials swapped my-study K7 K9 --why "the photo shows K7 on the red one" --by KW
    """
    from trials.service.swapped import record_swap

    show(record_swap(folder, (item, partner), why=why, by=by, undo=undo), as_json)


@app.command()
def made(
    folder: Folder,
    items: Annotated[
        list[str], typer.Argument(help="Codes of the items, such as K7.", metavar="ITEM")
    ],
    *,
    factor: Annotated[
        list[str] | None,
        typer.Option(help="The version it really got.", metavar="NAME=VERSION"),
    ] = None,
    group: Annotated[
        list[str] | None,
        typer.Option(help="The firing, session or team it really was in.", metavar="NAME=WHICH"),
    ] = None,
    why: Annotated[str, typer.Option(help="What happened, one sentence.", metavar="TEXT")] = "",
    by: Annotated[str, typer.Option(help="Who says so: a code, no name.", metavar="CODE")] = "",
    as_json: Json = False,
) -> None:
    """Record that items were made otherwise than planned.

    The answer goes on taking them as planned, for that is what chance decided; the answer by what
    was really made stands beside it. A version that the plan does not have is 'other'. To take it
    back, say what the plan had.

    \b
    Examples:
      trials made my-study K7 --factor dye=hibiscus --why "wrong jar" --by T3
      trials made my-study K7 --group firing=F3 --why "no room in F2" --by T3
    """
    from trials.service.made import record_made

    show(
        record_made(folder, items, factors=factor or (), groups=group or (), why=why, by=by),
        as_json,
    )


add_record(app)
add_lessons(app)
add_analyse(app)


@app.command()
def report(folder: Folder, paper: Paper = "a4", as_json: Json = False) -> None:
    """Write the report, with its figures and tables.

    \b
    Example:
      trials report my-study
    """
    from trials.service.report import write_report

    show(write_report(folder, paper=paper), as_json)


add_power(app)
add_sweep(app)


@app.command()
def demo(
    folder: Annotated[
        Path | None,
        typer.Argument(
            help="Where to put it.  [default: trials-demo, or trials-demo-unfair]",
            metavar="FOLDER",
            show_default=False,
        ),
    ] = None,
    unfair: Annotated[
        bool,
        typer.Option(
            "--unfair", help="Play a fair and an unfair class with the same luck: a page to show."
        ),
    ] = False,
    example: Annotated[
        str | None,
        typer.Option(
            help="Another example: planes, the smallest.  [default: cells]",
            metavar="NAME",
            show_default=False,
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Do the whole job on an invented study.

    With --unfair a folder that has a study.toml is played with its own numbers.

    \b
    Examples:
      trials demo
      trials demo my-planes --example planes
      trials demo --unfair
    """
    if unfair:
        if example is not None:
            raise RequestError(
                "--unfair plays the study of its folder, so it takes no --example.",
                code="options.example",
                where="trials demo",
                found=f"--example {example}",
                do=f"Make the folder first: trials new FOLDER --example {example}",
            )
        from trials.service.unfair import run_unfair

        show(run_unfair(folder or Path("trials-demo-unfair")), as_json)
        return
    from trials.service.demo import EXAMPLE, run_demo

    show(run_demo(folder or Path("trials-demo"), example or EXAMPLE), as_json)
