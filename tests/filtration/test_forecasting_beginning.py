"""What lay in the filters when a window began: by single layers, and by the share that each filter had then."""

from datetime import timedelta

import pytest

from filtration.forecast import Rinse
from filtration.forecasting.gather import gather_one
from filtration.forecasting.happenings import LEFT_AFTER_RINSE
from filtration.models import FilterUnit, Maintenance
from tests.factories import FilterUnitFactory
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
