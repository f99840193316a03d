"""In how many days what is ordered comes: a distribution learnt from receipts.

Every receipt of one material from one supplier puts its weight around the days it took, the newest
most: half as much for each ten receipts since, or for each four where deliveries have become slow
(the mean of the last three beyond one and a half times that of all before). Beside them stands a
gamma distribution of a few receipts' weight: its mean and variance are those of the receipts, drawn
towards what the supplier takes for all its materials. So one receipt or none says something too.

Days are whole. Nothing here needs more than the standard library, for pages ask it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from math import erf, exp, inf, lgamma, log, sqrt

HALF_LIFE_RECEIPTS = 10.0
BLOWN_OUT_HALF_LIFE_RECEIPTS = 4.0
BLOWN_OUT_AT = 1.5
NEWEST = 3
KERNEL_SD_DAYS = 1.0
# What the gamma counts for beside the receipts, and how much delivery times of a supplier vary.
PRIOR_RECEIPTS = 2.5
PRIOR_CV = 0.5
# What is later than all but one in a million is left out, and so is what hardly tells from nothing.
_TAIL = 1e-6
_KERNEL_REACH = 5
# Below this mean everything comes on the day it is ordered.
_SAME_DAY = 0.05
_LONGEST_DAYS = 3650


@dataclass(frozen=True, slots=True)
class LeadTime:
    """How likely each number of days is: ``chances[i]`` is that of ``first_day + i`` days."""

    chances: tuple[float, ...]
    first_day: int = 0

    def chance(self, days: int) -> float:
        """Return how likely it takes just *days*."""
        place = days - self.first_day
        return self.chances[place] if 0 <= place < len(self.chances) else 0.0

    def mean(self) -> float:
        """Return the mean in days."""
        return sum(days * chance for days, chance in enumerate(self.chances, self.first_day))

    def within(self, share: float) -> int:
        """Return the least number of days within which it comes with a chance of *share* at least.

        Raises
        ------
        ValueError
            *share* is not between 0 and 1.
        """
        if not 0 < share < 1:
            raise ValueError(f"a chance of {share:g}: give one between 0 and 1, such as 0.95")
        for days, reached in enumerate(accumulate(self.chances), self.first_day):
            # The sum of many chances misses a round figure by its last digits.
            if reached >= share - 1e-12:
                return days
        return self.first_day + len(self.chances) - 1

    def still_open_after(self, age_days: int) -> "LeadTime":
        """Return the distribution, counted from the order still, of what has not come within *age_days* days.

        Once all that is known is past, nothing tells any more: it may come on any day for as long again
        as half its age (our own choice, no source), so it is neither given up nor expected tomorrow.
        """
        if age_days < self.first_day:
            return self
        later = self.chances[age_days + 1 - self.first_day :]
        left = sum(later)
        if left <= _TAIL:
            span = max(age_days // 2, 1)
            return LeadTime((1.0 / span,) * span, age_days + 1)
        return LeadTime(tuple(chance / left for chance in later), age_days + 1)


def lead_time(days_taken: Sequence[float], usual_days: float) -> LeadTime:
    """Return in how many days an order comes.

    Parameters
    ----------
    days_taken
        The days from order to receipt of past orders of one material from one supplier, oldest first.
    usual_days
        The mean over all the supplier's receipts or, where there is none yet, what the supplier says.

    Raises
    ------
    ValueError
        A number of days below zero or beyond ten years; the message says which.
    """
    for days in (*days_taken, usual_days):
        if not 0 <= days <= _LONGEST_DAYS:
            raise ValueError(f"an order that took {days:g} days: put its two dates right, or leave it out")
    weights = _weights(days_taken)
    whole = sum(weights) + PRIOR_RECEIPTS
    mean = (_sum(weights, days_taken) + PRIOR_RECEIPTS * usual_days) / whole
    spread = [(days - mean) ** 2 for days in days_taken]
    variance = (_sum(weights, spread) + PRIOR_RECEIPTS * (PRIOR_CV * usual_days) ** 2) / whole
    gamma = _gamma_chances(mean, max(variance, 0.25))
    chances = {days: PRIOR_RECEIPTS / whole * chance for days, chance in enumerate(gamma)}
    for weight, taken in zip(weights, days_taken, strict=True):
        for days, chance in _kernel(taken).items():
            chances[days] = chances.get(days, 0.0) + weight / whole * chance
    total = sum(chances.values())
    return LeadTime(tuple(chances.get(days, 0.0) / total for days in range(max(chances) + 1)))


def blown_out(days_taken: Sequence[float]) -> bool:
    """Return whether the last three took half as long again as all before, in the mean."""
    newest, before = days_taken[-NEWEST:], days_taken[:-NEWEST]
    return bool(before) and sum(newest) / len(newest) > BLOWN_OUT_AT * sum(before) / len(before)


def _weights(days_taken: Sequence[float]) -> list[float]:
    half_life = BLOWN_OUT_HALF_LIFE_RECEIPTS if blown_out(days_taken) else HALF_LIFE_RECEIPTS
    return [0.5 ** (since / half_life) for since in reversed(range(len(days_taken)))]


def _sum(weights: Sequence[float], values: Sequence[float]) -> float:
    return sum(weight * value for weight, value in zip(weights, values, strict=True))


def _kernel(taken: float) -> dict[int, float]:
    """Return a normal curve around *taken*, on whole days from 0 up, that sums to one."""
    reach = range(max(round(taken) - _KERNEL_REACH, 0), round(taken) + _KERNEL_REACH + 1)
    raw = {day: _normal_below(day + 0.5 - taken) - _normal_below(day - 0.5 - taken) for day in reach}
    whole = sum(raw.values())
    return {day: chance / whole for day, chance in raw.items()}


def _normal_below(days: float) -> float:
    return 0.5 * (1 + erf(days / (KERNEL_SD_DAYS * sqrt(2))))


def _gamma_chances(mean: float, variance: float) -> list[float]:
    """Return the chance of each whole day from 0 up; a day is all that is nearest to it."""
    if mean < _SAME_DAY:
        return [1.0]
    shape, scale = mean * mean / variance, variance / mean
    below = [0.0]
    while 1 - below[-1] > _TAIL and len(below) <= _LONGEST_DAYS:
        below.append(gamma_below(shape, (len(below) - 0.5) / scale))
    return [upper - lower for lower, upper in pairwise(below)]


def gamma_below(shape: float, at: float) -> float:
    """Return the regularised lower incomplete gamma function P(*shape*, *at*), to twelve digits.

    By its series up to *shape* + 1, by its continued fraction beyond (NIST Digital Library of
    Mathematical Functions, 8.7.1 and 8.9.2; from memory).
    """
    if at <= 0:
        return 0.0
    factor = exp(shape * log(at) - at - lgamma(shape))
    if at < shape + 1:
        term = total = 1 / shape
        n = shape
        while term > total * 1e-15:
            n += 1
            term *= at / n
            total += term
        return factor * total
    # Lentz' method.
    b = at + 1 - shape
    c, d = inf, 1 / b
    fraction = d
    for i in range(1, 10_000):
        a = i * (shape - i)
        b += 2
        d = 1 / (a * d + b)
        c = b + a / c
        fraction *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return 1 - factor * fraction
