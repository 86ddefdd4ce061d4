"""The settings and raw columns of a cell read at a few points."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from trials.quantities import as_decimal, convert, convertible
from trials.reduction.settings import setting_value
from trials.reduction.values import Asked, Column, Range, Setting
from trials.words.language import marked

VOC = "open-circuit voltage"
ISC = "short-circuit current"
V_LOAD = "load voltage"
POWER = "maximum power"
LIGHT = "light"
AREA = "active area"
AGE = "age"
LOAD = "load resistance"
MEASURED = "measured"

# The usual symbols; and the words of IEC 60050 (International Electrotechnical Vocabulary) in
# English, German and French, from memory.
ALIASES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        VOC: ("Voc", "V_oc", "open circuit", "Uoc", "U_oc", "Leerlaufspannung",
              "tension en circuit ouvert", "tension à vide"),
        ISC: ("Isc", "I_sc", "short circuit", "Kurzschlussstrom", "courant de court-circuit"),
        V_LOAD: ("V_load", "U_load", "voltage at load", "Lastspannung"),
        POWER: ("Pmax", "P_max"),
        LOAD: ("R_load", "resistance", "Lastwiderstand"),
        AREA: ("area",),
        AGE: ("time since assembly", "time since closing"),
        LIGHT: ("irradiance", "G", "illuminance", "light level", "Bestrahlungsstärke",
                "Beleuchtungsstärke", "éclairement énergétique", "éclairement"),
    }
)  # fmt: skip

QUANTITIES = {
    "voc": "open-circuit voltage (V)",
    "isc": "short-circuit current (mA)",
    "power": "power at the load, or the most of a curve (mW)",
    "power_per_area": "power by area (mW/cm²)",
    "fill_factor": "power by voc times isc",
    "efficiency": "power by that of the light (%)",
    "current_density": "isc by area (mA/cm²)",
    "power_at_most": "voc times isc (mW), which no load reaches; for cells without a load reading",
}


def quantity_setting(names: Iterable[str]) -> Setting:
    """Return the setting that chooses one of some quantities."""
    words = tuple(names)
    told = ", ".join(f"{name} = {QUANTITIES[name]}" for name in words)
    return Setting("quantity", default="power", words=words, about=f"what is compared: {told}")


SETTINGS = (
    quantity_setting(QUANTITIES),
    Setting(
        "load_ohm",
        unit="ohm",
        number=True,
        words=(MEASURED,),
        about="the load resistor that the load voltage is read across; 'measured': a column",
    ),
    Setting(
        "area_cm2",
        unit="cm²",
        number=True,
        words=(MEASURED,),
        about="area that catches light; 'measured': a column, one number for each cell",
    ),
    Setting(
        "reference_light",
        number=True,
        about="light to which every reading is corrected, in light_unit; leave out: no correction",
    ),
    Setting(
        "light_unit",
        default="W/m^2",
        words=("W/m^2", "mW/cm^2", "lx", "klx", "%"),
        about="unit in which the light is read",
    ),
    Setting(
        "power_from",
        default="load voltage",
        words=("load voltage", "maximum power"),
        about="whether power is worked out at the load or read as a maximum power in mW",
    ),
    Setting("voltage_step_V", unit="V", default=0.001, number=True, about="smallest step shown"),
    Setting("current_step_mA", unit="mA", default=0.01, number=True, about="smallest step shown"),
    Setting(
        "ammeter_ohm",
        unit="ohm",
        number=True,
        about="what the ammeter resists on the range that read the short-circuit current, which is "
        "then corrected for it by the open-circuit voltage; leave out: as read",
    ),
    Setting("light_step", number=True, about="smallest step the light meter shows, in light_unit"),
    Setting(
        "age_unit",
        words=("min", "h"),
        about="unit in which the time since the cell was closed is read; leave out: not read",
    ),
)


@dataclass(frozen=True)
class Setup:
    """The settings of one response, read."""

    quantity: str
    load: Decimal | str | None
    area: Decimal | str | None
    reference: Decimal | None
    light_unit: str
    power_column: str
    voltage_step: float
    current_step: float
    ammeter: Decimal | None
    light_step: float | None
    age_unit: str | None


def setup_of(asked: Asked) -> Setup:
    """Return the settings of a response that has no faults."""

    def value(name: str) -> float | str | None:
        return setting_value(asked, SETTINGS, name)

    def number(name: str) -> Decimal | str | None:
        given = value(name)
        return given if given is None or isinstance(given, str) else as_decimal(given)

    reference, light_step = value("reference_light"), value("light_step")
    ammeter = value("ammeter_ohm")
    age_unit = value("age_unit")
    return Setup(
        quantity=str(value("quantity")),
        load=number("load_ohm"),
        area=number("area_cm2"),
        reference=None if reference is None else as_decimal(float(reference)),
        light_unit=str(value("light_unit")),
        power_column=V_LOAD if value("power_from") == "load voltage" else POWER,
        voltage_step=float(value("voltage_step_V") or 0),
        current_step=float(value("current_step_mA") or 0),
        ammeter=None if ammeter is None else as_decimal(float(ammeter)),
        light_step=None if light_step is None else float(light_step),
        age_unit=None if age_unit is None else str(age_unit),
    )


def needs(setup: Setup) -> tuple[str, ...]:
    """Return the raw quantities without which the chosen quantity can't be worked out."""
    power = (setup.power_column, LOAD) if setup.power_column == V_LOAD else (POWER,)
    corrected = (LIGHT,) if setup.reference is not None else ()
    open_end = (VOC,) if setup.ammeter is not None else ()
    return {
        "voc": (VOC,),
        "isc": (ISC, *open_end, *corrected),
        "current_density": (ISC, *open_end, AREA, *corrected),
        "power": (*power, *corrected),
        "power_per_area": (*power, AREA, *corrected),
        "fill_factor": (VOC, ISC, *power),
        "efficiency": (*power, AREA, LIGHT),
        "power_at_most": (VOC, ISC, *corrected),
    }[setup.quantity]


