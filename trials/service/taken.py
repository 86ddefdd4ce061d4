"""The spread that a study takes from a practice run, read from its folder.

It is for the forecast only: nothing that was planned or promised depends on it, and a study is the
same whether the practice run is there or not. A study made again from a package has what was read
of the practice run beside it (:mod:`trials.service.practice_kept`), which then stands for it.
"""

from __future__ import annotations

from pathlib import Path

from trials.analysis import analyse_study
from trials.analysis.findings import PracticeFindings
from trials.errors import AnalysisError, FileError, PlanError, StudyError, TrialsError
from trials.files import as_typed, read_bytes
from trials.quantities import scale_between
from trials.record import Measured, State, Store, measured_state
from trials.service.opening import Opened, has_readings, open_planned
from trials.service.practice_kept import KeptPractice, KeptSpread, kept_practice
from trials.study import Study, read_study, toml
from trials.study.messages import Places, nearest, shorten
from trials.study.values import Response, TakenSpread
from trials.workspace import Workspace, open_workspace

_KEY = ("spread_from",)


def leaves_spread(response: Response) -> bool:
    """Tell whether a response leaves its spread to a practice run: none said, or our guess."""
    return response.spread is None or response.spread.source == "shipped guess"


def with_taken_spread(here: Workspace, study: Study) -> Study:
    """Return the study with the spread of each response that leaves it to a practice run.

    A response that the practice run does not have keeps what it has.

    Raises
    ------
    StudyError : the folder is missing or no practice run; nothing was measured in it; none of its
        responses is one of those wanted, or one is in another kind of unit; or it tells no spread.
    FileError : what is kept of the practice run is not as the program wrote it.
    """
    practice = practice_read(here, study)
    taken = {} if practice is None else practice.of(study)
    responses = tuple(
        response.model_copy(update={"spread": taken.get(response.name, response.spread)})
        for response in study.responses
    )
    return study.model_copy(update={"responses": responses}) if taken else study


def practice_read(here: Workspace, study: Study) -> KeptPractice | None:
    """Return what a study takes from its practice run; None where it takes nothing.

    Raises
    ------
    StudyError, FileError : as :func:`with_taken_spread`.
    """
    wanted = [response for response in study.responses if leaves_spread(response)]
    if study.spread_from is None or not wanted:
        return None
    kept = kept_practice(here)
    has = {} if kept is None else kept.of(study)
    left = {response.name for response in wanted if response.name not in has}
    places = _places(here)
    folder = here.folder / study.spread_from.replace("\\", "/")
    if kept is not None and has and not _more_there(folder, kept, left, places):
        return kept
    opened = _opened(folder, places)
    known = [response.name for response in opened.study.responses]
    shared = [response for response in wanted if response.name in known]
    if not shared:
        raise _no_response(wanted, known, places)
    state = _state(opened)
    measured = measured_state(state, opened.study, opened.plan)
    return KeptPractice(
        folder=study.spread_from,
        title=opened.study.title,
        plan_digest=opened.plan.digest(),
        record_digest=state.digest(),
        spreads=tuple(
            KeptSpread(
                response=response.name,
                unit=response.unit,
                compare=response.compare,
                spread=_taken(study, response, opened, measured, places),
            )
            for response in shared
        ),
    )


def _more_there(folder: Path, kept: KeptPractice, left: set[str], places: Places) -> bool:
    """Tell whether the practice run itself has a response that is wanted and not kept.

    Where its folder is not there, as beside a package, that is known only of responses that were
    kept, and were changed since.
    """
    if not left or left & {one.response for one in kept.spreads}:
        return bool(left)
    try:
        there = _opened(folder, places).study.responses
    except TrialsError:
        return False
    return bool(left & {response.name for response in there})


def with_spread_if_there(here: Workspace, study: Study) -> Study:
    """Return the study with the spread it takes, or as it is where there is nothing to take.

    For a study that has its plan: what was planned goes on without the practice run.
    """
    try:
        return with_taken_spread(here, study)
    except TrialsError:
        return study


def _places(here: Workspace) -> Places:
    where = str(here.study)
    return toml.load(toml.decode(read_bytes(here.study), where), where)[1]


