"""Water changed since a reading: by the instant, not by the day."""

from datetime import timedelta

import pytest

from refuge.rounds.loaders import load_facts
from tests.filtration.a_water import a_water, days_ago, moment

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(("hours_after", "renewed"), [(-0.5, 0.0), (0.5, 0.25)])
def test_a_change_earlier_on_the_day_of_the_reading_is_in_it_already(hours_after, renewed):
    """Mixing alone: a quarter of 1,000 L renews a quarter, but only of what was read before it."""
    circuit = a_water(tests=1)
    read_at = days_ago(2, 10)
    circuit.water_changes.create(
        at=read_at + timedelta(hours=hours_after), volume_m3=0.25, source=circuit.water_source
    )
    facts = load_facts(frozenset([circuit.pk]), moment()).circuit[circuit.pk]
    assert facts.changed_since_nitrate_share == pytest.approx(renewed)
    assert facts.changed_since_alkalinity_share == pytest.approx(renewed)
