"""Hydraulics against handbooks, worked examples and other people's equations. Each names its source."""

import math

import pytest

from filtration.hydraulics import bed, evaporation, overflow, piping, settling, water
from filtration.hydraulics.design import Tank
from filtration.hydraulics.operating_point import operating_point
from filtration.hydraulics.overflow import Return
from filtration.hydraulics.piping import Pipe
from filtration.hydraulics.pump import ParabolicCurve, Pump
from tests.filtration.hydraulic_designs import barrel

GPM, FOOT, INCH = 0.003785411784 * 60, 0.3048, 0.0254  # one US gallon a minute in m3/h


class TestWater:
    """CRC Handbook of Chemistry and Physics, properties of water (recalled, not re-read)."""

    @pytest.mark.parametrize(
        ("celsius", "density"), [(4, 999.975), (10, 999.70), (20, 998.207), (30, 995.65)]
    )
    def test_density(self, celsius, density):
        assert water.density_kg_m3(celsius) == pytest.approx(density, abs=0.006)

    @pytest.mark.parametrize(("celsius", "mpa_s"), [(10, 1.306), (20, 1.0016), (25, 0.890), (30, 0.7972)])
    def test_viscosity(self, celsius, mpa_s):
        assert water.viscosity_pa_s(celsius) * 1000 == pytest.approx(mpa_s, abs=0.0008)


class TestPipeFriction:
    @pytest.mark.parametrize(
        ("inches", "gpm", "feet"),
        [
            (1.049, 5, 1.52),
            (1.049, 10, 5.50),
            (1.610, 10, 0.70),
            (1.610, 15, 1.45),
            (1.610, 20, 2.46),
            (2.067, 10, 0.21),
            (2.067, 40, 2.62),
            (2.067, 50, 3.98),
        ],
    )
    def test_schedule_40_plastic_table(self, inches, gpm, feet):
        """Illinois Admin. Code 77, part 906, app. A, exhibit I: feet lost in 100 ft, Hazen-Williams C = 150.

        Hazen-Williams with C = 150 lies below Colebrook for smooth pipe as narrow and slow as this; 16 % at
        the slowest cell.
        """
        slope = piping.friction_slope(gpm * GPM, inches * INCH, piping.material("pvc").roughness_m, 15.6)
        assert slope * 100 == pytest.approx(feet, rel=0.16)
        assert slope * 100 > feet * 0.99

    @pytest.mark.parametrize(("gpm", "feet"), [(2, 0.59), (4, 2.13), (10, 11.63), (20, 41.99)])
    def test_old_steel_chart(self, gpm, feet):
        """Supplier friction chart 2003, 1 in steel, C = 100: pipe that has rusted, so rougher than new."""
        new = piping.friction_slope(gpm * GPM, 1.049 * INCH, piping.material("galvanised").roughness_m, 15.6)
        rusted = piping.friction_slope(gpm * GPM, 1.049 * INCH, 1e-3, 15.6)
        assert new * 100 < feet * 1.02
        assert rusted * 100 > feet * 0.98

    def test_two_reservoirs_through_cast_iron(self):
        """Wolaita Sodo University, tutorial on pipe flow, question 1: 0.5 m3/s at 10 C through 300 m of 0.6 m
        and 300 m of 0.4 m new cast iron (0.26 mm), factors read from a chart; entrance 0.5, contraction 0.24
        and exit 1: 80 - 66.663 m are lost."""
        wide = piping.friction_slope(1800, 0.6, 2.6e-4, 10) * 300
        narrow = piping.friction_slope(1800, 0.4, 2.6e-4, 10) * 300
        head_wide, head_narrow = (
            water.velocity_head_m(water.velocity_m_s(1800, math.pi / 4 * d**2)) for d in (0.6, 0.4)
        )
        lost = wide + narrow + 0.5 * head_wide + (0.24 + 1) * head_narrow
        assert lost == pytest.approx(80 - 66.663, rel=0.02)

    def test_velocity_of_the_chart(self):
        """Supplier friction chart 2003: 10 gpm in 1 in steel runs at 3.71 ft/s."""
        speed = water.velocity_m_s(10 * GPM, math.pi / 4 * (1.049 * INCH) ** 2)
        assert speed / FOOT == pytest.approx(3.71, abs=0.01)

    def test_threaded_elbow_lies_between_the_tables(self):
        """0.9 (PE reference sheet citing Crane TP-410) and 1.5 (LMNO Engineering) for a 90-degree threaded
        elbow; Hooper 1981 gives a little less for smooth turbulent flow."""
        pipe = Pipe(1.049 * INCH, 0, fittings=(("elbow_90", 1),))
        assert 0.7 < piping.fittings_k(pipe, 2.0, 20) < 1.5

    @pytest.mark.parametrize(("share", "k"), [(1, 0.15), (0.75, 0.26), (0.5, 2.1), (0.25, 17)])
    def test_gate_valve(self, share, k):
        """LMNO Engineering, tables of minor-loss K."""
        assert piping.Valve("gate", share).k == pytest.approx(k)


