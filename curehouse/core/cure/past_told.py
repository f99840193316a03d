"""What was foretold of batches, held against what came: how often ranges held, and how far off their middles were.

A range holds where the day that came, or the weight that was read, lies in it; that a wide range and a vague outcome
have days in common is nothing. Whether ranges hold as often as is promised is asked of the exact binomial distribution
(Clopper and Pearson, 1934): seldom or often enough by chance in fewer than one of a hundred such houses.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import ceil, comb, floor, fsum

from .came import Came

# Of ten ranges so many hold: what the house promises wherever it names one.
PROMISED = 0.8
# By fewer batches nothing is said but how many they are.
LEAST_BATCHES = 10
# What would come by chance less often than this is said to be no chance.
CHANCE = 0.01
# The last number of weighings stands for itself and more.
MOST_WEIGHINGS = 5
# A batch is told as likely too soft where more such batches stay so than not.
LIKELY_SOFT = 0.5
# A weight was foretold if it was read so many days after the last weighing that was known.
LATE_DAYS = 14
_DAY_PLACES, _GRAM_PLACES = 1, 2


class Promise(StrEnum):
    """Whether ranges held as often as is promised."""

    TOO_FEW = "too_few"
    KEPT = "kept"
    TOO_SELDOM = "too_seldom"
    TOO_OFTEN = "too_often"


@dataclass(frozen=True, slots=True)
class Range:
    """Eight of ten such batches lie between `low` and `high`, half below `middle`."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True)
class Told:
    """What was foretold of a batch.

    Attributes
    ----------
    weighings
        Number of sessions it rested on.
    known_day
        Day since the cut of the last of them.
    latest_day
        Past this day the batch would be too soft.
    ready_day
        Days since the cut.
    soft_probability
        That it would be too soft.
    late_day
        Day since the cut of the late weighing that weights are held against; None where there is none.
    weight_g
        By bar: its weight on that day.
    """

    weighings: int
    known_day: int
    latest_day: int
    ready_day: Range
    soft_probability: float
    late_day: int | None
    weight_g: Mapping[str, Range]

    @property
    def is_likely_soft(self) -> bool:
        """It was told as likely too soft."""
        return self.soft_probability >= LIKELY_SOFT


@dataclass(frozen=True, slots=True)
class WeightHeld:
    """A bar's weight foretold and read, in grams; `off_g` is the middle told less what was read."""

    bar: str
    told: Range
    read_g: float
    held: bool
    off_g: float


@dataclass(frozen=True, slots=True)
class Judged:
    """A forecast held against what came.

    Attributes
    ----------
    held
        Whether the days named held; None where nobody knows. Where a weighing on the last of them or later still
        showed the batch wet they did not, though the day it became ready may not be known.
    off_days
        The middle told less the day that came: above 0 the batch was ready sooner than told.
    was_soft
        Whether it was dry enough only after its latest day; None where nobody knows.
    """

    told: Told
    came: Came
    held: bool | None
    off_days: float | None
    was_soft: bool | None
    weights: tuple[WeightHeld, ...]

    @property
    def tells(self) -> bool:
        """Anything is known of what came."""
        return self.held is not None or bool(self.weights)


def late_day(days: Iterable[int], known_day: int) -> int | None:
    """Return the last day of weighing of those well after a forecast; None where there is none."""
    return max((day for day in days if day >= known_day + LATE_DAYS), default=None)


def is_foresight(known_day: int, came: Came) -> bool:
    """Return whether a forecast whose last known session was of a day rested on nothing that showed what came."""
    return came.seen_day is None or known_day < came.seen_day


def judged(told: Told, came: Came, read_g: Mapping[str, float], step_g: Mapping[str, float]) -> Judged:
    """Hold a forecast against what came.

    Parameters
    ----------
    read_g
        By bar, what was read on the late day; bars that were not weighed then are left out.
    step_g
        By bar, the step of the scale they were read on: a reading is as good as half of it to either side.
    """
    return Judged(
        told=told,
        came=came,
        held=_days_held(told, came),
        off_days=None if came.ready_day is None else told.ready_day.middle - came.ready_day,
        was_soft=_was_soft(told, came),
        weights=tuple(
            _weighed(bar, told.weight_g[bar], grams, step_g.get(bar, 0.0))
            for bar, grams in sorted(read_g.items())
            if bar in told.weight_g
        ),
    )


def _days_held(told: Told, came: Came) -> bool | None:
    if came.ready_day is not None:
        return told.ready_day.low <= came.ready_day <= told.ready_day.high
    return False if came.seen_day is None and _still_wet_by(told.ready_day.high, told, came) else None


def _was_soft(told: Told, came: Came) -> bool | None:
    if came.ready_day is not None:
        return came.ready_day > told.latest_day
    if came.seen_day is not None and came.seen_day <= told.latest_day:
        return False
    return True if _still_wet_by(told.latest_day, told, came) else None


