"""``trials sweep`` as a person types it."""

from __future__ import annotations

import numpy as np
import pytest

from tests.command_line import CommandLine
from trials.reduction.electrical.curve import currents

CURVE = np.array([[1.2, 0.45, 0.2, 0.1, 0.12]])
VOLTAGES = (0.0, 0.08, 0.16, 0.22, 0.27, 0.31, 0.35, 0.39, 0.42, 0.45)
ASKED = ("voc", "isc", "pmax", "vmp", "imp", "ff", "efficiency", "jsc", "r_series", "r_shunt")


@pytest.fixture
def swept(line: CommandLine) -> CommandLine:
    flow = currents(CURVE, np.array(VOLTAGES))[0]
    rows = [
        f"{1000 * v:.0f};{i:.3f}".replace(".", ",") for v, i in zip(VOLTAGES, flow, strict=True)
    ]
    text = "\n".join(["voltage (mV);current_mA", *rows])
    (line.folder / "K3.csv").write_text(text, encoding="utf-8")
    return line


def test_every_parameter_has_value_unit_and_uncertainty(swept: CommandLine) -> None:
    told = swept.json("sweep", "K3.csv", "--area", "4", "--irradiance", "900")
    assert told["sweep"] == "K3"
    for name in ASKED:
        one = told[name]
        assert one is None or {"value", "unit", "u"} <= set(one)
    assert told["voc"]["value"] == pytest.approx(0.45, rel=0.01)
    assert told["isc"]["value"] == pytest.approx(1.2, rel=0.01)
    assert told["efficiency"]["unit"] == "%"
    assert told["corrected"]["isc"]["value"] == pytest.approx(1.2 / 0.9, rel=0.02)
    assert {one["code"] for one in told["warnings"]} == {"no_meter_error", "ammeter_unknown"}


def test_without_light_and_area_the_rest_is_told_with_reasons(swept: CommandLine) -> None:
    told = swept.json("sweep", "K3.csv")
    assert told["efficiency"] is None
    assert told["jsc"] is None
    assert {one["code"] for one in told["warnings"]} == {
        "no_area", "no_light", "no_meter_error", "ammeter_unknown",
    }  # fmt: skip


def test_the_printed_page_has_units_intervals_and_the_budget(swept: CommandLine) -> None:
    text = swept.run("sweep", "K3.csv", "--area", "4", "--irradiance", "900", "--draws", "20")
    for piece in ("open-circuit voltage", "mA/cm²", "95 % intervals", "type A", "by drawing"):
        assert piece in text


@pytest.mark.parametrize(
    ("options", "code"),
    [
        (("--area", "0"), "options.value"),
        (("--irradiance", "nan"), "options.value"),
        (("--irradiance", "900", "--lux", "100000"), "options.light_twice"),
        (("--draws", "1"), "options.value"),
    ],
)
def test_options_that_cannot_be_meant(
    swept: CommandLine, options: tuple[str, ...], code: str
) -> None:
    assert swept.json("sweep", "K3.csv", *options, code=2)["error"]["code"] == code


def test_a_file_without_points_is_refused(line: CommandLine) -> None:
    (line.folder / "K3.csv").write_text("voltage,current\n0.4,\n,1.1\n", encoding="utf-8")
    assert line.json("sweep", "K3.csv", code=1)["error"]["code"] == "ingest.no_points"


def test_which_resistors_to_buy_before_there_is_a_sweep(line: CommandLine) -> None:
    told = line.json("sweep", "--expect-voltage", "0.45", "--expect-current", "0.7")
    assert told["loads"]["values"][:3] == [68, 100, 150]
    assert (told["points"], told["duration"]) == (15, {"value": 225.0, "unit": "s"})
    assert len(told["notes"]) == 1
    text = line.run(
        "sweep", "--expect-voltage", "0.5", "--expect-current", "400", "--spread", "1",
        "--seconds", "30",
    )  # fmt: skip
    assert ": 0.33, 0.47, 0.68, 1, 1.5, 2.2 and 3.3." in text
    assert "at 30 s a point" in text
    assert "up to 200 mW and get hot" in text


@pytest.mark.parametrize(
    ("options", "code"),
    [
        ((), "options.value"),
        (("--expect-voltage", "0.4"), "options.value"),
        (("--expect-voltage", "400", "--expect-current", "1"), "options.value"),
        (("--expect-voltage", "0.4", "--expect-current", "nan"), "options.value"),
        (("--expect-voltage", "0.4", "--expect-current", "1", "--spread", "0.5"), "options.value"),
        (("--expect-voltage", "0.4", "--expect-current", "1", "--seconds", "0"), "options.value"),
        (("--expect-voltage", "0.4", "--area", "4"), "options.no_file"),
        (("K3.csv", "--expect-voltage", "0.4"), "options.file"),
    ],
)
def test_expectations_that_cannot_be_meant(
    swept: CommandLine, options: tuple[str, ...], code: str
) -> None:
    assert swept.json("sweep", *options, code=2)["error"]["code"] == code


