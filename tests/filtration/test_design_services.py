"""Plans of filters: kept once for each entry, frozen once a filter stands by one, built in one transaction."""

from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from filtration.models import FilterUnit
from filtration.plans.models import DesignLayer, FilterBuild, FilterDesign
from filtration.plans.services import design_build, design_delete, design_save
from filtration.services import FilterError
from refuge.rounds.models import Task
from tests.factories import (
    AreaFactory,
    EnclosureFactory,
    FilterDesignFactory,
    FilterUnitFactory,
    RefugeFactory,
    UserFactory,
)

pytestmark = pytest.mark.django_db

LAYERS = [
    {"medium": "river_rock", "depth_m": 0.2},
    {"medium": "lava_rock", "depth_m": 0.25, "is_bagged": True},
]


@pytest.fixture
def manager():
    RefugeFactory()
    return UserFactory(manager=True)


def wanted(manager, design, **changes):
    circuit = EnclosureFactory().circuit
    values = {
        "uuid": uuid4(), "code": "F77", "name": "New barrel", "circuit": circuit, "area": AreaFactory(),
        "is_protected": True, "by": manager, "design": design,
    }  # fmt: skip
    return values | changes


class TestSave:
    def test_layers_are_numbered_from_the_bottom(self, manager):
        saved = design_save(design=FilterDesignFactory.build(), layers=LAYERS, by=manager, uuid=uuid4())
        assert [(x.position, x.medium, x.is_bagged) for x in saved.layers.all()] == [
            (1, "river_rock", False),
            (2, "lava_rock", True),
        ]
        assert saved.made_by == manager

    def test_the_same_entry_twice_is_one_plan(self, manager):
        uuid = uuid4()
        first = design_save(design=FilterDesignFactory.build(name="A"), layers=LAYERS, by=manager, uuid=uuid)
        again = design_save(design=FilterDesignFactory.build(name="B"), layers=[], by=manager, uuid=uuid)
        assert again == first
        assert FilterDesign.objects.get().name == "A"
        assert DesignLayer.objects.count() == 2

    def test_a_change_takes_the_layers_that_are_left(self, manager):
        plan = FilterDesignFactory()
        plan.name = "Changed"
        design_save(design=plan, layers=LAYERS[:1], by=manager)
        assert FilterDesign.objects.get().name == "Changed"
        assert plan.layers.count() == 1

    def test_nothing_is_kept_when_a_layer_cannot_be(self, manager):
        with pytest.raises(IntegrityError), transaction.atomic():
            bad = [{"medium": "river_rock", "depth_m": -1}]
            design_save(design=FilterDesignFactory.build(), layers=bad, by=manager, uuid=uuid4())
        assert not FilterDesign.objects.exists()


class TestBuild:
    def test_sizes_layers_and_pump_become_a_filter_being_built(self, manager):
        plan = FilterDesignFactory()
        unit = design_build(**wanted(manager, plan))
        unit.refresh_from_db()
        assert (unit.state, unit.length_m, unit.void_height_m) == ("building", 0.57, 0.2)
        assert [(x.medium, x.depth_m) for x in unit.layers.all()] == [
            ("river_rock", 0.2),
            ("lava_rock", 0.25),
        ]
        assert (unit.pump.rated_flow_m3_h, unit.pump.shutoff_head_m, unit.pump.power_w) == (4.0, 2.5, 60.0)
        assert unit.pump.is_protected
        assert unit.build.design == plan

    def test_the_same_entry_twice_is_one_filter(self, manager):
        values = wanted(manager, FilterDesignFactory())
        assert design_build(**values) == design_build(**values)
        assert FilterUnit.objects.count() == FilterBuild.objects.count() == 1

    def test_a_plan_may_be_built_twice_for_two_filters_side_by_side(self, manager):
        plan = FilterDesignFactory()
        design_build(**wanted(manager, plan))
        design_build(**wanted(manager, plan, code="F78"))
        assert plan.builds.count() == 2

    def test_a_plan_with_a_mistake_that_stops_it_is_not_built(self, manager):
        low = FilterDesignFactory(floor_above_water_m=-1.0)
        with pytest.raises(FilterError, match="mended first"):
            design_build(**wanted(manager, low))
        assert not FilterUnit.objects.exists()

    def test_a_code_that_is_taken_leaves_nothing_behind(self, manager):
        FilterUnitFactory(code="F77")
        with pytest.raises(FilterError, match="already"):
            design_build(**wanted(manager, FilterDesignFactory()))
        assert FilterUnit.objects.count() == 1
        assert not FilterBuild.objects.exists()

    def test_the_leak_test_falls_due_after_the_commit(self, manager, django_capture_on_commit_callbacks):
        with django_capture_on_commit_callbacks(execute=True):
            unit = design_build(**wanted(manager, FilterDesignFactory()))
        task = Task.objects.get(rule="filtration.leak_test", status="open")
        assert task.subject_path == unit.get_absolute_url()
        assert "may not run" in str(task.reasons)


class TestOnceBuilt:
    @pytest.fixture
    def built(self, manager):
        plan = FilterDesignFactory()
        design_build(**wanted(manager, plan))
        return plan

    def test_the_plan_neither_changes_nor_goes(self, manager, built):
        with pytest.raises(FilterError, match="stays as it is"):
            design_save(design=built, layers=LAYERS, by=manager)
        with pytest.raises(FilterError, match="stays as it is"):
            design_delete(design=built)

    def test_the_database_itself_keeps_it(self, built):
        with pytest.raises(ProtectedError):
            FilterDesign.objects.all().delete()

    def test_one_that_nothing_stands_by_goes(self, manager):
        design_delete(design=FilterDesignFactory())
        assert not FilterDesign.objects.exists()


@pytest.mark.parametrize(
    "wrong",
    [
        {"length_m": 0},
        {"void_height_m": 0.9},
        {"shape": "rectangle"},
        {"shape": "oval"},
        {"guard": "siphon_break"},
        {"inlet_valve_open_share": 0.1},
        {"side_by_side": 0},
        {"temperature_c": 60},
        {"tan_g_day": -1},
        {"tank_surface_m2": 0},
    ],
    ids=str,
)
def test_the_database_refuses_sizes_that_cannot_be(wrong):
    with pytest.raises(IntegrityError), transaction.atomic():
        FilterDesignFactory(**wrong)
