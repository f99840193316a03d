"""How much of a material will be used by runs that nobody has planned yet.

Uses come as a Poisson stream whose rate is known only as far as the past tells it (a gamma
distribution), each of a size like those of the past. The rate follows the shop's season and its
growth, both learnt from all its runs together: one material alone has too few.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from curehouse.core.stock.reorder.things import Past, Use

Floats = NDArray[np.float64]

HALF_LIFE_DAYS = 180.0
# What the shop's other materials count for beside a material's own uses; less once it is known long.
PRIOR_USES = 1.0
PRIOR_USES_KNOWN_LONG = 0.5
KNOWN_LONG_DAYS = 200
# A level wanders from year to year by more than chance: no more is known of it than so many uses tell.
MOST_USES_TOLD = 70.0
SIZES_KEPT = 70
FEW_SIZES = 8
_SMEAR = ((0.85, 0.25), (1.0, 0.5), (1.15, 0.25))
_FEW = (0.5, 0.75, 1.0, 1.35, 1.8)
YEAR_DAYS = 365.0
# A year is held against the one before once so many days of both are known (our own choice, no source).
LEAST_COMPARED_DAYS = 60
# Growth goes on ever more slowly: of a trend that is damped less is wrong than of one that is not
# (E. S. Gardner and E. McKenzie, Management Science 31, 1985, 1237-1246; from memory. The time is our own choice: on years
# made here in which a growth went on, slowed down or stopped, half a year did better than a year.)
GROWTH_FADES_DAYS = 180.0
# By so much (a log ratio a year) a growth is another half a year later (our own choice, no source).
GROWTH_WANDERS = 0.5


@dataclass(frozen=True, slots=True)
class Season:
    """Factors of the twelve months (mean one), the month of each day, and the growth of a year as a log ratio."""

    factors: Floats
    growth: float
    first_month: int
    day_of_month: int

    def months(self, days: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the month, 0 to 11, of each day, by months of equal length."""
        place = (self.first_month + (self.day_of_month - 0.5) / 30.4375) + days / (YEAR_DAYS / 12)
        return (np.floor(place).astype(np.int64)) % 12

    def at(self, days: NDArray[np.int64]) -> Floats:
        """Return by how much more than on an even day of today's level is used on each of *days*."""
        fading = GROWTH_FADES_DAYS * -np.expm1(-np.maximum(days, 0) / GROWTH_FADES_DAYS)
        grown: Floats = np.exp(self.growth * (np.clip(days, -3 * YEAR_DAYS, 0) + fading) / YEAR_DAYS)
        return self.factors[self.months(days)] * grown


@dataclass(frozen=True, slots=True)
class Rate:
    """Uses a day at today's level: gamma distributed with ``told`` uses in ``days`` days."""

    told: float
    days: float

    def mean(self) -> float:
        """Return the expected uses a day."""
        return self.told / self.days


@dataclass(frozen=True, slots=True)
class Sizes:
    """What one use takes: sizes and how likely each is."""

    sizes: Floats
    chances: Floats

    def mean(self) -> float:
        """Return the mean size."""
        return float(self.sizes @ self.chances)


def _counts(items: Sequence[Past], first: int, last: int) -> Floats:
    """Return how many uses of all items fell on each day from *first* to *last*."""
    days = np.array([use.day for item in items for use in item.uses if first <= use.day <= last], dtype=np.int64)
    return np.bincount(days - first, minlength=last - first + 1).astype(np.float64)