class TestPackedBed:
    def test_ergun_example(self):
        """Ergun 1952, example of the fluids library: 0.8 mm, void 0.4, 1 mm/s, 1000 kg/m3, 1 mPa s:
        1318.36 Pa/m viscous and 20.51 Pa/m inertial. Ours takes water at 20.1 C, so within 0.5 %."""
        layer = bed.BedLayer("ceramic", 1.0, void_fraction=0.4)
        ratio = bed.grain("ceramic").ergun_size_m / 0.0008
        viscous, inertial = 1318.359375 / ratio**2, 20.5078125 / ratio
        weight = water.density_kg_m3(20.1) * water.GRAVITY
        assert bed.packed_loss_m(layer, 0.001, 20.1, 0.4) * weight == pytest.approx(
            viscous + inertial, rel=0.005
        )

    @pytest.mark.parametrize(("void", "mm_s", "pa_m"), [(0.5, 3, 5.400), (0.2, 3, 517.50)])
    def test_ergun_by_its_two_terms(self, void, mm_s, pa_m):
        """Ergun's equation written out: 20 mm at void 0.5 gives 5.400 Pa/m; 10 mm at void 0.2, 517.50 Pa/m."""
        size = {0.5: 0.020, 0.2: 0.010}[void]
        ours = bed.grain("lava_rock").ergun_size_m
        v = mm_s / 1000
        viscous = 150 * 1e-3 * (1 - void) ** 2 * v / (void**3 * size**2)
        inertial = 1.75 * (1 - void) * 1000 * v**2 / (void**3 * size)
        assert viscous + inertial == pytest.approx(pa_m, rel=1e-3)
        scaled = viscous * (size / ours) ** 2 + inertial * size / ours
        layer = bed.BedLayer("lava_rock", 1.0)
        weight = water.density_kg_m3(20.1) * water.GRAVITY
        assert bed.packed_loss_m(layer, v, 20.1, void) * weight == pytest.approx(scaled, rel=0.005)

    @pytest.mark.parametrize("key", ["river_rock", "gravel", "lava_rock", "expanded_clay"])
    def test_a_later_correlation_agrees(self, key):
        """Erdim, Akgiray and Demir 2015, Powder Technology 283, 488 (in fluids), fitted to 0.377-0.470 void."""
        from fluids.packed_bed import Erdim_Akgiray_Demir

        layer = bed.BedLayer(key, 0.3, void_fraction=0.42)
        other = Erdim_Akgiray_Demir(
            bed.grain(key).ergun_size_m,
            0.42,
            0.002,
            water.density_kg_m3(20),
            water.viscosity_pa_s(20),
            0.3,
        )
        ours = bed.packed_loss_m(layer, 0.002, 20, 0.42)
        assert ours == pytest.approx(water.head_m(other, 20), rel=0.2)


