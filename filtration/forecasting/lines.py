"""A stored forecast in sentences: until when it is sure enough, what may happen, what to feed, what work comes.

No query. Sentences may hold marks of amounts.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from enclosures.help import Help
from enclosures.models import WaterTest
from filtration.forecast.assimilation import advice
from filtration.forecasting.largest import NO_MEAL, largest_of
from filtration.forecasting.limits import BOUND, Bound, bound_of
from filtration.forecasting.models import WaterForecast
from filtration.forecasting.sightings import CLARITY
from refuge.rules.triggers import day_text, days_text
from refuge.rules.words import amount

# Below this a chance is not worth a line; from here on the words turn to care, and then to action.
WORTH_A_LINE, CARE, ACT = 0.05, 0.1, 0.5
LINES = 3
SURE_OF_IT = 0.9
HARMFUL = "ammonia, nitrite and oxygen"
BAD, DISAGREES = "a reading is beyond its limit", "a reading disagrees with the forecast"
KEPT = "ammonia, nitrite, oxygen, alkalinity and pH"
SURE = 0.98
READ_AS = {
    "tan": ("total ammonia", "mg/L N"),
    "nitrite": ("nitrite", "mg/L N"),
    "nitrate": ("nitrate", "mg/L N"),
    "alkalinity": ("alkalinity", "mg/L CaCO₃"),
    "ph": ("pH", ""),
}
# What a contradicted reading puts in doubt beside itself.
DOUBTED_TOO = {"tan": "unionized", "ph": "unionized"}
CERTAIN_WORDS = "more than 98\u00a0%"


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to know, with a state of the look, and words that may hold marks of amounts."""

    state: str
    words: str

    def doubted(self, words: str = "the reading disagrees") -> "Line":
        """The same where a reading contradicts it: not good any more, and said so."""
        return Line("watch" if self.state == "good" else self.state, f"{self.words.rstrip('.')}; {words}.")


def doubted(forecast: WaterForecast) -> set[str]:
    """The quantities of which the last test contradicts the forecast."""
    read = [each["quantity"] for each in forecast.outlook.get("disagreements", [])]
    return {*read, *(DOUBTED_TOO[name] for name in read if name in DOUBTED_TOO)}


def day_words(day: date, today: date) -> str:
    """A day as people say it: 'today', 'tomorrow', 'on Friday', 'on 4 Mar'."""
    ahead = (day - today).days
    if ahead <= 0:
        return "today"
    if ahead == 1:
        return "tomorrow"
    return f"on {day:%A}" if ahead < 7 else f"on {day.day} {day:%b}"


def headline(forecast: WaterForecast, today: date) -> Line:
    """Until when the forecast is sure enough, which is when the next test is wanted, and what is in doubt then."""
    line = _headline(forecast, today)
    return line.doubted("but a reading disagrees") if line.state == "good" and doubted(forecast) else line


def _headline(forecast: WaterForecast, today: date) -> Line:
    until = forecast.sure_until
    if until is None:
        return Line("unknown", "There is no forecast.")
    if forecast.doubt == WaterForecast.Doubt.LONGEST:
        return Line("good", f"Nothing in doubt until {_until(until, today)}.")
    if until > today:
        return Line("good", f"Sure enough until {_until(until, today)}; then {_doubt(forecast)}.")
    grave = forecast.doubt != WaterForecast.Doubt.TOO_VAGUE and forecast.chance >= ACT
    return Line("act" if grave else "watch", f"A test is wanted: {_doubt(forecast)}.")


def _doubt(forecast: WaterForecast) -> str:
    """What is in doubt: 'nitrite may be beyond its limit'."""
    name = BOUND[forecast.quantity].words if forecast.quantity in BOUND else "the water"
    if forecast.doubt == WaterForecast.Doubt.TOO_VAGUE:
        return f"{name} is not known well enough"
    may = "is likely to be" if forecast.doubt == WaterForecast.Doubt.WILL_PASS else "may be"
    return f"{name} {may} beyond its limit"


def _until(day: date, today: date) -> str:
    words = day_words(day, today)
    return words.removeprefix("on ")


def risk_lines(forecast: WaterForecast, today: date) -> list[Line]:
    """The chance of passing each limit: on the first day it is worth care, and at its greatest; the worst few."""
    limits, chances = forecast.outlook.get("limits", []), forecast.outlook.get("chances", [])
    unsure = doubted(forecast)
    found = []
    for (name, value, is_least), row in zip(limits, chances, strict=True):
        if max(row) >= WORTH_A_LINE:
            line = Line(
                _state(max(row)),
                _risk_words(bound_of(name, is_least=is_least), value, row, forecast.day, today),
            )
            found.append((max(row), line.doubted() if name in unsure else line))
    found.sort(key=lambda each: -each[0])
    if found:
        return [line for _, line in found[:LINES]]
    well = Line("good", "Everything stays within its limits, as far as can be told.")
    return [well.doubted("but a reading disagrees") if unsure else well]


