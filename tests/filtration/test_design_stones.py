"""Stones that somebody sieved and measured: typed, kept, reckoned with, and carried into the filter that is built."""

from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from filtration.designing.assess import assess
from filtration.designing.figures import figures
from filtration.designing.parts import parts_list
from filtration.forms import LayerForm
from filtration.hydraulics.bed import GRAINS, BedLayer, grain, packed_loss_m
from filtration.models import MediaLayer
from filtration.nitrification import medium
from filtration.plans.models import DesignLayer, FilterDesign
from filtration.plans.services import design_build, design_save
from filtration.running import _bed
from refuge.errors import OutOfRange
from tests.factories import (
    AreaFactory,
    EnclosureFactory,
    FilterDesignFactory,
    FilterUnitFactory,
    RefugeFactory,
    UserFactory,
)
from tests.filtration.hydraulic_designs import barrel
from tests.filtration.test_design_forms import entry, wrong_at

MEASURED = {"medium": "river_rock", "depth_m": 0.2, "grain_size_m": 0.03, "void_fraction": 0.38}


class TestSums:
    @pytest.mark.parametrize("key", [each.key for each in GRAINS if each.is_sieved])
    def test_the_tables_own_grain_and_void_change_nothing(self, key):
        plain = BedLayer(key, 0.3)
        typed = BedLayer(key, 0.3, grain_size_m=grain(key).size_m, void_fraction=medium(key).void_fraction)
        assert typed.surface_m2_m3 == pytest.approx(plain.surface_m2_m3)
        assert packed_loss_m(typed, 0.002, 20, typed.porosity) == packed_loss_m(
            plain, 0.002, 20, plain.porosity
        )

    def test_surface_goes_with_the_solid_share_over_the_grain(self):
        # Surface of equal grains in a bed: 6 (1 - void) / (sphericity d) (Ergun 1952 takes it so).
        one = BedLayer("gravel", 0.3, void_fraction=0.40, grain_size_m=0.010).surface_m2_m3
        other = BedLayer("gravel", 0.3, void_fraction=0.55, grain_size_m=0.020).surface_m2_m3
        assert other / one == pytest.approx((0.45 / 0.020) / (0.60 / 0.010))

    def test_a_measured_surface_stands_above_the_one_worked_out(self):
        layer = BedLayer("gravel", 0.3, specific_surface_m2_m3=200, grain_size_m=0.005)
        assert layer.surface_m2_m3 == 200

    def test_finer_grains_cost_more_head_and_carry_more(self):
        fine, coarse = (
            assess(barrel(layers=(BedLayer("gravel", 0.4, grain_size_m=size),))).numbers
            for size in (0.006, 0.012)
        )
        assert fine.point.heads.media > coarse.point.heads.media
        assert fine.carries_tan_g_day == pytest.approx(2 * coarse.carries_tan_g_day)

    def test_fewer_gaps_weigh_more(self):
        loose, tight = (BedLayer("gravel", 0.3, void_fraction=void).dry_mass_kg(1) for void in (0.45, 0.35))
        assert tight / loose == pytest.approx(0.65 / 0.55)

    @pytest.mark.parametrize("key", ["ceramic", "plastic_balls", "plastic_chips"])
    def test_hollow_shapes_have_no_sieved_size(self, key):
        with pytest.raises(OutOfRange, match="grain_size_m"):
            BedLayer(key, 0.3, grain_size_m=0.02)

    @pytest.mark.parametrize("size", [0.0005, 0.7, float("nan")])
    def test_a_size_that_no_stone_has(self, size):
        with pytest.raises(OutOfRange, match="grain_size_m"):
            BedLayer("gravel", 0.3, grain_size_m=size)


class TestSaid:
    def test_grains_far_from_what_their_name_says_are_asked_about(self):
        def found(size):
            verdict = assess(barrel(layers=(BedLayer("lava_rock", 0.4, grain_size_m=size),)))
            return {each.severity for each in verdict.findings if each.key == "other_grains_1"}

        assert (found(0.003), found(0.030), found(0.200)) == ({"warn"}, set(), {"note"})

    def test_figures_say_which_surface_was_counted(self):
        verdict = assess(barrel(layers=(BedLayer("gravel", 0.4, grain_size_m=0.006),)))
        how = {each.key: each.how for each in figures(verdict)}
        assert "table: 236" in how["carries"]
        assert "as measured" in how["stones_loss"]
        plain = {each.key: each.how for each in figures(assess(barrel()))}
        assert "table" not in plain["carries"]

    def test_the_parts_list_says_what_to_sieve_to(self):
        notes = {
            x.key: x.note for x in parts_list(barrel(layers=(BedLayer("gravel", 0.4, grain_size_m=0.006),)))
        }
        assert "sieved to about {length:0.006" in notes["layer_1"]


@pytest.mark.django_db
class TestTyped:
    @pytest.mark.parametrize(
        ("text", "size_m"), [("30 mm", 0.030), ("1.2 in", 0.03048), ("1 1/4 in", 0.03175)]
    )
    def test_as_people_write_it(self, text, size_m):
        made = entry(layer__0__grain_size_m=text, layer__0__void_fraction="38")
        assert made.may_be_saved(), made.problems()
        assert made.bed[0].grain_size_m == pytest.approx(size_m)
        assert made.bed[0].void_fraction == pytest.approx(0.38)
        assert made.layer_rows()[0]["void_fraction"] == pytest.approx(0.38)

    def test_empty_is_the_mediums_own(self):
        layer = entry().bed[0]
        assert (layer.grain_size_m, layer.void_fraction) == (None, None)

    @pytest.mark.parametrize("void", ["2", "99", "-5", "nan"])
    def test_a_share_that_cannot_be(self, void):
        assert wrong_at(entry(layer__0__void_fraction=void)) == ["layer-0-void_fraction"]

    def test_hollow_shapes_are_refused_at_the_field(self):
        made = entry(layer__0__medium="ceramic", layer__0__grain_size_m="2 cm")
        assert wrong_at(made) == ["layer-0-grain_size_m"]


