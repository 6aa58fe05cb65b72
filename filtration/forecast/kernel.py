"""The compiled forecast: all members through all hours. Import it through compiled.kernel(): it pulls in numba."""

import numpy as np

from filtration.forecast import layout as at
from filtration.forecast.hour import HOUR, acidity, begin_hour, evaporate, observe, ph_of, rates
from filtration.forecast.jit import entry, jit
from filtration.forecast.step import BLOCK, RATES, STATES, fill, step_block, take

QUANTITIES = len(at.QUANTITY_NAMES)
__all__ = ["begin_hour", "look", "ph_of", "run"]


@jit
def _hour(y, p, f, table, steps):
    """One hour of a block. Empty places at its end repeat the last member, so that every place holds numbers."""
    members = y.shape[0]
    for m in range(members):
        begin_hour(y, p, m, f)
        fill(table, m, y, rates(y, p, m, f))
    for m in range(members, BLOCK):
        for row in range(STATES + RATES):
            table[row * BLOCK + m] = table[row * BLOCK + members - 1]
    for _ in range(steps):
        acidity(table, f[at.F_CARBONATE_1], f[at.F_CARBONATE_2], f[at.F_WATER], f[at.F_AMMONIUM])
        step_block(table, HOUR / steps)
    for m in range(members):
        take(table, m, y)
        evaporate(y, m, f)


@jit
def _record(y, p, f, table, out, first):
    """Write what can be seen of a block into one record, quantity by quantity."""
    observe(y, p, f, table)
    for quantity in range(QUANTITIES):
        for m in range(y.shape[0]):
            out[quantity, first + m] = table[quantity * BLOCK + m]


@entry("void(f8[:,::1], f8[:,::1], f8[:,::1], i8, i8, f4[:,:,::1])")
def run(states, parameters, forcing, steps, every, out):
    """Advance all members through all hours, in place, and keep what can be seen every so many hours.

    states (members, states); parameters (members, parameters); forcing (hours, columns); steps an hour;
    out (records, quantities, members) float32, one record at the start and one after each `every` hours;
    every = 0 keeps nothing.
    """
    table = np.empty((STATES + RATES) * BLOCK)
    q = np.ones(QUANTITIES * BLOCK)
    for first in range(0, states.shape[0], BLOCK):
        y, p = states[first : first + BLOCK], parameters[first : first + BLOCK]
        if every > 0:
            _record(y, p, forcing[0], q, out[0], first)
        for hour in range(forcing.shape[0]):
            _hour(y, p, forcing[hour], table, steps)
            if every > 0 and (hour + 1) % every == 0:
                _record(y, p, forcing[hour], q, out[(hour + 1) // every], first)


@entry("void(f8[:,::1], f8[:,::1], f8[::1], f4[:,::1])")
def look(states, parameters, hour, out):
    """What can be seen of each member now: out (quantities, members); `hour` is one row of the forcing."""
    table = np.ones(QUANTITIES * BLOCK)
    for first in range(0, states.shape[0], BLOCK):
        block = slice(first, first + BLOCK)
        _record(states[block], parameters[block], hour, table, out, first)
