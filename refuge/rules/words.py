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


def load_words(share: float, *, is_young: bool = False) -> str:
    """How a load stands to what a filter carries today: '64 % of what the filter can carry'.

    share: load / capacity, both in the same unit. is_young: its bacteria are still growing. Above twice the
    capacity a percentage says little to anybody, so the load is said as a multiple.
    """
    if share <= 2:
        return (
            f"{share * 100:.0f}\u00a0% of what the filter can carry{' yet' if is_young and share > 1 else ''}"
        )
    times = f"{share:.1f}" if share < 10 else f"{share:,.0f}".replace(",", "\u202f")
    which = "this young filter can carry yet" if is_young else "the filter can carry"
    return f"far beyond what {which}: {times} times"
