"""How the forecast's step is compiled. Imports numba: reach it through compiled.kernel() only."""

from typing import Any

from numba import njit

from filtration.forecast import compiled

# Contracting a product and a sum into one operation changes nothing but the last digit.
SETTINGS: dict[str, Any] = {"error_model": "numpy", "nogil": True, "fastmath": {"contract"}}

jit = njit(**SETTINGS)
# Without a call of its own inside, a loop over a block turns into vector instructions (four times as fast).
inlined = njit(inline="always", **SETTINGS)


def entry(signature):
    """Compiled at once for these types, and kept on disk where that was asked for."""
    return njit(signature, cache=compiled.prepare_numba(), **SETTINGS)