def columns(setup: Setup) -> tuple[Column, ...]:
    """Return the columns to fill in, in the order in which a person reads them."""
    wanted = needs(setup)
    with_power = setup.power_column in wanted
    offered = [
        (VOC, with_power or VOC in wanted),
        (ISC, with_power or ISC in wanted),
        (setup.power_column, with_power),
        (LOAD, setup.load == MEASURED and LOAD in wanted),
        (AREA, setup.area == MEASURED and AREA in wanted),
        (LIGHT, setup.reference is not None or LIGHT in wanted),
        (AGE, setup.age_unit is not None),
    ]
    return tuple(column_of(name, setup, name in wanted) for name, asked in offered if asked)


def column_of(name: str, setup: Setup, required: bool) -> Column:
    """Return the column of one raw quantity."""
    unit, possible, believable, about = {
        VOC: ("V", ("0", "3"), (None, "1"), marked("nothing connected")),
        ISC: (
            "mA",
            ("0", None),
            (None, _most_current(setup)),
            marked("the meter alone across the cell"),
        ),
        V_LOAD: ("V", ("0", "3"), (None, "1"), marked("across the load")),
        POWER: ("mW", ("0", None), (None, None), marked("the best point of the curve")),
        LOAD: ("ohm", ("0.01", None), ("1", "100000"), marked("once")),
        AREA: (
            "cm^2",
            ("0.001", None),
            ("0.1", "100"),
            marked("once, inside the mask"),
        ),
        AGE: (
            setup.age_unit or "",
            ("0", None),
            (None, None),
            marked("since the cell was closed"),
        ),
        LIGHT: (
            setup.light_unit,
            _light(setup.light_unit, "0.001", "5000"),
            _light(setup.light_unit, "10", "1500"),
            marked("at the place of the cell, with each reading"),
        ),
    }[name]
    return Column(
        name,
        unit,
        required=required,
        possible=_range(possible),
        believable=_range(believable),
        aliases=ALIASES[name],
        per="item" if name in (AREA, LOAD) else "reading",
        about=about,
        surroundings=name in (LIGHT, AGE),
    )


def _most_current(setup: Setup) -> str:
    """Return the largest believable current in mA: 40 mA/cm² in full sun is beyond any cell."""
    return str(setup.area * 40) if isinstance(setup.area, Decimal) else "1000"


def _light(unit: str, low: str, high: str) -> tuple[str | None, str | None]:
    """Return limits given in W/m² in another unit of light; roughly so for lux (about 100 lm/W)."""
    if unit == "%":
        return ("0.001", "1000")
    if convertible(unit, "lx"):
        limits = [convert(Decimal(end) * 100, "lx", unit) for end in (low, high)]
    else:
        limits = [convert(Decimal(end), "W/m^2", unit) for end in (low, high)]
    return (str(limits[0]), str(limits[1]))


def _range(ends: tuple[str | None, str | None]) -> Range:
    low, high = (None if end is None else Decimal(end) for end in ends)
    return (low, high)
