"""What people type about a planned filter, part by part, in their own units."""

from collections.abc import Container, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator
from django.forms.boundfield import BoundField

from enclosures.models import Area, Circuit
from filtration.designing.propose import CONTAINERS, PUMPS
from filtration.hydraulics.design import SIPHON_BREAK
from filtration.hydraulics.faults import ON_THE_PIPE_M
from filtration.hydraulics.piping import STANDARD_BORES_M, fitting
from filtration.models import FilterUnit
from filtration.plans.fields import PointsField, ShareField, SizeField
from filtration.plans.models import FITTING_KEYS, FilterDesign
from refuge.forms import QuantityField, UnitForm, UnitModelForm, number
from refuge.units import show

MOST_FITTINGS = 100
# A ball valve closed further than this is not in the table of its losses, and a filter is not run so.
LEAST_OPEN = {"ball": 1 / 3, "gate": 0.25}


def _length(label: str, high: float = 10, *, above: float | None = 0, **options: Any) -> SizeField:
    return SizeField("length", above=above, high=high, label=label, **options)


def _pipe_help(bores: Sequence[tuple[str, int]], system: str) -> str:
    """What pipe of a nominal size measures inside, since that is what counts."""
    said = [f"{name} in is {show(STANDARD_BORES_M[place], 'length', system)}" for name, place in bores]
    return f"Inside. Common plastic pipe sold as {', '.join(said)}."


def _fittings(which: str) -> list[str]:
    return [f"{which}_{key}" for key in FITTING_KEYS]


@dataclass(frozen=True)
class Part:
    """One part of the form: what is nearly always typed, and what is folded away."""

    key: str
    title: str
    main: Sequence[BoundField]
    more: Sequence[BoundField]
    more_title: str
    help: str = ""
    wants_more: bool = False  # what is folded away goes with what was chosen above

    @property
    def filling(self) -> Container[str]:
        """Names of the choices that fill in something of it."""
        return FILLING

    @property
    def is_unfolded(self) -> bool:
        return self.wants_more or any(bound.errors for bound in self.more)


# (key, title, fields, folded fields, title of the fold, help)
PARTS: tuple[tuple[str, str, list[str], list[str], str, str], ...] = (
    (
        "water",
        "The water and its animals",
        [
            "circuit",
            "tank_volume_m3",
            "tank_surface_m2",
            "temperature_c",
            "is_outdoor",
            "tan_g_day",
            "newcomer_kg",
            "others_tan_g_day",
            "is_alone",
        ],
        [
            "tank_over_intake_m",
            "tank_freeboard_m",
            "tank_open_surface_m2",
            "side_by_side",
            "others_flow_m3_h",
        ],
        "Intake, rim and more than one filter",
        "",
    ),
    (
        "container",
        "The container",
        ["start_container", "container_name", "shape", "length_m", "width_m", "height_m", "void_height_m"],
        ["grate_open_share"],
        "The grate under the stones",
        "Inside sizes.",
    ),
    ("stones", "Stones, from the void up", [], [], "", ""),
    (
        "pump",
        "The pump",
        ["start_pump", "pump_name", "pump_shutoff_head_m", "pump_max_flow_m3_h", "pump_power_w"],
        ["pump_points", "price_per_kwh"],
        "Points of its curve, price of electricity",
        "",
    ),
    (
        "inlet",
        "The inlet, from pump to void",
        ["inlet_bore_m", "inlet_length_m", "inlet_elbow_90", "guard"],
        [
            "inlet_material",
            *_fittings("inlet")[1:],
            "inlet_valve",
            "inlet_valve_open_share",
            "inlet_crest_above_water_m",
            "inlet_mouth_height_m",
            "guard_height_m",
        ],
        "Other fittings, valve and heights",
        "",
    ),
    (
        "return",
        "The overflow and the way back",
        [
            "overflow_height_m",
            "floor_above_water_m",
            "return_bore_m",
            "return_count",
            "return_length_m",
            "return_elbow_90",
        ],
        ["return_mouth", "return_material", *_fittings("return")[1:], "return_fall_m"],
        "Other fittings, shape and fall",
        "",
    ),
    ("name", "The plan", ["name", "note"], [], "", ""),
)


