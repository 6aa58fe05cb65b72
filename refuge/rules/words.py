"""Amounts inside a sentence that is written once and read by people with different units.

A rule cannot know who will read its reason. So it writes an amount as a mark, `{mass:1.36}`: the kind of
amount and its value in SI. Whoever shows the sentence lets refuge.units.spoken turn each mark into words.
"""

import math

from refuge.units import QUANTITIES


def amount(value: float, kind: str, digits: int | None = None) -> str:
    """The mark of an SI value of a kind of refuge.units: '{flow:2.5}', '{bucket:0.012:1}'.

    digits: decimals to show, 0 to 9; None leaves them to the unit. Six significant digits are kept.
    Raises ValueError for a kind nobody knows, for digits out of range, and for a value that is not finite.
    """
    if kind not in QUANTITIES:
        raise ValueError(f"no kind of amount is called {kind!r}; there are {', '.join(QUANTITIES)}")
    if not math.isfinite(value):
        raise ValueError(f"{kind} must be a finite number, not {value!r}")
    if digits is not None and not 0 <= digits <= 9:
        raise ValueError(f"digits must lie between 0 and 9, not {digits!r}")
    return f"{{{kind}:{value:.6g}}}" if digits is None else f"{{{kind}:{value:.6g}:{digits}}}"


def litres(value: float) -> str:
    """The mark of litres, to the tenth: rules count sediment and void in litres."""
    return amount(round(value, 1) / 1000, "bucket")


def load_words(share: float, *, grown: float | None = None) -> str:
    """How a load stands to what a filter carries: '64 % of what the filter can carry'.

    share: load / what it carries today, both in the same unit. grown: what it carries today / once mature, while
    its bacteria still grow; None once they have grown. Then both are told: now, and once mature.
    """
    if grown is None:
        return _against_capacity(share, "the filter can carry")
    return (
        f"{_so_far(share)}; once it is mature, the load is {_against_capacity(share * grown, 'it can carry')}"
    )


def _against_capacity(share: float, carries: str) -> str:
    """Above twice the capacity a percentage says little to anybody, so it is said as a multiple."""
    if share <= 2:
        return f"{_percent(share)} of what {carries}"
    times = f"{share:.1f}" if share < 10 else f"{share:,.0f}".replace(",", "\u202f")
    return f"far beyond what {carries}: {times} times"


def _so_far(share: float) -> str:
    if share <= 1:
        return f"{_percent(share)} of what the filter carries so far"
    carried = "less than 1\u00a0%" if share > 100 else _percent(1 / share)
    return f"so far the filter carries {carried} of this load"


def _percent(share: float) -> str:
    return f"{share * 100:.0f}\u00a0%"
