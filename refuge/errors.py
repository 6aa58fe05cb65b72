"""Errors that every room of Clearmere may raise, and the one check on numbers that all sums share."""

import math
from typing import SupportsFloat


class ClearmereError(Exception):
    """Base of every error that Clearmere raises on purpose."""


class OutOfRange(ClearmereError, ValueError):
    """A number (or date) that a sum cannot take. Names the argument, the value and what is allowed."""

    def __init__(self, argument: str, value: object, allowed: str) -> None:
        super().__init__(argument, value, allowed)
        self.argument = argument
        self.value = value
        self.allowed = allowed

    def __str__(self) -> str:
        return f"{self.argument} = {self.value!r}: must be {self.allowed}"


def checked(argument: str, value: SupportsFloat, low: float = -math.inf, high: float = math.inf) -> float:
    """`value` as a finite float with low <= value <= high; OutOfRange if it is not (nothing is clamped)."""
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise OutOfRange(argument, value, "a number") from None
    if not math.isfinite(number):
        raise OutOfRange(argument, value, "a finite number")
    if not low <= number <= high:
        raise OutOfRange(argument, value, _span(low, high))
    return number


def positive(argument: str, value: SupportsFloat, high: float = math.inf) -> float:
    """`value` as a finite float above zero and not above `high`; OutOfRange otherwise."""
    number = checked(argument, value, high=high)
    if number <= 0:
        raise OutOfRange(argument, value, "above 0")
    return number


def _span(low: float, high: float) -> str:
    if high == math.inf:
        return f"at least {low:g}"
    if low == -math.inf:
        return f"at most {high:g}"
    return f"from {low:g} to {high:g}"