def _still_wet_by(day: float, told: Told, came: Came) -> bool:
    """Return whether a weighing on a day or later, and after those it was foretold from, showed the batch wet."""
    return came.wet_day is not None and came.wet_day > told.known_day and came.wet_day >= day


def _weighed(bar: str, told: Range, read_g: float, step_g: float) -> WeightHeld:
    half = step_g / 2
    held = told.low - half <= read_g <= told.high + half
    return WeightHeld(bar, told, read_g, held=held, off_g=told.middle - read_g)


@dataclass(frozen=True, slots=True)
class RangesHeld:
    """How ranges of one kind did: how many held, and the middles' errors where enough batches tell.

    Attributes
    ----------
    batches, ranges, held
        Batches that tell of it, their ranges (one each of the ready day, one a bar of weights), those that held.
    mean_error, bias
        Mean size of the error and mean error of the middles (told less came), in days to a tenth or in grams to a
        hundredth; None where fewer than `LEAST_BATCHES` tell.
    promise
        Whether they held as often as is promised.
    """

    batches: int
    ranges: int
    held: int
    mean_error: float | None
    bias: float | None
    promise: Promise


@dataclass(frozen=True, slots=True)
class SoftTold:
    """Of batches of which it is known: told likely too soft, how many were; too soft, how many had been told."""

    batches: int
    told: int
    told_and_were: int
    were: int
    were_and_told: int


@dataclass(frozen=True, slots=True)
class Score:
    """How forecasts after so many weighings did; `weighings` is `MOST_WEIGHINGS` for that many and more."""

    weighings: int
    ready: RangesHeld
    weight: RangesHeld
    soft: SoftTold


def scores(all_judged: Iterable[Judged]) -> tuple[Score, ...]:
    """Return how forecasts did, for 1, 2, ... weighings; of each number a batch has one at most."""
    by: dict[int, list[Judged]] = {number: [] for number in range(1, MOST_WEIGHINGS + 1)}
    for one in all_judged:
        by[bucket(one.told.weighings)].append(one)
    return tuple(Score(number, _ready(group), _weight(group), _soft(group)) for number, group in by.items())


def bucket(weighings: int) -> int:
    """Return the number of weighings under which a forecast counts.

    Raises
    ------
    ValueError
        If it rested on none.
    """
    if weighings < 1:
        raise ValueError("a forecast rests on one weighing or more")
    return min(weighings, MOST_WEIGHINGS)


def _ready(group: Sequence[Judged]) -> RangesHeld:
    known = [one for one in group if one.held is not None]
    held = sum(one.held is True for one in known)
    errors = [one.off_days for one in known if one.off_days is not None]
    mean, bias = _errors(errors, len(errors), _DAY_PLACES)
    return RangesHeld(len(known), len(known), held, mean, bias, promise_of([float(one.held is True) for one in known]))


def _weight(group: Sequence[Judged]) -> RangesHeld:
    known = [one.weights for one in group if one.weights]
    bars = [bar for weights in known for bar in weights]
    mean, bias = _errors([bar.off_g for bar in bars], len(known), _GRAM_PLACES)
    shares = [sum(bar.held for bar in weights) / len(weights) for weights in known]
    return RangesHeld(len(known), len(bars), sum(bar.held for bar in bars), mean, bias, promise_of(shares))


def _errors(errors: Sequence[float], batches: int, places: int) -> tuple[float | None, float | None]:
    if batches < LEAST_BATCHES:
        return None, None
    # Adding nought leaves no figure that reads -0.0.
    return (
        round(fsum(map(abs, errors)) / len(errors), places) + 0.0,
        round(fsum(errors) / len(errors), places) + 0.0,
    )


def _soft(group: Sequence[Judged]) -> SoftTold:
    known = [(one.told.is_likely_soft, one.was_soft) for one in group if one.was_soft is not None]
    told, were = sum(said for said, _ in known), sum(bool(was) for _, was in known)
    both = sum(said and bool(was) for said, was in known)
    return SoftTold(len(known), told, both, were, both)


def promise_of(shares: Sequence[float]) -> Promise:
    """Return whether ranges held as often as is promised.

    Parameters
    ----------
    shares
        By batch, what share of its ranges held. Ranges of one batch go together, so each batch counts once, and the
        sum is rounded towards what is promised.
    """
    if len(shares) < LEAST_BATCHES:
        return Promise.TOO_FEW
    held = fsum(shares)
    if at_most(ceil(held - 1e-9), len(shares), PROMISED) < CHANCE:
        return Promise.TOO_SELDOM
    if 1.0 - at_most(floor(held + 1e-9) - 1, len(shares), PROMISED) < CHANCE:
        return Promise.TOO_OFTEN
    return Promise.KEPT


def at_most(held: int, of: int, chance: float) -> float:
    """Return the probability that of so many, each with that chance, so many or fewer do: the binomial distribution."""
    return fsum(comb(of, k) * chance**k * (1.0 - chance) ** (of - k) for k in range(held + 1))