class TestSettling:
    def test_small_sand(self):
        """Rushton, Ward and Holdich (example of the fluids library): 70 um, 2600 kg/m3, 1000 kg/m3, 1 mPa s:
        4.1425 mm/s. Ours takes water at 20.1 C."""
        assert settling.settling_velocity_m_s(70e-6, 2600, 20.1) == pytest.approx(0.0041425, rel=0.005)

    @pytest.mark.parametrize("size", [20e-6, 50e-6, 200e-6, 500e-6, 1e-3, 2e-3])
    @pytest.mark.parametrize("density", [1050, 1100, 1190, 2650])
    def test_force_balance_with_another_drag_law(self, size, density):
        """Schiller and Naumann 1933: drag coefficient 24/Re (1 + 0.15 Re^0.687) below Re 800 (recalled, not
        re-read)."""
        speed = settling.settling_velocity_m_s(size, density, 20)
        number = water.reynolds(speed, size, 20)
        drag = 24 / number * (1 + 0.15 * number**0.687)
        excess = density / water.density_kg_m3(20) - 1
        assert number < 800
        assert speed == pytest.approx(math.sqrt(4 * water.GRAVITY * size * excess / (3 * drag)), rel=0.05)

    @pytest.mark.parametrize("cm_s", [0.7, 1.7, 4, 6])
    def test_measured_faeces_sink_like_spheres_of_a_millimetre_or_so(self, cm_s):
        """World Aquaculture Society abstract 165932: stripped trout faeces 0.7 cm/s, trout farms' solids
        1.7 cm/s on average, salmon faeces 4-6 cm/s, at 1050-1190 kg/m3. They are millimetres wide."""
        for density in (1050, 1190):
            assert 0.2e-3 < settling.cut_size_m(cm_s / 100, density, 15) < 5e-3

    def test_fine_solids_never_settle_in_a_barrel(self):
        """Same abstract: 95 % of the particles that go round are below 20 um, so a settling chamber cannot
        remove them. A barrel's water rises at about 2 mm/s."""
        assert settling.cut_size_m(0.002, 1190, 20) > 100e-6


class TestOverflow:
    @pytest.mark.parametrize("ratio", [0.4, 0.6, 0.8, 1.0, 1.5, 2.0, 3.0])
    @pytest.mark.parametrize("bore", [0.05, 0.3, 0.9])
    def test_another_fit_of_the_same_culverts(self, ratio, bore):
        """Boyd 1987, Generalised head-discharge equations for culverts, eq. 10: square edge with headwall,
        0.421 sqrt(g) D^0.87 H^1.63 below 1.2 D, 0.530 sqrt(g) D^1.87 H^0.63 above."""
        head = ratio * bore
        if ratio < 1.2:
            flow = 0.421 * math.sqrt(9.81) * bore**0.87 * head**1.63
        else:
            flow = 0.530 * math.sqrt(9.81) * bore**1.87 * head**0.63
        ours = overflow.carried_m3_h(head, Return(Pipe(bore, 0)), 100, 20) / 3600
        assert ours == pytest.approx(flow, rel=0.10)

    def test_thin_film_over_a_standing_pipe_is_a_weir(self):
        """City of Everett, stormwater manual, vol. III, 2014: Q = C L H^1.5 in feet with C = 3.27 + 0.4 H/P;
        a low film on a tall riser."""
        head, bore = 0.01, 0.1
        feet = 3.27 * (math.pi * bore / FOOT) * (head / FOOT) ** 1.5
        ours = overflow.carried_m3_h(head, Return(Pipe(bore, 0), mouth="standpipe"), 100, 20) / 3600
        assert ours == pytest.approx(feet * FOOT**3, rel=0.01)

    @pytest.mark.parametrize(
        ("depth", "share"),
        [
            (0.2, 0.088),
            (0.25, 0.137),
            (0.3, 0.196),
            (0.4, 0.337),
            (0.5, 0.5),
            (0.6, 0.672),
            (0.7, 0.837),
            (0.8, 0.977),
        ],
    )
    def test_part_full_pipe(self, depth, share):
        """Hydraulic elements of a circular section, n the same at all depths: Chow 1959, Open-Channel
        Hydraulics, fig. 6-5 (recalled, not re-read)."""
        full = overflow.full_slope_flow_m3_h(0.15, 0.01)
        assert overflow.fill_share(share * full, 0.15, 0.01) == pytest.approx(depth, abs=0.002)

    def test_manning_example(self):
        """Cengel and Cimbala (example of the fluids library): Rh 0.2859 m, slope 0.005236, n 0.03 run at
        1.04678 m/s. A full pipe of bore 4 Rh is that section."""
        bore = 4 * 0.2859
        speed = overflow.full_slope_flow_m3_h(bore, 0.005236, 0.03) / 3600 / (math.pi / 4 * bore**2)
        assert speed == pytest.approx(1.0467781958, rel=1e-6)

    @pytest.mark.parametrize(
        ("inches", "falls"),
        [(3, {6: 42, 12: 60, 24: 85, 36: 104}), (4, {6: 76, 12: 108, 24: 148, 36: 184})],
    )
    def test_old_plumbers_table(self, inches, falls):
        """Sanitary Plumbing, plumbing rules table: gallons a minute of a drain by its fall in inches per
        100 ft. Clean drain, so n = 0.010; the table is by no known formula, hence 20 %."""
        for fall, gpm in falls.items():
            ours = overflow.full_slope_flow_m3_h(inches * INCH, fall / 1200, 0.010)
            assert ours / GPM == pytest.approx(gpm, rel=0.20)


