"""Animals as a table of files: one brought in by a file is placed as an arrival by hand is."""

from datetime import datetime, time
from typing import Any

from django import forms
from django.utils import timezone

from enclosures.models import Enclosure
from husbandry.models import (
    Animal,
    Placement,
    Species,
)
from husbandry.moves import restarts_for
from refuge.exchange.columns import Column, columns
from refuge.exchange.fields import OneOf
from refuge.exchange.registry import register
from refuge.exchange.resource import Row
from refuge.exchange.things import ThingResource
from refuge.plain_errors import PlainErrors


class AnimalRow(PlainErrors, forms.ModelForm):
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
        from husbandry.api.animals import OPEN_PLACEMENTS

        return super().get_queryset().prefetch_related(OPEN_PLACEMENTS)

    def start(self, **options: Any) -> None:
        super().start(**options)
        placed = Placement.objects.filter(ends_at__isnull=True).select_related("enclosure", "circuit")
        self.places = {each.animal_id: each for each in placed}

    def compare(self, row: Row) -> None:
        super().compare(row)
        if row.instance is None:
            self._check_place(row)
            return
        here, wanted = self.places.get(row.instance.pk), row.cleaned["enclosure"]
        if wanted and (here is None or here.enclosure_id != wanted.pk):
            where = f"lives in {here.enclosure.code}" if here else "lives nowhere here"
            row.refuse("enclosure", f"It {where}. Move it on its own page, where quarantine is looked after.")
        if here and row.cleaned["status"] != Animal.Status.HERE:
            row.refuse("status", "Record on its own page that it left: its place and its plans end with it.")

    def _check_place(self, row: Row) -> None:
        enclosure = row.cleaned["enclosure"]
        if enclosure and not enclosure.in_use:
            row.refuse("enclosure", "It is out of use. Put it in use first, or choose another one.")
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
