"""The decision what an animal without a feeding plan eats: how it is entered, and what it becomes."""

from typing import Any

from django import forms

from husbandry import services, stays
from husbandry.models import Animal, FeedingPlan, Food, HealthRecord
from husbandry.rules import every_words
from refuge.forms import QuantityField, RecordForm
from refuge.people.selectors import site_today
from refuge.rounds.recording import Recorder, Saved, register


class FirstPlanForm(RecordForm):
    """What an animal without a feeding plan is to eat from now on."""

    food = forms.ModelChoiceField(Food.objects.filter(in_use=True), label="Food", empty_label="Choose")
    ration_kg = QuantityField("food", above=0, high=100, label="Ration for a meal")
    every_days = forms.IntegerField(
        label="A meal every", initial=7, min_value=1, max_value=60, widget=forms.TextInput
    )
    fasting_until = forms.DateField(
        label="No food until",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="If it fasts by order. Left empty, the first meal is due at once.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["every_days"].unit = "days"


@register
class FirstPlan(Recorder):
    """A feeding plan for an animal that has none; that it was decided is kept as an observation."""

    key, title, icon, role = "first_plan", "What it eats", "fish", "staff"
    subject, subject_model, subject_field = "animal", "husbandry.Animal", "animal_id"
    record_model = "husbandry.HealthRecord"
    form_class = FirstPlanForm
    can_take_back = False
    on_pages = False

    def owns(self, record: HealthRecord) -> bool:
        return False

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        animal = Animal.objects.get(pk=subject_id)
        if FeedingPlan.objects.filter(animal=animal, ends_on__isnull=True).exists():
            raise services.HusbandryError("It has a feeding plan by now.")
        planned = {name: cleaned[name] for name in ("food", "ration_kg", "every_days", "fasting_until")}
        today = site_today()
        stays.feeding_plan_set(animal=animal, today=today, starts_on=today, **planned)
        record = services.health_record(
            animal=animal,
            by=by,
            kind=HealthRecord.Kind.OBSERVATION,
            finding=f"Feeding plan: {planned['food']} {every_words(planned['every_days'])}",
            **{name: cleaned[name] for name in ("at", "uuid", "note")},
        )
        return Saved(record, self.words(record))

    def words(self, record: HealthRecord) -> str:
        return record.finding