def _risk_words(bound: Bound, value: float, row: Sequence[float], made_on: date, today: date) -> str:
    name = sentence_start(bound.words)
    passes = "falls below" if bound.is_least else "passes"
    limit = f"{value:g} {bound.unit}".strip()
    worst = max(row)
    peak = row.index(worst)
    first = next((day for day, chance in enumerate(row) if chance >= CARE), peak)
    words = f"{name} {passes} {limit} {_day(made_on, first, today)}: chance {_percent(row[first])}"
    if worst - row[first] >= CARE:
        words += f", {_percent(worst)} {_day(made_on, peak, today)}"
    return f"{words}."


def sentence_start(words: str) -> str:
    """The name of a quantity at the start of a sentence: pH keeps its spelling."""
    return words if words == "pH" else words[:1].upper() + words[1:]


def _day(made_on: date, day: int, today: date) -> str:
    return day_words(made_on + timedelta(days=day), today)


def _percent(chance: float) -> str:
    return CERTAIN_WORDS if chance > SURE else f"{chance * 100:.0f}\u00a0%"


def _state(chance: float) -> str:
    return "act" if chance >= ACT else "watch" if chance >= CARE else "good"


def meal_lines(forecast: WaterForecast, today: date, zone: ZoneInfo, help_: Help | None = None) -> list[Line]:
    """When the water clears after a meal, when a young filter is mature, and how much may be fed.

    help_: what bad readings ask for, if there are any.
    """
    outlook = forecast.outlook
    told = [
        each
        for each in outlook.get("clearing", [])
        if each["is_given"] or not _is_held(forecast, today, help_)
    ]
    lines = [_clearing(each, today, zone) for each in told]
    if "suspended" in doubted(forecast):
        lines = [line.doubted() if line else None for line in lines]
    return [line for line in (*lines, _maturing(outlook), _fed(forecast, today, help_)) if line]


def _is_held(forecast: WaterForecast, today: date, help_: Help | None) -> bool:
    """Whether the next planned meal is not to be given, or not whole: what it would do to the water says nothing then."""
    largest = largest_of(forecast.outlook, forecast.day, today=today)
    return bool(help_ and help_.stop_feeding) or bool(largest and not largest.begins_whole)


def _fed(forecast: WaterForecast, today: date, help_: Help | None) -> Line | None:
    """How much may be fed: none while a reading asks for a fast; never more than the plan while one is bad."""
    largest = largest_of(forecast.outlook, forecast.day, today=today, is_unwell=help_ is not None)
    if help_ is not None and help_.stop_feeding and not (largest and largest.begins_unfed):
        return Line("watch", "No meal until a test is good again.") if _is_fed(forecast) else None
    is_doubted = bool(doubted(forecast) - {"suspended", "nitrate"})
    if largest:
        line = Line(largest.state, largest.words)
        return line.doubted("but a reading disagrees") if is_doubted else line
    caution = BAD if help_ is not None else DISAGREES if is_doubted else ""
    return _ration(forecast.outlook, caution)


def _is_fed(forecast: WaterForecast) -> bool:
    return bool(forecast.outlook.get("meals"))


def _clearing(each: dict[str, Any], today: date, zone: ZoneInfo) -> Line | None:
    early, middle, late, _ = each["hours"]
    at = datetime.fromisoformat(each["at"]).astimezone(zone)
    meal = f"the meal of {amount(each['kg'], 'food')}"
    when = _given_words(at.date(), today) if each["is_given"] else day_words(at.date(), today)
    if late == 0:
        return None if each["is_given"] else Line("good", f"The water stays clear after {meal} {when}.")
    if middle == 0:
        return Line(
            "good",
            f"The water most likely stays clear after {meal} {when}; cloudy for {late:.0f} h at worst.",
        )
    if middle is None:
        return Line(
            "watch", f"Still cloudy four days after {meal} {when}: look at the flow and the sediment."
        )
    span = f"{early or 0:.0f} to {late:.0f}" if late else f"more than {early or 0:.0f}"
    return Line("watch", f"Clear again about {middle:.0f} h ({span}) after {meal} {when}.")


def _given_words(day: date, today: date) -> str:
    ago = (today - day).days
    return ("today", "yesterday")[ago] if ago < 2 else f"on {day:%A}"


