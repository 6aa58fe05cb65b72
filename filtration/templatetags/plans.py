"""Template tags of the planner of filters."""

from typing import Any

from django import template
from django.forms.boundfield import BoundField

from filtration.designing import words
from filtration.designing.findings import NOTE, STOP, WARN, Finding
from refuge.templatetags.look import error_parts, field

STATES = {STOP: "act", WARN: "watch", NOTE: "unknown"}

register = template.Library()


@register.inclusion_tag("filtration/_plan_field.html")
def plan_field(bound: BoundField, **options: Any) -> dict[str, Any]:
    """A form field whose mistakes stand in a place of their own, so that an answer while typing can change them."""
    options.setdefault("optional", getattr(bound.field, "may_be_left_out", True))
    drawn = field(bound, **options)
    return drawn | {"errors": [], "mistakes": drawn["errors"]}


@register.inclusion_tag("filtration/_plan_mistake.html")
def plan_mistake(bound: BoundField) -> dict[str, Any]:
    """That place by itself, to be swapped in from anywhere in an answer."""
    return {"bound": bound, "mistakes": [error_parts(error) for error in bound.errors], "is_part": True}


@register.filter
def percent(share: float) -> str:
    """A share as whole percent: '38 %'."""
    return words.percent(share)


@register.filter
def gravity(finding: Finding) -> str:
    """The state that says how grave a finding is."""
    return STATES[finding.severity]
