"""Units at the edge: what people type is read into SI, and SI is shown in the units of whoever reads.

pint does the conversions; this module only knows which unit each quantity is spoken of in. Inside, masses
are kg, lengths m, volumes m3, flows m3/h, temperatures degrees Celsius.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import pint

from refuge.errors import ClearmereError

registry: pint.UnitRegistry[float] = pint.UnitRegistry()
registry.define("gph = gallon / hour")

METRIC, US = "metric", "us"

# As people write them, where pint reads something else or nothing: "in" is its inch already.
SPELLINGS = {
    "°c": "degC",
    "c": "degC",
    "celsius": "degC",
    "°f": "degF",
    "f": "degF",
    "fahrenheit": "degF",
    "l": "liter",
    "litre": "liter",
    "litres": "liter",
    "ml": "milliliter",
    "gal": "gallon",
    "gals": "gallon",
    "us gal": "gallon",
    "lbs": "pound",
    "ozs": "ounce",
    '"': "inch",
    "ins": "inch",
    "'": "foot",
    "ft": "foot",
    "l/h": "liter/hour",
    "lph": "liter/hour",
    "gal/h": "gallon/hour",
    "gph": "gallon/hour",
    "gpm": "gallon/minute",
    "l/min": "liter/minute",
    "m3/h": "meter**3/hour",
    "m³/h": "meter**3/hour",
    "m3": "meter**3",
    "m³": "meter**3",
    "ft3": "foot**3",
    "ft2": "foot**2",
    "m2": "meter**2",
    "m²": "meter**2",
}

SLOW_M_S = 0.1

TYPED = re.compile(r"^\s*(?P<number>[-+]?(?:\d[\d,]*(?:\.\d+)?|[.,]\d+))\s*(?P<unit>[^\d\s.,].*?)?\s*$")
# Feet and inches together, as builders write them: 2 ft 10 in, 1' 10", 1’10½”.
FEET_AND_INCHES = re.compile(
    r"^\s*(?P<sign>[-+]?)(?P<feet>\d+)\s*(?:ft\.?|feet|foot|['′’])\s*"
    r"(?P<inches>\d+(?:\.\d+)?)?(?:[\s-]*(?P<above>\d{1,2})/(?P<below>\d{1,2}))?\s*(?:in\.?|ins|inch|inches|[\"″”]|''|’’)?\s*$",
    re.IGNORECASE,
)
SIGNS = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4"}
# Thousands never begin with a zero: "0,250" is a quarter.
GROUPED = re.compile(r"^[-+]?[1-9]\d{0,2}(,\d{3})+(\.\d+)?$")


class UnitError(ClearmereError, ValueError):
    """What was typed is no amount of this quantity. The message says what was wrong and what would do."""


@dataclass(frozen=True)
class Quantity:
    """One kind of amount: the SI unit it is kept in, and the unit each system shows and assumes."""

    key: str
    si: str
    metric: tuple[str, str, int]  # pint unit, label, decimals
    us: tuple[str, str, int]
    example: str

    def shown(self, system: str) -> tuple[str, str, int]:
        return self.us if system == US else self.metric


QUANTITIES = {
    q.key: q
    for q in (
        Quantity("mass", "kilogram", ("kilogram", "kg", 2), ("pound", "lb", 1), "“55 kg” or “121 lb”"),
        Quantity(
            "food", "kilogram", ("kilogram", "kg", 2), ("pound", "lb", 2), "“1.4 kg”, “350 g” or “3 lb”"
        ),
        Quantity("length", "meter", ("centimeter", "cm", 1), ("inch", "in", 1), "“20 cm” or “8 in”"),
        Quantity("distance", "meter", ("meter", "m", 2), ("foot", "ft", 1), "“2.4 m” or “8 ft”"),
        Quantity("volume", "meter**3", ("liter", "L", 0), ("gallon", "gal", 0), "“200 L” or “55 gal”"),
        Quantity("bucket", "meter**3", ("liter", "L", 1), ("gallon", "gal", 1), "“10 L” or “5 gal”"),
        Quantity(
            "flow", "meter**3/hour", ("liter/hour", "L/h", 0), ("gph", "gal/h", 0), "“2000 L/h” or “500 gph”"
        ),
        Quantity(
            "speed", "meter/second", ("meter/second", "m/s", 1), ("foot/second", "ft/s", 1), "“1.5 m/s”"
        ),
        Quantity("temperature", "degC", ("degC", "°C", 1), ("degF", "°F", 0), "“22 °C” or “72 F”"),
        Quantity("area", "meter**2", ("meter**2", "m²", 1), ("foot**2", "ft²", 0), "“2 m²” or “20 ft2”"),
        Quantity("elevation", "meter", ("meter", "m", 0), ("foot", "ft", 0), "“240 m” or “800 ft”"),
    )
}


@lru_cache(maxsize=512)
def _unit(written: str) -> pint.Unit | None:
    text = written.strip().rstrip(".")
    name = SPELLINGS.get(text.lower(), SPELLINGS.get(text, text))
    try:
        return registry.Unit(name)
    except Exception:  # pint raises several kinds for text that is no unit
        return None


def parse(
    text: str,
    quantity: str,
    system: str = METRIC,
    *,
    fits: Callable[[float], bool] = lambda value: True,
) -> float:
    """The SI value of what somebody typed: a number, with a unit or in the unit their system assumes.

    "3 lb" as mass is 1.361 kg; "8" as length is 0.08 m for metric and 0.203 m for US; "2 ft 10 in" is 0.864 m. "1,5" is one and a
    half; "1,200" is twelve hundred to a US reader, and to a metric one of litres, of which nobody writes
    thousandths, or where only that `fits` (told an SI value). Else it is refused from a metric reader, who may
    mean either. Raises UnitError when there is no number, no such unit, or a unit of something else.
    """
    kind = QUANTITIES[quantity]
    match = TYPED.match(_in_inches(text))
    if not match:
        raise UnitError(f"“{text.strip()}” is no amount that can be read. Write it like {kind.example}.")
    unit_name = match["unit"] or kind.shown(system)[0]
    unit = _unit(unit_name)
    if unit is None:
        raise UnitError(f"“{unit_name}” is no unit known here. Write it like {kind.example}.")
    target = registry.Unit(kind.si)
    if unit.dimensionality != target.dimensionality:
        raise UnitError(f"“{unit_name}” does not measure this. Write it like {kind.example}.")
    readings = {
        number: float(registry.Quantity(number, unit).m_as(target)) for number in numbers(match["number"])
    }
    if len(readings) > 1:
        readings = _meant(readings, fits, counts_whole=system == US or unit in _whole_units(quantity))
    if len(readings) > 1:
        both = " or ".join(
            f"“{number:.12g} {match['unit'] or label(quantity, system)}”" for number in readings
        )
        raise UnitError(f"“{text.strip()}” can be read two ways. Write {both}.")
    return next(iter(readings.values()))


def _in_inches(text: str) -> str:
    """Feet and inches as inches: '2 ft 10 in' is '34 in'. Anything else comes back as it is."""
    found = FEET_AND_INCHES.match("".join(SIGNS.get(sign, sign) for sign in text))
    if not found or not (found["inches"] or found["above"]) or found["below"] in {"0", "00"}:
        return text
    inches = float(found["inches"] or 0) + int(found["above"] or 0) / int(found["below"] or 1)
    return f"{found['sign']}{int(found['feet']) * 12 + inches:.10g} in"


def numbers(written: str) -> list[float]:
    """What a number may mean: with one comma before three digits thousands, and the decimal reading after it."""
    plain = written.replace(",", "")
    if GROUPED.match(written):
        only_thousands = written.count(",") > 1 or "." in written
        return [float(plain)] if only_thousands else [float(plain), float(written.replace(",", "."))]
    if written.count(",") > 1 or ("," in written and "." in written):
        raise UnitError(f"“{written}” is no number that can be read. Write it like 1200 or 1.5.")
    return [float(written.replace(",", "."))]


def _meant(
    readings: dict[float, float], fits: Callable[[float], bool], *, counts_whole: bool
) -> dict[float, float]:
    """Of thousands and their decimal reading the one that must be meant; both where either may be."""
    thousands = next(iter(readings))
    if counts_whole:
        return {thousands: readings[thousands]}
    return {number: si for number, si in readings.items() if fits(si)} or readings


@lru_cache(maxsize=32)
def _whole_units(quantity: str) -> frozenset[pint.Unit]:
    """The units of a quantity that are shown, and so written, without decimals: litres, gallons an hour."""
    kind = QUANTITIES[quantity]
    return frozenset(registry.Unit(unit) for unit, _, digits in (kind.metric, kind.us) if digits == 0)


@lru_cache(maxsize=64)
def _linear(quantity: str, system: str) -> tuple[float, float]:
    """shown = factor * si + offset: pint is asked once, since lists show hundreds of values."""
    kind = QUANTITIES[quantity]
    unit = kind.shown(system)[0]
    zero, one = (registry.Quantity(x, kind.si).m_as(unit) for x in (0.0, 1.0))
    return one - zero, zero


def to_shown(value: float, quantity: str, system: str = METRIC) -> float:
    """An SI value as a number in the unit that `system` shows."""
    factor, offset = _linear(quantity, system)
    return value * factor + offset


def label(quantity: str, system: str = METRIC) -> str:
    """The unit's label: 'kg' or 'lb'."""
    return QUANTITIES[quantity].shown(system)[1]


