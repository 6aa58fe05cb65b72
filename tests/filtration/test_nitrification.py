import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filtration import nitrification as n
from refuge.errors import OutOfRange

temperatures = st.floats(0, 40)
days = st.floats(0, 4000)


def test_area_by_hand():
    assert n.media_area_m2([(0.1, 50), (0.2, 300)]) == pytest.approx(65)
    assert n.media_area_m2([]) == 0


def test_capacity_by_hand():
    assert n.capacity_tan_g_day(100, 22) == pytest.approx(30)
    assert n.capacity_tan_g_day(100, 24) == pytest.approx(30 * 1.04**2)
    assert n.capacity_tan_g_day(100, 22, maturity=0.5) == pytest.approx(15)
    assert n.capacity_tan_g_day(100, 22, oxygen_mg_l=6) == pytest.approx(30)
    assert n.capacity_tan_g_day(100, 22, oxygen_mg_l=0) == 0


def test_low_oxygen_costs_capacity():
    assert n.areal_rate_g_m2_day(22, 2) < 0.75 * n.areal_rate_g_m2_day(22)
    assert n.areal_rate_g_m2_day(22, 9) == pytest.approx(n.areal_rate_g_m2_day(22), rel=0.03)


def test_rates_hold_level_in_hot_water():
    assert n.areal_rate_g_m2_day(40) == n.areal_rate_g_m2_day(30)
    assert n.days_to_mature(35) == n.days_to_mature(30)


@given(days, st.floats(0, 100), temperatures, st.booleans())
def test_a_filter_only_ever_matures(days_running, more, temperature_c, seeded):
    now, later = (n.maturity(d, temperature_c, seeded) for d in (days_running, days_running + more))
    assert 0 < now <= later * (1 + 1e-12)
    assert later <= 1


@given(st.floats(0, 120), st.floats(0, 39))
def test_warmth_and_seeding_speed_it_up(days_running, temperature_c):
    plain = n.maturity(days_running, temperature_c)
    assert plain <= n.maturity(days_running, temperature_c + 1) * (1 + 1e-12)
    assert plain < n.maturity(days_running, temperature_c, seeded=True) or plain == 1


@given(temperatures, st.booleans(), st.floats(0.2, 0.999))
def test_days_to_mature_is_the_inverse_of_maturity(temperature_c, seeded, share):
    needed = n.days_to_mature(temperature_c, seeded, share)
    assert n.maturity(needed, temperature_c, seeded) == pytest.approx(share, rel=1e-6)


@pytest.mark.parametrize("seeded", [True, False])
def test_start_up_solves_its_own_equations(seeded):
    """The closed form against a plain numerical solution of both growth equations."""
    rate_a, rate_n = n._growth_rates(21)
    a = nitrite = n.SEED_MOVED if seeded else n.SEED_NEW
    step = 0.001
    for _ in range(30_000):
        a, nitrite = a + step * rate_a * a * (1 - a), nitrite + step * rate_n * a * nitrite * (1 - nitrite)
    state = n.start_up(30, 21, seeded)
    assert state.ammonia_oxidizers == pytest.approx(a, abs=0.002)
    assert state.nitrite_oxidizers == pytest.approx(nitrite, abs=0.002)


def test_it_starts_at_its_seed_and_a_low_goal_needs_no_days():
    assert n.maturity(0, 20) == pytest.approx(n.SEED_NEW)
    assert n.maturity(0, 20, seeded=True) == pytest.approx(n.SEED_MOVED)
    assert n.days_to_mature(20, seeded=True, share=0.05) == 0


def test_load_share():
    assert n.load_share(3, 12) == 0.25
    assert n.load_share(0, 0) == 0
    assert n.load_share(1, 0) == math.inf


@pytest.mark.parametrize("entry", n.MEDIA, ids=lambda entry: entry.key)
def test_media_table_makes_sense(entry):
    assert entry.specific_surface_m2_m3 > 0
    assert 0.2 < entry.void_fraction < 1
    assert entry.source and entry.how_known
    assert n.medium(entry.key) is entry


def test_unknown_medium_is_refused():
    with pytest.raises(OutOfRange, match="feathers"):
        n.medium("feathers")


@pytest.mark.parametrize("bad", [-1, math.nan, math.inf])
@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda x: n.media_area_m2([(x, 1)]), "volume_m3"),
        (lambda x: n.media_area_m2([(1, x)]), "specific_surface_m2_m3"),
        (lambda x: n.areal_rate_g_m2_day(x), "temperature_c"),
        (lambda x: n.areal_rate_g_m2_day(20, x), "oxygen_mg_l"),
        (lambda x: n.capacity_tan_g_day(x, 20), "area_m2"),
        (lambda x: n.capacity_tan_g_day(1, 20, x), "maturity"),
        (lambda x: n.load_share(x, 1), "tan_g_day"),
        (lambda x: n.load_share(1, x), "capacity_g_day"),
        (lambda x: n.maturity(x, 20), "days_running"),
        (lambda x: n.maturity(1, x), "temperature_c"),
        (lambda x: n.days_to_mature(x), "temperature_c"),
        (lambda x: n.days_to_mature(20, share=x), "share"),
    ],
)
def test_bad_numbers_are_refused_by_name(call, name, bad):
    with pytest.raises(OutOfRange) as caught:
        call(bad)
    assert caught.value.argument == name


@pytest.mark.parametrize(
    "call",
    [
        lambda: n.areal_rate_g_m2_day(40.1),
        lambda: n.capacity_tan_g_day(1, 20, 1.01),
        lambda: n.maturity(1, 41),
    ],
)
def test_values_just_past_their_bound_are_refused(call):
    with pytest.raises(OutOfRange):
        call()