@pytest.mark.django_db
class TestKept:
    @pytest.mark.parametrize("wrong", [{"grain_size_m": 3}, {"void_fraction": 1.0}, {"void_fraction": 0.0}])
    def test_the_database_bounds_them(self, wrong):
        plan = FilterDesignFactory()
        with pytest.raises(IntegrityError), transaction.atomic():
            DesignLayer.objects.create(design=plan, position=99, medium="gravel", depth_m=0.1, **wrong)

    def test_a_built_filter_has_the_stones_that_were_measured(self):
        RefugeFactory()
        manager = UserFactory(manager=True)
        rows = [MEASURED, {"medium": "lava_rock", "depth_m": 0.25}]
        plan = design_save(design=FilterDesignFactory.build(), layers=rows, by=manager, uuid=uuid4())
        unit = design_build(
            design=FilterDesign.objects.get(pk=plan.pk), uuid=uuid4(), code="F77", name="Barrel",
            circuit=EnclosureFactory().circuit, area=AreaFactory(), is_protected=True, by=manager,
        )  # fmt: skip
        rock, lava = unit.layers.all()
        # 55 m2/m3 of the table at 0.050 m and 0.42, by hand: 55 x (0.62 / 0.58) x (0.05 / 0.03) = 97.99.
        assert rock.surface_m2_m3 == pytest.approx(97.99, abs=0.01)
        assert (rock.grain_size_m, rock.void_fraction) == (0.03, 0.38)
        assert lava.specific_surface_m2_m3 is None
        assert _bed(unit)[0].ergun_size_m == pytest.approx(0.03 * 0.85)


@pytest.mark.django_db
class TestOfAFilterThatStands:
    """River rock sieved to 30 mm with 38 % of water, so 97.99 m2/m3 (see above)."""

    def layer(self, **columns) -> MediaLayer:
        rock = BedLayer(**MEASURED)
        kept = {name: MEASURED[name] for name in ("medium", "depth_m", "grain_size_m", "void_fraction")}
        surface = {"specific_surface_m2_m3": rock.measured_surface_m2_m3}
        unit = FilterUnitFactory()
        return MediaLayer.objects.create(filter=unit, position=90, **{**kept, **surface, **columns})

    def typed(self, layer, **changes) -> LayerForm:
        shown = LayerForm(instance=layer, system="us")
        data = {bound.name: "" if bound.value() is None else bound.value() for bound in shown}
        return LayerForm({**data, **changes}, instance=layer, system="us")

    def test_saved_as_shown_it_stays(self):
        form = self.typed(self.layer())
        assert form.is_valid(), form.errors
        assert form.instance.grain_size_m == pytest.approx(0.03, rel=1e-5)  # six digits are shown
        assert form.instance.specific_surface_m2_m3 == pytest.approx(97.99, abs=0.01)

    def test_other_grains_have_another_surface(self):
        form = self.typed(self.layer(), grain_size_m="1.5 cm", void_fraction="38")
        assert form.is_valid(), form.errors
        assert form.instance.specific_surface_m2_m3 == pytest.approx(2 * 97.99, abs=0.02)

    def test_emptied_the_table_counts_again(self):
        form = self.typed(self.layer(), grain_size_m="", void_fraction="")
        assert form.is_valid(), form.errors
        assert form.instance.specific_surface_m2_m3 is None

    def test_a_surface_measured_by_itself_stays(self):
        form = self.typed(self.layer(specific_surface_m2_m3=120.0), grain_size_m="2 cm")
        assert form.is_valid(), form.errors
        assert form.instance.specific_surface_m2_m3 == 120.0

    @pytest.mark.parametrize("surface", [97.99, 120.0])
    def test_another_medium_has_nothing_of_what_was_measured(self, surface):
        form = self.typed(self.layer(specific_surface_m2_m3=surface), medium="ceramic")
        assert form.is_valid(), form.errors
        assert (form.instance.grain_size_m, form.instance.void_fraction) == (None, None)
        assert form.instance.specific_surface_m2_m3 is None

    def test_another_medium_measured_anew(self):
        form = self.typed(self.layer(), medium="gravel", grain_size_m="6 mm")
        assert form.is_valid(), form.errors
        # 236 m2/m3 of the table at 11.5 mm, with its own share of water: 236 x 11.5 / 6.
        assert form.instance.specific_surface_m2_m3 == pytest.approx(236 * 11.5 / 6)

    @pytest.mark.parametrize(
        ("field", "text"), [("grain_size_m", "3 m"), ("void_fraction", "99"), ("void_fraction", "2")]
    )
    def test_what_cannot_be_is_refused_at_the_field(self, field, text):
        assert list(self.typed(self.layer(), **{field: text}).errors) == [field]

    def test_the_page_offers_them(self, client):
        RefugeFactory()
        client.force_login(UserFactory(manager=True))
        html = client.get(reverse("filter_edit", args=[self.layer().filter_id])).content.decode()
        assert 'name="layer-0-grain_size_m"' in html and "pour in water to their top" in html
