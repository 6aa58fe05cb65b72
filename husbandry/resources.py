"""The animals as tables of files."""

from bisect import bisect_right
from collections.abc import Mapping
from datetime import datetime, time
from typing import Any

from django import forms
from django.utils import timezone

from enclosures.models import Circuit, Enclosure
from husbandry.bioload import meal_load
from husbandry.forms import FeedingForm, MeasurementForm
from husbandry.models import (
    Animal,
    Feeding,
    FeedingPlan,
    Food,
    HeadCount,
    HealthRecord,
    Measurement,
    Placement,
    Quarantine,
    QuarantineCheck,
    QuarantineRestart,
    Species,
)
from husbandry.setup_forms import SpeciesForm
from husbandry.stays import restarts_for
from refuge.exchange.columns import Column, columns
from refuge.exchange.fields import OneOf
from refuge.exchange.records import RECORD_COLUMNS, RECORD_ENDS, RecordResource, RecordRow, RecordTable
from refuge.exchange.registry import register
from refuge.exchange.resource import Row, TableResource
from refuge.exchange.things import ThingResource
from refuge.forms import number


@register
class SpeciesResource(ThingResource):
    key, title, order = "species", "Species", 20
    words = "Kinds of turtles, and the water they need."
    columns = columns(
        "name", "scientific_name", "temperature_low_c", "temperature_high_c", "adult_mass_kg", "note"
    )
    label_columns = ("name",)
    key_column = "name"
    row_form = SpeciesForm

    class Meta:
        model = Species


