"""What Django says of a mistake in stock wording, said as this program says things: what, why, what would do.

A form that mixes in `PlainErrors` rewords what its fields and its model's validators refuse. Words that a form or a
field chose itself stay as they are.
"""

from collections.abc import Callable, Iterable, Iterator
from typing import Any

from django import forms
from django.core import validators
from django.core.exceptions import ValidationError
from django.db import models
from django.forms.utils import pretty_name

LONGEST_SHOWN = 30
NEEDED = "It cannot be saved without: "

Words = Callable[[ValidationError, forms.Field, str, Any], str]


class PlainErrors(forms.BaseForm):
    """Mix in before forms.Form or forms.ModelForm: every error of a field or validator passes through here."""

    def add_error(self, field: str | None, error: Any) -> None:
        found = error if isinstance(error, ValidationError) else ValidationError(error)
        for name, each in _named(field, found):
            if name in self.fields:
                _reword(each, self.fields[name], name, self[name].value())
        super().add_error(field, found)


def _named(field: str | None, error: ValidationError) -> Iterator[tuple[str | None, ValidationError]]:
    """Each single error with the field it belongs to."""
    by_field = getattr(error, "error_dict", {field: error.error_list if field else []})
    return ((name, each) for name, errors in by_field.items() for each in errors)


def _reword(error: ValidationError, field: forms.Field, name: str, typed: Any) -> None:
    words = STOCK.get(error.code or "")
    if words is None or not _is_stock(error):
        return
    label = str(field.label or pretty_name(name))
    error.message, error.params = words(error, field, label, typed), None


def _is_stock(error: ValidationError) -> bool:
    """Whether Django worded it; the messages compare as what they were written, before any number is filled in."""
    return any(error.message == message for message in _messages(error.code or ""))


def _messages(code: str) -> Iterable[Any]:
    for each in (*FIELDS, *VALIDATORS):
        known = getattr(each, "default_error_messages", {})
        if code in known:
            yield known[code]
        if getattr(each, "code", None) == code:
            yield each.message  # type: ignore[union-attr]


FIELDS = (
    forms.Field,
    forms.IntegerField,
    forms.FloatField,
    forms.DecimalField,
    forms.DateField,
    forms.DateTimeField,
    forms.ChoiceField,
    forms.ModelChoiceField,
    models.Field,
)
VALIDATORS = (
    validators.MinValueValidator,
    validators.MaxValueValidator,
    validators.MinLengthValidator,
    validators.MaxLengthValidator,
)


def bounds_of(field: forms.Field) -> tuple[float | None, float | None]:
    """The least and the greatest value a field of numbers takes, by its validators; None for no bound."""
    lows = [each.limit_value for each in field.validators if isinstance(each, validators.MinValueValidator)]
    highs = [each.limit_value for each in field.validators if isinstance(each, validators.MaxValueValidator)]
    return max(map(float, lows), default=None), min(map(float, highs), default=None)


def _range(field: forms.Field, error: ValidationError | None = None) -> str:
    """'between 0 and 14', 'at least 1' or 'at most 5', with the unit; '' for a field without bounds."""
    low, high = bounds_of(field)
    if error is not None and error.params:  # a validator of the model, which the field may not have
        limit = float(error.params["limit_value"])
        low, high = (limit, high) if error.code == "min_value" else (low, limit)
    unit = f" {unit}" if (unit := getattr(field, "unit", "")) else ""
    if low is not None and high is not None:
        return f"between {low:.12g} and {high:.12g}{unit}"
    return f"at least {low:.12g}{unit}" if low is not None else f"at most {high:.12g}{unit}" if high else ""


def _beyond(error: ValidationError, field: forms.Field, label: str, typed: Any) -> str:
    allowed = _range(field, error)
    verb = "lies" if allowed.startswith("between") else "is"
    advice = "Check the number and the unit." if getattr(field, "unit", "") else "Check the number."
    return f"{_as_subject(label)} {verb} {allowed}; you wrote {_shown(typed)}.\n{advice}"


def _as_subject(label: str) -> str:
    """A label that can begin a sentence does; a longer one is quoted."""
    return label if len(label.split()) <= 2 else f"“{label}”"


def _shown(typed: Any) -> str:
    text = str(typed if typed is not None else "").strip()
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}…"


def _missing(error: ValidationError, field: forms.Field, label: str, typed: Any) -> str:
    what, would_do = _asked(field)
    return f"{what} is missing.\n{NEEDED}{would_do}"


def _asked(field: forms.Field) -> tuple[str, str]:
    """What a field asks for, and what would do."""
    if example := getattr(field, "example", ""):
        return "The amount", f"write it like {example}."
    if isinstance(field, forms.FileField):
        return "The file", "choose one."
    if isinstance(field, forms.ChoiceField):
        return "The answer", "choose the one that fits."
    if isinstance(field, forms.BooleanField):
        return "Your yes", "tick this if it is so."
    if isinstance(field, forms.DateTimeField):
        return "The time", "enter day and hour."
    if isinstance(field, forms.DateField):
        return "The day", "enter it."
    if isinstance(field, forms.IntegerField):
        allowed = _range(field)
        return "The number", f"write one {allowed}." if allowed else "write one."
    return "This", "write it in a few words."


def _no_number(error: ValidationError, field: forms.Field, label: str, typed: Any) -> str:
    if isinstance(field, forms.DateTimeField):
        return f"“{_shown(typed)}” is no time that can be read.\nWrite it like 2026-03-29 14:30."
    if isinstance(field, forms.DateField):
        return f"“{_shown(typed)}” is no day that can be read.\nWrite it like 2026-03-29."
    if isinstance(field, forms.FloatField | forms.DecimalField):
        return f"“{_shown(typed)}” is no number that can be read.\nWrite it like 0.25."
    if isinstance(field, forms.IntegerField):
        return f"“{_shown(typed)}” is no whole number.\nWrite it like 3."
    return f"“{_shown(typed)}” cannot be read.\nCheck how it is written."


def _no_choice(error: ValidationError, field: forms.Field, label: str, typed: Any) -> str:
    return (
        f"“{_shown(typed)}” is none of the answers offered.\nIt may be gone by now: choose one that is there."
    )


def _too_long(error: ValidationError, field: forms.Field, label: str, typed: Any) -> str:
    given = error.params or {}
    return (
        f"This has {given['show_value']} letters; at most {given['limit_value']} fit.\nSay it in fewer words."
    )


def _too_short(error: ValidationError, field: forms.Field, label: str, typed: Any) -> str:
    given = error.params or {}
    return f"This has {given['show_value']} letters; it needs at least {given['limit_value']}.\nWrite it out."


def _taken(error: ValidationError, field: forms.Field, label: str, typed: Any) -> str:
    return f"“{_shown(typed)}” is in use already.\nTwo of the same could not be told apart: choose another."


STOCK: dict[str, Words] = {
    "required": _missing,
    "blank": _missing,
    "null": _missing,
    "min_value": _beyond,
    "max_value": _beyond,
    "invalid": _no_number,
    "invalid_choice": _no_choice,
    "max_length": _too_long,
    "min_length": _too_short,
    "unique": _taken,
}
