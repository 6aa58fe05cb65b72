"""Charts as plain data: strips of readings over time, one below the other. No Django, no ORM, no request.

A figure is a dictionary as Plotly takes it. Colours are names of the page's own colours ("--water"): the page
script puts in what they are, so a chart follows light and dark. A missing value shows as a gap.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

Point = tuple[datetime | date, float | None]

STRIP_HEIGHT = 132  # pixels
STRIP_GAP = 0.4  # share of a strip's height that its heading takes
DIGITS = 4


@dataclass(frozen=True, slots=True)
class Series:
    """One line or set of dots. style: 'line', 'dots', 'both' or 'dashes'."""

    name: str
    points: Sequence[Point]
    style: str = "both"
    colour: str = "--water"


@dataclass(frozen=True, slots=True)
class Strip:
    """One quantity over time. low, high: its limits, in the strip's unit; readings beyond them stand out."""

    label: str
    unit: str
    series: Sequence[Series]
    low: float | None = None
    high: float | None = None
    limit_words: str = "limit"
    from_zero: bool = False


@dataclass(frozen=True, slots=True)
class Happening:
    """Something that explains a change in the readings: a vertical line through all strips."""

    at: datetime | date
    words: str


@dataclass
class _Drawing:
    data: list[dict[str, Any]] = field(default_factory=list)
    shapes: list[dict[str, Any]] = field(default_factory=list)
    notes: list[dict[str, Any]] = field(default_factory=list)
    axes: dict[str, Any] = field(default_factory=dict)


def strips_figure(strips: Sequence[Strip], happenings: Iterable[Happening] = ()) -> dict[str, Any]:
    """The figure of these strips, top to bottom, over one time axis. Strips without a value are left out."""
    shown = [strip for strip in strips if any(has_value(series) for series in strip.series)]
    drawing = _Drawing()
    for index, strip in enumerate(shown):
        _draw_strip(drawing, strip, index, len(shown))
    for each in happenings:
        drawing.shapes.append(_upright(each))
    return {"data": drawing.data, "layout": _layout(drawing, len(shown))}


def has_value(series: Series) -> bool:
    return any(value is not None for _, value in series.points)


def _draw_strip(drawing: _Drawing, strip: Strip, index: int, count: int) -> None:
    suffix = "" if index == 0 else str(index + 1)
    bottom, top = _domain(index, count)
    limits = [limit for limit in (strip.low, strip.high) if limit is not None]
    drawing.axes[f"yaxis{suffix}"] = {
        "domain": [bottom, top],
        "rangemode": "tozero" if strip.from_zero else "normal",
        "autorangeoptions": {"include": limits},  # how far away the limit is tells as much as the readings
        "gridcolor": "--line",
        "zeroline": False,
        "fixedrange": True,
        "nticks": 4,
    }
    heading = f"<b>{strip.label}</b>" + (f" {strip.unit}" if strip.unit else "")
    drawing.notes.append(_note(heading, 0, top, "left", "--ink"))
    drawing.shapes += [_level(limit, f"y{suffix}") for limit in limits]
    words = _limit_heading(strip)
    if words:
        drawing.notes.append(_note(words, 1, top, "right", "--ember"))
    drawing.data += [_trace(series, strip, f"y{suffix}") for series in strip.series if has_value(series)]


def _domain(index: int, count: int) -> tuple[float, float]:
    each = 1 / count
    top = 1 - index * each
    return round(top - each * (1 - STRIP_GAP * 0.25), 4), round(top - each * STRIP_GAP * 0.6, 4)


def _limit_heading(strip: Strip) -> str:
    sides = [f"{limit:.4g}" for limit in (strip.low, strip.high) if limit is not None]
    if not sides:
        return ""
    if len(sides) == 2:
        return f"{strip.limit_words} {sides[0]} to {sides[1]}"
    return f"{strip.limit_words}: at {'least' if strip.high is None else 'most'} {sides[0]}"


def _trace(series: Series, strip: Strip, axis: str) -> dict[str, Any]:
    modes = {"line": "lines", "dashes": "lines", "dots": "markers", "both": "lines+markers"}
    beyond = [is_beyond(value, strip.low, strip.high) for _, value in series.points]
    trace: dict[str, Any] = {
        "type": "scatter",
        "mode": modes[series.style],
        "name": series.name,
        "x": [at.isoformat() for at, _ in series.points],
        "y": [None if value is None else float(f"{value:.{DIGITS}g}") for _, value in series.points],
        "yaxis": axis,
        "line": {"color": series.colour, "width": 2, "dash": "dot" if series.style == "dashes" else "solid"},
        "hovertemplate": f"{series.name}: %{{y}} {strip.unit}<br>%{{x|%-d %b %Y}}<extra></extra>",
    }
    if series.style in ("dots", "both"):
        trace["marker"] = {
            "color": ["--ember" if out else series.colour for out in beyond],
            "symbol": ["diamond" if out else "circle" for out in beyond],
            "size": [10 if out else 6 for out in beyond],
        }
    return trace


def is_beyond(value: float | None, low: float | None, high: float | None) -> bool:
    """Whether a value lies beyond a limit; on the limit is within."""
    return value is not None and ((low is not None and value < low) or (high is not None and value > high))


def _level(limit: float, axis: str) -> dict[str, Any]:
    line = {"color": "--ember", "width": 1.5, "dash": "dash"}
    place = {"xref": "paper", "x0": 0, "x1": 1, "yref": axis, "y0": limit, "y1": limit}
    return {"type": "line", **place, "line": line}


def _upright(happening: Happening) -> dict[str, Any]:
    at = happening.at.isoformat()
    place = {"xref": "x", "x0": at, "x1": at, "yref": "paper", "y0": 0, "y1": 1}
    line = {"color": "--line", "width": 1.5, "dash": "dot"}
    return {"type": "line", **place, "line": line, "layer": "below", "name": happening.words}


def _note(text: str, x: float, y: float, side: str, colour: str) -> dict[str, Any]:
    place = {"xref": "paper", "yref": "paper", "x": x, "y": y, "xanchor": side, "yanchor": "bottom"}
    return {"text": text, **place, "showarrow": False, "font": {"color": colour, "size": 13}}


def _layout(drawing: _Drawing, count: int) -> dict[str, Any]:
    return {
        "height": max(count, 1) * STRIP_HEIGHT + 50,
        "margin": {"l": 44, "r": 12, "t": 4, "b": 36},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"color": "--ink-soft", "size": 12},
        "hoverlabel": {"bgcolor": "--ink", "font": {"color": "--paper"}},
        "showlegend": False,
        "xaxis": {"type": "date", "gridcolor": "--line", "anchor": f"y{count if count > 1 else ''}"},
        "shapes": drawing.shapes,
        "annotations": drawing.notes,
        **drawing.axes,
    }
