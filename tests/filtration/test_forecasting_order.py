"""What happened and what was read within one hour keep their order in the forecast."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from enclosures.models import WaterTest
from filtration.forecast import WaterChange
from filtration.forecast import layout as at
from filtration.forecast.ensemble import seen
from filtration.forecast.inputs import forcing, steady
from filtration.forecasting.gather import gather_one
from filtration.forecasting.order import hours_in_order
from filtration.forecasting.run import assimilated
from tests.filtration.a_water import NOW, a_water, moment

BEGAN = datetime(2027, 3, 1, tzinfo=UTC)
MINUTES = st.lists(st.integers(60, 60 * 72), max_size=12)


def after(minutes: int) -> datetime:
    return BEGAN + timedelta(minutes=minutes)


@pytest.mark.parametrize(
    ("happened", "tests", "hours"),
    [
        ([905], [940], ([14], [15])),  # a change at 15:05, read at 15:40
        ([940], [905], ([15], [15])),
        ([910], [900, 940], ([14], [14, 15])),  # read, changed, read again
        ([930], [930], ([15], [15])),  # at one instant the test comes first
        ([5], [40], ([0], [0])),  # nothing is before the first hour
        ([845], [905], ([14], [15])),
    ],
)
def test_what_came_before_a_test_of_its_hour_counts_an_hour_earlier(happened, tests, hours):
    events, read = hours_in_order(BEGAN, map(after, happened), map(after, tests))
    assert ([events[after(m)] for m in happened], [read[after(m)] for m in tests]) == hours


@given(MINUTES, MINUTES)
def test_order_is_kept_and_nothing_is_put_off(happened, tests):
    """An event counts before a test if its hour is the smaller one: a test is taken in before its hour."""
    events, read = hours_in_order(BEGAN, map(after, happened), map(after, tests))
    for one in happened:
        assert events[after(one)] <= one // 60
        for other in tests:
            is_before = events[after(one)] < read[after(other)]
            assert is_before == (one < other) or read[after(other)] == 0 or events[after(one)] == 0
    assert all(read[after(m)] <= m // 60 for m in tests)


@pytest.mark.django_db
def test_a_reading_after_a_change_in_the_same_hour_is_not_thinned_again():
    """Half of the water changed at 11:05, 20 mg/L of nitrate read at 11:40: at 12:00 it is 20, not 10."""
    circuit = a_water(tests=0)
    circuit.water_changes.create(at=NOW - timedelta(minutes=55), volume_m3=0.5, source=circuit.water_source)
    for days, minutes, nitrate in ((9, 0, 38.0), (5, 0, 40.0), (0, 20, 20.0)):
        WaterTest.objects.create(
            circuit=circuit, at=NOW - timedelta(days=days, minutes=minutes), nitrate_n_mg_l=nitrate
        )
    gathered = gather_one(circuit.pk, moment())
    (change,) = [each for each in gathered.inputs.events if isinstance(each, WaterChange)]
    assert change.hour == gathered.now_hour - 2
    found = assimilated(gathered)
    hour = forcing(gathered.circuit, steady(1, 24))[0]
    assert np.median(seen(found.ensemble, hour)[:, at.Q_NITRATE]) == pytest.approx(20, rel=0.25)
    assert not [each for h, each in found.disagreements if h >= change.hour]
