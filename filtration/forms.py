"""What people type about filters."""

import math
from typing import Any

from django import forms

from filtration.models import FilterUnit, MediaLayer, Pump
from filtration.plans.reading import LAYER_COLUMNS, bed_layer
from filtration.plans.stones import MeasuredStones
from filtration.services import NEXT_STATES
from filtration.standing import StandingFields, is_asked
from refuge.errors import OutOfRange
from refuge.forms import QuantityField, RecordForm, UnitModelForm, number
from refuge.units import show

AS_SHOWN = 1e-5  # a number in a form shows six digits: nobody typed what differs less
OWN_WATER = "Added to its water’s volume while it runs. Empty: that volume holds it already."
PASSED = [("yes", "Passed"), ("no", "Did not pass")]


class DrainForm(RecordForm):
    """Depth before draining tells most; litres let out will do."""

    hint = "Enter the depth, what was let out, or both."

    sediment_depth_m = QuantityField(
        "length",
        low=0,
        high=3,
        label="Depth of sediment before",
        required=False,
        help_text="If you can see or feel it. This corrects the next forecast.",
    )
    drained_m3 = QuantityField(
        "volume",
        low=0,
        high=50,
        label="Let out until it ran clear",
        required=False,
        help_text="Water and sediment together. Without a depth it stands for less: about a third is sediment, or as "
        "much as this filter’s own drains with both have shown.",
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and data.get("sediment_depth_m") is None and data.get("drained_m3") is None:
            self.add_error(
                "drained_m3", "Enter the depth, the litres let out, or both: a guess is better than nothing."
            )
        return data


class RinseForm(RecordForm):
    layer = forms.ModelChoiceField(
        MediaLayer.objects.none(),
        label="Which layer",
        required=False,
        empty_label="Not said",
        help_text="One layer at a time, in water from the tank, never under the tap. Not said: one of them, each as likely.",
    )

    def __init__(self, *args: Any, unit_id: int | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["layer"].queryset = MediaLayer.objects.filter(filter=unit_id)


class BucketForm(RecordForm):
    bucket_m3 = QuantityField("bucket", above=0, high=1, label="Bucket")
    bucket_seconds = number("Seconds to fill it", 3600, low=0.2, unit="s", required=True)
    is_new_flow = forms.BooleanField(label="This is its flow when new", required=False)

    def __init__(self, *args: Any, planned_m3_h: float | None = None, **kwargs: Any) -> None:
        """planned_m3_h: the flow by the plan of a filter whose flow when new is not known yet."""
        super().__init__(*args, **kwargs)
        if planned_m3_h is None:
            del self.fields["is_new_flow"]
            return
        self.fields["is_new_flow"].help_text = (
            f"By its plan {show(planned_m3_h, 'flow', self.system)}. A flow near that is taken as new by itself. Far "
            "from it, look at valve, strainer and pump first; tick this only if all of them are as they should be."
        )


class PassedForm(RecordForm):
    passed = forms.TypedChoiceField(
        label="Result",
        choices=PASSED,
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
        error_messages={
            "required": "Say whether it passed or failed.\nOthers rely on it: choose one of the two."
        },
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("passed") is False and not data.get("note", "").strip():
            self.add_error("note", "Say what failed and what you did: others rely on it.")
        return data


class PlainForm(RecordForm):
    """Work that needs no numbers."""


class StateForm(RecordForm):
    new_state = forms.ChoiceField(label="It is now", choices=[])
    water_m3 = QuantityField(
        "volume",
        above=0,
        high=50,
        label="Water that stands in it",
        required=False,
        help_text=OWN_WATER,
    )

    def __init__(
        self, *args: Any, now: str = FilterUnit.State.BUILDING, asks_water: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        if not asks_water:
            del self.fields["water_m3"]
        choices = [(each, FilterUnit.State(each).label) for each in NEXT_STATES[now]]
        # Nothing is chosen for whoever taps Save: the first of several would be "mature".
        self.fields["new_state"].choices = choices if len(choices) == 1 else [("", "Choose"), *choices]


class FilterForm(StandingFields, UnitModelForm):
    length_m = QuantityField("length", above=0, high=50, label="Diameter, or length of a rectangle")
    width_m = QuantityField("length", above=0, high=50, label="Width of a rectangle", required=False)
    height_m = QuantityField("length", above=0, high=10, label="Height of the container")
    void_height_m = QuantityField("length", above=0, high=5, label="Height of the void under the media")
    inlet_bore_m = QuantityField("length", above=0, high=1, label="Inlet bore", required=False)
    return_bore_m = QuantityField("length", above=0, high=1, label="Return bore", required=False)
    commissioning_flow_m3_h = QuantityField("flow", above=0, high=1000, label="Flow when new", required=False)
    water_m3 = QuantityField(
        "volume",
        above=0,
        high=50,
        label="Water that stands in it",
        required=False,
        help_text="Part of the volume of its water while it runs, if it was entered when it started.",
    )

    class Meta:
        model = FilterUnit
        fields = [
            "code",
            "name",
            "circuit",
            "area",
            "state",
            "state_since",
            "position",
            "shape",
            "length_m",
            "width_m",
            "height_m",
            "void_height_m",
            "inlet_bore_m",
            "return_bore_m",
            "commissioning_flow_m3_h",
            "water_m3",
            "seeded",
            "note",
        ]
        labels = {"circuit": "Water"}
        widgets = {"note": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not is_asked(self.instance):
            del self.fields["state"], self.fields["state_since"]
        elif self.instance._state.adding:  # nothing is chosen for whoever taps Save
            self.initial.update(state="", state_since=None)
            self.fields["water_m3"].help_text = OWN_WATER

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self.check_since(data)
        height, void = data.get("height_m"), data.get("void_height_m")
        if height and void and void >= height:
            self.add_error(
                "void_height_m", "The void must be lower than the container, or there is no room for media."
            )
        if data.get("shape") == "rectangle" and not data.get("width_m") and "width_m" not in self.errors:
            self.add_error("width_m", "A rectangle needs its width too.")
        return data


class LayerForm(MeasuredStones, UnitModelForm):
    depth_m = QuantityField("length", above=0, high=5, label="Depth")

    class Meta:
        model = MediaLayer
        fields = ["medium", "depth_m", "is_bagged", "grain_size_m", "void_fraction"]

    def clean(self) -> dict[str, Any]:
        """The surface follows from the stones, unless it was measured by itself."""
        was = self.instance
        is_other = self.cleaned_data.get("medium") != was.medium
        if is_other:
            self._forget_other_stones()
        data = super().clean() or {}
        if not self.errors and (is_other or was.specific_surface_m2_m3 in (None, _surface_by_stones(was))):
            was.specific_surface_m2_m3 = bed_layer(data).measured_surface_m2_m3
        return data

    def _forget_other_stones(self) -> None:
        """What was measured of one medium says nothing of another, unless it was typed anew."""
        for name in ("grain_size_m", "void_fraction"):
            typed, was = self.cleaned_data.get(name), getattr(self.instance, name)
            if typed and was and math.isclose(typed, was, rel_tol=AS_SHOWN):
                self.cleaned_data[name] = None


def _surface_by_stones(layer: MediaLayer) -> float | None:
    """The surface [m2/m3] that follows from what is kept of a layer's stones; None if that cannot be."""
    try:
        return bed_layer({name: getattr(layer, name) for name in LAYER_COLUMNS}).measured_surface_m2_m3
    except OutOfRange:
        return None


class PumpForm(UnitModelForm):
    rated_flow_m3_h = QuantityField("flow", above=0, high=1000, label="Greatest flow")
    shutoff_head_m = QuantityField("distance", above=0, high=100, label="Head at no flow", required=False)

    class Meta:
        model = Pump
        fields = ["name", "rated_flow_m3_h", "shutoff_head_m", "power_w", "is_protected"]