def _opened(folder: Path, places: Places) -> Opened:
    """Return the practice run in a folder."""
    start = "Make one with: trials new FOLDER --practice"
    try:
        study = read_study(open_workspace(folder).study)
    except FileError:
        raise places.error(
            _KEY,
            "There is no study folder where the practice run should be.",
            code="spread_from_missing",
            found=str(folder),
            allowed="the folder of a practice run, seen from the folder of this study.toml",
            do=f"Correct the folder, or delete the line. {start}",
        ) from None
    if not study.practice:
        raise places.error(
            _KEY,
            "That folder holds a study, and no practice run.",
            code="spread_from_study",
            found=f"{shorten(study.title)} in {folder}",
            allowed="the folder of a practice run, whose study.toml says practice = true",
            do=f"Name another folder, or delete the line. {start}",
        )
    try:
        opened = open_planned(folder)
    except PlanError as problem:
        if problem.code != "plan.missing":
            raise
        raise _nothing_measured(folder, places) from None
    if not has_readings(opened.here):
        raise _nothing_measured(folder, places)
    return opened


def _nothing_measured(folder: Path, places: Places) -> StudyError:
    return places.error(
        _KEY,
        "Nothing has been measured in that practice run yet.",
        code="spread_from_unmeasured",
        found=str(folder),
        allowed="a practice run with readings taken in",
        do="Measure it and take the readings in with: trials collect "
        f"{as_typed(folder)} FILE. Until then delete the line, or put # before it.",
    )


def _no_response(wanted: list[Response], known: list[str], places: Places) -> StudyError:
    names = [response.name for response in wanted]
    near = nearest(names[0], known)
    return places.error(
        _KEY,
        "The practice run measured nothing that this study needs a spread for.",
        code="spread_from_response",
        found=", ".join(shorten(name) for name in known),
        allowed=", ".join(shorten(name) for name in names),
        do="Give the response the same name in both files"
        + (f": '{near}' there is '{names[0]}' here." if near else ", if it is the same thing.")
        + " Else write how different equal items come out under [responses.NAME.spread].",
    )


def _state(opened: Opened) -> State:
    with Store.open(opened.here.record) as store:
        store.recheck()
        return store.state()


def _taken(
    study: Study, response: Response, opened: Opened, measured: Measured, places: Places
) -> TakenSpread:
    """Return the spread of one response, on the scale and in the unit of this study."""
    theirs = opened.study.response(response.name)
    scale = scale_between(theirs.unit, response.unit)
    if scale is None:
        raise places.error(
            ("responses", response.name, "unit"),
            f"'{shorten(response.name)}' is in another kind of unit in the practice run.",
            code="spread_from_unit",
            found=f"{response.unit or 'no unit'} here, {theirs.unit or 'no unit'} there",
            allowed=f"{theirs.unit or 'no unit'}, or a unit of the same kind",
            do="Correct the unit in one of the two files; if they measure different things, give "
            "one of them another name.",
        )
    found = _practised(opened, theirs.model_copy(update={"compare": response.compare}), measured)
    spread = None if found is None else found.spread
    if found is None or spread is None:
        raise places.error(
            _KEY,
            f"The practice run can't tell how different equal items come out in "
            f"'{shorten(response.name)}'"
            + (" as a ratio." if response.compare == "ratio" else "."),
            code="spread_from_nothing",
            found="no item that worked"
            if found is None
            else f"{found.worked} of {found.made} items worked",
            allowed="two items of one maker that work and differ"
            + (", every value above 0" if response.compare == "ratio" else ""),
            do="Make and measure more items in a new practice run, or write the spread under "
            f"[responses.{response.name}.spread].",
        )
    times = 1.0 if response.compare == "ratio" else float(scale)
    low, high = spread.items_interval
    guess = {} if response.spread is None else response.spread.groups
    groups = _groups(study, found, times)
    return TakenSpread(
        items=spread.items * times,
        readings=None if spread.readings is None else spread.readings * times,
        groups=guess | groups,
        source="practice run",
        folder=study.spread_from or "",
        interval=(None if low is None else low * times, None if high is None else high * times),
        made=found.made,
        failed=found.made - found.worked,
        written=response.spread,
        guessed=tuple(name for name in guess if name not in groups),
    )


def _practised(opened: Opened, asked: Response, measured: Measured) -> PracticeFindings | None:
    """Return what the practice run tells of one response on the scale that is asked for."""
    alone = opened.study.model_copy(update={"responses": (asked,)})
    try:
        return analyse_study(alone, opened.plan, measured).practice[0]
    except AnalysisError:
        return None


def _groups(study: Study, found: PracticeFindings, times: float) -> dict[str, float]:
    """Return the spread between groups that both have: of one name, or the makers of both."""
    names = {group.name for group in study.groups}
    spread = {} if found.spread is None else found.spread.groups
    out = {name: sd * times for name, sd in spread.items() if name in names}
    maker = next((group.name for group in study.groups if group.role == "maker"), None)
    if maker is not None and found.makers is not None and found.makers.sd is not None:
        out.setdefault(maker, found.makers.sd * times)
    return out