def learn_season(items: Sequence[Past], *, first_month: int, day_of_month: int) -> Season:
    """Return the season and growth of the whole shop.

    Months are drawn towards evenness by how little they differ from it (chi squared of the twelve
    counts), growth by how well two years' counts tell it.
    """
    flat = Season(np.ones(12), 0.0, first_month, day_of_month)
    known = max((item.known_days for item in items), default=0)
    if known < YEAR_DAYS:
        return flat
    growth = _growth(items, known)
    whole_years = int(known // YEAR_DAYS)
    first = -int(whole_years * YEAR_DAYS) + 1
    counts = _counts(items, first, 0)
    days = np.arange(first, 1)
    even = np.exp(growth * days / YEAR_DAYS)
    months = flat.months(days)
    seen = np.bincount(months, counts, minlength=12)
    expected = np.bincount(months, even, minlength=12) * counts.sum() / even.sum()
    chi2 = float(((seen - expected) ** 2 / np.maximum(expected, 1e-9)).sum())
    raw = (seen + 8) / (expected + 8)
    smooth = 0.25 * np.roll(raw, 1) + 0.5 * raw + 0.25 * np.roll(raw, -1)
    weight = max(0.0, 1 - 11 / chi2) if chi2 > 0 else 0.0
    factors = 1 + weight * (smooth - 1)
    season = Season(factors / factors.mean(), growth, first_month, day_of_month)
    return replace(season, growth=_still_going_on(items, known, season))


def _still_going_on(items: Sequence[Past], known: int, season: Season) -> float:
    """Return the growth of a year as far as the newest half-year still bears it out.

    A year is held against the one before, so growth that has stopped is seen there for a year longer. The newest half-year
    against the one before it, the season taken off, tells of now, but less surely: the two are weighed by how well each is
    told, and growth is never taken for more than the year shows.
    """
    half = int(YEAR_DAYS / 2)
    newer, older = (_counts(items, last - half + 1, last).sum() for last in (0, -half))
    if known < 2 * YEAR_DAYS or not season.growth or not newer or not older:
        return season.growth
    usual = [float(season.factors[season.months(np.arange(last - half + 1, last + 1))].sum()) for last in (0, -half)]
    years_apart = half / YEAR_DAYS
    now = float(np.log(newer / usual[0]) - np.log(older / usual[1])) / years_apart
    sure_now = years_apart**2 / (1 / newer + 1 / older)
    year = [_counts(items, last - int(YEAR_DAYS) + 1, last).sum() for last in (0, -int(YEAR_DAYS))]
    sure_of_year = 1 / (1 / year[0] + 1 / year[1] + GROWTH_WANDERS**2)
    weighed = (sure_now * now + sure_of_year * season.growth) / (sure_now + sure_of_year)
    return float(np.clip(weighed, min(season.growth, 0.0), max(season.growth, 0.0)))


def _growth(items: Sequence[Past], known: int) -> float:
    """Return by how much more was used on the newest days than on the same days a year before, as a log ratio.

    Of no more than a year each: so no season is taken for growth, and it is heard of before two years are known.
    """
    year = int(YEAR_DAYS)
    days = min(known - year, year)
    if days < LEAST_COMPARED_DAYS:
        return 0.0
    newer = _counts(items, -days + 1, 0).sum()
    older = _counts(items, -days + 1 - year, -year).sum()
    if not newer or not older:
        return 0.0
    ratio = float(np.log(newer / older))
    variance = 1 / newer + 1 / older
    return ratio * max(0.0, 1 - 2 * variance / ratio**2) if ratio else 0.0


def learn_rate(item: Past, season: Season, pooled_rate: float) -> Rate:
    """Return how often the material is used at today's level, with how sure that is.

    *pooled_rate*: uses a day of a material of this shop, in the mean.
    """
    days = np.arange(-item.known_days + 1, 1)
    weights = 0.5 ** (-days / HALF_LIFE_DAYS)
    exposure = float((weights * season.at(days)).sum())
    told = float(sum(0.5 ** (-use.day / HALF_LIFE_DAYS) for use in item.uses if use.day > -item.known_days))
    prior = PRIOR_USES_KNOWN_LONG if item.known_days > KNOWN_LONG_DAYS else PRIOR_USES
    told, exposure = prior + told, prior / pooled_rate + exposure
    less = min(1.0, 1 / (1 + told / MOST_USES_TOLD))
    return Rate(told * less, exposure * less)


def pooled_rate(items: Sequence[Past], season: Season) -> float:
    """Return the uses a day of a material in the mean over all of them, at today's level."""
    return mean_rate(sum(len(item.uses) for item in items), [item.known_days for item in items], season)


def mean_rate(uses: int, known_days: Sequence[int], season: Season) -> float:
    """Return the uses a day of a material in the mean, of all their *uses* and how long each is known."""
    up_to = np.concatenate([[0.0], np.cumsum(season.at(-np.arange(max(known_days, default=0))))])
    days = float(up_to[np.asarray(known_days, dtype=np.int64)].sum())
    return max(uses, 0.5) / max(days, 1.0)


def learn_sizes(uses: Sequence[Use]) -> Sizes:
    """Return what one use takes, by the newest uses; few of them are spread wider.

    Raises
    ------
    ValueError
        There is no use at all: nothing tells a size.
    """
    newest = np.array([use.quantity for use in sorted(uses, key=lambda use: use.day)[-SIZES_KEPT:]], dtype=np.float64)
    if not len(newest):
        raise ValueError("nothing was used yet: say how much one batch takes")
    sizes = np.concatenate([newest * factor for factor, _ in _SMEAR])
    chances = np.concatenate([np.full(len(newest), share) for _, share in _SMEAR])
    if len(newest) < FEW_SIZES:
        sizes = np.concatenate([sizes, newest.mean() * np.array(_FEW)])
        chances = np.concatenate([chances, np.full(len(_FEW), 1.0)])
    return Sizes(sizes, chances / chances.sum())
