"""Upkeep of the filters: drains, rinses, pump cleans, bucket tests, electrical tests, and a filter being built."""

from dataclasses import dataclass, field
from datetime import date, timedelta

from filtration.solids import Sediment, after, depth_from_litres
from refuge.demo import habits
from refuge.demo.barrels import Barrel
from refuge.demo.happenings import Mishap, Stamp, Upkeep
from refuge.demo.plans import FilterPlan
from refuge.demo.watercare import renewal
from refuge.demo.world import CircuitState, World

SLIP = 0.15
NEGLECTED_BUCKET_DAYS = 62  # even where nobody keeps a filter, somebody measures now and then
NOTEBOOK = "From the old notebook."
POWER_CUT_AT, POWER_CUT_ON, POWER_CUT_HOURS = "F05", -26, 9.0
POWER_CUT_NOTE = "Power cut in the storm. First water to waste, it smelled. Pump runs again."


@dataclass(slots=True)
class Log:
    """When each kind of work was last done on one filter."""

    last: dict[str, date] = field(default_factory=dict)
    next_layer: int = 0
    flow_share: float = 1.0

    def is_due(self, kind: str, every_days: int, day: date) -> bool:
        return (day - self.last[kind]).days >= every_days


class FilterCare:
    def __init__(self, world: World) -> None:
        self._world = world
        self._rng = world.rng("filters")
        self._logs: dict[str, Log] = {}

    def do(self, day: date) -> None:
        for plan in self._world.place.filters:
            self._milestones(plan, day)
        if day == self._world.book.day(POWER_CUT_ON):
            self._power_cut(day)
        for circuit in self._world.open_circuits():
            barrel = circuit.barrel
            if barrel is None or not self._is_running(barrel.plan, day):
                continue
            log = self._logs.get(barrel.plan.code) or self._start(circuit, barrel, day)
            barrel.take(circuit.solids_today_g)
            barrel.pass_day(circuit.temperature_c)
            if not self._world.ago(barrel.plan.kept_until):
                self._keep(circuit, barrel, log, day)
            elif log.is_due("bucket_test", NEGLECTED_BUCKET_DAYS, day):
                self._bucket_test(
                    barrel, log, day, "Weaker again. Behind the pallets, could not reach the lid."
                )
            self._test_protection(barrel.plan, log, day)

    def _is_running(self, plan: FilterPlan, day: date) -> bool:
        return plan.cycling_from is None or self._world.book.day(plan.cycling_from) <= day

    def _start(self, circuit: CircuitState, barrel: Barrel, day: date) -> Log:
        """Old filters begin with what has settled since the last drain, and with work half-way to due."""
        plan, log = barrel.plan, Log()
        for kind in ("drain", "rinse", "pump_clean", "bucket_test", "protection_test", "inspection"):
            shift = 0 if plan.cycling_from is not None else self._rng.randrange(0, 28)
            log.last[kind] = day - timedelta(days=shift)
        self._logs[plan.code] = log
        if plan.cycling_from is None:
            drained = self._world.book.day(min(plan.drained, -self._world.book.history_days - 10))
            self._settle_before(circuit, barrel, (day - drained).days)
            self._from_notebook(plan, drained, day)
            log.last["drain"] = log.last["rinse"] = drained
        return log

    def _from_notebook(self, plan: FilterPlan, drained: date, day: date) -> None:
        """The last drain and rinse before these records, typed in from paper on the first day."""
        area = self._world.circuits[plan.circuit].plan.area
        written = self._world.rota.afternoon(day, area, 120)
        for kind, minute in (("rinse", 30), ("drain", 0)):
            done = self._world.rota.afternoon(drained, area, minute)
            stamp = Stamp(done.at, written.entered_at, written.by, NOTEBOOK)
            layer = len(plan.layers) - 1 if kind == "rinse" else None
            self._world.story.upkeep.append(Upkeep(stamp, plan.code, kind, {}, layer))

    def _settle_before(self, circuit: CircuitState, barrel: Barrel, days: int) -> None:
        daily = self._usual_solids_g(circuit)
        for name, share in (("sediment", 0.7), ("clogging", 0.3)):
            setattr(barrel, name, after(days, Sediment(), daily * share, circuit.plan.temperature_c))

    def _usual_solids_g(self, circuit: CircuitState) -> float:
        """What the animals on this water put into it each day, at about 0.13 % of their weight in dry solids."""
        yearly = 0.5 if circuit.plan.is_outdoor else 1.0
        mass = sum(animal.mass_kg for animal in self._world.in_circuit(circuit.plan.code))
        return mass * 0.18 * yearly

    # The work

    def _keep(self, circuit: CircuitState, barrel: Barrel, log: Log, day: date) -> None:
        if self._drain_is_due(barrel, log, day):
            self._drain(circuit, barrel, log, day)
        elif self._rinse_is_due(barrel, log) and self._does_it():
            self._rinse(barrel, log, day)
        elif log.is_due("pump_clean", habits.PUMP_CLEAN_DAYS, day) and self._does_it():
            self._pump_clean(barrel, log, day)
        elif log.is_due("bucket_test", habits.BUCKET_DAYS, day) and self._does_it():
            self._bucket_test(barrel, log, day)
        if log.is_due("inspection", habits.INSPECTION_DAYS, day) and self._does_it():
            self._tell(barrel.plan, log, day, "inspection", {}, self._rng.choice(_INSPECTIONS))

    def _test_protection(self, plan: FilterPlan, log: Log, day: date) -> None:
        if log.is_due("protection_test", habits.PROTECTION_DAYS, day) and self._does_it():
            self._tell(plan, log, day, "protection_test", {"passed": True})

    def _rinse_is_due(self, barrel: Barrel, log: Log) -> bool:
        caught = barrel.caught_g / barrel.plan.media_void_l
        return log.flow_share <= habits.RINSE_FLOW_SHARE or caught >= habits.RINSE_SOLIDS_G_L

    def _does_it(self) -> bool:
        return self._rng.random() >= SLIP

    def _drain_is_due(self, barrel: Barrel, log: Log, day: date) -> bool:
        plan = barrel.plan
        if plan.next_drain is not None:
            return day == self._world.book.day(plan.next_drain)
        is_full = barrel.expected_l >= habits.DRAIN_SHARE * plan.void_l
        return (is_full or log.is_due("drain", habits.DRAIN_DAYS, day)) and self._does_it()

    def _drain(self, circuit: CircuitState, barrel: Barrel, log: Log, day: date) -> None:
        plan = barrel.plan
        seen = min(plan.void_l, barrel.true_l * self._rng.lognormvariate(0, 0.08))
        seen = round(seen, 1)
        expected, factor = barrel.drain(seen)
        litres = round(max(seen, plan.void_l * self._rng.uniform(0.9, 1.25)))
        observed: dict[str, float | bool | str] = {
            "litres_drained": float(litres),
            "sediment_depth_m": round(depth_from_litres(seen, plan.section_m2), 3),
            "predicted_sediment_l": round(expected, 1),
            "predicted_factor": round(factor, 4),
            "observed_sediment_l": seen,
        }
        note = self._rng.choice(_DRAIN_NOTES) if self._rng.random() < 0.4 else ""
        self._tell(plan, log, day, "drain", observed, note)
        stamp = self._world.rota.afternoon(day, circuit.plan.area, 55, note="After the drain")
        self._world.story.renewals.append(renewal(stamp, circuit, "top_up", litres / 1000))
        circuit.water.renew(litres / 1000, circuit.source)
        self._bucket_test(barrel, log, day)

    def _rinse(self, barrel: Barrel, log: Log, day: date) -> None:
        count = len(barrel.plan.layers)
        layer = count - 1 - log.next_layer
        log.next_layer = (log.next_layer + 1) % count
        barrel.rinse(layer, self._rng.uniform(0.5, 0.65))
        self._tell(barrel.plan, log, day, "rinse", {}, "In water of its own tank.", layer)
        self._bucket_test(barrel, log, day)

    def _pump_clean(self, barrel: Barrel, log: Log, day: date) -> None:
        barrel.days_since_pump_clean = 0
        note = self._rng.choice(_PUMP_NOTES) if self._rng.random() < 0.2 else ""
        self._tell(barrel.plan, log, day, "pump_clean", {}, note)

    def _bucket_test(self, barrel: Barrel, log: Log, day: date, note: str = "") -> None:
        bucket = barrel.plan.bucket_l
        seconds = round(bucket * 3.6 / barrel.flow_m3_h * self._rng.gauss(1, 0.015), 1)
        flow = round(bucket * 3.6 / seconds, 3)
        log.flow_share = flow / barrel.plan.flow_m3_h
        seen: dict[str, float | bool | str] = {
            "bucket_l": bucket,
            "bucket_seconds": seconds,
            "flow_m3_h": flow,
        }
        self._tell(barrel.plan, log, day, "bucket_test", seen, note)

    def _tell(
        self,
        plan: FilterPlan,
        log: Log,
        day: date,
        kind: str,
        seen: dict[str, float | bool | str],
        note: str = "",
        layer: int | None = None,
    ) -> None:
        role = "volunteer" if kind in {"bucket_test", "inspection"} else "staff"
        area = self._world.circuits[plan.circuit].plan.area
        stamp = self._world.rota.afternoon(day, area, _MINUTE[kind], role, note)
        self._world.story.upkeep.append(Upkeep(stamp, plan.code, kind, seen, layer))
        log.last[kind] = day

    def _power_cut(self, day: date) -> None:
        """A storm took the power of one pond for most of a night."""
        stamp = self._world.rota.found_at(day, 9.5, began_hours_before=POWER_CUT_HOURS, note=POWER_CUT_NOTE)
        told: dict[str, float | str] = {"hours": POWER_CUT_HOURS}
        self._world.story.mishaps.append(Mishap(stamp, POWER_CUT_AT, "no_flow", told))

    # Filters built in these months

    def _milestones(self, plan: FilterPlan, day: date) -> None:
        if plan.built is None:
            return
        for on, kind, seen, note in _milestones_of(plan):
            if self._world.book.day(on) == day:
                area = self._world.circuits[plan.circuit].plan.area
                stamp = self._world.rota.afternoon(day, area, 30 if kind != "state" else 50, note=note)
                self._world.story.upkeep.append(Upkeep(stamp, plan.code, kind, seen))


