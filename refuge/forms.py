"""Forms that understand units: a QuantityField reads “3 lb” and gives kilograms."""

import math
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.forms.renderers import Jinja2
from django.utils import timezone

from refuge import units
from refuge.plain_errors import PlainErrors, bounds_of

EARLIEST_YEAR = 1950
# Draws inputs and lists in a third of the time of the usual renderer: a page of fifteen fields is half of them. Not for
# the whole site: the admin has widgets of its own, which are no Jinja templates.
QUICK = Jinja2()


class QuantityField(forms.CharField):
    """An amount with a unit. Cleans to SI; shows initial values in the reader's units.

    low, high: bounds in SI, named in the error in the reader's units.
    """

    def __init__(
        self,
        quantity: str,
        *,
        low: float | None = None,
        high: float | None = None,
        above: float | None = None,
        **kw: Any,
    ) -> None:
        self.quantity, self.low, self.high, self.above = quantity, low, high, above
        self.system = units.METRIC
        self.untouched: float | None = None  # what the form began with, in SI; set by the form
        super().__init__(**kw)
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})

    @property
    def unit(self) -> str:
        return units.label(self.quantity, self.system)

    @property
    def example(self) -> str:
        """How an amount of this kind is written, for who left it out."""
        return units.QUANTITIES[self.quantity].example

    def _fits(self, value: float) -> bool:
        try:
            self._check_bounds(value)
        except ValidationError:
            return False
        return True

    def to_python(self, value: Any) -> float | None:
        text = super().to_python(value)
        if not text:
            return None
        try:
            return units.parse(text, self.quantity, self.system, fits=self._fits)
        except units.UnitError as error:
            raise ValidationError(str(error), code="unit") from None

    def validate(self, value: float | None) -> None:
        if value is None:
            if self.required:
                raise ValidationError(self.error_messages["required"], code="required")
            return
        self._check_bounds(value)

    def run_validators(self, value: Any) -> None:
        """The text validators of CharField do not fit a number; bounds are checked in validate()."""

    def _check_bounds(self, value: float) -> None:
        shown = lambda number: units.show(number, self.quantity, self.system)  # noqa: E731
        if not math.isfinite(value):
            raise ValidationError("This is not a number that can be used.", code="nan")
        if self.above is not None and value <= self.above:
            raise ValidationError(
                f"{shown(value)} is too little: it must be above {shown(self.above)}.", code="low"
            )
        if self.low is not None and value < self.low:
            raise ValidationError(f"{shown(value)} is too little: at least {shown(self.low)}.", code="low")
        if self.high is not None and value > self.high:
            raise ValidationError(
                f"{shown(value)} is more than can be right: at most {shown(self.high)}. Check the unit.",
                code="high",
            )

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int | float):
            return _four_digits(units.to_shown(value, self.quantity, self.system))
        return value

    def clean(self, value: Any) -> Any:
        """What nobody touched stays what it was, to the last digit that is not shown."""
        if self.untouched is None or value != self.prepare_value(self.untouched):
            return super().clean(value)
        self.validate(self.untouched)
        return self.untouched


def _four_digits(number: float) -> str:
    """A number as somebody would type it: 2.664, 81.51, 1264; whole ones keep their digits."""
    return f"{number:.0f}" if abs(number) >= 1000 else f"{number:.4g}"


class NumberField(forms.FloatField):
    """A float that may be written with a decimal comma, or with commas between its thousands."""

    def to_python(self, value: Any) -> float | None:
        return super().to_python(self._without_comma(value) if isinstance(value, str) else value)

    def _without_comma(self, text: str) -> str:
        """The number with a point. ValidationError where a comma may be either, and both readings are allowed."""
        try:
            readings = units.numbers(text.strip()) if "," in text else []
        except ValueError:  # no number at all: the field says so
            return text
        low, high = bounds_of(self)
        meant = [n for n in readings if (low is None or n >= low) and (high is None or n <= high)] or readings
        if len(meant) > 1:
            both = " or ".join(f"“{number:.12g}”" for number in meant)
            raise ValidationError(f"“{text.strip()}” can be read two ways. Write {both}.", code="unit")
        return repr(meant[0]) if meant else text

    def prepare_value(self, value: Any) -> Any:
        return f"{value:.6g}" if isinstance(value, float) else value


