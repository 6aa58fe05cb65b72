"""Waters for tests of the forecast: a quarantine barrel, and a look at every state after every hour."""

import math

import numpy as np

from filtration.forecast import Circuit
from filtration.forecast import layout as at
from filtration.forecast.compiled import kernel
from filtration.forecast.inputs import forcing
from filtration.forecast.priors import natural
from filtration.nitrification import media_area_m2, medium
from husbandry.food_values import food_value

CATFISH = food_value("Channel catfish, wild")
FISH = (CATFISH.protein_fraction, CATFISH.water_fraction)
BARREL_M2 = math.pi / 4 * 0.57**2
# A 200 L drum with 0.25 m of river rock and 0.35 m of lava rock on a tank of 1,100 L.
BARREL_AREA_M2 = media_area_m2(
    [
        (0.25 * BARREL_M2, medium("river_rock").specific_surface_m2_m3),
        (0.35 * BARREL_M2, medium("lava_rock").specific_surface_m2_m3),
    ]
)
BARREL = Circuit(volume_m3=1.3, media_area_m2=BARREL_AREA_M2, flow_m3_h=3.0)


def run(ensemble, table, steps=3):
    """States (hours + 1, members, states) with the members' parameters held still."""
    states, parameters = ensemble.states.copy(), natural(ensemble.scores)
    nothing = np.zeros((0, len(at.QUANTITY_NAMES), ensemble.members), np.float32)
    course = [states.copy()]
    for hour in range(len(table)):
        kernel().run(states, parameters, table[hour : hour + 1], steps, 0, nothing)
        course.append(states.copy())
    return np.array(course)


def course_of(circuit, inputs, ensemble, steps=3):
    return run(ensemble, forcing(circuit, inputs), steps)


def nitrogen(states):
    """All nitrogen there is or was, less what was added since."""
    return states[..., list(at.NITROGEN_STATES)].sum(axis=-1) - states[..., at.ADDED]