def _maturing(outlook: dict[str, Any]) -> Line | None:
    maturing = outlook.get("maturing")
    if not maturing:
        return None
    early, middle, late, share = maturing["days"]
    if middle is None:
        return Line(
            "act", f"The filter may not get mature within {maturing['within']} days{_fed_until(maturing)}."
        )
    upper = f"{late:.0f}" if late is not None else f"more than {maturing['within']}"
    words = f"Mature in {early:.0f} to {upper} days, most likely about {middle:.0f}{_fed_until(maturing)}."
    if share < SURE_OF_IT:
        words += f" In {(1 - share) * 10:.0f} of 10 cases the plan is too much for it."
    return Line("watch", words)


def _fed_until(maturing: dict[str, Any]) -> str:
    """The plan, the food until then and the warmth that the days to mature are counted for."""
    meal, celsius = maturing.get("meal_kg"), maturing.get("celsius")
    if meal is None or celsius is None:
        return ""
    plan, warmth = amount(meal, "food"), amount(celsius, "temperature")
    return f", for the planned meals of {plan} at {warmth}, fed no more than it bears until then"


def _ration(outlook: dict[str, Any], caution: str) -> Line | None:
    """caution: why there is to be no more than was planned, in words."""
    ration = outlook.get("ration")
    if not ration:
        return None
    factor, kg = ration["factor"], ration["meal_kg"]
    plan, most = amount(kg, "food"), amount(kg * factor, "food")
    if factor < NO_MEAL:
        return Line(
            "watch", f"No meal is sure to keep {HARMFUL} within their limits: see the readings first."
        )
    if factor < 1:
        return Line(
            "watch", f"At most {most} a meal keeps {HARMFUL} within their limits; planned are {plan}."
        )
    if ration.get("used_up"):
        names = " and ".join(BOUND[name].words for name in ration["used_up"])
        return Line(
            "watch",
            f"No more than the planned {plan} a meal: {names} may fall below the limit on it. "
            "New water or bicarbonate first.",
        )
    if caution:
        return Line("watch", f"No more than the planned {plan} a meal while {caution}.")
    if ration["is_most"]:
        return Line("good", f"Meals of up to {most}, and perhaps more, keep {KEPT} within their limits.")
    return Line("good", f"At most {most} a meal keeps {KEPT} within their limits; planned are {plan}.")


def work_lines(forecast: WaterForecast) -> list[Line]:
    """Projected days of drains, rinses and water changes, each as a range."""
    lines = []
    for unit in forecast.outlook.get("work", []):
        for key, words in (("drain", "drain the sediment"), ("rinse", "rinse a layer")):
            if key in unit and unit[key][0] is not None:
                lines.append(Line("", f"{unit['label']}, {words}: {_range(unit[key], forecast.day)}."))
    for name, span in forecast.outlook.get("changes", {}).items():
        if span[0] is not None:
            share = "" if span[3] >= SURE else f" (chance {span[3]:.0%} within two weeks)"
            lines.append(
                Line("", f"Water change for {BOUND[name].words}: {_range(span, forecast.day)}{share}.")
            )
    return lines


def _range(span: Sequence[float | None], day: date) -> str:
    """'in 12 to 40 days, most likely 21'; 'now' when it is due already."""
    early, middle, late = span[:3]
    if middle == 0 and late == 0:
        return "now"
    first = "now" if not early or early < 1 else days_text(early)
    last = days_text(late) if late is not None else "later than can be told"
    most = f", most likely {days_text(middle)}" if middle else ""
    return f"{first} to {last}{most}"


def disagreement_words(each: dict[str, Any], zone: ZoneInfo) -> str:
    """Reading and model disagree, in words a keeper can act on."""
    key, (low, high) = each["quantity"], each["expected"]
    day = day_text(datetime.fromisoformat(each["at"]).astimezone(zone).date())
    if key == "suspended":
        said = f"clarity: read as {_clarity(each['low'])} on {day}, expected {_clarity_range(low, high)}"
    else:
        name, unit = READ_AS.get(key, (key, "mg/L"))
        read = _read_words(each["low"], each["high"])
        said = f"{name}: read as {read} on {day}, expected {low:.2g} to {high:.2g} {unit}".rstrip()
    return f"Reading and forecast disagree on {said}. {advice(key)}"


def _clarity(mg_l: float) -> str:
    """The word for clarity that stands for so many mg/L of fine solids."""
    words = (word for kind, word in WaterTest.Clarity.choices if mg_l < CLARITY[kind][1])
    return str(next(words)).lower()


def _clarity_range(low: float, high: float) -> str:
    one, two = _clarity(low), _clarity(high)
    return one if one == two else f"{one} to {two}"


def _read_words(low: float, high: float | None) -> str:
    """A reading as its kit can tell it: a range, unless its ends are as good as the same."""
    if high is None:
        return f"over {low:g}"
    return f"{(low + high) / 2:.3g}" if high - low < 0.05 * high else f"{low:g} to {high:g}"
