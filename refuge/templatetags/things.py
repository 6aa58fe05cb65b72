"""Template filters of the pages of things: amounts in the reader's units, and how long ago a day was."""

from datetime import date
from typing import Any

from django import template

from refuge import units
from refuge.rules.triggers import days_text
from refuge.rules.words import load_words
from refuge.templatetags.look import bar

register = template.Library()


@register.simple_tag(takes_context=True)
def amount(context: template.Context, value: float | None, quantity: str) -> str:
    """An SI value in the units of whoever reads: {% amount tank.length_m "distance" %}."""
    user = context.get("user")
    return units.show(value, quantity, getattr(user, "unit_system", units.METRIC))


@register.inclusion_tag("components/_bar.html")
def load_bar(share: float | None, grown: float | None, words: str = "") -> dict[str, Any]:
    """A load against what filters carry, in words: {% load_bar facts.load_share facts.grown_share "once fed" %}.

    share: load / what they carry today, or None when nobody knows. grown: see load_words.
    """
    drawn = bar(None if share is None else share * 100, 100, words)
    return drawn | {"said": "" if share is None else load_words(share, grown=grown)}


@register.filter
def spoken(text: str, system: str) -> str:
    """A sentence of a rule or a record in the reader's units: {{ reason|spoken:user.unit_system }}."""
    return units.spoken(text, system)


@register.filter
def ago(day: date | None, today: date) -> str:
    """How long ago a day was, as it is said: 'today', 'yesterday', '12 days ago', '7 months ago'."""
    if day is None:
        return "never"
    days = (today - day).days
    if days <= 1:
        return "today" if days <= 0 else "yesterday"
    return f"{days_text(days)} ago"


@register.filter
def weekdays(bits: int | None) -> str:
    """The weekdays of a feeding plan, Monday being bit 1: 'Mon, Thu'."""
    names = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    return ", ".join(name for number, name in enumerate(names) if (bits or 0) & (1 << number))


@register.filter
def days(number: float | None) -> str:
    """A number of days as it is said: '12 days', '7 months', '2.9 years'."""
    return "–" if number is None else days_text(number)
