"""pH has a limit on either side, and the forecast knows both."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from filtration.forecast import Source, days_until_unsure, draw, forecast, settled, steady
from filtration.forecast import layout as at
from filtration.forecasting.feeding import feeding_limits
from filtration.forecasting.limits import BOUNDS, bound_of, limits_of
from filtration.forecasting.lines import risk_lines
from filtration.forecasting.models import WaterForecast
from filtration.forecasting.picture import Scene, picture
from filtration.forecasting.shown import _chances, highest_beside
from refuge.rules.limits import LimitsFor
from tests.forecasting import BARREL

LIMITS = limits_of(LimitsFor({}))
START = datetime(2027, 3, 10, 12, tzinfo=UTC)


def stored(**chances):
    """A forecast with these chances on the second day, by 'ph_low' and the like."""
    rows = [[0.0, chances.get(each.key.removeprefix("water."), 0.0), *[0.0] * 12] for each in BOUNDS]
    limits = [[each.quantity, each.value, each.is_least] for each in LIMITS]
    return WaterForecast(day=START.date(), outlook={"limits": limits, "chances": rows})


def test_water_of_too_high_ph_is_not_within_its_limits():
    """Hard water whose carbon dioxide is gone: pH 9.2 by the charge balance, and the usual limit is 8.5."""
    basic = draw(BARREL, settled(BARREL, 3.0, 24), seed=1)
    basic.states[:, at.CARBON_DIOXIDE] /= 60
    found = forecast(BARREL, steady(24, 24), basic, hours=24, limits=LIMITS)
    chance = {(each.quantity, each.is_least): row[0] for each, row in zip(LIMITS, found.chances, strict=True)}
    assert chance["ph", False] > 0.9
    assert chance["ph", True] < 0.05
    acid = [each for each in LIMITS if each.quantity == "ph"]
    only = forecast(BARREL, steady(24, 24), basic, hours=24, limits=acid)
    doubt = days_until_unsure(only, longest_days=7)
    assert (doubt.limit.quantity, doubt.limit.is_least) == ("ph", False)


def test_its_line_and_its_row_say_which_side():
    (line,) = risk_lines(stored(ph_high=0.4), START.date())
    assert "pH passes 8.5" in line.words
    (line,) = risk_lines(stored(ph_low=0.4), START.date())
    assert "pH falls below 6.5" in line.words
    assert "stays within" in risk_lines(stored(), START.date())[0].words
    assert bound_of("ph", is_least=False).key == "water.ph_high"
    assert _chances(stored(ph_high=0.4, ph_low=0.1), "ph")[1] == 0.4
    assert _chances(stored(), "suspended") == []


def test_both_are_drawn():
    bands = np.tile([7.9, 8.1, 8.2, 8.3, 8.4], (57, 1))
    scene = Scene(
        START,
        6,
        bands,
        6.5,
        is_least=True,
        highest=highest_beside(stored(), "ph"),
        tests=[(START - timedelta(days=1), 8.9), (START - timedelta(days=2), 8.0)],
        from_zero=False,
    )
    drawn = picture(scene)
    assert drawn.top < drawn.highest_y < drawn.limit_y < drawn.base
    assert (drawn.limit_words, drawn.highest_words) == ("at least 6.5", "at most 8.5")
    assert (len(drawn.tests), len(drawn.bad_tests)) == (1, 1)
    assert highest_beside(stored(), "nitrite") is None


@pytest.mark.parametrize(("quantity", "is_least", "counts"), [("ph", True, True), ("ph", False, False)])
def test_meals_lower_ph_so_only_the_least_of_it_decides_how_much_is_fed(quantity, is_least, counts):
    kept = feeding_limits(LIMITS, np.full(24, 24.0), Source(), ("ph", "alkalinity"))
    assert any((each.quantity, each.is_least) == (quantity, is_least) for each in kept) == counts
