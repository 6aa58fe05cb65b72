"""What a change makes of a water, against sums that do not come from this program."""

import numpy as np
import pytest

from filtration.forecast import Circuit, Inputs, Scenario, draw, settled
from filtration.forecast import layout as at
from filtration.what_if.changes import Ground, Joined, StoppedPump
from filtration.what_if.facts import mixed
from refuge.rules.facts import Reading
from tests.filtration.what_if.test_changes import NOW, PLAN, TODAY, water
from tests.forecasting import BARREL

GROUND = Ground(1, NOW, TODAY, {})


def scenario(circuit, celsius, nitrate, seed):
    beginning = settled(circuit, PLAN.tan_g, celsius, nitrate=nitrate)
    return Scenario(circuit, Inputs(np.full(336, celsius)), draw(circuit, beginning, members=32, seed=seed))


def test_two_waters_mix_by_mass_balance():
    """C = (C1 V1 + C2 V2) / (V1 + V2): conservation of mass in a mixed tank, any textbook of water quality (from
    memory, no table)."""
    large = Circuit(volume_m3=3.0, media_area_m2=BARREL.media_area_m2, flow_m3_h=3.0)
    one, two = scenario(BARREL, 20.0, 10.0, 1), scenario(large, 26.0, 40.0, 2)
    both = Joined(2, two).scenario(one, GROUND)
    volumes = [each.start.states[:, at.VOLUME] for each in (one, two)]
    grams = [each.start.states[:, at.NITRATE] for each in (one, two)]
    expected = (grams[0] + grams[1]) / (volumes[0] + volumes[1])
    assert both.start.states[:, at.NITRATE] / both.start.states[:, at.VOLUME] == pytest.approx(expected)
    celsius = (1.3 * 20 + 3.0 * 26) / 4.3
    assert both.inputs.temperature_c[0] == pytest.approx(celsius)


def test_facts_mix_by_the_same_balance():
    """20 mg/L in 1.2 m3 and 60 mg/L in 3.6 m3 are 240 g in 4.8 m3, 50 mg/L: worked by hand."""
    one, two = water(1, 1.2), water(2, 3.6, nitrate=Reading(60.0, TODAY))
    found = mixed(one, two, TODAY)
    assert found.volume_m3 == pytest.approx(4.8)
    assert found.nitrate.value == pytest.approx(50.0)


def test_a_day_without_flow_leaves_about_a_third_of_the_bacteria():
    """Common practice, no source: a bed that stands a day keeps about a third; taken here as a fifth to a half."""
    before = scenario(BARREL, 24.0, 20.0, 3)
    after = StoppedPump(24).scenario(before, GROUND)
    left = [each.forecast(hours=24).end.states[:, at.AMMONIA_OXIDIZERS].mean() for each in (after, before)]
    assert 0.2 < left[0] / left[1] < 0.5
