"""Water, pump, pipes, stones, settling, overflow, evaporation: each part by itself."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filtration.hydraulics import bed, deposit, evaporation, overflow, piping, pump, settling, water
from filtration.nitrification import MEDIA
from refuge.errors import OutOfRange
from tests.filtration.hydraulic_designs import ONE_INCH, TWO_INCH

flows = st.floats(0.01, 20)
celsius = st.floats(0, 40)
RIVER, LAVA = bed.BedLayer("river_rock", 0.25), bed.BedLayer("lava_rock", 0.35)
SECTION = math.pi / 4 * 0.57**2


@pytest.mark.parametrize("value", [-0.1, 40.1, math.nan])
def test_water_is_known_from_0_to_40_degrees(value):
    with pytest.raises(OutOfRange):
        water.density_kg_m3(value)
    with pytest.raises(OutOfRange):
        water.viscosity_pa_s(value)


class TestPumpCurve:
    def test_parabola_by_hand(self):
        curve = pump.ParabolicCurve(4.0, 2.0)
        assert (curve.head_m(0), curve.head_m(1), curve.head_m(2)) == pytest.approx((4, 3, 0))

    def test_points_are_joined_and_continued_by_straight_lines(self):
        curve = pump.PointCurve(((0, 3.0), (2, 2.0), (3, 1.0)))
        assert (curve.head_m(1), curve.head_m(2.5)) == pytest.approx((2.5, 1.5))
        assert curve.max_flow_m3_h == pytest.approx(4)
        assert curve.known_to_m3_h == 3
        assert curve.head_m(3.5) == pytest.approx(0.5)

    @pytest.mark.parametrize(
        "points",
        [
            ((0, 2.0), (1, 2.2), (2, 1.0)),
            ((0, 2.0), (1, 2.0)),
            ((0.5, 2.0), (1, 1.0)),
            ((0, 2.0),),
            ((0, 2.0), (1, 1.5), (1, 1.0)),
            ((0, 2.0), (1, math.nan)),
            ((0, 2.0), (1, -1.0)),
        ],
    )
    def test_curve_that_rises_or_cannot_be_read_is_refused(self, points):
        with pytest.raises(OutOfRange):
            pump.PointCurve(points)

    @given(st.floats(0.2, 20), st.floats(0.2, 30), st.floats(0, 1), st.floats(0, 1))
    def test_head_falls_with_flow(self, head, flow, a, b):
        curve = pump.ParabolicCurve(head, flow)
        low, high = sorted((a, b))
        assert curve.head_m(low * flow) >= curve.head_m(high * flow)

    def test_energy_by_hand(self):
        assert pump.Pump(pump.ParabolicCurve(2, 3), 50).energy_kwh(10) == pytest.approx(12)
        assert pump.Pump(pump.ParabolicCurve(2, 3)).energy_kwh(10) is None


class TestPipe:
    def test_a_wider_pipe_leaves_the_strainers_loss_as_it_is(self):
        narrow = piping.Pipe(ONE_INCH, 0, extra_k=50)
        wide = narrow.widened(TWO_INCH)
        exits = [water.velocity_head_m(water.velocity_m_s(2.0, each.area_m2)) for each in (narrow, wide)]
        strainer = [
            piping.pipe_loss(each, 2.0, 20).total_m - end
            for each, end in zip((narrow, wide), exits, strict=True)
        ]
        assert strainer == pytest.approx([50 * exits[0]] * 2)

    @given(flows, flows, st.sampled_from([m.key for m in piping.MATERIALS]))
    def test_loss_rises_with_flow(self, a, b, key):
        pipe = piping.Pipe(ONE_INCH, 3, key, (("elbow_90", 2), ("check_valve", 1)), piping.Valve("gate", 0.5))
        low, high = sorted((a, b))
        assert piping.pipe_loss(pipe, low, 20).total_m <= piping.pipe_loss(pipe, high, 20).total_m

    @given(st.floats(0.01, 0.3))
    def test_laminar_friction_is_poiseuilles(self, flow):
        bore = 0.3  # Reynolds number below 1,000
        velocity = water.velocity_m_s(flow, math.pi / 4 * bore**2)
        weight = water.density_kg_m3(20) * water.GRAVITY
        poiseuille = 32 * water.viscosity_pa_s(20) * velocity / (weight * bore**2)
        assert piping.friction_slope(flow, bore, 1e-6, 20) == pytest.approx(poiseuille, rel=1e-6)

    @given(st.floats(0.3, 15))
    def test_turbulent_friction_satisfies_colebrook(self, flow):
        bore, roughness = 0.0266, 1.5e-4
        velocity = water.velocity_m_s(flow, math.pi / 4 * bore**2)
        factor = piping.friction_slope(flow, bore, roughness, 20) * bore / water.velocity_head_m(velocity)
        number = water.reynolds(velocity, bore, 20)
        right = -2 * math.log10(roughness / bore / 3.7 + 2.51 / (number * math.sqrt(factor)))
        assert 1 / math.sqrt(factor) == pytest.approx(right, rel=1e-3)

    def test_no_flow_loses_nothing(self):
        assert piping.pipe_loss(piping.Pipe(ONE_INCH, 3), 0, 20) == piping.PipeLoss()

    def test_bare_pipe_end_loses_one_velocity_head(self):
        loss = piping.pipe_loss(piping.Pipe(ONE_INCH, 0), 2, 20)
        velocity = 2 / 3600 / (math.pi / 4 * ONE_INCH**2)
        assert loss.total_m == loss.fittings_m == pytest.approx(velocity**2 / 2 / 9.80665)

    @pytest.mark.parametrize("kind", piping.VALVES)
    def test_closing_a_valve_costs_ever_more(self, kind):
        least = 1 - piping.VALVES[kind][-1][0]
        shares = [1 - (1 - least) * i / 20 for i in range(21)]
        costs = [piping.Valve(kind, share).k for share in shares]
        assert costs == sorted(costs)
        with pytest.raises(OutOfRange):
            piping.Valve(kind, least - 0.01)

    def test_unknown_things_are_named(self):
        with pytest.raises(OutOfRange, match="elbow_90"):
            piping.Pipe(ONE_INCH, 1, fittings=(("knee", 1),))
        with pytest.raises(OutOfRange, match="pvc"):
            piping.Pipe(ONE_INCH, 1, "gold")
        with pytest.raises(OutOfRange, match="gate"):
            piping.Valve("tap")


class TestBed:
    def test_every_medium_has_grains(self):
        assert [grain.key for grain in bed.GRAINS] == [medium.key for medium in MEDIA]

    @pytest.mark.parametrize("key", ["ceramic", "plastic_balls", "plastic_chips"])
    def test_size_of_shaped_media_follows_from_their_surface(self, key):
        layer = bed.BedLayer(key, 0.1)
        size = 6 * (1 - layer.porosity) / layer.surface_m2_m3
        assert bed.grain(key).ergun_size_m == pytest.approx(size, rel=0.02)

    @given(flows, flows, st.sampled_from([m.key for m in MEDIA]), st.booleans())
    def test_loss_rises_with_flow(self, a, b, key, is_bagged):
        layer = bed.BedLayer(key, 0.3, is_bagged)
        low, high = sorted((a, b))
        losses = [bed.layer_flow(layer, flow, SECTION, 20).loss_m for flow in (low, high)]
        assert losses[0] <= losses[1] * (1 + 1e-6)

    @given(flows, st.sampled_from([m.key for m in MEDIA]))
    def test_bags_let_water_pass_by_and_keep_its_amount(self, flow, key):
        bagged = bed.layer_flow(bed.BedLayer(key, 0.3, True), flow, SECTION, 20)
        loose = bed.layer_flow(bed.BedLayer(key, 0.3), flow, SECTION, 20)
        layer = bed.BedLayer(key, 0.3)
        through = bagged.pore_velocity_m_s * layer.porosity * (1 - bed.BAG_GAP_SHARE) * SECTION * 3600
        assert through + bagged.bypass_share * flow == pytest.approx(flow, rel=1e-6)
        # Gaps and bags lose the same head: neither side may be left out of it.
        gap = bagged.bypass_share * flow / 3600 / (bed.BAG_GAP_SHARE * SECTION)
        if bagged.bypass_share > 0.01:
            assert bed._gap_loss_m(layer, gap, 20) == pytest.approx(bagged.loss_m, rel=1e-3)
            assert bagged.loss_m < loose.loss_m / (1 - bed.BAG_GAP_SHARE) ** 2

    def test_open_grate_loses_nothing_and_a_closed_one_much(self):
        assert bed.grate_loss_m(1, 2, SECTION) == pytest.approx(0, abs=1e-12)
        losses = [bed.grate_loss_m(share, 2, SECTION) for share in (0.8, 0.4, 0.2, 0.1)]
        assert losses == sorted(losses)

    def test_lift_margin_by_hand(self):
        # 0.25 m x 0.58 x 1.65 and 0.35 m x 0.5 x 0.9 of water; the top layer lifts first.
        assert RIVER.submerged_weight_m == pytest.approx(0.23925)
        assert LAVA.submerged_weight_m == pytest.approx(0.1575)
        assert bed.lift_margin((RIVER, LAVA), (0.0, 0.315)) == pytest.approx(0.5)
        assert bed.lift_margin((RIVER, LAVA), (0.79350, 0.0)) == pytest.approx(0.5)
        assert bed.lift_margin((RIVER, LAVA), (0.0, 0.0)) == math.inf

    def test_what_floats_on_top_changes_nothing_and_below_it_pushes(self):
        balls = bed.BedLayer("plastic_balls", 0.3)
        assert bed.lift_margin((RIVER, balls), (0.01, 0.01)) == pytest.approx(0.23925 / 0.01)
        assert bed.lift_margin((balls, balls), (0.01, 0.01)) == math.inf
        up = -balls.submerged_weight_m
        assert up > 0
        assert bed.lift_margin((balls, RIVER), (0.01, 0.01)) == pytest.approx((0.23925 - up) / 0.02)
        deep = bed.BedLayer("plastic_balls", 10.0)
        assert bed.lift_margin((deep, bed.BedLayer("pumice", 0.05)), (0.01, 0.01)) == 0

    def test_mass_of_river_rock_by_hand(self):
        assert RIVER.dry_mass_kg(0.4) == pytest.approx(0.4 * 0.25 * 0.58 * 2650)


class TestDeposit:
    @given(st.floats(0, 1))
    def test_pores_lose_what_the_deposit_takes(self, share):
        held = share * deposit.capacity_kg((RIVER, LAVA), SECTION)
        left = deposit.porosities((RIVER, LAVA), SECTION, held)
        lost = sum(
            (layer.porosity - e) * layer.depth_m * SECTION
            for layer, e in zip((RIVER, LAVA), left, strict=True)
        )
        assert lost == pytest.approx(deposit.deposit_m3(held), rel=1e-6, abs=1e-9)
        assert all(e >= deposit.LEAST_POROSITY - 1e-9 for e in left)

    def test_more_than_fits_is_refused(self):
        most = deposit.capacity_kg((RIVER, LAVA), SECTION)
        with pytest.raises(OutOfRange, match="pores"):
            deposit.porosities((RIVER, LAVA), SECTION, most * 1.01)

    def test_finer_stone_catches_more(self):
        equal = (bed.BedLayer("river_rock", 0.3), bed.BedLayer("lava_rock", 0.3))
        coarse, fine = deposit.porosities(equal, SECTION, 0.3)
        assert equal[1].porosity - fine > equal[0].porosity - coarse > 0

    def test_no_layers_hold_nothing(self):
        assert deposit.porosities((), SECTION, 0) == []


class TestSettling:
    @given(st.floats(1e-5, 0.02), st.floats(1010, 1300), celsius)
    def test_the_cut_size_hangs_still(self, upflow, density, temperature):
        cut = settling.cut_size_m(upflow, density, temperature)
        if settling.SMALLEST_M < cut < settling.LARGEST_M:
            assert settling.settling_velocity_m_s(cut, density, temperature) == pytest.approx(
                upflow, rel=1e-4
            )

    @given(st.floats(0, 0.05), st.floats(0, 0.05))
    def test_faster_water_keeps_less(self, a, b):
        low, high = sorted((a, b))
        slow, fast = settling.capture(low, 20), settling.capture(high, 20)
        assert fast.share <= slow.share + 1e-9
        assert slow.low <= slow.share <= slow.high

    def test_half_settles_when_the_median_hangs(self):
        still = settling.settling_velocity_m_s(400e-6, 1100, 20)
        assert settling.settling_share(still, 20) == pytest.approx(0.5, abs=1e-3)

    def test_one_deviation_finer_leaves_84_percent(self):
        still = settling.settling_velocity_m_s(400e-6 / 4, 1100, 20)
        assert settling.settling_share(still, 20) == pytest.approx(0.8413, abs=1e-3)


class TestOverflow:
    @given(flows, flows, st.sampled_from([*overflow.MOUTHS, overflow.STANDPIPE]))
    def test_level_rises_with_flow(self, a, b, mouth):
        low, high = sorted((a, b))
        assert overflow.mouth_head_m(low, TWO_INCH, mouth) <= overflow.mouth_head_m(high, TWO_INCH, mouth)

    @given(st.floats(0.02, 10), st.floats(0.03, 0.15))
    def test_critical_depth_has_the_least_energy(self, flow, bore):
        def energy(depth):
            area = overflow.segment(bore, depth)[0]
            return depth + water.velocity_head_m(water.velocity_m_s(flow, area))

        depth = overflow.critical_depth_m(flow, bore)
        if 0.01 * bore < depth < 0.98 * bore:
            assert energy(depth) <= min(energy(depth * 0.99), energy(depth * 1.01))

    def test_segment_of_a_half_full_pipe(self):
        area, wetted, width = overflow.segment(0.1, 0.05)
        assert (area, wetted, width) == pytest.approx((math.pi * 0.01 / 8, math.pi * 0.05, 0.1))

    @given(st.floats(0.005, 0.4), st.floats(0, 0.5))
    def test_flow_and_level_turn_back_into_each_other(self, level, lip):
        back = overflow.Return(piping.Pipe(TWO_INCH, 1.5))
        flow = overflow.carried_m3_h(level, back, lip, 20)
        assert overflow.water_over_lip_m(flow, back, lip, 20) == pytest.approx(level, abs=1e-5)

    def test_blocking_raises_the_level_until_nothing_passes(self):
        backs = [overflow.Return(piping.Pipe(TWO_INCH, 1), blocked_share=x) for x in (0, 0.25, 0.5, 0.9)]
        levels = [overflow.water_over_lip_m(2, back, 0.3, 20) for back in backs]
        assert levels == sorted(levels)
        shut = replace(backs[0], blocked_share=1.0)
        assert overflow.water_over_lip_m(2, shut, 0.3, 20) == math.inf
        assert overflow.carried_m3_h(0.1, shut, 0.3, 20) == 0

    def test_two_returns_share_the_flow(self):
        one, two = (overflow.Return(piping.Pipe(TWO_INCH, 1), count=n) for n in (1, 2))
        assert overflow.water_over_lip_m(4, two, 0.3, 20) == pytest.approx(
            overflow.water_over_lip_m(2, one, 0.3, 20)
        )

    def test_a_lip_under_the_tank_stands_under_its_water(self):
        back = overflow.Return(piping.Pipe(TWO_INCH, 1))
        assert overflow.water_over_lip_m(0, back, -0.2, 20) == pytest.approx(0.2)
        assert overflow.water_over_lip_m(1, back, -0.2, 20) > 0.2

    def test_long_flat_pipe_backs_up_and_says_how_high_the_lip_must_be(self):
        back = overflow.Return(piping.Pipe(TWO_INCH, 40, "slimed_plastic"))
        mouth = overflow.mouth_head_m(3, TWO_INCH)
        assert overflow.water_over_lip_m(3, back, 0.05, 20) > mouth
        least = overflow.least_lip_height_m(3, back, 20)
        assert overflow.water_over_lip_m(3, back, least + 1e-6, 20) == pytest.approx(mouth)
        assert overflow.water_over_lip_m(3, back, least - 0.05, 20) > mouth + 0.04

    @given(st.floats(0.05, 4))
    def test_depth_in_a_sloping_pipe_carries_the_flow(self, flow):
        share = overflow.fill_share(flow, TWO_INCH, 0.02)
        if share is not None:
            assert overflow._manning_m3_h(TWO_INCH, share * TWO_INCH, 0.02, 0.012) == pytest.approx(flow)

    def test_too_much_for_the_slope_is_none(self):
        assert overflow.fill_share(10, TWO_INCH, 0.02) is None
        assert overflow.fill_share(0, TWO_INCH, 0.02) == 0


class TestEvaporation:
    def test_damp_air_over_cold_water_takes_nothing(self):
        assert evaporation.daily_evaporation_m3(10, 5, evaporation.Air(0.9, 0.0, 25)) == 0

    @given(celsius, celsius)
    def test_warmer_water_loses_more(self, a, b):
        low, high = sorted((a, b))
        assert evaporation.daily_evaporation_m3(1, low) <= evaporation.daily_evaporation_m3(1, high)

    def test_days_by_hand(self):
        assert evaporation.days_until_dry(0.3, 2.0, 0.012) == pytest.approx(50)
        assert evaporation.days_until_dry(0.3, 2.0, 0) == math.inf
