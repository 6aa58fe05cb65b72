"""The waters as tables of files."""

from typing import Any

from django import forms

from enclosures.forms import AreaForm, CircuitForm, EnclosureForm, WaterSourceForm, WaterTestForm
from enclosures.models import Area, Circuit, Enclosure, WaterChange, WaterSource, WaterTest
from refuge.exchange.columns import Column, columns
from refuge.exchange.fields import OneOf
from refuge.exchange.records import RECORD_COLUMNS, RECORD_ENDS, RecordResource, RecordRow, RecordTable
from refuge.exchange.registry import register
from refuge.exchange.resource import Row
from refuge.exchange.things import ThingResource


@register
class AreaResource(ThingResource):
    key, title, order = "areas", "Areas", 10
    words = "Walkable parts of the site."
    columns = columns("code", "name", "biosecurity_rank", "position")
    label_columns = ("code", "name")
    row_form = AreaForm

    class Meta:
        model = Area


@register
class WaterSourceResource(ThingResource):
    key, title, order = "water_sources", "Water sources", 11
    words = "Where new water comes from, and what it carries."
    columns = columns(
        "name",
        "disinfectant",
        "total_chlorine_mg_l",
        Column("nitrate_n_mg_l", words="nitrate as nitrogen"),
        Column("alkalinity_mg_l", words="alkalinity as CaCO₃"),
        Column("ph", words="pH"),
        "note",
    )
    label_columns = ("name",)
    key_column = "name"
    row_form = WaterSourceForm

    class Meta:
        model = WaterSource


class CircuitRow(CircuitForm):
    water_source = OneOf(WaterSource.objects, by="name", noun="water source")


@register
class CircuitResource(ThingResource):
    key, title, order = "circuits", "Waters", 12
    words = "Shared bodies of water: what exchanges water is one circuit."
    columns = columns(
        "code",
        "name",
        "water_source=water_source__name",
        Column("extra_volume_m3", words="water in filters, sumps and pipes"),
        "usual_temperature_c",
        "coldest_temperature_c",
        "warmest_month",
        "is_quarantine",
        "note",
    )
    related = ("water_source",)
    label_columns = ("code", "name")
    row_form = CircuitRow

    class Meta:
        model = Circuit

    def save_thing(self, thing: Circuit, row: Row) -> None:
        thing.save()
        self.touched.add(thing.pk)


class EnclosureRow(EnclosureForm):
    area = OneOf(Area.objects, noun="area")
    circuit = OneOf(Circuit.objects, noun="water", label="Water, by its code")


@register
class EnclosureResource(ThingResource):
    key, title, order = "enclosures", "Enclosures", 13
    words = "Tanks, tubs and ponds."
    columns = columns(
        "code",
        "name",
        "area=area__code",
        "circuit=circuit__code",
        "purpose",
        "position",
        "shape",
        Column("length_m", words="length, or diameter of a round one"),
        "width_m",
        "water_depth_m",
        Column("measured_volume_m3", words="measured volume, where there is one"),
        Column("water_volume_m3", words="volume as measured, else from the shape"),
        "is_outdoor",
        "in_use",
        "note",
    )
    related = ("area", "circuit")
    label_columns = ("code", "name")
    row_form = EnclosureRow

    class Meta:
        model = Enclosure

    def compare(self, row: Row) -> None:
        super().compare(row)
        if row.before and row.before["circuit"] != row.cleaned["circuit"] and self._is_occupied(row.instance):
            row.refuse(
                "circuit", "Animals live in it. Join it to another water on its own page, not by a file."
            )

    def _is_occupied(self, enclosure: Any) -> bool:
        return enclosure.placements.filter(ends_at__isnull=True).exists()

    def save_thing(self, thing: Enclosure, row: Row) -> None:
        thing.save()
        before = row.before.get("circuit")
        self.touched |= {thing.circuit_id, before.pk if before else None}


class WaterTestRow(RecordRow, WaterTestForm):
    circuit = OneOf(Circuit.objects, noun="water", label="Water, by its code")
    basis = forms.ChoiceField(
        label="How ammonia, nitrite and nitrate are meant in this row",
        choices=[("n", "as nitrogen"), ("ion", "as NH4, NO2, NO3")],
        required=False,
        help_text="As nitrogen (n), if left empty; ion for NH4, NO2, NO3.",
    )

    field_order = ["circuit", *WaterTest.READINGS, "basis"]


@register
class WaterTestResource(RecordResource):
    key, title, order = "water_tests", "Water tests", 40
    words = "Readings; mg/L, nitrogen as N, alkalinity and hardness as CaCO₃."
    columns = [
        *RECORD_COLUMNS,
        *columns(
            "circuit=circuit__code",
            "temperature_c",
            Column("ph", words="pH"),
            Column("tan_mg_l", words="total ammonia as nitrogen"),
            Column("nitrite_n_mg_l", words="nitrite as nitrogen"),
            Column("nitrate_n_mg_l", words="nitrate as nitrogen"),
            Column("alkalinity_mg_l", words="alkalinity as CaCO₃"),
            Column("hardness_mg_l", words="hardness as CaCO₃"),
            Column("oxygen_mg_l", words="dissolved oxygen"),
            Column("chlorine_mg_l", words="total chlorine"),
            Column("clarity", words="1 clear, 2 hazy, 3 turbid, 4 cannot see the bottom"),
        ),
        *RECORD_ENDS,
    ]
    related = ("circuit",)
    recorder_key = "water_test"
    subject_columns = ("circuit",)
    label_columns = ("circuit", "at")
    row_form = WaterTestRow

    class Meta:
        model = WaterTest


@register
class WaterChangeResource(RecordTable):
    key, title, order = "water_changes", "Water changes", 41
    words = "Water replaced or topped up."
    columns = [
        *RECORD_COLUMNS,
        *columns(
            "circuit=circuit__code",
            "kind",
            "volume_m3",
            "source=source__name",
            "conditioner",
            "conditioner_g",
        ),
        *RECORD_ENDS,
    ]
    related = ("circuit", "source")

    class Meta:
        model = WaterChange