def show(value: float | None, quantity: str, system: str = METRIC, *, with_unit: bool = True) -> str:
    """An SI value as people read it: '1.36 kg', '3.0 lb'; '–' for a value that is not known."""
    if value is None:
        return "–"
    number, unit, digits = _number_unit_digits(value, quantity, system)
    text = _grouped(f"{number:,.{digits}f}")
    return f"{text}\u00a0{unit}" if with_unit else text


def _number_unit_digits(value: float, quantity: str, system: str) -> tuple[float, str, int]:
    """The number, its unit and its decimals; a light thing is told in grams or ounces, slow water in mm or inches."""
    _, unit, digits = QUANTITIES[quantity].shown(system)
    number = to_shown(value, quantity, system)
    if quantity == "speed" and 0 < abs(value) < SLOW_M_S:
        return (number * 12, "in/s", 2) if system == US else (number * 1000, "mm/s", 1)
    if quantity in {"mass", "food"} and 0 < abs(number) < 1:
        return (number * 16, "oz", 1) if system == US else (number * 1000, "g", 0)
    return number, unit, digits


def _grouped(number: str) -> str:
    return number.replace(",", "\u202f")  # thin space: 1 000 reads the same everywhere


# An amount inside a sentence: {kind:SI value} or {kind:SI value:decimals}; refuge.rules.words writes them.
MARK = re.compile(r"\{([a-z]+):(-?\d+(?:\.\d+)?(?:e[-+]\d{1,2})?)(?::(\d))?\}")


PERCENT = re.compile(r"(?<=\d) ?%(?!\w)")  # no break between the number and its sign


def spoken(text: str, system: str = METRIC) -> str:
    """A sentence with each mark said in one system: 'Fed {food:1.36}' is 'Fed 1.36 kg' or 'Fed 3 lb'.

    Text without marks comes back as it is, and so does a mark of no known kind. A percentage is written one way
    everywhere, however a rule or an older record wrote it.
    """
    if "%" in text:
        text = PERCENT.sub("\u00a0%", text)
    if "{" not in text:  # nearly always, and lists show hundreds of sentences
        return text
    return MARK.sub(lambda mark: _said(mark, system), text)


def _said(mark: re.Match[str], system: str) -> str:
    kind, value, wanted = mark.groups()
    if kind not in QUANTITIES:
        return mark[0]
    number, unit, digits = _number_unit_digits(float(value), kind, system)
    text = f"{number:,.{digits if wanted is None else int(wanted)}f}"
    if number and not text.strip("-0."):
        text = f"{number:.2g}"  # little is not nothing
    elif "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{_grouped(text)}\u00a0{unit}"
