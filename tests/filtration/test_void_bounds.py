"""One pair of bounds for a measured void share: typed, shown by the API, kept by the database; old rows mended."""

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor

from filtration.api import LayerOut
from filtration.forms import LayerForm
from filtration.hydraulics.bed import LEAST_VOID, MOST_VOID, BedLayer
from filtration.models import MediaLayer
from filtration.plans.models import DesignLayer
from refuge.errors import OutOfRange
from tests.factories import FilterDesignFactory, FilterUnitFactory

BEYOND = 0.001
LAYER = {"medium": "gravel", "depth_m": 0.1, "position": 90}
INSIDE, OUTSIDE = [LEAST_VOID, 0.4, MOST_VOID], [0.0, LEAST_VOID - BEYOND, MOST_VOID + BEYOND, 1.0]


@pytest.mark.parametrize("share", OUTSIDE)
def test_the_sums_refuse_what_cannot_be(share):
    with pytest.raises(OutOfRange, match="void_fraction"):
        BedLayer("gravel", 0.1, void_fraction=share)


@pytest.mark.django_db
class TestKept:
    @pytest.mark.parametrize("share", OUTSIDE)
    def test_the_database_refuses_what_cannot_be_of_plan_and_filter_alike(self, share):
        for made in ({"design": FilterDesignFactory()}, {"filter": FilterUnitFactory()}):
            table = DesignLayer if "design" in made else MediaLayer
            with pytest.raises(IntegrityError, match="void_fraction_within"), transaction.atomic():
                table.objects.create(**LAYER, **made, void_fraction=share)

    @pytest.mark.parametrize("share", [*INSIDE, None])
    def test_the_ends_themselves_are_kept(self, share):
        layer = MediaLayer.objects.create(**LAYER, filter=FilterUnitFactory(), void_fraction=share)
        assert MediaLayer.objects.get(pk=layer.pk).void_fraction == share

    @pytest.mark.parametrize("share", INSIDE + OUTSIDE)
    def test_whatever_the_form_takes_the_database_takes_and_nothing_else(self, share):
        data = {"medium": "gravel", "depth_m": "0.1 m", "void_fraction": f"{share * 100:g}"}
        form = LayerForm(data, instance=MediaLayer(filter=FilterUnitFactory(), position=90))
        assert form.is_valid() == (share in INSIDE), form.errors
        if share in OUTSIDE:
            assert list(form.errors) == ["void_fraction"]
        else:
            assert form.save().void_fraction == pytest.approx(share)


def test_the_api_states_the_same_bounds():
    field = LayerOut().fields["void_fraction"]
    assert (field.min_value, field.max_value) == (LEAST_VOID, MOST_VOID)


@pytest.mark.django_db(transaction=True)
def test_a_share_from_before_the_bounds_is_emptied_and_its_filter_says_so():
    unit = FilterUnitFactory(note="Stands in the sun.")  # by today's columns, which go and come again empty
    executor = MigrationExecutor(connection)
    executor.migrate([("filtration", "0007_measured_stones")])
    try:
        unit.layers.all().delete()
        shares = {1: 0.0, 2: 0.4, 3: 1.0, 4: None}
        for position, share in shares.items():
            MediaLayer.objects.create(filter=unit, **{**LAYER, "position": position}, void_fraction=share)
    finally:
        executor = MigrationExecutor(connection)
        executor.migrate(executor.loader.graph.leaf_nodes())
    assert dict(unit.layers.values_list("position", "void_fraction")) == {1: None, 2: 0.4, 3: None, 4: None}
    unit.refresh_from_db()
    lines = unit.note.splitlines()
    assert lines[0] == "Stands in the sun."
    assert [line.partition(" was emptied")[0] for line in lines[1:]] == [
        "Layer 1: a measured void share of 0",
        "Layer 3: a measured void share of 1",
    ]
