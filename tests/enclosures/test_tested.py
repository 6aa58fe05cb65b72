"""What other tests lend to one that read ammonia alone, and the water changed since."""

from datetime import timedelta

import pytest

from enclosures.chemistry import unionized_ammonia_mg_l
from enclosures.models import WaterChange
from enclosures.states import judge, summary
from enclosures.tested import known_of
from refuge.rounds.loaders import load_facts
from tests.factories import CircuitFactory, EnclosureFactory, WaterTestFactory
from tests.filtration.a_water import NOW, moment

pytestmark = pytest.mark.django_db


@pytest.fixture
def circuit():
    return EnclosureFactory(circuit=CircuitFactory(usual_temperature_c=22.0)).circuit


def read(circuit, hours_ago, **readings):
    bare = dict.fromkeys(("ph", "temperature_c", "tan_mg_l", "nitrite_n_mg_l"))
    return WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=hours_ago), **{**bare, **readings})


def newest(circuit):
    return load_facts({circuit.pk}, moment()).circuit[circuit.pk].tests[0]


def test_ammonia_read_alone_is_judged_with_the_pH_and_warmth_nearest_in_time(circuit):
    read(circuit, 200, ph=7.0, temperature_c=20.0, tan_mg_l=0.0)
    read(circuit, 48, ph=8.2, temperature_c=25.0, tan_mg_l=0.1)
    read(circuit, 1, tan_mg_l=1.5)
    assert newest(circuit).unionized == pytest.approx(unionized_ammonia_mg_l(1.5, 25.0, 8.2))
    assert newest(circuit).ph is None  # as it was read
    facts = load_facts({circuit.pk}, moment()).circuit[circuit.pk]
    state, words = summary(judge(facts, moment().limits(circuit.pk), NOW.date()))
    assert (state, words) == ("act", "un-ionized ammonia too high")


def test_a_pH_read_after_it_counts_as_well(circuit):
    read(circuit, 48, ph=7.0, temperature_c=25.0)
    read(circuit, 3, tan_mg_l=1.5, temperature_c=25.0)
    read(circuit, 2, ph=8.6)
    facts = load_facts({circuit.pk}, moment()).circuit[circuit.pk]
    assert facts.tests[1].unionized_ph == 8.6


def test_the_warmth_comes_from_heater_or_season_where_nobody_read_it(circuit):
    read(circuit, 1, tan_mg_l=1.5, ph=8.2)
    assert newest(circuit).unionized == pytest.approx(unionized_ammonia_mg_l(1.5, 22.0, 8.2))


def test_a_pH_is_never_assumed_and_total_ammonia_warns_by_itself(circuit):
    read(circuit, 1, tan_mg_l=8.0, nitrite_n_mg_l=0.0)
    assert newest(circuit).unionized is None
    facts = load_facts({circuit.pk}, moment()).circuit[circuit.pk]
    assert summary(judge(facts, moment().limits(circuit.pk), NOW.date())) == ("act", "total ammonia too high")


def test_what_was_changed_since_is_known_by_the_instant(circuit):
    volume = load_facts({circuit.pk}, moment()).circuit[circuit.pk].volume_m3
    for hours_ago in (5, 2):
        WaterChange.objects.create(
            circuit=circuit,
            at=NOW - timedelta(hours=hours_ago),
            kind="change",
            source=circuit.water_source,
            volume_m3=volume / 4,
        )
    read(circuit, 3, nitrite_n_mg_l=2.0)
    assert newest(circuit).renewed_since == pytest.approx(0.25)


def test_the_page_after_an_entry_knows_what_is_lent_too(circuit):
    read(circuit, 48, ph=8.6, temperature_c=25.0)
    alone = read(circuit, 1, tan_mg_l=1.0)
    assert known_of(alone, moment()).unionized == pytest.approx(unionized_ammonia_mg_l(1.0, 25.0, 8.6))
