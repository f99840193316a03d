"""How batches of a formula are expected to dry, by what a house has learnt: weight left in % of the weight at the cut.

The curve is the forecast's own (`forecast.prior`), of a batch that has not been weighed, in the middle of the year's
swing and without a log of the room. Standard library only, for pages are drawn where no NumPy is loaded.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist
from typing import Any

_CURVE = 3
# The level, water over `_USUAL_WATER`, cosine and sine of the season, the air's drying; then one for each formula.
_COVARIATES = 5
_USUAL_WATER = 0.2
# So many curves are laid evenly over the prior, by Halton's sequence (1960).
_LAID = 1000
_PRIMES = (2, 3, 5)


def _halton(number: int, base: int) -> float:
    """Return the figures of a number in a base, turned round behind the point."""
    value, place = 0.0, 1.0
    while number:
        place /= base
        value += place * (number % base)
        number //= base
    return value


@cache
def _standard() -> tuple[tuple[float, ...], ...]:
    """Return the laid points of a standard normal distribution, worked out when a curve is first asked for."""
    return tuple(tuple(NormalDist().inv_cdf(_halton(number, base)) for base in _PRIMES) for number in range(1, _LAID + 1))


_TENTH = _LAID // 10


@dataclass(frozen=True, slots=True)
class ExpectedPoint:
    """Weight left on a day since the cut, in %; eight of ten batches lie between low and high, half below the middle."""

    day: float
    low_pct: float
    middle_pct: float
    high_pct: float


def expected_curve(
    prior: Mapping[str, Any], formula: str, *, water_share: float, days: Sequence[float]
) -> tuple[ExpectedPoint, ...]:
    """Return what is expected of a formula's batches on each of the days.

    Parameters
    ----------
    prior
        As `Prior.as_plain` gives it.
    formula
        The formula's name; one that the prior does not know is expected like any, with a wider range.
    water_share
        Free water of the fresh bar over its mass, 0 to 1.
    days
        Days since the cut, none negative.

    Raises
    ------
    ValueError
        If the water share is not between 0 and 1, or a day is negative.
    """
    if not 0 < water_share < 1:
        raise ValueError("water_share must lie between 0 and 1")
    if any(day < 0 for day in days):
        raise ValueError("a day counts from the cut: none may be negative")
    design = dict(_design(prior["formulas"], formula, water_share))
    middle, spread = _middle(prior, design), _spread(prior, design, is_known=formula in prior["formulas"])
    curves = tuple(_laid(middle, spread))
    return tuple(_point(day, water_share, curves) for day in days)


def _design(formulas: Sequence[str], formula: str, water_share: float) -> Iterator[tuple[int, float]]:
    yield 0, 1.0
    yield 1, water_share - _USUAL_WATER
    if formula in formulas:
        yield _COVARIATES + formulas.index(formula), 1.0


def _middle(prior: Mapping[str, Any], design: Mapping[int, float]) -> list[float]:
    width = _COVARIATES + len(prior["formulas"])
    return [sum(prior["coefficients"][row * width + at] * by for at, by in design.items()) for row in range(_CURVE)]


def _spread(prior: Mapping[str, Any], design: Mapping[int, float], *, is_known: bool) -> list[list[float]]:
    """Return the covariance of (log F, log tau, log n): between batches, and of what was learnt."""
    width = _COVARIATES + len(prior["formulas"])
    cov = prior["coefficient_cov"]

    def entry(one: int, other: int) -> float:
        learnt = sum(
            left * cov[(one * width + at) * _CURVE * width + other * width + beside] * right
            for at, left in design.items()
            for beside, right in design.items()
        )
        new = prior["formula_sd"][one] ** 2 if one == other and not is_known else 0.0
        return float(prior["batch_cov"][one * _CURVE + other] + learnt + new)

    return [[entry(one, other) for other in range(_CURVE)] for one in range(_CURVE)]


def _laid(middle: Sequence[float], spread: Sequence[Sequence[float]]) -> Iterator[tuple[float, ...]]:
    """Yield curves that lie as those of batches do, by the lower triangle whose product with itself is the covariance."""
    root = [[0.0] * _CURVE for _ in range(_CURVE)]
    for i in range(_CURVE):
        for j in range(i + 1):
            rest = spread[i][j] - sum(root[i][k] * root[j][k] for k in range(j))
            root[i][j] = math.sqrt(max(rest, 0.0)) if i == j else rest / root[j][j] if root[j][j] else 0.0
    for standard in _standard():
        yield tuple(middle[i] + sum(root[i][j] * standard[j] for j in range(i + 1)) for i in range(_CURVE))


def _lost(day: float, water_share: float, curve: Sequence[float]) -> float:
    share, tau, power = (math.exp(value) for value in curve)
    return water_share * min(share, 1.0) * -math.expm1(-((day / tau) ** power))


def _point(day: float, water_share: float, curves: Sequence[Sequence[float]]) -> ExpectedPoint:
    lost = sorted(_lost(day, water_share, curve) for curve in curves)
    high, middle, low = (100 * (1 - lost[at]) for at in (_TENTH - 1, _LAID // 2, -_TENTH))
    return ExpectedPoint(day, low, middle, high)
