"""What people type about stones: those of a plan layer by layer, and what was measured of any."""

from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from filtration.hydraulics.bed import (
    LARGEST_GRAIN_M,
    LEAST_VOID,
    MOST_VOID,
    SMALLEST_GRAIN_M,
    Grain,
    grain,
)
from filtration.models import MEDIUM_CHOICES
from filtration.nitrification import medium
from filtration.plans.fields import ShareField, SizeField
from refuge.forms import UnitForm
from refuge.plain_errors import PlainErrors

MOST_LAYERS = 8


class MeasuredStones(PlainErrors, forms.Form):
    """What may be measured of a layer's stones; for a form that asks for their `medium`."""

    grain_size_m = SizeField(
        "length", low=SMALLEST_GRAIN_M, high=LARGEST_GRAIN_M, label="Grain size", required=False
    )
    void_fraction = ShareField(low=LEAST_VOID * 100, high=MOST_VOID * 100, label="Void share", required=False)

    def clean(self) -> dict[str, Any]:
        """A sieve does not tell the surface of hollow shapes."""
        data = super().clean() or {}
        if data.get("grain_size_m") and data.get("medium") and not grain(data["medium"]).is_sieved:
            self.add_error(
                "grain_size_m",
                "These are hollow shapes: a sieve does not tell their surface. Leave this empty.",
            )
        return data

    @property
    def measured(self) -> list[BoundField]:
        """The fields of it, folded away."""
        return [self["grain_size_m"], self["void_fraction"]]

    @property
    def is_measured(self) -> bool:
        return any(bound.errors or bound.value() for bound in self.measured)

    @property
    def usual(self) -> Grain | None:
        """The medium's own grains, where one is chosen."""
        key = self["medium"].value()
        return grain(key) if key in dict(MEDIUM_CHOICES) else None

    @property
    def usual_void(self) -> float | None:
        return medium(self.usual.key).void_fraction if self.usual else None


class PlanLayerForm(MeasuredStones, UnitForm):
    """One layer; an untouched one at the end counts for nothing."""

    medium = forms.ChoiceField(label="Stones", choices=[("", "Choose"), *MEDIUM_CHOICES])
    depth_m = SizeField("length", above=0, high=10, label="Depth")
    is_bagged = forms.BooleanField(label="In bags", required=False)


PlanLayers = forms.formset_factory(
    PlanLayerForm, extra=0, max_num=MOST_LAYERS, absolute_max=MOST_LAYERS + 1, validate_max=True
)