class FoodRow(forms.ModelForm):
    """Shares of wet mass between 0 and 1, as the column names say."""

    water_fraction = number("Share of water", 1, required=True, help_text="0 to 1, of wet mass.")
    protein_fraction = number("Share of protein", 1, required=True, help_text="0 to 1, of wet mass.")
    fat_fraction = number("Share of fat", 1, help_text="0 to 1, of wet mass.")
    phosphorus_fraction = number("Share of phosphorus", 1, help_text="0 to 1, of wet mass.")

    class Meta:
        model = Food
        fields = [
            "name",
            "water_fraction",
            "protein_fraction",
            "fat_fraction",
            "phosphorus_fraction",
            "source",
            "in_use",
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        shares = [data.get(name) for name in ("water_fraction", "protein_fraction", "fat_fraction")]
        if None not in shares and sum(shares) > 1.0001:  # type: ignore[arg-type]
            self.add_error("water_fraction", "Water, protein and fat together are more than the whole food.")
        return data


@register
class FoodResource(ThingResource):
    key, title, order = "foods", "Foods", 21
    words = "Foods as they are fed. Meals that were recorded keep the load that they were recorded with."
    columns = columns(
        "name",
        "water_fraction",
        "protein_fraction",
        "fat_fraction",
        "phosphorus_fraction",
        Column("source", words="where the values come from"),
        "in_use",
    )
    label_columns = ("name",)
    key_column = "name"
    row_form = FoodRow

    class Meta:
        model = Food


class AnimalRow(forms.ModelForm):
    """An animal that is, or was, here. Its moves and its quarantine are entered on its own page."""

    species = OneOf(Species.objects, by="name", noun="species")
    enclosure = OneOf(
        Enclosure.objects.select_related("circuit"),
        noun="enclosure",
        required=False,
        help_text="Where it lives now. Of an animal that is here already, a file does not change it.",
    )

    class Meta:
        model = Animal
        fields = [
            "code",
            "name",
            "species",
            "sex",
            "arrived_on",
            "status",
            "left_on",
            "marks",
            "transponder",
            "hatched_on",
            "origin",
            "condition",
            "brumating_since",
            "note",
        ]
        labels = {"arrived_on": "Day of arrival", "left_on": "Day on which it left", "status": "Is it here?"}
        help_texts = {"status": "here, released, transferred or died. Here, if left empty."}

    field_order = ["code", "name", "species", "sex", "arrived_on", "enclosure", "status", "left_on"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        arrived, left, status = data.get("arrived_on"), data.get("left_on"), data.get("status")
        if status == Animal.Status.HERE and left:
            self.add_error("left_on", "It is here, so it has not left.")
        if status and status != Animal.Status.HERE and not left and "left_on" not in self.errors:
            self.add_error("left_on", "Say on which day it left.")
        if arrived and left and left < arrived:
            self.add_error("left_on", "It cannot leave before it came.")
        if status and status != Animal.Status.HERE and data.get("enclosure"):
            self.add_error("enclosure", "It is no longer here, so it lives in no enclosure.")
        return data

    def clean_arrived_on(self) -> Any:
        arrived = self.cleaned_data["arrived_on"]
        if arrived > timezone.localdate():
            raise forms.ValidationError("This day lies ahead.")
        return arrived

    def clean_transponder(self) -> str:
        code: str = self.cleaned_data["transponder"]
        other = Animal.objects.filter(transponder=code).exclude(pk=self.instance.pk).first() if code else None
        if other is not None:
            raise forms.ValidationError(f"{other} has this transponder.")
        return code


def _lives_in(animal: Animal) -> str | None:
    here = animal.open_placements  # type: ignore[attr-defined]
    return here[0].enclosure.code if here else None


@register
class AnimalResource(ThingResource):
    key, title, order = "animals", "Animals", 22
    words = "Every animal that is or was here. Its former places are in the table of placements."
    columns = columns(
        "code",
        "name",
        "species=species__name",
        "sex",
        "arrived_on",
        Column("enclosure", _lives_in, "where it lives now"),
        "status",
        "left_on",
        "marks",
        "transponder",
        "hatched_on",
        "origin",
        "condition",
        "brumating_since",
        "note",
    )
    related = ("species",)
    label_columns = ("code", "name", "species")
    row_form = AnimalRow

    class Meta:
        model = Animal

    def get_queryset(self) -> Any:
        from husbandry.api import OPEN_PLACEMENTS

        return super().get_queryset().prefetch_related(OPEN_PLACEMENTS)

    def start(self, **options: Any) -> None:
        super().start(**options)
        placed = Placement.objects.filter(ends_at__isnull=True).select_related("enclosure", "circuit")
        self.places = {each.animal_id: each for each in placed}

    def compare(self, row: Row) -> None:
        super().compare(row)
        if row.instance is None:
            self._check_water(row)
            return
        here, wanted = self.places.get(row.instance.pk), row.cleaned["enclosure"]
        if wanted and (here is None or here.enclosure_id != wanted.pk):
            where = f"lives in {here.enclosure.code}" if here else "lives nowhere here"
            row.refuse("enclosure", f"It {where}. Move it on its own page, where quarantine is looked after.")
        if here and row.cleaned["status"] != Animal.Status.HERE:
            row.refuse("status", "Record on its own page that it left: its place and its plans end with it.")

    def _check_water(self, row: Row) -> None:
        enclosure = row.cleaned["enclosure"]
        if enclosure and restarts_for(enclosure.circuit_id, timezone.localdate()):
            row.refuse(
                "enclosure",
                "Animals sit out their quarantine in this water, and it would start anew for them. "
                "Take this one in on the page for arrivals.",
            )

    def save_thing(self, thing: Animal, row: Row) -> None:
        thing.save()
        enclosure = row.cleaned["enclosure"]
        if row.instance is None and enclosure:
            Placement.objects.create(
                animal=thing,
                enclosure=enclosure,
                circuit=enclosure.circuit,
                starts_at=timezone.make_aware(datetime.combine(thing.arrived_on, time.min)),
                by=self.by,
                reason=self.reason,
            )
        place = enclosure if row.instance is None else self.places.get(thing.pk)
        self.touched.add(place.circuit_id if place else None)


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
class PlacementResource(TableResource):
    key, title, order = "placements", "Placements", 30
    words = "Where animals were, and in whose water, from when to when."
    columns = columns(
        "animal=animal__code",
        "enclosure=enclosure__code",
        "circuit=circuit__code",
        "starts_at",
        "ends_at",
        "by=by__name",
        "reason",
    )
    related = ("animal", "enclosure", "circuit", "by")

    class Meta:
        model = Placement


@register
class QuarantineResource(TableResource):
    key, title, order = "quarantines", "Quarantines", 31
    words = "The clock moves when somebody joins the water; the day of the start never does."
    columns = columns(
        Column("quarantine", "pk", "number of the quarantine"),
        "animal=animal__code",
        "started_on",
        Column("clock_from", words="day from which it counts"),
        Column("days", words="length"),
        Column("ends_on", words="planned end"),
        "released_on",
        "released_by=released_by__name",
        "outcome",
    )
    related = ("animal", "released_by")

    class Meta:
        model = Quarantine


@register
class QuarantineRestartResource(TableResource):
    key, title, order = "quarantine_restarts", "Quarantine restarts", 32
    words = "Why a clock was set back."
    columns = columns(
        Column("quarantine", "quarantine_id", "number of the quarantine"),
        Column("animal", "quarantine__animal__code", "whose quarantine"),
        Column("on", words="day"),
        Column("because_of", "because_of__code", "who joined the water"),
        "previous_clock_from",
        Column("previous_ends_on", words="planned end before"),
    )
    related = ("quarantine__animal", "because_of")

    class Meta:
        model = QuarantineRestart


@register
class QuarantineCheckResource(TableResource):
    key, title, order = "quarantine_checks", "Quarantine checks", 33
    words = "Checks planned, and the health record that answers each."
    columns = columns(
        Column("quarantine", "quarantine_id", "number of the quarantine"),
        Column("animal", "quarantine__animal__code", "whose quarantine"),
        "kind",
        "due_on",
        Column("answered_by", "answered_by__uuid", "uuid of the health record"),
    )
    related = ("quarantine__animal", "answered_by")

    class Meta:
        model = QuarantineCheck


@register
class FeedingPlanResource(TableResource):
    key, title, order = "feeding_plans", "Feeding plans", 34
    words = "What is to be fed, to an animal or to an enclosure's group."
    columns = columns(
        "animal=animal__code",
        "enclosure=enclosure__code",
        "food=food__name",
        "ration_kg",
        "every_days",
        Column("weekdays", words="sum of: Monday 1, Tuesday 2, Wednesday 4, … Sunday 64"),
        "starts_on",
        "ends_on",
        Column("fasting_until", words="no food until"),
        "note",
    )
    related = ("animal", "enclosure", "food")

    class Meta:
        model = FeedingPlan


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
