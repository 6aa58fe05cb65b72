"""Water tests, water changes and top-ups, as careful keepers do them, and as some waters miss them."""

import random
from dataclasses import dataclass, field
from datetime import date, timedelta

from enclosures.chemistry import (
    ALKALINITY_PER_NITROGEN,
    change_fraction_to_reach,
    thiosulfate_g,
    unionized_ammonia_mg_l,
)
from enclosures.rules import interval_by_load
from refuge.demo import habits
from refuge.demo.happenings import Reading, Renewal, Stamp
from refuge.demo.waters import oxygen_mg_l
from refuge.demo.world import CircuitState, World

STEPS_A_DAY = 4
FISHLESS_TAN_G_DAY = 0.3  # ammonium chloride that keeps the filter of an empty water alive
TOP_UP_DAYS = 13
SLIP = 0.08
# How the kits read: (step, relative error).
KITS = {
    "tan_mg_l": (0.05, 0.06),
    "nitrite_n_mg_l": (0.02, 0.06),
    "nitrate_n_mg_l": (1.0, 0.05),
    "alkalinity_mg_l": (5.0, 0.03),
    "hardness_mg_l": (10.0, 0.03),
    "oxygen_mg_l": (0.1, 0.02),
}
PH_BIAS = 0.05  # of the refuge's meter between calibrations
BLANK = 0.3  # error of a reading of next to nothing, in steps
FAST = ("nitrate_n_mg_l", "alkalinity_mg_l")


@dataclass(slots=True)
class Diary:
    """What the keepers know of one water. `watched` holds how many good readings a bad one still needs."""

    tested_on: date | None = None
    panel_on: date | None = None
    changed_on: date | None = None
    topped_up_on: date | None = None
    heavy_meal_on: date | None = None
    watched: dict[str, int] = field(default_factory=dict)
    is_foul: bool = False
    nitrate: float = 10.0
    alkalinity: float = 150.0

    def project(self, circuit: CircuitState) -> None:
        """One day on, by the food given: more nitrate, less alkalinity."""
        rise = circuit.load_g_day / circuit.volume_m3
        self.nitrate += rise
        self.alkalinity = max(0.0, self.alkalinity - ALKALINITY_PER_NITROGEN * rise)


