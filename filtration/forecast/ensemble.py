"""Many equally likely waters instead of one: drawing them and moving them through time.

A run with the same start, inputs and seed gives the same numbers. Between tests the members drift: what was
learned about a parameter fades (priors.drifted), and films change for reasons no equation here knows.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from filtration.forecast import layout as at
from filtration.forecast.circuit import Beginning, Circuit, log_odds
from filtration.forecast.compiled import kernel
from filtration.forecast.inputs import Inputs, forcing
from filtration.forecast.priors import PRIORS, drifted, medians, natural
from filtration.forecast.water import carbon_dioxide_at
from refuge.errors import OutOfRange, checked

Floats = NDArray[np.float64]
MEMBERS = 128
# Steps an hour keep the quickest uptake below this many lifetimes a step: then every state is within 1 %.
LIFETIMES_A_STEP, FEWEST_STEPS, MOST_STEPS = 0.5, 3, 16
# Change of the films' log-odds in a day that the equations do not explain. Assumption.
FILM_NOISE = 0.04
HOURS_A_DAY = 24
HALF_SATURATION = float(medians()[at.P_AMMONIA_HALF])


@dataclass(frozen=True, eq=False)
class Ensemble:
    """states (members, states), scores (members, parameters); `draws` counts random draws made so far."""

    states: Floats
    scores: Floats
    seed: int
    draws: int = 0

    @property
    def members(self) -> int:
        return len(self.states)

    @cached_property
    def parameters(self) -> Floats:
        """Natural values of the scores, shape (members, parameters)."""
        return natural(self.scores)

    def randomness(self) -> np.random.Generator:
        """The generator of this ensemble's next draw; the same ensemble always draws the same."""
        return np.random.default_rng([self.seed, self.draws])

    def drawn(self, states: Floats, scores: Floats) -> "Ensemble":
        """The ensemble changed by one random draw."""
        return Ensemble(states, scores, self.seed, self.draws + 1)


def draw(circuit: Circuit, beginning: Beginning, *, members: int = MEMBERS, seed: int = 0) -> Ensemble:
    """Members from the priors and from what is believed at the start. At least 2 members."""
    checked("members", members, 2, 100_000)
    randomness = np.random.default_rng([seed, 0])
    scores = randomness.standard_normal((members, len(PRIORS)))
    volume = circuit.volume_m3 * natural(scores)[:, at.P_VOLUME]
    states = _start(beginning, volume, randomness)
    return Ensemble(states, scores, seed, 1)


def middle_member(circuit: Circuit, beginning: Beginning) -> Ensemble:
    """One member alone, every parameter at its median and the start as stated, for a quick look."""
    exact = replace(beginning, concentration_spread=0.0, film_spread=0.0, solids_spread=0.0, unread=())
    states = _start(exact, np.array([circuit.volume_m3]), np.random.default_rng(0))
    return Ensemble(states, np.zeros((1, len(PRIORS))), 0)


def _start(beginning: Beginning, volume: Floats, randomness: np.random.Generator) -> Floats:
    states = np.zeros((len(volume), len(at.STATE_NAMES)))
    states[:, at.VOLUME] = volume

    def around(value: float, spread: float) -> Floats:
        return np.asarray(value * np.exp(spread * randomness.standard_normal(len(volume))))

    for state, value, spread in _dissolved(beginning):
        states[:, state] = around(value, spread) * volume
    for state, value in _solid(beginning):
        states[:, state] = around(value, beginning.solids_spread)
    for state, share in (
        (at.AMMONIA_OXIDIZERS, beginning.ammonia_oxidizers),
        (at.NITRITE_OXIDIZERS, beginning.nitrite_oxidizers),
    ):
        odds = log_odds(share) + beginning.film_spread * randomness.standard_normal(len(volume))
        states[:, state] = 1 / (1 + np.exp(-odds)) if share > 0 else 0.0
    return states


def _dissolved(beginning: Beginning) -> Iterator[tuple[int, float, float]]:
    """(state, mg/L, spread). Alkalinity and oxygen vary less than what bacteria make and take."""
    loose, spread_of = beginning.concentration_spread, beginning.spread_of
    yield at.TAN, beginning.tan, spread_of("tan")
    yield at.NITRITE, beginning.nitrite, spread_of("nitrite")
    yield at.NITRATE, beginning.nitrate, spread_of("nitrate")
    yield at.ALKALINITY, beginning.alkalinity, spread_of("alkalinity") / 2
    yield at.OXYGEN, beginning.oxygen_mg_l, loose / 10
    free = carbon_dioxide_at(beginning.alkalinity, beginning.ph, beginning.temperature_c)
    yield at.CARBON_DIOXIDE, free, spread_of("ph") / 2
    yield at.SUSPENDED, beginning.suspended, loose


