"""The chart of a forecast to explore: every quantity with its bands, limits, tests and what happens. See refuge.figures."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from filtration.forecasting.models import WaterForecast
from filtration.forecasting.packing import EVERY_HOURS, Bands
from filtration.forecasting.selectors import Recent
from filtration.forecasting.shown import CHOICES, highest_beside, limit_of, tests_of
from refuge import units
from refuge.figures import Happening, Series, Strip, strips_figure

SHADES = ((0, 4, "Nine in ten", 0.18), (1, 3, "Every second", 0.32))


def forecast_figure(
    forecast: WaterForecast, bands: Bands, happened: Recent, system: str = units.METRIC
) -> dict[str, Any]:
    """One strip a quantity: the middle as a line, tests as dots, behind them both bands."""
    start = forecast.start_at
    times = [start + timedelta(hours=EVERY_HOURS * n) for n in range(len(bands.hours))]
    figure = strips_figure(
        [_strip(forecast, bands, name, times, happened) for name in CHOICES],
        [*_happenings(happened, system), *_meals_ahead(forecast, system)],
    )
    figure["data"] = [*_shades(bands, times), *figure["data"]]
    return figure


def _strip(
    forecast: WaterForecast, bands: Bands, name: str, times: Sequence[datetime], happened: Recent
) -> Strip:
    label, unit, _ = CHOICES[name]
    limit, is_least = limit_of(forecast, name)
    middle = [(at, float(value)) for at, value in zip(times, bands.of(name)[:, 2], strict=True)]
    return Strip(
        label,
        unit,
        [
            Series("Forecast, middle", middle, "line"),
            Series("Test", tests_of(happened, name), "dots", "--ink"),
        ],
        low=limit if is_least else None,
        high=highest_beside(forecast, name) if is_least else limit,
        from_zero=name != "ph",
    )


def _happenings(happened: Recent, system: str) -> list[Happening]:
    return [
        Happening(mark.at, _mark_words(mark.kind, mark.words, mark.amount, system)) for mark in happened.marks
    ]


def _meals_ahead(forecast: WaterForecast, system: str) -> list[Happening]:
    meals = forecast.outlook.get("meals", [])
    return [
        Happening(datetime.fromisoformat(at), _mark_words("meal", "Meal planned", kg, system))
        for at, kg in meals
    ]


def _mark_words(kind: str, words: str, value: float | None, system: str) -> str:
    if value is None:
        return words
    return f"{words}, {units.show(value, 'food' if kind == 'meal' else 'volume', system)}"


def _shades(bands: Bands, times: Sequence[datetime]) -> list[dict[str, Any]]:
    """Each band as one closed outline, drawn behind the lines of its strip."""
    around = [at.isoformat() for at in (*times, *reversed(times))]
    shades = []
    for index, name in enumerate(CHOICES):
        values = bands.of(name)
        for low, high, words, opacity in SHADES:
            edge = [*values[:, high], *values[::-1, low]]
            shades.append(
                {
                    "type": "scatter",
                    "mode": "lines",
                    "name": words,
                    "x": around,
                    "y": [float(f"{value:.3g}") for value in edge],
                    "yaxis": "y" if index == 0 else f"y{index + 1}",
                    "fill": "toself",
                    "fillcolor": "--water",
                    "opacity": opacity,
                    "line": {"width": 0},
                    "hoverinfo": "skip",
                }
            )
    return shades
