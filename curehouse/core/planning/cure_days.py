"""How long the next cure of a formula takes, by how long those before took and nothing else.

The spread of a few cures is known badly itself, so the next one is spread as Student's t: m + s sqrt(1 + 1/n) t with
n - 1 degrees of freedom (Hahn and Meeker, *Statistical Intervals*, 1991, prediction intervals; formula from memory).
Standard library only.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

LEAST_CURES = 3
_HALVINGS = 80


@dataclass(frozen=True, slots=True)
class CureDays:
    """What cures before say of the next one: their mean and the scale of what is predicted, in days; how many they are."""

    mean_days: float
    scale_days: float
    count: int

    def chance_by(self, days: float) -> float:
        """Return how likely the next cure is over by an age."""
        if self.scale_days == 0:
            return float(days >= self.mean_days)
        return student_cdf((days - self.mean_days) / self.scale_days, self.count - 1)

    def days_for(self, share: float) -> float:
        """Return the age by which the next cure is over with a chance (between 0 and 1)."""
        return self.mean_days + self.scale_days * student_quantile(share, self.count - 1)


def cure_days(took: Sequence[float]) -> CureDays | None:
    """Return what cures that took so many days say of the next; None of fewer than three.

    Raises
    ------
    ValueError
        If one took no time, or for ever.
    """
    if any(not 0 < days < math.inf for days in took):
        raise ValueError("a cure takes more than no time, and an end")
    count = len(took)
    if count < LEAST_CURES:
        return None
    mean = math.fsum(took) / count
    variance = math.fsum((days - mean) ** 2 for days in took) / (count - 1)
    return CureDays(mean, math.sqrt(variance * (1 + 1 / count)), count)


def student_cdf(value: float, freedom: int) -> float:
    """Return Student's distribution function for a whole number of degrees of freedom.

    By the finite sums of Abramowitz and Stegun, *Handbook of Mathematical Functions* (1964), 26.7.3 and 26.7.4.

    Raises
    ------
    ValueError
        Below one degree of freedom.
    """
    if freedom < 1:
        raise ValueError("Student's t has one degree of freedom or more")
    angle = math.atan(value / math.sqrt(freedom))
    cosine, term, total = math.cos(angle), 1.0, 0.0
    if freedom % 2:
        if freedom > 1:
            term = total = cosine
            for number in range(3, freedom - 1, 2):
                term *= (number - 1) / number * cosine**2
                total += term
        inside = 2 / math.pi * (angle + math.sin(angle) * total)
    else:
        total = 1.0
        for number in range(2, freedom - 1, 2):
            term *= (number - 1) / number * cosine**2
            total += term
        inside = math.sin(angle) * total
    return (1 + inside) / 2


def student_quantile(share: float, freedom: int) -> float:
    """Return below which value a share (between 0 and 1) of Student's distribution lies."""
    if not 0 < share < 1:
        raise ValueError("a share lies between 0 and 1")
    low, high = -1.0, 1.0
    while student_cdf(low, freedom) > share:
        low *= 2
    while student_cdf(high, freedom) < share:
        high *= 2
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if student_cdf(middle, freedom) < share else (low, middle)
    return (low + high) / 2
