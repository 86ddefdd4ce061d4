"""Fill factor and efficiency of published cells, and published figures that contradict themselves.

Every row names its paper. "seen": the figures stood in the abstract or on the first page; "memory":
quoted from memory and taken up only because the four figures multiply out. All at about 1 sun
(100 mW/cm²), per 1 cm². Definitions: IEC 60904-1 (fill factor = Pmax / (Voc Isc)).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

import pytest
from pvlib.pvsystem import singlediode  # type: ignore[import-untyped]  # it ships no types

from trials.reduction import REDUCERS
from trials.reduction.electrical.ideal import THERMAL_VOLTAGE, fill_factor_ceiling

IV = REDUCERS["iv_point"]


@dataclass(frozen=True)
class Ask:
    unit: str
    settings: dict[str, float | str]
    name: str = "cell"
    label: str = ""
    reducer: str = "iv_point"
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Published:
    paper: str
    dye: str
    voc: str  # V
    jsc: str  # mA/cm²
    ff: str
    efficiency: str  # %
    tag: str
    codes: tuple[str, ...] = field(default=())

    def __str__(self) -> str:
        return f"{self.paper.split(',')[0]} {self.dye}"


AGREE = (
    Published("Mansa et al. 2014, J. Phys. Sci. 25(2) 85-96", "hibiscus",
              "0.268", "0.96", "0.43", "0.11", "seen"),
    Published("Wongcharee et al. 2007, Sol. Energy Mater. Sol. Cells 91", "rosella",
              "0.404", "1.63", "0.57", "0.37", "efficiency seen, the rest memory"),
    Published("Wongcharee et al. 2007, Sol. Energy Mater. Sol. Cells 91", "blue pea",
              "0.372", "0.37", "0.33", "0.05", "efficiency seen, the rest memory"),
    Published("Wongcharee et al. 2007, Sol. Energy Mater. Sol. Cells 91", "mixture",
              "0.382", "0.82", "0.47", "0.15", "efficiency seen, the rest memory"),
    Published("Calogero et al. 2012, Sol. Energy 86 1563", "Sicilian prickly pear",
              "0.389", "8.80", "0.60", "2.06", "current and efficiency seen, the rest memory"),
    Published("Hao et al. 2006, Sol. Energy 80", "black rice",
              "0.551", "1.142", "0.52", "0.327", "memory"),
    Published("Hao et al. 2006, Sol. Energy 80", "capsicum",
              "0.412", "0.225", "0.63", "0.058", "memory"),
    Published("Zhou et al. 2011, J. Photochem. Photobiol. A 219", "mangosteen peel",
              "0.686", "2.69", "0.633", "1.17", "memory"),
    Published("Zhou et al. 2011, J. Photochem. Photobiol. A 219", "violet",
              "0.498", "1.02", "0.645", "0.33", "memory"),
    Published("Calogero & Di Marco 2008, Sol. Energy Mater. Sol. Cells 92", "red orange",
              "0.340", "3.84", "0.50", "0.66", "memory"),
    Published("Zhang et al. 2008, J. Photochem. Photobiol. A 195", "beetroot",
              "0.44", "2.42", "0.63", "0.67", "memory"),
)  # fmt: skip

DISAGREE = (
    Published("Abodunrin et al. 2015, Mater. Sci. Appl. 6 646 (Pmax 0.031 mW/cm² printed)",
              "oil-bean leaf", "0.045", "0.16", "0.50", "0.031", "seen",
              ("fill_factor_above_one",)),
    Published("Leyrer et al. 2016, Opt. Mater. 60 411", "maqui",
              "0.43", "0.38", "0.45", "0.14", "seen", ("fill_factor_above_ideal",)),
    Published("Ghann et al. 2017, Sci. Rep. 7 41470, abstract (mV printed for V)", "pomegranate",
              "0.00039", "12.2", "0.42", "2.0", "seen", ("fill_factor_above_one",)),
    Published("Purushothamreddy et al. 2020, Spectrochim. Acta A 228 117686", "prickly pear",
              "0.56", "1.17", "0.85", "0.56", "seen", ("fill_factor_above_ideal",)),
    Published("Komhom, studylib.net/doc/7634479 (1.493 W/cm² printed)", "Thai paper",
              "0.5", "1", "0.5", "1493", "seen", ("more_than_light", "fill_factor_above_one")),
)  # fmt: skip


def _settings(quantity: str) -> dict[str, float | str]:
    return {
        "quantity": quantity,
        "power_from": "maximum power",
        "area_cm2": 1.0,
        "reference_light": 1000.0,
    }


def _reading(cell: Published, power: Decimal) -> dict[str, Decimal]:
    return {
        "open-circuit voltage": Decimal(cell.voc),
        "short-circuit current": Decimal(cell.jsc),
        "maximum power": power,
        "light": Decimal(1000),
    }


def _half(text: str) -> float:
    """Return half a unit of the last printed place."""
    exponent = Decimal(text).as_tuple().exponent
    return 0.5 * 10.0 ** int(exponent)


def _room(*texts: str) -> float:
    """Return how far rounding alone can move a product of printed figures, relatively."""
    return sum(_half(text) / float(text) for text in texts)


@pytest.mark.parametrize("cell", AGREE, ids=str)
def test_efficiency_of_published_cells(cell: Published) -> None:
    power = Decimal(cell.voc) * Decimal(cell.jsc) * Decimal(cell.ff)
    ask = Ask("%", _settings("efficiency"))
    reduced = IV.reduce(ask, [_reading(cell, power)])
    assert reduced.value is not None
    room = float(cell.efficiency) * _room(cell.voc, cell.jsc, cell.ff)
    assert abs(reduced.value - float(cell.efficiency)) <= room + _half(cell.efficiency)
    assert IV.check(ask, [_reading(cell, power)]) == ()


@pytest.mark.parametrize("cell", AGREE, ids=str)
def test_fill_factor_of_published_cells(cell: Published) -> None:
    power = Decimal(cell.efficiency)  # mW from 1 cm² in 100 mW/cm²
    reduced = IV.reduce(Ask("", _settings("fill_factor")), [_reading(cell, power)])
    assert reduced.value is not None
    room = float(cell.ff) * _room(cell.voc, cell.jsc, cell.efficiency)
    assert abs(reduced.value - float(cell.ff)) <= room + _half(cell.ff)


@pytest.mark.parametrize("cell", DISAGREE, ids=str)
def test_figures_that_contradict_themselves_are_flagged(cell: Published) -> None:
    flags = IV.check(Ask("%", _settings("efficiency")), [_reading(cell, Decimal(cell.efficiency))])
    assert tuple(flag.code for flag in flags) == cell.codes


def test_more_than_a_volt_from_one_cell_is_outside_the_believable() -> None:
    # Giallombardo & Nunez 2014, a school report, claims more than 1 V a cell (seen)
    voc = IV.columns(Ask("V", {"quantity": "voc"}))[0]
    assert voc.believable[1] == 1
    assert voc.possible[1] is not None
    assert voc.possible[1] > 1


@pytest.mark.parametrize("voc", [0.3, 0.4, 0.56, 0.7])
def test_ceiling_agrees_with_green(voc: float) -> None:
    # M. A. Green 1982, Solar Cells 7, 337-340 (from memory): FF0 = (v - ln(v + 0.72)) / (v + 1),
    # "accurate to one digit in the fourth place for v > 10"
    from math import log

    v = voc / THERMAL_VOLTAGE
    assert fill_factor_ceiling(voc) == pytest.approx((v - log(v + 0.72)) / (v + 1), abs=2e-4)


@pytest.mark.parametrize("voc", [0.02, 0.1, 0.4, 0.7])
def test_ceiling_agrees_with_pvlib(voc: float) -> None:
    from math import expm1

    photo = 1e-3
    saturation = photo / expm1(voc / THERMAL_VOLTAGE)
    curve = singlediode(photo, saturation, 0.0, float("inf"), THERMAL_VOLTAGE)
    fill = float(curve["p_mp"]) / float(curve["i_sc"] * curve["v_oc"])
    assert fill_factor_ceiling(voc) == pytest.approx(fill, rel=1e-6)
