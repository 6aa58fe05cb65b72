"""One number of a design, as people read it."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """One number: its name, what it is, how it came about with this design's inputs, and whose equation it is.

    Sentences with marks. key is the same for every design, so two designs can stand side by side.
    """

    key: str
    title: str
    said: str
    how: str
    source: str