# Choices that fill in something of their part.
FILLING = {"start_container": "container", "start_pump": "pump", "circuit": "water", "guard": "inlet"}
# Fields that need not be typed but are not said to be optional: something else may stand for them.
NOT_OPTIONAL = (
    "start_container",
    "start_pump",
    "circuit",
    "is_outdoor",
    "is_alone",
    "name",
    "pump_shutoff_head_m",
    "pump_max_flow_m3_h",
)


class PlanForm(UnitModelForm):
    """All sizes of a planned filter. Bounds keep out slips of the unit; what is unwise the sums say."""

    start_container = forms.ChoiceField(label="Begin with", required=False)
    start_pump = forms.ChoiceField(label="Begin with", required=False)

    tan_g_day = number("Load of the animals", 100_000, unit="g a day")
    newcomer_kg = QuantityField("mass", above=0, high=5000, label="Animals to come, together", required=False)
    others_tan_g_day = number("Carried by its other filters", 100_000, unit="g a day")
    others_flow_m3_h = QuantityField(
        "flow", low=0, high=10_000, label="Flow of its other filters", required=False
    )
    is_alone = forms.BooleanField(
        label="This one for the whole load",
        required=False,
        help_text="As if the others were gone. Else it carries what they leave.",
    )
    side_by_side = forms.IntegerField(
        label="How many such filters", min_value=1, max_value=6, widget=forms.TextInput
    )
    price_per_kwh = number(
        "Price of electricity", 1000, unit="a kWh", help_text="Empty: the price in the refuge’s settings."
    )

    length_m = _length("Diameter, or length", 50)
    width_m = _length("Width of a rectangle", 50, required=False)
    height_m = _length("Height")
    void_height_m = _length("Void under the stones")
    grate_open_share = ShareField(
        label="Holes in the grate", low=1, high=100, required=False, help_text="Empty: no grate is named."
    )

    pump_name = forms.CharField(label="Name", max_length=80, required=False)
    pump_shutoff_head_m = QuantityField(
        "distance", above=0, high=100, label="Head at no flow", required=False
    )
    pump_max_flow_m3_h = QuantityField("flow", above=0, high=1000, label="Greatest flow", required=False)
    pump_points = PointsField(label="Points of its curve", required=False)
    pump_power_w = number("Power", 20_000, low=0.1, unit="W")

    inlet_bore_m = _length("Bore", 1)
    inlet_length_m = QuantityField("distance", low=0, high=1000, label="Length")
    inlet_valve_open_share = ShareField(label="The valve is open", low=25, high=100)
    inlet_crest_above_water_m = SizeField(
        "length", low=-10, high=10, label="Its highest point over the tank’s water"
    )
    inlet_mouth_height_m = _length("Where it lets water in, over the floor", above=None, low=0)
    guard_height_m = _length("Siphon break’s hole, over the floor", above=None, low=0, required=False)

    return_bore_m = _length("Bore", 1)
    return_count = forms.IntegerField(label="How many", min_value=1, max_value=20, widget=forms.TextInput)
    return_length_m = QuantityField("distance", low=0, high=1000, label="Length")
    return_fall_m = QuantityField(
        "distance",
        low=0,
        high=100,
        label="Fall from the lip to its end",
        required=False,
        help_text="Empty: it ends at the tank’s water line.",
    )

    overflow_height_m = _length("Lip of the overflow, over the floor")
    floor_above_water_m = SizeField(
        "length",
        low=-10,
        high=10,
        label="Floor of the container over the tank’s water",
        help_text="Below 0 when it stands lower, as a barrel beside a tank does.",
    )

    tank_volume_m3 = QuantityField("volume", above=0, high=100_000, label="Its water")
    tank_surface_m2 = QuantityField(
        "area",
        above=0,
        high=100_000,
        label="Its surface",
        help_text="Of the tank that the pump stands in: its level falls when water is lost.",
    )
    tank_open_surface_m2 = QuantityField(
        "area", above=0, high=100_000, label="All surfaces that evaporate", required=False
    )
    is_outdoor = forms.BooleanField(
        label="Outdoors",
        required=False,
        help_text="Then a dry wind is reckoned with; else the air of a room.",
    )
    tank_over_intake_m = _length("Water over the pump’s intake", 20, above=None, low=0)
    tank_freeboard_m = _length("Tank’s rim over its water", 20, above=None, low=0)
    temperature_c = QuantityField("temperature", low=0, high=40, label="Temperature")

    class Meta:
        model = FilterDesign
        fields = [
            name
            for _, _, main, more, _, _ in PARTS
            for name in [*main, *more]
            if not name.startswith("start_")
        ]
        widgets = {"note": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["start_container"].choices = _starts("A size", [each.name for each in CONTAINERS])
        self.fields["start_pump"].choices = _starts("A pump", [each.name for each in PUMPS])
        for name, wanted in FILLING.items():
            self.fields[name].widget.attrs.update(_fills_in(wanted))
        circuits = self.fields["circuit"]
        circuits.queryset, circuits.empty_label = Circuit.objects.order_by("code"), "Any"
        circuits.help_text = "Fills in its water, its load and what its filters carry of it."
        self.fields["name"].required = self.fields["container_name"].required = False  # not for the sums
        self.fields["inlet_bore_m"].help_text = _pipe_help((("1", 1), ("1½", 3)), self.system)
        self.fields["return_bore_m"].help_text = _pipe_help((("2", 4), ("3", 5)), self.system)
        self.fields["tan_g_day"].help_text = "Ammonia nitrogen (TAN)."
        self.fields["newcomer_kg"].help_text = "Adds what they put in, fed as an arrival is at first."
        for which in ("inlet", "return"):
            for key in FITTING_KEYS:
                count = self.fields[f"{which}_{key}"]
                count.label, count.required = f"{fitting(key).name}", False
                count.validators.append(MaxValueValidator(MOST_FITTINGS))
                count.widget = forms.TextInput(attrs={"inputmode": "numeric"})

        for name in (
            *(f"{which}_{key}" for which in ("inlet", "return") for key in FITTING_KEYS),
            *NOT_OPTIONAL,
        ):
            self.fields[name].may_be_left_out = False

    def parts(self) -> list[Part]:
        return [
            Part(
                key,
                title,
                [self[name] for name in main],
                [self[name] for name in more],
                fold,
                help_text,
                wants_more="guard_height_m" in more and self["guard"].value() == SIPHON_BREAK,
            )
            for key, title, main, more, fold, help_text in PARTS
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for which in ("inlet", "return"):
            for key in FITTING_KEYS:
                data[f"{which}_{key}"] = data.get(f"{which}_{key}") or 0
        self._clean_pump(data)
        self._clean_container(data)
        self._clean_inlet(data)
        return data

    def _clean_pump(self, data: dict[str, Any]) -> None:
        """Points of the curve say both ends; without them both ends must be typed."""
        data["pump_name"] = data.get("pump_name") or "Pump"
        data["container_name"] = data.get("container_name") or "Container"
        if (curve := self.fields["pump_points"].curve(data.get("pump_points"))) is not None:
            data["pump_shutoff_head_m"] = curve.shutoff_head_m
            data["pump_max_flow_m3_h"] = curve.max_flow_m3_h
            return
        for name in ("pump_shutoff_head_m", "pump_max_flow_m3_h"):
            if data.get(name) is None and name not in self.errors and "pump_points" not in self.errors:
                self.add_error(
                    name, "Read it from the plate or the data sheet, or enter points of the curve."
                )

    def _clean_container(self, data: dict[str, Any]) -> None:
        if data.get("shape") == "rectangle" and not data.get("width_m") and "width_m" not in self.errors:
            self.add_error("width_m", "A rectangle needs its width too.")
        height = data.get("height_m")
        if not height:
            return
        if data.get("void_height_m") and data["void_height_m"] >= height:
            self.add_error("void_height_m", "The void must be lower than the container: stones come on top.")
        if data.get("overflow_height_m") and data["overflow_height_m"] > height:
            self.add_error("overflow_height_m", "The lip must be lower than the container’s rim.")
        for name in ("inlet_mouth_height_m", "guard_height_m"):
            if data.get(name) and data[name] > height:
                self.add_error(name, "This is higher than the container.")

    def _clean_inlet(self, data: dict[str, Any]) -> None:
        least, share = LEAST_OPEN.get(data.get("inlet_valve", ""), 0), data.get("inlet_valve_open_share")
        if share is not None and share < least:
            self.add_error(
                "inlet_valve_open_share",
                f"No loss is known for this valve below {least * 100:.0f} %: open it.",
            )
        needs_height = data.get("guard") == SIPHON_BREAK and data.get("guard_height_m") is None
        if needs_height and "guard_height_m" not in self.errors:
            self.add_error("guard_height_m", "Say how high its hole lies: just under the water’s surface.")
        self._clean_crest(data)

    def _clean_crest(self, data: dict[str, Any]) -> None:
        """A pipe goes up to where it lets the water in, and to the hole that is drilled into it."""
        crest, floor = data.get("inlet_crest_above_water_m"), data.get("floor_above_water_m")
        if crest is None or floor is None:
            return
        reached = [("the place where it lets the water in", data.get("inlet_mouth_height_m"))]
        if data.get("guard") == SIPHON_BREAK:
            reached.append(("the siphon break’s hole", data.get("guard_height_m")))
        what, above = max(
            ((what, floor + height) for what, height in reached if height is not None),
            key=lambda each: each[1],
            default=("", crest),
        )
        if crest < above - ON_THE_PIPE_M:
            said = show(above, "length", self.system)
            self.add_error(
                "inlet_crest_above_water_m",
                f"The pipe has to reach {what}, {said} above the tank’s water: its highest point is {said} or more.",
            )


def _fills_in(part: str) -> dict[str, str]:
    """A choice that, once made, has its part of the page filled in."""
    return {
        "hx-post": "",
        "hx-trigger": "change",
        "hx-target": f"#part-{part}",
        "hx-swap": "outerHTML",
        "hx-include": "closest form",
        "hx-vals": f'{{"do": "{part}"}}',
    }


def _starts(first: str, names: Sequence[str]) -> list[tuple[str, str]]:
    return [("", f"{first} …"), *((str(place), name) for place, name in enumerate(names))]


class BuildForm(UnitForm):
    """What a plan does not say about the filter that is built by it."""

    uuid = forms.UUIDField(widget=forms.HiddenInput(attrs={"data-uuid": ""}), required=False)
    code = forms.CharField(label="Code", max_length=12)
    name = forms.CharField(label="Name", max_length=80)
    circuit = forms.ModelChoiceField(Circuit.objects.order_by("code"), label="Water", empty_label="Choose")
    area = forms.ModelChoiceField(Area.objects.all(), label="Area where it stands", empty_label="Choose")
    is_protected = forms.BooleanField(
        label="Its socket has residual-current (ground-fault) protection",
        required=False,
        help_text="Have a licensed electrician see to it before the pump first runs.",
    )

    def clean_code(self) -> str:
        code = self.cleaned_data["code"].strip()
        sent = self.data.get("uuid") or None
        taken = FilterUnit.objects.filter(code=code)
        if sent and len(sent) == 36:
            taken = taken.exclude(build__uuid=sent)  # sent again: it is this very filter
        if taken.exists():
            raise ValidationError(f"There is a filter {code} already. Choose another code.")
        return code