def number(
    label: str, high: float, *, low: float = 0, unit: str = "", required: bool = False, help_text: str = ""
) -> NumberField:
    """A plain number field with bounds, for what is counted in one unit everywhere (mg/L, pH, seconds)."""
    field = NumberField(
        label=label,
        required=required,
        min_value=low,
        max_value=high,
        widget=forms.TextInput,
        help_text=help_text,
        error_messages={"invalid": "This is no number. Write it like 0.25."},
    )
    field.unit = unit  # type: ignore[attr-defined]
    return field


class KeepsUntouched(forms.BaseForm):
    """Amounts are shown with fewer digits than are kept; sent back as they were shown, they are those kept."""

    def _clean_fields(self) -> None:
        for name, field in self.fields.items():
            if isinstance(field, QuantityField):
                began = self[name].initial
                field.untouched = float(began) if isinstance(began, int | float) else None
        super()._clean_fields()  # type: ignore[misc]


class UnitForm(KeepsUntouched, PlainErrors, forms.Form):
    """A form whose quantities are typed and shown in one person's units: UnitForm(data, system="us")."""

    default_renderer = QUICK

    def __init__(self, *args: Any, system: str = units.METRIC, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.system = system
        set_system(self, system)


class UnitModelForm(KeepsUntouched, PlainErrors, forms.ModelForm):
    """The same for a model form; declare its QuantityFields by the model's field names."""

    default_renderer = QUICK

    def __init__(self, *args: Any, system: str = units.METRIC, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.system = system
        set_system(self, system)


def set_system(form: forms.BaseForm, system: str) -> None:
    for field in form.fields.values():
        if isinstance(field, QuantityField):
            field.system = system


def past_moment_field(label: str, *, help_text: str) -> forms.DateTimeField:
    """When something happened; empty for now. Its form's clean method calls `past_or_now`."""
    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
    return forms.DateTimeField(label=label, required=False, widget=widget, help_text=help_text)


def past_or_now(at: datetime | None) -> datetime:
    """The moment that was entered, or now for none. ValidationError for one that cannot be meant."""
    now = timezone.now()
    if at is None:
        return now
    if at.year < EARLIEST_YEAR:  # a browser sends the year 24 while 2024 is being typed
        raise ValidationError(f"This lies before {EARLIEST_YEAR}. Check the year.", code="past")
    if at > now + timedelta(minutes=5):
        raise ValidationError("This lies ahead. Enter the time at which it was done.", code="future")
    return min(at, now)


class PastDateField(forms.DateField):
    """A day that lies behind us, or today; `ahead` says what would do instead of one that lies ahead."""

    def __init__(self, *, ahead: str, **options: Any) -> None:
        widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
        super().__init__(widget=widget, **options)
        self.ahead = ahead

    def clean(self, value: Any) -> date | None:
        day: date | None = super().clean(value)
        if day and day.year < EARLIEST_YEAR:
            raise ValidationError(f"This lies before {EARLIEST_YEAR}. Check the year.", code="past")
        if day and day > timezone.localdate():
            raise ValidationError(f"This lies ahead. {self.ahead}", code="future")
        return day


class RecordForm(UnitForm):
    """What every record's form carries: a client-made UUID, when it happened, and a note.

    `at` left empty means now. A phone that sends the same form twice sends the same UUID.
    """

    uuid = forms.UUIDField(widget=forms.HiddenInput(attrs={"data-uuid": ""}), required=False)
    at = past_moment_field("When", help_text="Leave empty for now.")
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 2}))

    field_order: list[str] | None = None
    hint = ""  # what to fill in, where every field is optional but not all of them together
    other_time = "Done at another time?"
    # What is said beside the record once it is made, set by clean; may hold marks of amounts.
    warning = ""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        own = [name for name in self.fields if name not in {"uuid", "at", "note"}]
        self.order_fields([*(self.field_order or own), "note", "at", "uuid"])

    def clean_uuid(self) -> UUID:
        return self.cleaned_data.get("uuid") or uuid4()

    def clean_at(self) -> datetime:
        return past_or_now(self.cleaned_data.get("at"))