class TestEvaporation:
    def test_swimming_pool(self):
        """Engineering ToolBox, Evaporation from water surfaces: 25 m x 20 m, 0.5 m/s, humidity ratios 0.02 and
        0.0098: 0.049 kg/s."""
        assert evaporation.evaporation_kg_h(500, 0.5, 0.02, 0.0098) / 3600 == pytest.approx(0.049, abs=0.0005)

    @pytest.mark.parametrize(
        ("celsius", "saturated", "half"),
        [(20, 0.014695, 0.007262), (25, 0.020081, 0.009881), (28, 0.024116, 0.011829)],
    )
    def test_humidity_ratio(self, celsius, saturated, half):
        """PsychroLib, GetSatHumRatio and GetHumRatioFromRelHum at 101325 Pa."""
        assert evaporation.humidity_ratio(celsius, 1) == pytest.approx(saturated, rel=0.004)
        assert evaporation.humidity_ratio(celsius, 0.5) == pytest.approx(half, rel=0.004)

    def test_one_square_metre_loses_six_litres(self):
        """The same formula with PsychroLib's ratios: 1 m2 at 25 C in still air at 25 C, half saturated."""
        assert evaporation.daily_evaporation_m3(1, 25, evaporation.Air(0.5, 0.0)) == pytest.approx(
            0.0061, rel=0.01
        )


class TestOperatingPoint:
    def test_pump_between_two_reservoirs(self):
        """Cengel and Cimbala, Fluid Mechanics, pump example: pump 7.46 - 0.0453 V2, system 3.52 + 0.0261 V2
        (m, L/min). They cross at sqrt(3.94 / 0.0714) = 7.43 L/min and 4.96 m."""
        shutoff, a, lift, b = 7.46, 0.0453, 3.52, 0.0261
        bore = 0.05
        velocity_head = (1 / 60000 / (math.pi / 4 * bore**2)) ** 2 / (2 * water.GRAVITY)
        most = math.sqrt(shutoff / a) * 0.06
        point = operating_point(
            barrel(
                layers=(),
                pump=Pump(ParabolicCurve(shutoff, most)),
                inlet=Pipe(bore, 0, extra_k=b / velocity_head - 1),
                back=Return(Pipe(1.0, 0), count=20),  # so wide that the water hardly stands over the lip
                overflow_height_m=0.5,
                floor_above_water_m=lift - 0.5,
                tank=Tank(1, 1, 0.5, 0.5),
            )
        )
        assert point.flow_m3_h / 0.06 == pytest.approx(7.43, abs=0.01)
        assert point.heads.total == pytest.approx(4.96, abs=0.01)