def test_millivolts_under_volts_are_asked_about_and_never_turned_alone(line: CommandLine) -> None:
    text = "voltage,current\n410,0.1\n300,0.9\n200,1.1\n100,1.2\n0,1.25\n"
    (line.folder / "K3.csv").write_text(text, encoding="utf-8")
    error = line.json("sweep", "K3.csv", code=1)["error"]
    assert error["code"] == "ingest.impossible"
    assert "line 2" in error["where"]
    assert "'voltage (mV)'" in error["do"]


@pytest.mark.parametrize("light", ["85", "100000"])
def test_light_in_another_unit_is_asked_about(swept: CommandLine, light: str) -> None:
    told = swept.json("sweep", "K3.csv", "--area", "4", "--irradiance", light)
    codes = {one["code"] for one in told["warnings"]}
    assert codes & {"light_unlikely", "light_far"}


def test_what_was_assumed_is_told_and_what_is_stated_takes_its_place(swept: CommandLine) -> None:
    asked = ("sweep", "K3.csv", "--area", "4", "--irradiance", "900")
    assert "area (5 % either way assumed)" in swept.run(*asked)
    stated = (*asked, "--area-error", "1", "--light-error", "2")
    assert "assumed" not in swept.run(*stated)
    assert swept.json(*stated)["efficiency"]["u"] < 0.6 * swept.json(*asked)["efficiency"]["u"]


def up_and_down(line: CommandLine, lag: float, *, slip: float = 1.0) -> None:
    """Write a sweep read upwards and back, with ``lag`` mA more on the way up than down.

    Readings flicker by 0.3 %, in a pattern of our own; one on the way down is ``slip`` times more.
    """
    voltages = np.array([*VOLTAGES, *reversed(VOLTAGES)])
    way = np.repeat([0.5, -0.5], len(VOLTAGES))
    flow = currents(CURVE, voltages)[0] * (1 + 0.003 * np.cos(7 * np.arange(20))) + lag * way
    flow[16] *= slip
    rows = [f"{v:.3f},{i:.3f}" for v, i in zip(voltages, flow, strict=True)]
    text = "\n".join(["voltage (V),current (mA)", *rows])
    (line.folder / "K7.csv").write_text(text, encoding="utf-8")


@pytest.mark.parametrize(("lag", "word"), [(0.048, "larger"), (-0.048, "smaller")])
def test_a_sweep_up_and_down_tells_how_far_the_ways_lie_apart(
    line: CommandLine, lag: float, word: str
) -> None:
    """The ways lie 0.048 mA apart by the making of the file: 4 % of its largest current, 1.2 mA."""
    up_and_down(line, lag)
    asked = ("sweep", "K7.csv", "--area", "4", "--irradiance", "900")
    told = line.json(*asked)
    lagging = told["hysteresis"]
    assert lagging["unit"] == "%"
    assert abs(lagging["value"] - 100 * lag / 1.224) < 2 * lagging["u"]
    assert told["voc"]["value"] == pytest.approx(0.45, rel=0.02)
    assert told["isc"]["value"] == pytest.approx(1.2, rel=0.02)
    words = {one["code"]: one["text"] for one in told["warnings"]}
    assert (
        f"the current was {word} than while it fell, by {abs(lagging['value']):.2g} %"
        in (words["hysteresis"])
    )
    assert "mostly because the way up differs from the way down" in words["noisy"]
    text = line.run(*asked)
    assert words["hysteresis"] in text
    assert words["noisy"] in text


def test_ways_that_agree_say_nothing_of_a_lag(line: CommandLine) -> None:
    up_and_down(line, 0.0)
    told = line.json("sweep", "K7.csv")
    assert abs(told["hysteresis"]["value"]) < 2 * told["hysteresis"]["u"]
    assert not {"hysteresis", "noisy"} & {one["code"] for one in told["warnings"]}


def test_one_wrong_point_is_named_though_there_are_two_ways(line: CommandLine) -> None:
    up_and_down(line, 0.0, slip=1.3)
    told = line.json("sweep", "K7.csv")
    words = {one["code"]: one["text"] for one in told["warnings"]}
    assert "the one at 0.22 V" in words["noisy"]