class WaterCare:
    def __init__(self, world: World) -> None:
        self._world = world
        self._rng = world.rng("water")
        self._bias = _biases(world.rng("kits"))
        self._diaries = {
            code: Diary(alkalinity=circuit.water.alkalinity) for code, circuit in world.circuits.items()
        }

    def do(self, day: date) -> None:
        for circuit in self._world.open_circuits():
            diary = self._diaries[circuit.plan.code]
            diary.project(circuit)
            if self._test_is_due(circuit, diary, day):
                self._test(circuit, diary, day)
            if not self._world.ago(circuit.plan.changed_until):
                self._change_if_needed(circuit, diary, day)
            self._top_up_if_needed(circuit, diary, day)
            self._pass_day(circuit, diary, day)

    # Tests

    def _test_is_due(self, circuit: CircuitState, diary: Diary, day: date) -> bool:
        if self._world.ago(circuit.plan.tested_until):
            return False
        if diary.tested_on is None:
            return self._is_cycling(circuit) or self._rng.random() < 0.4
        is_due = (day - diary.tested_on).days >= self._interval(circuit, diary)
        return (is_due or self._panel_is_due(diary, day)) and self._rng.random() >= SLIP

    def _panel_is_due(self, diary: Diary, day: date) -> bool:
        return diary.panel_on is None or (day - diary.panel_on).days >= habits.PANEL_DAYS

    def _interval(self, circuit: CircuitState, diary: Diary) -> float:
        """The days that the rules ask for; weekly in a water that has been given up on."""
        if self._world.ago(circuit.plan.changed_until):
            return 7
        tested_on = diary.tested_on or date.min
        after_meal = diary.heavy_meal_on is not None and diary.heavy_meal_on >= tested_on
        if self._is_cycling(circuit) or diary.watched or after_meal or self._has_newcomer(circuit):
            return 1
        share = circuit.load_share if circuit.load_share > 0 else 1.0
        return int(interval_by_load(share, habits.TEST_LIGHT_DAYS, habits.TEST_FULL_DAYS, habits.LIGHT_SHARE))

    def _has_newcomer(self, circuit: CircuitState) -> bool:
        since = self._world.day - timedelta(days=habits.JOIN_TEST_DAYS)
        first = self._world.book.first
        return any(
            animal.since is not None and since <= animal.since < self._world.day and animal.since > first
            for animal in self._world.in_circuit(circuit.plan.code)
        )

    def _is_cycling(self, circuit: CircuitState) -> bool:
        plan = circuit.barrel.plan if circuit.barrel else None
        if plan is None or plan.cycling_from is None:
            return False
        return plan.state == "cycling" or self._world.day < self._world.book.day(plan.state_since)

    def _test(self, circuit: CircuitState, diary: Diary, day: date) -> None:
        values = {
            "temperature_c": round(circuit.temperature_c, 1),
            "ph": round(circuit.water.ph + self._bias["ph"] + self._rng.gauss(0, 0.05), 1),
        }
        is_panel = self._panel_is_due(diary, day)
        for name in self._names(circuit, diary, is_panel):
            values[name] = self._read(circuit, name)
        if is_panel:
            diary.panel_on = day
            values["clarity"] = self._clarity(circuit)
            if circuit.source.disinfectant != "none":
                values["chlorine_mg_l"] = 0.0
        self._learn(diary, values, day)
        stamp = self._world.rota.visit(day, circuit.plan.area, 34, note=self._note(diary))
        self._world.story.readings.append(Reading(stamp, circuit.plan.code, values))

    def _names(self, circuit: CircuitState, diary: Diary, is_panel: bool) -> list[str]:
        """Ammonia and nitrite always; more once a month, where it moves fast, or where it was bad."""
        moves_fast = circuit.load_g_day / circuit.volume_m3 > 0.5 and self._rng.random() < 0.6
        names = ["tan_mg_l", "nitrite_n_mg_l"]
        names += [name for name in FAST if is_panel or moves_fast or name in diary.watched]
        names += ["hardness_mg_l"] if is_panel else []
        return names + (["oxygen_mg_l"] if self._rng.random() < 0.4 else [])

    def _read(self, circuit: CircuitState, name: str) -> float:
        """What the kit shows: its own constant error and a small one each time, and its steps."""
        water = circuit.water
        true = {
            "tan_mg_l": water.tan,
            "nitrite_n_mg_l": water.nitrite,
            "nitrate_n_mg_l": water.nitrate,
            "alkalinity_mg_l": water.alkalinity,
            "hardness_mg_l": water.alkalinity * 0.5 + circuit.source.alkalinity_mg_l * 0.7,
            "oxygen_mg_l": oxygen_mg_l(circuit.temperature_c, circuit.load_share),
        }[name]
        step, error = KITS[name]
        blank = self._rng.gauss(0, BLANK * step)
        shown = true * self._bias[name] * self._rng.gauss(1, error) + blank
        return round(max(0.0, round(shown / step) * step), 3)

    def _clarity(self, circuit: CircuitState) -> int:
        if circuit.plan.is_outdoor:
            return 2 if circuit.temperature_c > 20 else 1
        flow = circuit.barrel.flow_m3_h / circuit.barrel.plan.flow_m3_h if circuit.barrel else 0
        return 3 if flow < 0.6 else 2 if flow < 0.75 else 1

    def _learn(self, diary: Diary, values: dict[str, float], day: date) -> None:
        diary.tested_on = day
        diary.nitrate = values.get("nitrate_n_mg_l", diary.nitrate)
        diary.alkalinity = values.get("alkalinity_mg_l", diary.alkalinity)
        bad = _beyond(values)
        diary.is_foul = bool(bad & {"tan_mg_l", "nitrite_n_mg_l"})
        for name in bad:
            diary.watched[name] = 2
        for name in [name for name in diary.watched if name in values and name not in bad]:
            diary.watched[name] -= 1
            if diary.watched[name] == 0:
                del diary.watched[name]

    def _note(self, diary: Diary) -> str:
        if self._rng.random() > 0.02:
            return ""
        return self._rng.choice(_BAD_NOTES if diary.is_foul else _GOOD_NOTES)

    # Changes

    def _change_if_needed(self, circuit: CircuitState, diary: Diary, day: date) -> None:
        share = self._share_to_change(circuit, diary, day)
        if share > 0 and self._rng.random() >= SLIP:
            self._change(circuit, diary, day, share)

    def _share_to_change(self, circuit: CircuitState, diary: Diary, day: date) -> float:
        is_outdoor, source = circuit.plan.is_outdoor, circuit.source
        if diary.is_foul and diary.tested_on == day and not is_outdoor:
            return habits.CHANGE_MOST
        age = (day - (diary.changed_on or self._world.book.first)).days
        if age >= habits.CHANGE_DAYS - 2:
            return 0.05 if is_outdoor else habits.CHANGE_SHARE
        if not self._world.in_circuit(circuit.plan.code):
            return 0.45 if diary.watched and diary.tested_on == day else 0.0
        if diary.nitrate > 0.9 * habits.NITRATE_HIGH:
            goal = habits.NITRATE_HIGH / 2
            share = change_fraction_to_reach(diary.nitrate, goal, source.nitrate_n_mg_l)
            return min(habits.CHANGE_MOST, max(habits.CHANGE_SHARE, share))
        if diary.alkalinity < 1.08 * habits.ALKALINITY_LOW:
            return 0.1 if is_outdoor else 0.45
        return 0.0

    def _change(self, circuit: CircuitState, diary: Diary, day: date, share: float) -> None:
        litres = round(circuit.volume_m3 * share * 1000, -1)
        self._renewal(circuit, day, "change", litres / 1000, "staff")
        circuit.water.renew(litres / 1000, circuit.source)
        diary.nitrate += (circuit.source.nitrate_n_mg_l - diary.nitrate) * share
        diary.alkalinity += (circuit.source.alkalinity_mg_l - diary.alkalinity) * share
        diary.changed_on, diary.is_foul = day, False

    def _top_up_if_needed(self, circuit: CircuitState, diary: Diary, day: date) -> None:
        if circuit.plan.is_outdoor and circuit.temperature_c < 15:
            return
        last = diary.topped_up_on or self._world.book.day(-self._world.book.history_days - 6)
        if (day - last).days < TOP_UP_DAYS or self._rng.random() < 0.3:
            return
        volume = max(0.01, round(circuit.volume_m3 * self._rng.uniform(0.012, 0.025), 2))
        self._renewal(circuit, day, "top_up", volume, "volunteer")
        circuit.water.top_up(volume, circuit.source)
        diary.topped_up_on = day

    def _renewal(self, circuit: CircuitState, day: date, kind: str, volume_m3: float, role: str) -> None:
        stamp = self._world.rota.afternoon(day, circuit.plan.area, 5, role)
        self._world.story.renewals.append(renewal(stamp, circuit, kind, volume_m3))

    # Time

    def _pass_day(self, circuit: CircuitState, diary: Diary, day: date) -> None:
        if not self._world.in_circuit(circuit.plan.code):
            circuit.fed_today_g = (
                FISHLESS_TAN_G_DAY / circuit.water.nature.excretion
            )  # weighed out, not eaten
        elif circuit.fed_today_g >= habits.HEAVY_MEAL_DAYS * circuit.capacity_tan_g_day:
            diary.heavy_meal_on = day
        circuit.remember_load()
        circuit.water.feed(circuit.fed_today_g)
        for _ in range(STEPS_A_DAY):
            circuit.water.pass_time(
                1 / STEPS_A_DAY,
                circuit.temperature_c,
                circuit.capacity_tan_g_day,
                circuit.capacity_nitrite_g_day,
                circuit.plan.nitrate_uptake_per_day,
            )


