"""Feedings, measurements, health records and head counts as tables of files."""

from bisect import bisect_right
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from enclosures.models import Circuit, Enclosure
from husbandry.bioload import meal_load
from husbandry.forms import FeedingForm, MeasurementForm
from husbandry.models import (
    Animal,
    Feeding,
    Food,
    HeadCount,
    HealthRecord,
    Measurement,
    Placement,
)
from refuge.exchange.columns import Column, columns
from refuge.exchange.fields import OneOf
from refuge.exchange.records import RECORD_COLUMNS, RECORD_ENDS, RecordResource, RecordRow, RecordTable
from refuge.exchange.registry import register
from refuge.exchange.resource import Row


class FeedingRow(RecordRow, FeedingForm):
    food = OneOf(Food.objects, by="name", noun="food")
    animal = OneOf(Animal.objects, noun="animal", required=False)
    enclosure = OneOf(
        Enclosure.objects,
        noun="enclosure",
        required=False,
        help_text="For the meal of a group, or where the animal was. If left empty, where it was at that time.",
    )
    circuit = OneOf(
        Circuit.objects,
        noun="water",
        label="Water, by its code",
        required=False,
        help_text="If left empty, the water that the animal or the enclosure was in.",
    )

    field_order = ["animal", "enclosure", "circuit", "food", "offered_kg", "left_kg", "refused"]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if (
            not data.get("animal")
            and not data.get("enclosure")
            and not {"animal", "enclosure"} & set(self.errors)
        ):
            self.add_error("animal", "Say which animal or which enclosure was fed.")
        return data


@register
class FeedingResource(RecordResource):
    key, title, order = "feedings", "Feedings", 50
    words = "Meals. What was left was taken out again; a refused meal was left whole."
    columns = [
        *RECORD_COLUMNS,
        *columns(
            "animal=animal__code",
            "enclosure=enclosure__code",
            "circuit=circuit__code",
            "food=food__name",
            "offered_kg",
            "left_kg",
            "refused",
            Column("tan_g", words="total ammonia nitrogen that the meal puts into the water"),
            Column("solids_g", words="dry solids that it puts into the water"),
        ),
        *RECORD_ENDS,
    ]
    related = ("animal", "enclosure", "circuit", "food")
    recorder_key = "animal_feeding"
    subject_columns = ("animal", "enclosure", "circuit")
    label_columns = ("animal", "enclosure", "at", "food")
    row_form = FeedingRow

    class Meta:
        model = Feeding

    def natural_key(self, at: Any, ids: Mapping[str, int | None]) -> tuple[Any, ...]:
        """Who ate what, and when: an animal's own meal is told by the animal alone."""
        eater = ("animal", ids["animal"]) if ids["animal"] else ("enclosure", ids["enclosure"])
        return (at, *eater, ids["food"])

    def find_existing(self) -> None:
        super().find_existing()
        animals = {row.cleaned["animal"].pk for row in self.read if not row.errors and row.cleaned["animal"]}
        self.stays: dict[int, list[Placement]] = {}
        for each in (
            Placement.objects.filter(animal__in=animals).select_related("enclosure").order_by("starts_at")
        ):
            self.stays.setdefault(each.animal_id, []).append(each)

    def compare(self, row: Row) -> None:
        # An empty place of a known meal says nothing, so it changes nothing.
        row.given = row.given - {n for n in ("animal", "enclosure", "circuit") if row.cleaned.get(n) is None}
        super().compare(row)

    def settle(self, row: Row) -> None:
        """Where the meal was eaten, and in whose water, where the file does not say so."""
        animal, enclosure, at = (row.cleaned[name] for name in ("animal", "enclosure", "at"))
        stay = self._stay(animal.pk, at) if animal else None
        if enclosure is None:
            if stay is None:
                row.refuse(
                    "animal",
                    f"{animal} was in no enclosure at that time. Check the time, or name the enclosure.",
                )
                return
            enclosure = row.cleaned["enclosure"] = stay.enclosure
        if row.cleaned["circuit"] is None:
            same = stay is not None and stay.enclosure_id == enclosure.pk
            row.cleaned["circuit"] = self._circuit(stay.circuit_id if stay and same else enclosure.circuit_id)

    def _stay(self, animal_id: int, at: datetime) -> Placement | None:
        stays = self.stays.get(animal_id, [])
        place = bisect_right([each.starts_at for each in stays], at)
        found = stays[place - 1] if place else None
        return found if found and (found.ends_at is None or found.ends_at > at) else None

    def _circuit(self, pk: int) -> Any:
        return next(each for each in self.known["circuit"].values() if each.pk == pk)

    def new_record(self, row: Row) -> Feeding:
        """With the load of the meal, as the service computes it."""
        feeding: Feeding = super().new_record(row)
        food = feeding.food
        load = meal_load(
            feeding.eaten_kg, 0.0, food.protein_fraction, food.water_fraction, food.phosphorus_fraction
        )
        feeding.tan_g, feeding.solids_g = load.tan_g, load.solids_g
        return feeding


class MeasurementRow(RecordRow, MeasurementForm):
    animal = OneOf(Animal.objects, noun="animal")
    field_order = ["animal", "mass_kg", "carapace_m"]


@register
class MeasurementResource(RecordResource):
    key, title, order = "measurements", "Weights and lengths", 51
    words = "What animals weighed and measured."
    columns = [
        *RECORD_COLUMNS,
        *columns("animal=animal__code", "mass_kg", Column("carapace_m", words="straight carapace length")),
        *RECORD_ENDS,
    ]
    related = ("animal",)
    recorder_key = "measurement"
    subject_columns = ("animal",)
    label_columns = ("animal", "at")
    row_form = MeasurementRow

    class Meta:
        model = Measurement

    def circuits(self, fresh: list[Any]) -> set[int | None]:
        here = Placement.objects.filter(ends_at__isnull=True, animal__in={each.animal_id for each in fresh})
        return set(here.values_list("circuit_id", flat=True))


@register
class HealthRecordResource(RecordTable):
    key, title, order = "health_records", "Health records", 52
    words = "Looks, examinations, samples, treatments and whatever was seen."
    columns = [*RECORD_COLUMNS, *columns("animal=animal__code", "kind", "is_normal", "finding"), *RECORD_ENDS]
    related = ("animal",)

    class Meta:
        model = HealthRecord


@register
class HeadCountResource(RecordTable):
    key, title, order = "head_counts", "Head counts", 53
    words = "How many were seen, of how many that lived there."
    columns = [*RECORD_COLUMNS, *columns("enclosure=enclosure__code", "seen", "expected"), *RECORD_ENDS]
    related = ("enclosure",)

    class Meta:
        model = HeadCount