def _solid(beginning: Beginning) -> Iterator[tuple[int, float]]:
    yield at.GUT, beginning.gut_nitrogen_g
    yield at.EXCRETA, beginning.excreta_nitrogen_g
    yield at.GUT_SOLIDS, beginning.gut_solids_g
    yield at.EASY, beginning.easy_sediment_g
    yield at.INERT, beginning.inert_sediment_g
    yield at.MEDIA, beginning.media_solids_g


def drift(ensemble: Ensemble, days: float) -> Ensemble:
    """The ensemble with `days` of forgetting and unexplained change of the films; nitrogen is untouched."""
    randomness = ensemble.randomness()
    scores = drifted(ensemble.scores, days, randomness.standard_normal(ensemble.scores.shape))
    states = ensemble.states.copy()
    films = states[:, [at.AMMONIA_OXIDIZERS, at.NITRITE_OXIDIZERS]]
    factor = np.exp(FILM_NOISE * np.sqrt(days) * randomness.standard_normal(films.shape))
    states[:, [at.AMMONIA_OXIDIZERS, at.NITRITE_OXIDIZERS]] = films * factor / (1 + films * (factor - 1))
    return ensemble.drawn(states, scores)


def advance(
    ensemble: Ensemble, circuit: Circuit, inputs: Inputs, *, every: int = 0, steps: int | None = None
) -> tuple[Ensemble, NDArray[np.float32]]:
    """The ensemble after all hours of `inputs`, and what could be seen every `every` hours (0: nothing).

    Records: float32 (members, 1 + hours // every, quantities), the first one at the start; `every` must divide
    24. The members drift at the end of each day (and of the last hours). steps: an hour, None for enough.
    """
    if every and (HOURS_A_DAY % every or not inputs.hours):
        raise OutOfRange("every", every, "a divisor of 24, for at least one hour")
    table = forcing(circuit, inputs)
    kept = 1 + len(table) // every if every else 0
    records = np.zeros((kept, len(at.QUANTITY_NAMES), ensemble.members), np.float32)
    end = ensemble
    for end in _days(ensemble, table, every, steps or steps_an_hour(circuit, table), records):  # noqa: B007
        pass
    return end, records.transpose(2, 0, 1)


def records_by_day(
    ensemble: Ensemble, circuit: Circuit, inputs: Inputs, every: int
) -> Iterator[NDArray[np.float32]]:
    """The records of `advance`, one day after the other for who may have seen enough; both midnights belong to a day.

    A day is told when the next has begun: the record between them is that of the members that go on.
    """
    table = forcing(circuit, inputs)
    records = np.zeros((1 + len(table) // every, len(at.QUANTITY_NAMES), ensemble.members), np.float32)
    told, a_day = records.transpose(2, 0, 1), HOURS_A_DAY // every
    days = 0
    for _ in _days(ensemble, table, every, steps_an_hour(circuit, table), records):
        if days:
            yield told[:, (days - 1) * a_day : days * a_day + 1]
        days += 1
    yield told[:, max(days - 1, 0) * a_day :]


def _days(
    ensemble: Ensemble, table: Floats, every: int, steps: int, records: NDArray[np.float32]
) -> Iterator[Ensemble]:
    """The ensemble at the end of each day; what can be seen goes into `records`."""
    for start in range(0, len(table), HOURS_A_DAY):
        hours = table[start : start + HOURS_A_DAY]
        ensemble = _run(ensemble, hours, every, steps, records[start // every if every else 0 :])
        ensemble = drift(ensemble, len(hours) / HOURS_A_DAY)
        yield ensemble


def steps_an_hour(circuit: Circuit, table: Floats) -> int:
    """Steps that follow the quickest uptake of ammonia: a full film, as fast as the flow can feed it."""
    full = 2.0 * float(table[:, at.F_FILM].max(initial=0.0))
    flow = float(table[:, at.F_FLOW].max(initial=0.0))
    if full <= 0 or flow <= 0:
        return FEWEST_STEPS
    taken = -math.expm1(-full / (flow * HALF_SATURATION))  # of what passes, in one pass
    lifetime_days = circuit.volume_m3 / (flow * taken)
    wanted = math.ceil(1 / (24 * lifetime_days * LIFETIMES_A_STEP))
    return min(max(wanted, FEWEST_STEPS), MOST_STEPS)


def _run(ensemble: Ensemble, table: Floats, every: int, steps: int, records: NDArray[np.float32]) -> Ensemble:
    states = ensemble.states.copy()
    kernel().run(states, ensemble.parameters, table, steps, every, records)
    return replace(ensemble, states=states)


def seen(ensemble: Ensemble, hour: Floats) -> NDArray[np.float32]:
    """What can be seen of each member now, float32 (members, quantities); `hour` is one row of a forcing."""
    out = np.zeros((len(at.QUANTITY_NAMES), ensemble.members), np.float32)
    kernel().look(ensemble.states, ensemble.parameters, hour, out)
    return out.T
