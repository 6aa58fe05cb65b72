"""What the page of an arrival says of the water after the newcomer's first meal."""

import re
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest
from django.template.loader import render_to_string

from filtration.forecast import Ensemble, Forecast, Limit, Span
from filtration.forecast import layout as at
from filtration.what_if.compare import courses
from filtration.what_if.drawing import sketch
from filtration.what_if.prospects import Foresight


def said(clear: Span) -> str:
    bands = np.full((len(at.QUANTITY_NAMES), 57, 5), 0.01, np.float32)
    calm = Forecast(
        bands,
        6,
        (Limit("unionized", 0.05),),
        np.zeros((1, 14)),
        Ensemble(np.zeros((2, 19)), np.zeros((2, 26)), 0),
    )
    course = courses(calm, calm)[0]
    drawn = sketch(course, is_changed=True)
    row = {"name": "", "words": "", "kind": course.verdict, "course": course, "sketch": drawn}
    page = render_to_string(
        "filtration/_arrival_ahead.html",
        {"panel": {"row": row, "is_changed": True, "clear": clear, "meal_kg": 0.4, "safe_kg": None}},
    )
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", page))


@pytest.mark.parametrize(
    ("clear", "words"),
    [
        (Span(0, 0, 0, 1), "The water stays clear after its first meal."),
        (Span(0, 0, 5, 1), "most likely stays clear after its first meal; turbid for 5 hours at worst."),
        (Span(2, 8, 20, 1), "Clear again about 8 hours after its first meal (2 to 20)."),
        (Span(2, 8, None, 0.9), "Clear again about 8 hours after its first meal; it may take more than four"),
        (Span(2, None, None, 0.4), "Its first meal leaves the water turbid for more than four days."),
    ],
)
def test_the_first_meal_is_said_to_cloud_the_water_only_where_it_does(clear, words):
    assert words in said(clear)


def test_what_is_drawn_is_what_harms_most_likely():
    """Nitrite is at risk, ammonia is not: nitrite is told and drawn."""
    limits = (Limit("unionized", 0.05), Limit("nitrite", 1.0))
    bands = np.full((len(at.QUANTITY_NAMES), 57, 5), 0.01, np.float32)
    members = Ensemble(np.zeros((2, 19)), np.zeros((2, 26)), 0)
    before, after = (
        Forecast(bands, 6, limits, np.stack([np.full(14, 0.01), np.full(14, chance)]), members)
        for chance in (0.0, 0.4)
    )
    water = SimpleNamespace(
        before=before,
        after=after,
        limits=limits,
        diet=SimpleNamespace(ration_kg=0.4, load=SimpleNamespace(tan_g=1.0)),
        clear_after=lambda: Span(0, 0, 0, 1),
        safe_meal_kg=lambda: 0.1,
    )
    foresight = Foresight.__new__(Foresight)
    foresight.waters, foresight.moment = {1: water}, SimpleNamespace(today=date(2027, 3, 10))
    place = SimpleNamespace(circuit=SimpleNamespace(id=1, is_cycling=False, recent_tan_g_day=5.0))
    context = foresight.panel(place, "metric").context
    assert context["row"]["name"] == "Nitrite"
    assert context["safe_kg"] == 0.1
