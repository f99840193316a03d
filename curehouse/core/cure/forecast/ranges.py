"""Ranges as they are shown: 80 % of the draws, and how much wider replaying a house's history wants them."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from .prior import Floats

TENTHS = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True)
class Range:
    """An 80 % range with its middle."""

    p10: float
    p50: float
    p90: float

    def as_plain(self) -> dict[str, float]:
        """Return it as numbers by their names."""
        return {"p10": self.p10, "p50": self.p50, "p90": self.p90}


@dataclass(frozen=True, slots=True)
class Calibration:
    """By how much to widen the draws' ranges so that 80 of 100 hold, by number of weighings after the first.

    Attributes
    ----------
    ready, weight
        Factors for 1, 2, 3 ... weighings; the last holds for more. That of the ready day takes more or fewer of
        the draws in, for many of them may lie on the least age; that of the weight stretches the range.
    replayed
        Number of batches of the history they rest on.
    """

    ready: tuple[float, ...] = (1.0,)
    weight: tuple[float, ...] = (1.0,)
    replayed: int = 0

    def __post_init__(self) -> None:
        if not (self.ready and self.weight and all(one > 0 for one in (*self.ready, *self.weight))):
            raise ValueError("a calibration needs factors above 0")

    def as_plain(self) -> dict[str, Any]:
        """Return it as numbers and lists, as JSON keeps them."""
        return {"ready": list(self.ready), "weight": list(self.weight), "replayed": self.replayed}

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> "Calibration":
        """Return the calibration of which `as_plain` made this."""
        return cls(tuple(plain["ready"]), tuple(plain["weight"]), plain["replayed"])


# A range of whole days takes in half a day more at each end than one of moments.
USUAL_READY = 0.95
UNREPLAYED = Calibration(ready=(USUAL_READY,))
# A range of draws ends within them: no factor beyond this takes in more.
_OUTERMOST = 0.49
MOST_READY = _OUTERMOST / 0.4


def factor(factors: tuple[float, ...], weighings: int) -> float:
    """Return the factor for a number of weighings after the first."""
    return factors[min(max(weighings, 1), len(factors)) - 1]


def widened(quantiles: Floats, by: float) -> Floats:
    """Return (3, ...) quantiles with the outer ones `by` times as far from the middle one."""
    out: Floats = quantiles[1] + by * (quantiles - quantiles[1])
    return out


def quantiles(draws: Floats, shares: tuple[float, ...]) -> Floats:
    """Return (shares, N, ...) quantiles over the draws (axis 1), between two draws by a straight line."""
    # Side by side draws are sorted in half the time.
    ordered = np.moveaxis(draws, 1, -1).copy(order="C")
    ordered.sort(axis=-1)
    last = ordered.shape[-1] - 1
    at = np.asarray(shares) * last
    low = at.astype(int)
    below, above = ordered[..., low], ordered[..., np.minimum(low + 1, last)]
    out: Floats = np.moveaxis(below + (at - low) * (above - below), -1, 0)
    return out


def tenths(draws: Floats, by: float = 1.0) -> Floats:
    """Return (3, N, ...) p10, p50 and p90 over the draws (axis 1), stretched by a factor."""
    return widened(quantiles(draws, TENTHS), by)


def levels(by: float) -> tuple[float, float, float]:
    """Return the shares of the draws at which a range ends that takes in `by` times 80 % of them."""
    half = min(0.4 * by, _OUTERMOST)
    return 0.5 - half, 0.5, 0.5 + half