def _biases(rng: random.Random) -> dict[str, float]:
    """What each kit shows over what is there, one bottle for all waters; for pH the difference."""
    shown = {name: rng.lognormvariate(0, error) for name, (_, error) in KITS.items()}
    return shown | {"ph": rng.gauss(0, PH_BIAS)}


def _beyond(values: dict[str, float]) -> set[str]:
    """Readings that are beyond their limits; ammonia by its un-ionized part."""
    unionized = unionized_ammonia_mg_l(values["tan_mg_l"], values["temperature_c"], values["ph"])
    found = {
        "tan_mg_l": unionized > habits.UNIONIZED_HIGH,
        "nitrite_n_mg_l": values["nitrite_n_mg_l"] > habits.NITRITE_HIGH,
        "nitrate_n_mg_l": values.get("nitrate_n_mg_l", 0.0) > habits.NITRATE_HIGH,
        "alkalinity_mg_l": values.get("alkalinity_mg_l", 999.0) < habits.ALKALINITY_LOW,
        "ph": not habits.PH_LOW <= values["ph"] <= habits.PH_HIGH,
    }
    return {name for name, is_bad in found.items() if is_bad}


def renewal(stamp: Stamp, circuit: CircuitState, kind: str, volume_m3: float) -> Renewal:
    """New water, with the conditioner that its disinfectant calls for (a fifth more than the sum)."""
    source = circuit.source
    if source.disinfectant == "none":
        return Renewal(stamp, circuit.plan.code, kind, volume_m3, source.key)
    grams = round(1.2 * thiosulfate_g(volume_m3 * 1000, source.total_chlorine_mg_l), 1)
    return Renewal(stamp, circuit.plan.code, kind, volume_m3, source.key, "Sodium thiosulfate", grams)


_GOOD_NOTES = ("Clear to the bottom.", "New bottle of reagent opened.", "Read twice, same result.")
_BAD_NOTES = ("Told staff at once.", "Smells. Water change today.", "Read twice, same result.")
