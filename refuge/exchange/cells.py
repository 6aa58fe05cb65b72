"""What a cell of a file says, as a form's field expects it. Raises ValidationError for what can be read two ways."""

import re
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from refuge.forms import QuantityField
from refuge.plain_values import YesNoField, as_number, is_yes_or_no, with_si_unit

GROUPED = re.compile(r"^[-+]?\d{1,3}(,\d{3})+$")
DECIMAL_COMMA = re.compile(r"^[-+]?\d*,\d+$")
DAY = re.compile(r"^(?P<a>\d{1,4})(?P<sep>[-./])(?P<b>\d{1,2})(?P=sep)(?P<c>\d{1,4})\.?$")
NOON = time(12, 0)


def cell_value(field: forms.Field, cell: Any) -> Any:
    """A cell for a field: text as it is typed, numbers in SI, days and times of the refuge."""
    if cell is None or (isinstance(cell, str) and not cell.strip()):
        return ""
    if isinstance(field, forms.DateTimeField):
        return moment(cell)
    if isinstance(field, forms.DateField):
        return day(cell)
    if isinstance(field, QuantityField | forms.IntegerField):  # a FloatField is an IntegerField to Django
        return _number(field, cell)
    if is_yes_or_no(field):
        return _yes_or_no(field, cell)
    if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField):
        return _choice(field, text(cell))
    return text(cell)


def text(cell: Any) -> str:
    """A cell as text: a code that a spreadsheet took for the number 12.0 is 12 again."""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, datetime) and cell.time() == time(0):
        return str(cell.date())
    return str(cell).strip()


def _number(field: forms.Field, cell: Any) -> str:
    written = plain_number(text(cell))
    number = as_number(written)
    if number is None or not isinstance(field, QuantityField):
        return written
    return with_si_unit(field, number)


def plain_number(written: str) -> str:
    """A number with a decimal point. Text that is no bare number is left to the field."""
    if GROUPED.match(written):
        raise ValidationError(
            f"“{written}” can be read two ways. Write it without the comma, or with a point."
        )
    return written.replace(",", ".") if DECIMAL_COMMA.match(written) else written


def _yes_or_no(field: forms.Field, cell: Any) -> Any:
    answer = YesNoField().to_python({"x": "yes", "y": "yes", "n": "no"}.get(text(cell).lower(), text(cell)))
    return answer if isinstance(field, YesNoField) else "yes" if answer else "no"


def _choice(field: forms.ChoiceField, written: str) -> str:
    choices: Any = field.choices
    known = {str(value): value for value, label in choices if value != ""}
    by_word = {
        str(word).casefold(): key for key, value in known.items() for word in (value, dict(choices)[value])
    }
    found = by_word.get(written.casefold())
    if found is None:
        raise ValidationError(f"“{written}” is none of: {', '.join(known)}.")
    return found


def moment(cell: Any, zone: ZoneInfo | None = None) -> datetime:
    """An instant. Without an offset it is on the refuge's own clock; a day alone is its noon."""
    found = _read_moment(cell)
    if found.tzinfo is not None:
        return found
    local: Any = zone or timezone.get_current_timezone()
    aware = found.replace(tzinfo=local)
    if aware.astimezone(ZoneInfo("UTC")).astimezone(local).replace(tzinfo=None) != found:
        raise ValidationError(
            f"The clocks went forward then: there was no {found:%H:%M} on {found:%Y-%m-%d}."
        )
    return aware


def _read_moment(cell: Any) -> datetime:
    if isinstance(cell, datetime):
        return datetime.combine(cell.date(), NOON) if cell.time() == time(0) and not cell.tzinfo else cell
    if isinstance(cell, date):
        return datetime.combine(cell, NOON)
    written = text(cell)
    head, _, tail = written.replace("T", " ").partition(" ")
    if not tail.strip():
        return datetime.combine(day(head), NOON)
    try:
        clock = datetime.fromisoformat(f"{day(head)} {tail.strip()}")
    except ValueError:
        raise ValidationError(
            f"“{written}” is no time that can be read. Write it like 2026-03-04 07:15."
        ) from None
    return clock


def day(cell: Any) -> date:
    """A day: 2026-03-04, 4.3.2026, or with slashes where only one reading is possible."""
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    written = text(cell)
    match = DAY.match(written)
    try:
        if match is None:
            raise ValueError
        return _read_day(written, int(match["a"]), match["sep"], int(match["b"]), int(match["c"]))
    except ValueError:
        raise ValidationError(f"“{written}” is no date that can be read. Write it like 2026-03-04.") from None


def _read_day(written: str, a: int, sep: str, b: int, c: int) -> date:
    if a > 31:  # year first, the international order
        return date(a, b, c)
    if c < 100:
        raise ValidationError(f"“{written}” has no whole year. Write it like 2026-03-04.")
    if sep == "/" and a <= 12 and b <= 12 and a != b:
        raise ValidationError(f"“{written}” can be read two ways. Write it like {date(c, b, a)}.")
    if sep == "/" and b > 12:
        return date(c, a, b)
    return date(c, b, a)


def shown(value: Any) -> str:
    """A value as a preview shows it."""
    if value is None or value == "":
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return f"{timezone.localtime(value):%Y-%m-%d %H:%M}"
    if isinstance(value, float):
        return f"{Decimal(f'{value:.6g}'):f}"
    return str(value)
