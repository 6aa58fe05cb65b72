"""A plan while it is being typed: the form and its layers together, what the sums make of it, what fills it in."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any
from uuid import UUID, uuid4

from django.forms import BaseFormSet
from django.forms.boundfield import BoundField
from django.http import QueryDict

from filtration.designing.assess import Verdict
from filtration.designing.propose import CONTAINERS, LIP_BELOW_RIM_M, PUMPS
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.design import SIPHON_BREAK
from filtration.plans.forms import PlanForm
from filtration.plans.models import FilterDesign
from filtration.plans.reading import bed_layer, layer_columns, load_of, verdict_of
from filtration.plans.stones import MOST_LAYERS, PlanLayerForm, PlanLayers
from refuge.errors import OutOfRange
from refuge.forms import QuantityField

NUMBER = re.compile(r"-?\d+(\.\d+)?")
# A siphon break's hole lies under water while the filter runs, and lets in air before the stones fall dry.
HOLE_BELOW_LIP_M = 0.02  # common practice, no source
LAYER_FIELDS = tuple(PlanLayerForm.base_fields)
# Where an argument of the sums is typed; the others have the name of their field.
TYPED_AT = {
    "open_share": "inlet_valve_open_share",
    "points": "pump_points",
    "volume_m3": "tank_volume_m3",
    "surface_m2": "tank_surface_m2",
    "over_intake_m": "tank_over_intake_m",
    "freeboard_m": "tank_freeboard_m",
    "bore_m": "inlet_bore_m",
    "count": "return_count",
    "depth_m": "void_height_m",
}


@dataclass
class PlanEntry:
    """What is in the form now. Always bound, so that what was typed is shown again and can be judged."""

    form: PlanForm
    layers: "BaseFormSet[Any]"
    site_price_per_kwh: float | None = None

    @classmethod
    def read(
        cls, data: Any, system: str, plan: FilterDesign, site_price_per_kwh: float | None = None
    ) -> "PlanEntry":
        form = PlanForm(data, instance=plan, system=system)
        layers = PlanLayers(data, prefix="layer", form_kwargs={"system": system})
        return cls(form, layers, site_price_per_kwh)

    def may_be_saved(self) -> bool:
        """Whether everything is typed rightly, a name too, and the sums can take it."""
        if self.form.is_valid() and not self.form.cleaned_data["name"]:
            self.form.add_error("name", "Give the plan a name, so that it is found again.")
            return False
        return self.verdict is not None

    @cached_property
    def bed(self) -> tuple[BedLayer, ...]:
        """The layers, bottom first; none while one of them is typed wrongly."""
        if not self.layers.is_valid():
            return ()
        typed = [each.cleaned_data for each in self.layers.forms if each.cleaned_data.get("medium")]
        return tuple(bed_layer(each) for each in typed)

    @cached_property
    def verdict(self) -> Verdict | None:
        """What the sums make of it; None while something is not right, with the error at its field."""
        if not all([self.form.is_valid(), self.layers.is_valid()]):
            return None
        try:
            return verdict_of(self.plan, self.bed, self.site_price_per_kwh)
        except OutOfRange as error:
            name = TYPED_AT.get(error.argument, error.argument)
            words = f"This cannot be: it must be {error.allowed}."
            self.form.add_error(name if name in self.form.fields else None, words)
            return None

    @property
    def plan(self) -> FilterDesign:
        plan: FilterDesign = self.form.instance
        return plan

    @property
    def load(self) -> Any:
        return load_of(self.plan)

    @property
    def uuid(self) -> UUID:
        """The id that the page made for a new plan; one of our own where the browser could not."""
        try:
            return UUID(str(self.form.data.get("uuid", "")))
        except ValueError:
            return uuid4()

    def layer_rows(self) -> list[dict[str, Any]]:
        return layer_columns(self.bed)

    def problems(self) -> list[tuple[BoundField | None, str]]:
        """Every mistake with its field, in the order of the page."""
        found: list[tuple[BoundField | None, str]] = [
            (None, str(error)) for error in self.form.non_field_errors()
        ]
        for form in (self.form, *self.layers.forms):
            found += [(bound, str(error)) for bound in form for error in bound.errors]
        return found + [(None, str(error)) for error in self.layers.non_form_errors()]


def typed(plan: FilterDesign, layers: Iterable[Mapping[str, Any]], system: str) -> QueryDict:
    """A plan as if somebody had typed it in their units; rounded as people would, unless it is saved already."""
    data, is_exact = QueryDict(mutable=True), plan.pk is not None
    _put(data, PlanForm(instance=plan, system=system), is_exact)
    rows = list(layers)
    for place, row in enumerate(rows):
        _put(data, PlanLayerForm(initial=dict(row), prefix=f"layer-{place}", system=system), is_exact)
    _count_layers(data, len(rows))
    return data


def _put(data: QueryDict, form: Any, is_exact: bool) -> None:
    for bound in form:
        if text := _text(bound, is_exact):
            data[bound.html_name] = text


def _text(bound: BoundField, is_exact: bool) -> str:
    value = bound.value()
    if value in (None, False):
        return ""
    if value is True:
        return "on"
    if isinstance(bound.field, QuantityField) and not is_exact and NUMBER.fullmatch(str(value)):
        return f"{float(f'{float(value):.3g}'):.6g}"
    return str(value)


def _count_layers(data: QueryDict, count: int) -> None:
    data["layer-TOTAL_FORMS"], data["layer-INITIAL_FORMS"] = str(count), "0"


def layer_count(data: Mapping[str, Any]) -> int:
    wanted = str(data.get("layer-TOTAL_FORMS", "0"))
    return min(int(wanted), MOST_LAYERS) if wanted.isdecimal() and len(wanted) < 4 else 0


def with_layer(data: QueryDict) -> QueryDict:
    """One empty layer more, on top."""
    changed = data.copy()
    _count_layers(changed, min(layer_count(data) + 1, MOST_LAYERS))
    return changed


def without_layer(data: QueryDict, place: int) -> QueryDict:
    """That layer gone, those above it one down."""
    changed, count = data.copy(), layer_count(data)
    kept = [at for at in range(count) if at != place]
    for field in LAYER_FIELDS:
        values = [data.get(f"layer-{at}-{field}") for at in kept]
        for at in range(count):
            changed.pop(f"layer-{at}-{field}", None)
        for at, value in enumerate(values):
            if value is not None:
                changed[f"layer-{at}-{field}"] = value
    _count_layers(changed, len(kept))
    return changed


def with_container(data: QueryDict, system: str) -> QueryDict:
    """The sizes of the container that was chosen to begin with; the lip follows a little under its rim."""
    chosen = _chosen(data.get("start_container"), CONTAINERS)
    if chosen is None:
        return data
    columns = {
        "container_name": chosen.name,
        "shape": chosen.shape,
        "length_m": chosen.length_m,
        "width_m": chosen.width_m,
        "height_m": chosen.height_m,
        "overflow_height_m": chosen.height_m - LIP_BELOW_RIM_M,
    }
    return with_columns(data, columns, system, done="start_container")


def with_pump(data: QueryDict, system: str) -> QueryDict:
    """The ends of the curve of the pump that was chosen to begin with."""
    chosen = _chosen(data.get("start_pump"), PUMPS)
    if chosen is None:
        return data
    columns = {
        "pump_name": chosen.name,
        "pump_shutoff_head_m": chosen.curve.shutoff_head_m,
        "pump_max_flow_m3_h": chosen.curve.max_flow_m3_h,
        "pump_power_w": chosen.power_w,
        "pump_points": None,
    }
    return with_columns(data, columns, system, done="start_pump")


def with_guard(data: QueryDict, system: str) -> QueryDict:
    """Where the hole of a siphon break goes, if it was chosen and nothing is said of it, and a pipe that climbs so far."""
    form = PlanForm(data, system=system)
    form.is_valid()
    lip, floor = (form.cleaned_data.get(name) for name in ("overflow_height_m", "floor_above_water_m"))
    if data.get("guard") != SIPHON_BREAK or data.get("guard_height_m") or lip is None or floor is None:
        return data
    hole = max(0.0, lip - HOLE_BELOW_LIP_M)
    crest = form.cleaned_data.get("inlet_crest_above_water_m") or 0.0
    columns = {"guard_height_m": hole, "inlet_crest_above_water_m": max(crest, floor + lip)}
    return with_columns(data, columns, system)


def _chosen(place: Any, table: tuple[Any, ...]) -> Any:
    text = str(place or "")
    return table[int(text)] if text.isdecimal() and len(text) < 4 and int(text) < len(table) else None


def with_columns(data: QueryDict, columns: Mapping[str, Any], system: str, done: str = "") -> QueryDict:
    """The data with these columns typed over; the choice they came from goes back to its start."""
    changed = data.copy()
    form = PlanForm(initial=dict(columns), system=system)
    for name in columns:
        changed[name] = _text(form[name], is_exact=False)
    if done:
        changed[done] = ""
    return changed
