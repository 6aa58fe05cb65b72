"""What people type into a what-if: every field may stay empty, and an empty one changes nothing."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from filtration.forecasting.gather import Gathered, NotForecast
from filtration.harms.models import FilterHarm
from filtration.harms.words import harm_words
from filtration.what_if.ahead import Water, area_share, scenario_as_it_is
from filtration.what_if.changes import (
    AnotherAnimal,
    Change,
    Joined,
    OtherRation,
    RinsedLayer,
    SplitOff,
    StoppedPump,
    Warmer,
    WithoutFilter,
)
from filtration.what_if.facts import plan_load
from filtration.what_if.foods import FoodInUse
from husbandry.arrivals.newcomer import Diet, Newcomer, proposed_ration_kg
from husbandry.rules import rhythm_words
from refuge.forms import QuantityField, UnitForm
from refuge.rules.facts import RUNNING, EnclosureFacts, FilterFacts, PlanFacts
from refuge.units import US, show

MOST_HOURS = 14 * 24
MOST_DEGREES = 15.0
NEWCOMER = "The newcomer"
DEGREES = re.compile(r"^(?P<number>[-+−]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*°?\s*(?P<unit>[cCfFkK])?$")


class DegreesField(forms.CharField):
    """A difference in temperature, '3', '-4 F' or '+2 °C', as degrees Celsius."""

    system = "metric"

    @property
    def unit(self) -> str:
        return "°F" if self.system == US else "°C"

    def to_python(self, value: Any) -> float | None:
        text = super().to_python(value)
        if not text:
            return None
        found = DEGREES.match(text.strip())
        if not found:
            raise ValidationError(
                f"“{text}” is no number of degrees.\nWrite it like “3”, “-3” or “5 F”.", code="unit"
            )
        number = float(found["number"].replace(",", ".").replace("−", "-"))
        is_fahrenheit = (found["unit"] or self.unit[-1]).upper() == "F"
        degrees = number / 1.8 if is_fahrenheit else number
        if abs(degrees) > MOST_DEGREES:
            raise ValidationError(
                f"{text} is more than can be meant.\nAt most {MOST_DEGREES:g} °C ({MOST_DEGREES * 1.8:g} °F) "
                "warmer or colder.",
                code="high",
            )
        return degrees

    def validate(self, value: Any) -> None:
        if self.required and value is None:
            raise ValidationError(self.error_messages["required"], code="required")


def _choice(label: str, **more: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, required=False, **more)


def _whole(label: str, most: int, unit: str) -> forms.IntegerField:
    field = forms.IntegerField(
        label=label, required=False, min_value=1, max_value=most, widget=forms.TextInput
    )
    field.unit = unit  # type: ignore[attr-defined]
    return field


class FoodField(forms.TypedChoiceField):
    """A food in use, by its name and what counts of it here: its protein."""

    def __init__(self, label: str, empty_label: str) -> None:
        super().__init__(label=label, required=False, empty_value=None)
        self.empty_label = empty_label

    def offer(self, foods: dict[str, FoodInUse]) -> None:
        self.choices = [("", self.empty_label), *((pk, str(food)) for pk, food in foods.items())]
        self.coerce = foods.__getitem__


class WhatIfForm(UnitForm):
    """The changes to one water. `water` gives the choices; call `changes()` after is_valid()."""

    plan = _choice("Feeding plan")
    plan_every_days = _whole("A meal every", 60, "days")
    plan_food = FoodField("Its food", "As it is")
    plan_ration_kg = QuantityField("food", above=0, high=100, label="Ration for a meal", required=False)

    mass_kg = QuantityField("mass", above=0, high=1000, label="Weight", required=False)
    food = FoodField("Food", "Choose")
    every_days = _whole("A meal every", 60, "days")
    ration_kg = QuantityField("food", above=0, high=100, label="Ration for a meal", required=False)
    enclosure = _choice("Where it goes")

    degrees = DegreesField(
        label="Warmer, or colder below zero",
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "text"}),
    )
    stop_hours = _whole("All pumps off for", MOST_HOURS, "hours")
    lose = _choice("Lose a filter")
    rinse = _choice("Rinse one layer of")
    join = _choice("Join it with")
    split = _choice("Split off")
    split_filter = _choice("With the filter")

    def __init__(self, *args: Any, water: Water, names: dict[int, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.water = water
        self.fields["degrees"].system = self.system
        self._set_help()
        self._set_choices(names)

    def _set_choices(self, names: dict[int, str]) -> None:
        own = self.water.circuit_id
        for name in ("plan_food", "food"):
            self.fields[name].offer(self.water.foods)
        filters = [each for each in self._here(self.water.facts.filter) if each.state in RUNNING]
        tanks = self._here(self.water.facts.enclosure)
        self._offer("plan", [(each.id, self._plan_words(each)) for each in self.plans], only_one=True)
        if not self.plans:  # nothing is fed, so nothing can be fed otherwise
            for name in ("plan_food", "plan_every_days", "plan_ration_kg"):
                del self.fields[name]
        self._offer("enclosure", [(each.id, each.label) for each in tanks], only_one=True)
        for name in ("lose", "rinse", "split_filter"):
            self._offer(name, [(each.id, each.label) for each in filters])
        self._offer("join", [(pk, words) for pk, words in names.items() if pk != own])
        self._offer("split", [(each.id, each.label) for each in tanks] if len(tanks) > 1 else [])

    def _here(self, table: dict[int, Any]) -> list[Any]:
        return [each for each in table.values() if each.circuit_id == self.water.circuit_id]

    @property
    def plans(self) -> list[PlanFacts]:
        return self._here(self.water.facts.plan)

    def _offer(self, name: str, choices: list[tuple[int, str]], *, only_one: bool = False) -> None:
        """The choices of a field; a field without any is left out. only_one: a single one need not be chosen."""
        if not choices:
            del self.fields[name]
            return
        field = self.fields[name]
        field.choices = choices if only_one and len(choices) == 1 else [("", "Choose"), *choices]

    def _plan_words(self, plan: PlanFacts) -> str:
        return f"{plan.label}: {show(plan.ration_kg, 'food', self.system)} {plan.food} {rhythm_words(plan)}"

    def _set_help(self) -> None:
        self.fields["plan_food"].help_text = "Another food: the same weight of it, unless you enter a ration."
        self.fields["plan_ration_kg"].help_text = "Empty: the same food a week, shared out over the meals."
        self.fields["ration_kg"].help_text = "Empty: 2.5 % of its weight a week (common practice, no source)."
        self.fields["every_days"].help_text = "Empty: every 7 days."

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self._check_plan(data)
        self._check_newcomer(data)
        self._check_join(data)
        moved, lost = data.get("split_filter"), data.get("lose")
        if data.get("split") and moved and moved == lost:
            self.add_error("lose", "This filter goes with what is split off.\nChoose another, or none.")
        if moved and not data.get("split") and "split" in self.fields:
            self.add_error("split", "Choose what is split off with this filter.")
        return data

    def _check_plan(self, data: dict[str, Any]) -> None:
        typed = any(data.get(name) is not None for name in ("plan_food", "plan_every_days", "plan_ration_kg"))
        if typed and not data.get("plan") and len(self.plans) > 1 and "plan" not in self.errors:
            self.add_error("plan", "Choose whose meals are to change.")

    def _check_newcomer(self, data: dict[str, Any]) -> None:
        typed = [name for name in ("mass_kg", "food", "ration_kg") if data.get(name) is not None]
        if not typed or any(name in self.errors for name in ("mass_kg", "food", "ration_kg", "every_days")):
            return
        if data.get("food") is None:
            self.add_error("food", "Choose what it eats.\nWithout its food the load it brings is not known.")
        if data.get("mass_kg") is None and data.get("ration_kg") is None:
            self.add_error(
                "mass_kg", "Enter its weight, or a ration.\nWithout either its meals are not known."
            )
        if not data.get("enclosure") and "enclosure" not in self.errors and len(self.tanks) > 1:
            self.add_error("enclosure", "Choose where it goes.")

    @property
    def tanks(self) -> list[EnclosureFacts]:
        return self._here(self.water.facts.enclosure)

    def _check_join(self, data: dict[str, Any]) -> None:
        other = self.water.others.get(int(data.get("join") or 0))
        if isinstance(other, NotForecast):
            self.add_error("join", f"That water cannot be forecast.\nIt lacks {other.lacks}.")

    def changes(self) -> list[Change]:
        """What was understood, in the order in which it is made. What has an error is left out."""
        data = self.cleaned_data
        found: list[Change | None] = [
            self._newcomer(data),
            self._ration(data),
            self._join(data),
            self._split(data),
            self._lost(data),
            Warmer(data["degrees"]) if data.get("degrees") else None,
            RinsedLayer(int(data["rinse"]), area_share(self.water, int(data["rinse"])))
            if data.get("rinse")
            else None,
            self._stopped(data["stop_hours"]) if data.get("stop_hours") else None,
        ]
        return [each for each in found if each is not None]

    def _stopped(self, hours: int) -> StoppedPump:
        return StoppedPump(hours, harm_words(FilterHarm(kind=FilterHarm.Kind.NO_FLOW, hours=hours)))

    def _newcomer(self, data: dict[str, Any]) -> AnotherAnimal | None:
        food, mass, every = data.get("food"), data.get("mass_kg"), data.get("every_days") or 7
        where = data.get("enclosure") or (self.tanks[0].id if len(self.tanks) == 1 else None)
        if food is None or where is None or "every_days" in self.errors:
            return None
        ration = data.get("ration_kg") or (proposed_ration_kg(mass, every) if mass else None)
        if ration is None:
            return None
        diet = Diet(food.name, ration, every, *food.parts)
        newcomer = Newcomer(label=NEWCOMER, mass_kg=mass, quarantine_days=self._quarantine_days(), diet=diet)
        return AnotherAnimal(newcomer, int(where))

    def _quarantine_days(self) -> int | None:
        """It sits out a quarantine where the water is set apart for one."""
        if not self.water.circuit.is_quarantine:
            return None
        return int(self.water.moment.limits()["husbandry.quarantine_days"])

    def _ration(self, data: dict[str, Any]) -> OtherRation | None:
        ration, every, food = (data.get(name) for name in ("plan_ration_kg", "plan_every_days", "plan_food"))
        plan = data.get("plan") or (self.plans[0].id if len(self.plans) == 1 else None)
        if plan is None or (ration is None and every is None and food is None):
            return None
        if food is None:
            return OtherRation(int(plan), ration, every)
        return OtherRation(int(plan), ration, every, food.parts, food.name)

    def _join(self, data: dict[str, Any]) -> Joined | None:
        other = self.water.others.get(int(data.get("join") or 0))
        return Joined(other.circuit_id, scenario_as_it_is(other)) if isinstance(other, Gathered) else None

    def _split(self, data: dict[str, Any]) -> SplitOff | None:
        if not data.get("split"):
            return None
        chosen, filter_id = int(data["split"]), int(data.get("split_filter") or 0) or None
        share = self.water.facts.enclosure[chosen].volume_m3 / self.water.circuit.volume_m3
        area = area_share(self.water, filter_id) if filter_id else 0.0
        return SplitOff(chosen, filter_id, min(max(share, 0.01), 0.99), area, self._food_share(chosen))

    def _food_share(self, enclosure_id: int) -> float:
        """Share of the planned load that is fed in one enclosure; by the animals' weights without plans."""
        loads = [(each.enclosure_id, plan_load(each, self.water.moment.today).tan_g) for each in self.plans]
        if not any(load for _, load in loads):
            loads = [(each.enclosure_id, each.mass_kg or 0.0) for each in self._here(self.water.facts.animal)]
        total = sum(load for _, load in loads)
        return sum(load for pk, load in loads if pk == enclosure_id) / total if total else 0.0

    def _lost(self, data: dict[str, Any]) -> WithoutFilter | None:
        if not data.get("lose") or "lose" in self.errors:
            return None
        pk = int(data["lose"])
        share = area_share(self.water, pk)
        units: list[FilterFacts] = self._here(self.water.facts.filter)
        flows = {each.id: each.flow.value for each in units if each.flow and each.state in RUNNING}
        is_only = sum(each.state in RUNNING for each in units) == 1
        total = sum(flows.values())
        flow = 1.0 if is_only else (flows[pk] / total if pk in flows and total else share)
        return WithoutFilter(pk, 1.0 if is_only else share, flow)