Milestone = tuple[int, str, dict[str, float | bool | str], str]


def _milestones_of(plan: FilterPlan) -> list[Milestone]:
    built = plan.built or 0
    told: list[Milestone] = [(built, "inspection", {}, "Drum, fittings and stones are here.")]
    if plan.cycling_from is None:
        return told
    tested = plan.cycling_from - 2
    told += [
        (
            tested - 3,
            "leak_test",
            {"passed": False},
            "Drop at the return fitting. Washer turned the wrong way.",
        ),
        (tested, "leak_test", {"passed": True}, "Full for a day and a night; dry all round."),
        (tested, "state", {"new_state": "leak_tested"}, ""),
        (plan.cycling_from, "state", {"new_state": "cycling"}, "Running."),
    ]
    if plan.state == "mature":
        told.append(
            (plan.state_since, "state", {"new_state": "mature"}, "TAN and nitrite near zero for a week.")
        )
    return told


_MINUTE = {
    "drain": 0, "rinse": 10, "pump_clean": 40, "bucket_test": 75, "protection_test": 95, "inspection": 60,
}  # fmt: skip
_INSPECTIONS = (
    "Overflow clear, no drips.",
    "Union hand-tight again.",
    "Cable clip loose; fixed.",
    "All dry.",
)
_DRAIN_NOTES = (
    "Dark, no bad smell.",
    "Some scales and fin rays.",
    "Ran clear at the end.",
    "Thick at first.",
)
_PUMP_NOTES = ("Leaves in the strainer.", "Impeller fine.", "String of algae round the shaft.")
