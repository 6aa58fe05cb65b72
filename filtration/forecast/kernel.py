"""The compiled forecast: all members through all hours. Import it through compiled.kernel(): it pulls in numba."""

import numpy as np

from filtration.forecast.hour import HOUR, acidity, begin, evaporate, hold_rates, observe, ph_of
from filtration.forecast.jit import entry, jit
from filtration.forecast.layout import BLOCK, PARAMETERS, QUANTITIES, STATES, TABLE, P, Q, Y
from filtration.forecast.step import step_block

__all__ = ["begin_hour", "look", "ph_of", "run"]


@jit
def _enter(table, y, p):
    """Write a block into its table. Empty places repeat the last member, so that every place holds numbers."""
    for m in range(BLOCK):
        member = min(m, y.shape[0] - 1)
        for state in range(STATES):
            table[Y[0] + state * BLOCK + m] = y[member, state]
        for parameter in range(PARAMETERS):
            table[P[0] + parameter * BLOCK + m] = p[member, parameter]


@jit
def _leave(table, y):
    """Read the states of a block back from its table."""
    for m in range(y.shape[0]):
        for state in range(STATES):
            y[m, state] = table[Y[0] + state * BLOCK + m]


@jit
def _hour(table, f, steps):
    """One hour of a block."""
    begin(table, f)
    per_flow = hold_rates(table, f)
    for _ in range(steps):
        acidity(table, f)
        step_block(table, per_flow, HOUR / steps)
    evaporate(table, f)


@jit
def _record(table, f, out, first):
    """Write what can be seen of a block into one record, quantity by quantity."""
    observe(table, f)
    members = min(BLOCK, out.shape[1] - first)
    for quantity in range(QUANTITIES):
        row = Q[0] + quantity * BLOCK
        if members == BLOCK:  # a length that the compiler knows takes half the time
            for m in range(BLOCK):
                out[quantity, first + m] = table[row + m]
        else:
            for m in range(members):
                out[quantity, first + m] = table[row + m]


@entry("void(f8[:,::1], f8[:,::1], f8[:,::1], i8, i8, f4[:,:,::1])")
def run(states, parameters, forcing, steps, every, out):
    """Advance all members through all hours, in place, and keep what can be seen every so many hours.

    states (members, states); parameters (members, parameters); forcing (hours, columns); steps an hour;
    out (records, quantities, members) float32, one record at the start and one after each `every` hours;
    every = 0 keeps nothing.
    """
    table = np.empty(TABLE)
    for first in range(0, states.shape[0], BLOCK):
        y, p = states[first : first + BLOCK], parameters[first : first + BLOCK]
        _enter(table, y, p)
        if every > 0:
            _record(table, forcing[0], out[0], first)
        for hour in range(forcing.shape[0]):
            _hour(table, forcing[hour], steps)
            if every > 0 and (hour + 1) % every == 0:
                _record(table, forcing[hour], out[(hour + 1) // every], first)
        _leave(table, y)


@entry("void(f8[:,::1], f8[:,::1], f8[::1], f4[:,::1])")
def look(states, parameters, hour, out):
    """What can be seen of each member now: out (quantities, members); `hour` is one row of the forcing."""
    table = np.empty(TABLE)
    for first in range(0, states.shape[0], BLOCK):
        block = slice(first, first + BLOCK)
        _enter(table, states[block], parameters[block])
        _record(table, hour, out, first)


@jit
def begin_hour(y, p, m, f):
    """What happens at once at the start of an hour to member m, in place: for whoever solves the rest otherwise.

    y states and p parameters of all members, f the hour's row of the forcing.
    """
    table = np.empty(TABLE)
    _enter(table, y[m : m + 1], p[m : m + 1])
    begin(table, f)
    _leave(table, y[m : m + 1])
