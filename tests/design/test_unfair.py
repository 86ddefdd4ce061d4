"""Fair and unfair classes with the same luck, against what the textbook says of such faults.

Where m rows share one lucky unit, the F of a naive one-way analysis of two versions is F(1, 2m - 2)
times 1 + m s_u^2 / s_e^2, by the expected mean squares; so its false alarms are known exactly.
S. H. Hurlbert (1984), Ecological Monographs 54, 187-211, calls the fault pseudoreplication.
"""

from __future__ import annotations

import math

import pytest
from scipy import stats

from tests.design.unchecked import draw
from trials.design.unfair import READINGS, Classes, ClassOutcome, Faults, compare_classes
from trials.errors import RequestError, StudyError
from trials.study import Limits, Response, Spread, Study, StudyFactor, StudyGroup

STUDIES = 4000


def a_study(*, together: bool = False, makers: bool = True, **spread: float) -> Study:
    """Two versions, two makers, 16 items; ``together``: also two heats over four pots."""
    factors = [StudyFactor(name="tint", levels=("x", "y"), shared=False)]
    groups = [StudyGroup(name="crew", count=2, role="maker" if makers else None, random=True)]
    if together:
        factors.append(StudyFactor(name="warmth", levels=("low", "high"), applied_to="pot"))
        groups.append(StudyGroup(name="pot", count=4, step="warm", capacity=4))
    known = {"crew": 0.0, "pot": 0.0} if together else {"crew": 0.0}
    sds = {name: spread.pop(name, none) for name, none in known.items()}
    response = Response(
        name="glow",
        unit="lx",
        expected=2.0,
        spread=Spread(items=spread.pop("items"), readings=spread.pop("readings"), groups=sds),
    )
    return Study(
        title="Tints",
        question="Which glows?",
        factors=tuple(factors),
        groups=tuple(groups),
        responses=(response,),
        limits=Limits(items=16),
    )


def played(study: Study, studies: int = STUDIES) -> Classes:
    return compare_classes(study, draw(study, seed=3), studies=studies, seed=11)


def only(found: Classes, faults: Faults) -> ClassOutcome:
    return next(one for one in found.single if one.faults == faults)


def alarms(m: int, shared: float, own: float) -> float:
    """Return how often two versions of m rows each are told apart though they are alike."""
    df = 2 * m - 2
    return float(stats.f.sf(stats.f.isf(0.05, 1, df) / (1 + m * shared**2 / own**2), 1, df))


def is_near(simulated: float, wanted: float) -> bool:
    return abs(simulated - wanted) < 3.5 * math.sqrt(wanted * (1 - wanted) / STUDIES)


def test_readings_taken_for_items() -> None:
    found = only(played(a_study(items=1.0, readings=0.5)), Faults(readings_counted=True))
    assert found.rows == 2 * READINGS
    assert is_near(found.crowned[0].wrong.simulated, alarms(READINGS, 1.0, 0.5))


def test_a_version_for_each_maker() -> None:
    found = only(played(a_study(items=1.0, readings=0.01, crew=0.6)), Faults(shared_out=True))
    assert is_near(found.crowned[0].wrong.simulated, alarms(8, 0.6, 1.0))


def test_one_pot_for_each_version() -> None:
    """Judged with both factors in the model, so with 12 degrees of freedom instead of 14."""
    study = a_study(together=True, items=1.0, readings=0.01, pot=0.7)
    found = only(played(study), Faults(one_batch=True))
    also = found.crowned[0].also
    assert also is not None
    wanted = float(stats.f.sf(stats.f.isf(0.05, 1, 12) / (1 + 8 * 0.7**2), 1, 12))
    assert is_near(also.simulated, wanted)


@pytest.mark.parametrize("crew", [0.0, 0.6])
def test_the_fair_class_keeps_its_promise(crew: float) -> None:
    found = played(a_study(together=True, items=1.0, readings=0.5, crew=crew, pot=0.7)).fair
    none = found.crowned[0]
    assert is_near(none.wrong.simulated, 0.05)
    assert none.also is not None
    assert is_near(none.also.simulated, 0.05)


def test_without_luck_in_common_nothing_but_readings_is_unfair() -> None:
    """No maker and no pot stands out: sharing out does no harm, so only the counting does."""
    found = played(a_study(together=True, items=1.0, readings=0.5))
    for faults in (Faults(shared_out=True), Faults(one_batch=True)):
        assert is_near(only(found, faults).crowned[0].wrong.simulated, 0.05)


def test_the_same_seed_gives_the_same_classes_and_every_class_ends_one_way() -> None:
    study = a_study(together=True, items=1.0, readings=0.5, crew=0.3, pot=0.3)
    found = played(study, 50)
    assert found == played(study, 50)
    for outcome in (found.fair, found.unfair, *found.single):
        for one in outcome.crowned:
            ends = one.right.simulated + one.wrong.simulated + one.none.simulated
            assert ends == pytest.approx(1.0)
        assert outcome.crowned[0].right.simulated == 0.0


@pytest.mark.parametrize("studies", [0, 9, 10_000_000])
def test_a_number_of_classes_that_makes_no_sense(studies: int) -> None:
    with pytest.raises(RequestError, match="can't be simulated"):
        played(a_study(items=1.0, readings=0.5), studies)


def test_a_study_without_makers_is_refused_in_words() -> None:
    whole = a_study(items=1.0, readings=0.5)
    for study, wanted in (
        (a_study(makers=False, items=1.0, readings=0.5), "role"),
        (
            whole.model_copy(
                update={"responses": (whole.responses[0].model_copy(update={"spread": None}),)}
            ),
            "spread",
        ),
        (
            whole.model_copy(
                update={"responses": (whole.responses[0].model_copy(update={"expected": None}),)}
            ),
            "expected",
        ),
    ):
        with pytest.raises(StudyError, match="says too little") as caught:
            played(study, 20)
        assert wanted in caught.value.do
