"""Form fields that only the planner of filters needs: shares as percent, and points of a pump's curve."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from filtration.hydraulics.pump import PointCurve
from refuge import units
from refuge.errors import OutOfRange
from refuge.forms import NumberField, QuantityField

BETWEEN = re.compile(r"\s*(?:\bat\b|;|\||→)\s*", re.IGNORECASE)
MOST_POINTS = 20
SIGNS = {"¼": "1/4", "½": "1/2", "¾": "3/4"}
FRACTION = re.compile(
    r"\s*(?P<sign>-?)(?:(?P<whole>\d{1,4})[\s-]+)?(?P<above>\d{1,3})\s*/\s*(?P<below>\d{1,3})(?![\d.,])"
)


class SizeField(QuantityField):
    """A length that may be written as builders write it: '3/4 in', '1 1/4 in', '2½ in'."""

    def to_python(self, value: Any) -> float | None:
        return super().to_python(decimal(value) if isinstance(value, str) else value)


def decimal(text: str) -> str:
    """A leading fraction as a decimal: '1 1/4 in' is '1.25 in'. Anything else comes back as it is."""
    plain = "".join(f" {SIGNS[sign]}" if sign in SIGNS else sign for sign in text)
    found = FRACTION.match(plain)
    if not found or int(found["below"]) == 0:
        return text
    number = int(found["whole"] or 0) + int(found["above"]) / int(found["below"])
    return f"{found['sign']}{number:.6g} {plain[found.end() :].strip()}".strip()


class ShareField(NumberField):
    """A share of 0 to 1, typed and shown as percent. low, high: in percent."""

    unit = "%"

    def __init__(self, *, low: float, high: float, **options: Any) -> None:
        super().__init__(min_value=low, max_value=high, widget=forms.TextInput, **options)

    def clean(self, value: Any) -> float | None:
        percent = super().clean(value)
        return None if percent is None else percent / 100

    def prepare_value(self, value: Any) -> Any:
        return f"{value * 100:.6g}" if isinstance(value, float | int) else value


class PointsField(QuantityField):
    """Points of a pump's curve, one a line: '0 L/h at 2.5 m'. Cleans to [[flow m3/h, head m], ...]."""

    def __init__(self, **options: Any) -> None:
        super().__init__("flow", widget=forms.Textarea(attrs={"rows": 4}), **options)
        self.widget.attrs.pop("inputmode")
        self.help_text = (
            "From its data sheet, one point a line: the flow, “at”, the head. The first at no flow. "
            "They take the place of the two ends above."
        )

    @property
    def unit(self) -> str:
        return ""

    def to_python(self, value: Any) -> Any:
        lines = [line for line in str(value or "").splitlines() if line.strip()]
        if len(lines) > MOST_POINTS:
            raise ValidationError(f"At most {MOST_POINTS} points.")
        points = [self._point(line) for line in lines]
        if points:
            self._check(points)
        return points

    def validate(self, value: Any) -> None:
        """Checked as a whole in to_python."""

    def _point(self, line: str) -> list[float]:
        parts = BETWEEN.split(line.strip())
        if len(parts) != 2:
            example = "500 gph at 6 ft" if self.system == units.US else "2000 L/h at 1.8 m"
            raise ValidationError(f"“{line.strip()}” is no point. Write it like “{example}”.")
        try:
            flow, head = (
                units.parse(parts[0], "flow", self.system),
                units.parse(parts[1], "distance", self.system),
            )
        except units.UnitError as error:
            raise ValidationError(str(error)) from None
        return [flow, head]

    def _check(self, points: list[list[float]]) -> None:
        try:
            self.curve(points)
        except OutOfRange:
            raise ValidationError(
                "These points make no curve. The first has a flow of 0; then flow rises and head falls, line by line."
            ) from None

    @staticmethod
    def curve(points: Any) -> PointCurve | None:
        """The curve through cleaned points; None without any."""
        return PointCurve(tuple((flow, head) for flow, head in points)) if points else None

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, list):
            return value
        said = lambda number, kind: (  # noqa: E731
            f"{units.to_shown(number, kind, self.system):.6g} {units.label(kind, self.system)}"
        )
        return "\n".join(f"{said(flow, 'flow')} at {said(head, 'distance')}" for flow, head in value)
