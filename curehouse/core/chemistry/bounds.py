"""A figure with how far it may really lie to either side."""

import math
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bounds:
    """A figure as it is counted (``middle``), and the ends between which it may really lie.

    All three have the unit of the figure. The ends are those of the worst case: everything that is
    unsure lies at its end at once.
    """

    low: float
    middle: float
    high: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.low) and math.isfinite(self.high) and self.low <= self.middle <= self.high):
            raise ValueError("bounds are finite and rise from low over middle to high")

    @classmethod
    def exactly(cls, value: float) -> "Bounds":
        """Return a figure that is known."""
        return cls(value, value, value)

    @classmethod
    def between(cls, low: float, high: float) -> "Bounds":
        """Return a published range, counted at its middle."""
        return cls(low, (low + high) / 2, high)

    def times(self, factor: float) -> "Bounds":
        """Return the figure times *factor*, a number of 0 or more."""
        return Bounds(self.low * factor, self.middle * factor, self.high * factor)

    def part_of(self, other: "Bounds") -> "Bounds":
        """Return the product of two figures of 0 or more."""
        return Bounds(self.low * other.low, self.middle * other.middle, self.high * other.high)


ZERO = Bounds.exactly(0.0)


def total(parts: Iterable[Bounds]) -> Bounds:
    """Return the sum, the same in whatever order the parts come (each end is rounded once)."""
    kept = tuple(parts)
    return Bounds(
        math.fsum(part.low for part in kept), math.fsum(part.middle for part in kept), math.fsum(part.high for part in kept)
    )
