"""What lay in the filters when a window began: by single layers, and by the share that each filter had then."""

from datetime import timedelta

import pytest

from filtration.forecast import Rinse
from filtration.forecasting.gather import gather_one
from filtration.forecasting.happenings import LEFT_AFTER_RINSE
from filtration.forecasting.starts import from_start
from filtration.models import FilterUnit, Maintenance
from tests.factories import FilterUnitFactory, WaterTestFactory
from tests.filtration.a_water import NOW, a_water, days_ago, moment

pytestmark = pytest.mark.django_db


def water(**values):
    """Fed for 160 days, so that the meals of more than a hundred lie before the window."""
    return a_water(meals=80, tests=1, **values)


def began(circuit):
    return gather_one(circuit.pk, moment()).beginning


def rinse(unit, days, layer=None):
    return Maintenance.objects.create(filter=unit, kind="rinse", at=days_ago(days), layer=layer)


def test_a_rinse_before_the_window_takes_out_what_its_own_layer_had_caught():
    circuit = water()
    unit = FilterUnit.objects.get()
    before = began(circuit).media_solids_g
    coarse, fine = unit.layers.all()
    by = dict(gather_one(circuit.pk, moment()).known.facts.filter[unit.pk].caught_by)
    record = rinse(unit, 60, coarse)
    after_coarse = began(circuit).media_solids_g
    record.layer = fine
    record.save()
    after_fine = began(circuit).media_solids_g
    assert 0 < after_fine < after_coarse < before
    # What was caught until then, worked out from either layer, is the same.
    assert (before - after_coarse) / by[coarse.pk] == pytest.approx((before - after_fine) / by[fine.pk])


def test_a_filter_that_began_just_before_the_window_holds_what_came_since_and_the_other_all_the_rest():
    circuit = water()
    alone = began(circuit)
    FilterUnitFactory(circuit=circuit, state="cycling", state_since=(NOW - timedelta(days=60)).date())
    both = began(circuit)
    assert both.inert_sediment_g == pytest.approx(alone.inert_sediment_g)
    assert both.media_solids_g == pytest.approx(alone.media_solids_g)
    Maintenance.objects.create(filter=FilterUnit.objects.first(), kind="drain", at=days_ago(58))
    drained = began(circuit)
    # Half of what came since the drain went to each, and half of two days' before it to the new one.
    assert drained.inert_sediment_g < 0.2 * alone.inert_sediment_g


def test_a_rinse_within_the_window_leaves_what_the_other_layers_hold():
    circuit = water()
    unit = FilterUnit.objects.get()
    coarse, _ = unit.layers.all()
    rinse(unit, 10, coarse)
    gathered = gather_one(circuit.pk, moment())
    event = next(each for each in gathered.inputs.events if isinstance(each, Rinse))
    share = dict(gathered.known.facts.filter[unit.pk].caught_by)[coarse.pk]
    assert event.solids_left == pytest.approx(1 - share * (1 - LEFT_AFTER_RINSE))


FIRST_TESTS = {
    "just filled": {"tan_mg_l": 0.08, "nitrite_n_mg_l": 0.0, "nitrate_n_mg_l": 0.45, "alkalinity_mg_l": 110},
    "filled from a well": {
        "tan_mg_l": 0.02,
        "nitrite_n_mg_l": 0.0,
        "nitrate_n_mg_l": 9.0,
        "alkalinity_mg_l": 260,
    },
    "old, little changed": {
        "tan_mg_l": 0.1,
        "nitrite_n_mg_l": 0.03,
        "nitrate_n_mg_l": 80.0,
        "alkalinity_mg_l": 60,
    },
}


@pytest.mark.parametrize("read", FIRST_TESTS.values(), ids=FIRST_TESTS)
def test_the_first_test_of_a_water_contradicts_nothing_since_nothing_was_known(read):
    is_new = read["nitrate_n_mg_l"] < 50
    kind = {"state": "cycling", "filter_days": 0} if is_new else {"filter_days": 300}
    circuit = a_water(meals=0, tests=0, **kind)
    WaterTestFactory(circuit=circuit, at=NOW - timedelta(minutes=10), ph=7.6, **read)
    gathered = gather_one(circuit.pk, moment())
    assert set(gathered.beginning.unread) >= {"tan", "nitrite", "nitrate", "alkalinity", "ph"}
    assert from_start(gathered).disagreements == ()


def test_what_was_read_before_the_window_is_known_there():
    circuit = a_water(tests=0)
    WaterTestFactory(circuit=circuit, at=days_ago(60), ph=7.6, nitrate_n_mg_l=30.0)
    beginning = began(circuit)
    assert "nitrate" not in beginning.unread
    assert "alkalinity" in beginning.unread
    assert beginning.nitrate == 30.0
