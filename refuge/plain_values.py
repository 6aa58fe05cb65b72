"""Values as programs and files give them, made fit for our forms, so that they are judged as typed ones are.

On a page a bare number is in the reader's unit; from a program or a file it is in the SI unit of its column.
"""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Model

from refuge.forms import QuantityField
from refuge.units import QUANTITIES

# SI units as they are written, by quantity.
SI_LABELS = {
    key: {"kilogram": "kg", "meter": "m", "meter**3": "m³", "meter**3/hour": "m³/h", "degC": "°C"}.get(
        quantity.si, "m²"
    )
    for key, quantity in QUANTITIES.items()
}
YES_NO = {"yes", "no"}


def unit_of(field: forms.Field) -> str:
    """The unit in which a bare number of this field counts; '' for none."""
    if isinstance(field, QuantityField):
        return SI_LABELS[field.quantity]
    return getattr(field, "unit", "")


def help_text(field: forms.Field) -> str:
    """Label, unit and help of a field in one line."""
    unit = unit_of(field)
    words = f"{field.label or ''} [{unit}]" if unit else str(field.label or "")
    return ". ".join(part.rstrip(".") for part in (words, str(field.help_text)) if part)


def is_yes_or_no(field: forms.Field) -> bool:
    """Whether a field asks yes or no: a box to tick, or the two answers to choose from."""
    if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField):
        choices: Any = field.choices
        return {str(value) for value, _ in choices} == YES_NO
    return isinstance(field, forms.BooleanField | YesNoField)


class YesNoField(forms.Field):
    """Yes or no, said outright: a page's box to tick takes any text for yes."""

    words = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False, "": False}

    def to_python(self, value: Any) -> bool:
        if isinstance(value, bool):
            return value
        word = "" if value is None else str(value).strip().lower()
        if word not in self.words:
            raise ValidationError(f"“{value}” is neither yes nor no. Write one of the two.")
        return self.words[word]


def with_si_unit(field: QuantityField, number: float) -> str:
    """A bare number as it would be typed with its unit, every digit kept."""
    return f"{Decimal(repr(number)):f} {QUANTITIES[field.quantity].si}"


def as_number(text: str) -> float | None:
    """The number that a text is, None if it is none."""
    try:
        return float(text)
    except ValueError:
        return None


def is_storable(text: str) -> bool:
    """Whether a database can hold or look for a text: no NUL and no half of a surrogate pair, which JSON can write."""
    return "\0" not in text and not any("\ud800" <= letter <= "\udfff" for letter in text)


def form_value(field: forms.Field, value: Any) -> Any:
    """One plain value as the form's field expects it from the browser. None is an empty field."""
    if value is None:
        return ""
    if isinstance(value, Model):
        return value.pk
    if isinstance(value, bool):
        return value if isinstance(field, YesNoField) else "yes" if value else "no"
    if isinstance(field, QuantityField):
        number = as_number(str(value))
        return value if number is None else with_si_unit(field, number)
    return value if isinstance(value, date | datetime) else str(value)


def bound(form: forms.Form, values: Mapping[str, Any]) -> forms.Form:
    """The form, given plain values: valid or not, as a typed one would be.

    What is left out stays empty, or takes the form's plain default. What the page starts with does not count:
    nobody saw it, so nobody agreed to it.
    """
    for name, field in form.fields.items():
        if isinstance(field, forms.BooleanField):
            form.fields[name] = YesNoField(label=field.label, required=False)
    given = {**getattr(form, "plain_defaults", {}), **values}
    form.data = {name: form_value(each, given[name]) for name, each in form.fields.items() if name in given}
    form.is_bound = True
    return form
