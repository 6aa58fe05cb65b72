"""Form fields as API fields: their types and descriptions. Bounds stay with the form, which judges both."""

from typing import Any

from django import forms
from drf_spectacular.drainage import set_override
from rest_framework import serializers

from refuge.forms import QuantityField, RecordForm
from refuge.plain_values import help_text, is_yes_or_no, unit_of

COMMON = ("uuid", "at", "note")


class Number(serializers.FloatField):
    """A finite number; text that reads as one will do, true and false will not."""

    default_error_messages = {"invalid": "This is no number. Write it like 0.25."}

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool):
            self.fail("invalid")
        return super().to_internal_value(data)


class StrictSerializer(serializers.Serializer):
    """Refuses what it does not know: a misspelt reading must not vanish without a word."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, dict):
            unknown = [str(name) for name in data if name not in self.fields]
            if unknown:
                raise serializers.ValidationError({name: ["There is no such field."] for name in unknown})
        return super().to_internal_value(data)


def api_field(field: forms.Field, **more: Any) -> serializers.Field:
    """An API field that takes what the form's field takes."""
    options: dict[str, Any] = {
        "required": field.required and field.initial is None,
        "help_text": help_text(field),
        **more,
    }
    if is_yes_or_no(field):
        return serializers.BooleanField(**options)
    if not field.required:
        options["allow_null"] = True
    if isinstance(field, QuantityField | forms.FloatField):
        return _number(field, options)
    if isinstance(field, forms.IntegerField):
        return serializers.IntegerField(min_value=field.min_value, max_value=2**31 - 1, **options)
    if isinstance(field, forms.ModelChoiceField):
        return serializers.PrimaryKeyRelatedField(queryset=field.queryset, **options)
    if isinstance(field, forms.ChoiceField):
        choices = [choice for choice in field.choices if choice[0] != ""]
        return serializers.ChoiceField(choices=choices, **options)
    if isinstance(field, forms.DateTimeField):
        return serializers.DateTimeField(**options)
    if isinstance(field, forms.DateField):
        return serializers.DateField(**options)
    return serializers.CharField(allow_blank=not field.required, max_length=field.max_length, **options)


def _number(field: Any, options: dict[str, Any]) -> Number:
    number = Number(**options)
    schema: dict[str, Any] = {"type": "number", "format": "double"} | _bounds(field)
    set_override(number, "field", schema)
    return number


def _bounds(field: Any) -> dict[str, Any]:
    """Bounds as JSON Schema names them. They describe; the form is what enforces them."""
    if isinstance(field, QuantityField):
        found = {"minimum": field.low, "maximum": field.high}
        if field.above is not None:
            found |= {"minimum": field.above, "exclusiveMinimum": True}
    else:
        found = {"minimum": field.min_value, "maximum": field.max_value}
    return {name: value for name, value in found.items() if value is not None}


def own_fields(form_class: type[RecordForm]) -> dict[str, serializers.Field]:
    """API fields for what a record form asks besides uuid, time and note."""
    return {name: api_field(field) for name, field in form_class.base_fields.items() if name not in COMMON}


def describe(form: forms.Form) -> list[dict[str, Any]]:
    """What a form asks, for a program that has never seen it."""
    return [_describe(form, name, field) for name, field in form.fields.items() if name not in ("uuid", "at")]


def _describe(form: forms.Form, name: str, field: forms.Field) -> dict[str, Any]:
    limits = (
        _bounds(field) if isinstance(field, QuantityField | forms.FloatField | forms.IntegerField) else {}
    )
    initial = form.initial.get(name)
    return {
        "name": name,
        "label": str(field.label or name),
        "type": _type(field),
        "unit": unit_of(field),
        "required": field.required,
        "minimum": limits.get("minimum"),
        "maximum": limits.get("maximum"),
        "choices": _choices(field),
        "initial": getattr(initial, "pk", initial),
        "help": str(field.help_text),
    }


def _type(field: forms.Field) -> str:
    if is_yes_or_no(field):
        return "boolean"
    if isinstance(field, forms.IntegerField) and not isinstance(field, forms.FloatField):
        return "integer"
    if isinstance(field, QuantityField | forms.FloatField):
        return "number"
    if isinstance(field, forms.ChoiceField):
        return "choice"
    return "date" if isinstance(field, forms.DateField) else "text"


def _choices(field: forms.Field) -> list[dict[str, Any]]:
    if not isinstance(field, forms.ChoiceField) or is_yes_or_no(field):
        return []
    if isinstance(field, forms.ModelChoiceField):
        return [{"value": each.pk, "label": str(each)} for each in field.queryset]
    return [{"value": value, "label": str(label)} for value, label in field.choices if value != ""]
