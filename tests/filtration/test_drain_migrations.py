"""Drains recorded before their factor was kept, and before sediment packed, are carried over: on either database, with rows.

What is expected is worked out here by hand, not by the migrations' own code.
"""

from datetime import UTC, datetime, timedelta
from math import exp

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from tests.factories import FilterUnitFactory

BEFORE, WITH_FACTOR, PACKED = (
    ("filtration", name)
    for name in (
        "0008_void_share_as_typed",
        "0012_other_filters_of_the_water",
        "0013_sediment_that_packs",
    )
)
START = datetime(2026, 3, 1, 9, tzinfo=UTC)


def migrated(to):
    """The models of then, after everything up to `to` was done and what came later undone."""
    executor = MigrationExecutor(connection)
    executor.migrate([to])
    return executor.loader.project_state([to]).apps.get_model("filtration", "Maintenance")


@pytest.fixture
def units(transactional_db):
    """Two filters; afterwards every table as it is now, whatever failed."""
    kept = [FilterUnitFactory().pk, FilterUnitFactory().pk]
    yield kept
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def drain(then, unit, days, predicted, observed, **values):
    row = {"kind": "drain", "at": START + timedelta(days=days), "predicted_sediment_l": predicted}
    return then.objects.create(filter_id=unit, observed_sediment_l=observed, **row, **values).pk


def column(then, name, keys):
    return [then.objects.get(pk=key).__dict__[name] for key in keys]


def test_each_drain_keeps_the_factor_that_its_prediction_held(units):
    one, two = units
    then = migrated(BEFORE)
    keys = [
        drain(then, one, 0, 10.0, 20.0),
        drain(then, one, 30, 10.0, None),
        drain(then, one, 60, 10.0, 40.0),
        drain(then, one, 90, 10.0, 10.0),
        drain(then, two, 10, 10.0, 5.0),
        drain(then, two, 20, 10.0, 5.0, voided_at=datetime.now(UTC) + timedelta(minutes=1)),
        drain(then, two, 40, 10.0, 5.0),
    ]
    other = then.objects.create(filter_id=one, kind="rinse", at=START).pk
    now = migrated(WITH_FACTOR)
    factors = column(now, "predicted_factor", keys)
    # sqrt(20 / 10), then sqrt(40 / 10) on top of it; each filter by itself, what was struck out for nothing.
    assert factors[:4] == pytest.approx([1.0, 2**0.5, 2**0.5, 2 * 2**0.5])
    assert (factors[4], factors[6]) == pytest.approx((1.0, 0.5**0.5))
    assert factors[5] is None
    assert column(now, "predicted_factor", [other]) == [None]


def litres_over_litres(days: float) -> float:
    """What a void filled evenly in so many days takes up by the sums of after over those of before, summed day by
    day: litres a gram of dry matter, fresh 1.5 % of it and packed 3 %, where it was 2 % whatever its age."""
    was, packed, loose_more = 0.04909, 0.03324, 0.03333
    steps = 20_000
    dry = loose = 0.0
    for step in range(steps):
        age = days * (step + 0.5) / steps
        left = 0.55 + 0.45 * exp(-0.03 * age)
        dry, loose = dry + left, loose + left * exp(-0.05 * age)
    return (dry * packed + loose * loose_more) / (dry * was)


def test_drains_of_before_are_held_against_sediment_that_packs(units):
    one, two = units
    then = migrated(WITH_FACTOR)
    keys = [
        drain(then, one, 0, 10.0, 12.0, predicted_factor=1.0, sediment_depth_m=0.05, litres_drained=60.0),
        drain(then, one, 40, 10.0, 60.0, predicted_factor=2.0, litres_drained=60.0),
        drain(then, one, 60, 10.0, None, predicted_factor=None),
        drain(
            then,
            two,
            60,
            10.0,
            9.0,
            predicted_factor=1.5,
            litres_drained=9.0,
            voided_at=datetime.now(UTC) + timedelta(minutes=1),
        ),
    ]
    now = migrated(PACKED)
    factors = column(now, "predicted_factor", keys)
    assert factors[0] == pytest.approx(1.0 / litres_over_litres(365), rel=1e-4)
    assert factors[1] == pytest.approx(2.0 / litres_over_litres(40), rel=1e-4)
    assert factors[2:] == [None, 1.5]
    # By its depth it stays; of litres let out a third was sediment; what was struck out is left alone.
    assert column(now, "observed_sediment_l", keys) == [12.0, 20.0, None, 9.0]
    assert column(now, "predicted_sediment_l", keys) == [10.0] * 4
