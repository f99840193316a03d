"""The weight to expect of a bar next, from plain drying and no forecast.

Constants are rounded shapes of drying, not fits: what leaves early goes with
the square root of time, later losses shrink from week to week, and damp air
moves a bar by a few tenths of a percent either way.
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter
from statistics import median

from .rule import SampleSeries
from .series import WEEK_DAYS, Weighing, in_order

# Water gone after a week, as a share of what went in: least, usual, most.
FIRST_WEEK_SHARES = (0.05, 0.22, 0.45)
# Free water of a fresh bar where the batch doesn't say: least, usual, most.
WATER_SHARES = (0.12, 0.20, 0.30)
WEEKLY_DECAY = 0.65
SAME_ROUND_DAYS = 0.75
SHORTEST_RATE_DAYS = 3.0
OLDEST_RATE_DAYS = 21.0
THINKABLE_SLACKS = 10.0


@dataclass(frozen=True, slots=True)
class Expected:
    """A range of weights in grams.

    Attributes
    ----------
    low_g, high_g
        The range to show.
    middle_g
        The likeliest weight.
    slack_g
        A weight is asked about only if it lies further than this outside.
    """

    low_g: float
    high_g: float
    middle_g: float
    slack_g: float

    def shows(self, weight_g: float) -> bool:
        """Whether the weight lies in the shown range."""
        return self.low_g <= weight_g <= self.high_g

    def allows(self, weight_g: float) -> bool:
        """Whether the weight lies in the range or within the slack around it."""
        return self.low_g - self.slack_g <= weight_g <= self.high_g + self.slack_g


def expected_range(
    bar: Sequence[Weighing],
    day: float,
    *,
    batch: Sequence[SampleSeries] = (),
    water_share: float | None = None,
    step_g: float = 0.1,
) -> Expected | None:
    """Return the range to expect of a bar's weight, or None with nothing to go by.

    Parameters
    ----------
    bar
        Its weighings so far; doubtful ones and those after `day` are left out.
    day
        Days since the cut of the weighing to come.
    batch
        The other sample bars of the batch, with their weighings of the same
        round where they have been weighed already: how much they lost since
        this bar's last weighing is the best guide there is.
    water_share
        Free water of the fresh bar over its mass, if known.
    step_g
        The scale's step in grams.
    """
    own = _known(bar, day)
    if not own:
        return None
    others = [_known(other.weighings, day + SAME_ROUND_DAYS) for other in batch]
    last = own[-1]
    ahead = _projected(own, others, day, water_share)
    # A wild weight of another bar, kept as it is, says nothing of this one.
    ratios = [ratio for ratio in _ratios_this_round(last, others, day) if _thinkable(1 - ratio, ahead)]
    if not ratios:
        return _in_grams(ahead, last.weight_g, step_g)
    loss = 1 - median(ratios)
    spread = max(abs(1 - ratio - loss) for ratio in ratios)
    half = 0.003 + 0.10 * abs(loss) + spread
    seen = _Loss(loss - half, loss, loss + half, 0.004 + 0.15 * abs(loss))
    # A fault in another bar's weighing must not make this bar's look like one.
    if not ahead.least - ahead.slack <= loss <= ahead.most + ahead.slack:
        least, most = min(seen.least, ahead.least), max(seen.most, ahead.most)
        seen = _Loss(least, ahead.usual, most, ahead.slack)
    return _in_grams(seen, last.weight_g, step_g)


@dataclass(frozen=True, slots=True)
class _Loss:
    """Loss since the last weighing as a share of that weight; a gain is negative."""

    least: float
    usual: float
    most: float
    slack: float


def _thinkable(loss: float, ahead: _Loss) -> bool:
    """Whether a loss lies within a few times the slack around what is projected."""
    margin = THINKABLE_SLACKS * ahead.slack
    return ahead.least - margin <= loss <= ahead.most + margin


def _in_grams(loss: _Loss, last_g: float, step_g: float) -> Expected:
    return Expected(
        low_g=last_g * (1 - loss.most) - step_g,
        high_g=last_g * (1 - loss.least) + step_g,
        middle_g=last_g * (1 - loss.usual),
        slack_g=last_g * loss.slack + step_g,
    )


def _known(weighings: Sequence[Weighing], day: float) -> tuple[Weighing, ...]:
    return in_order([w for w in weighings if w.day <= day and not w.doubtful])


def _ratios_this_round(last: Weighing, others: Sequence[tuple[Weighing, ...]], day: float) -> list[float]:
    """Weight now over weight at `last`'s moment, of the other bars weighed both times."""
    ratios = []
    for other in others:
        now, then = _of_round(other, day), _of_round(other, last.day)
        if now and then and now.day > then.day:
            ratios.append(now.weight_g / then.weight_g)
    return ratios


def _of_round(series: tuple[Weighing, ...], day: float) -> Weighing | None:
    """Return the latest weighing of the round on `day`, looked for from the end."""
    for weighing in reversed(series):
        if abs(weighing.day - day) <= SAME_ROUND_DAYS:
            return weighing
        if weighing.day < day:
            return None
    return None


def _projected(
    own: tuple[Weighing, ...],
    others: Sequence[tuple[Weighing, ...]],
    day: float,
    water_share: float | None,
) -> _Loss:
    """Project the loss since the last weighing from the batch's recent rate, if it has one."""
    last = own[-1]
    found = (_recent_rate(series, last.day) for series in (own, *others))
    rates = [rate for rate in found if rate is not None]
    ahead_days = max(day - last.day, 0.0)
    if not rates:
        return _from_the_cut(last.day, day, water_share)
    rate = median(per_day for per_day, _ in rates)
    since_days = median(age_days for _, age_days in rates)
    decay = -math.log(WEEKLY_DECAY) / WEEK_DAYS
    usual = rate * math.exp(-decay * since_days) * (1 - math.exp(-decay * ahead_days)) / decay
    weeks = ahead_days / WEEK_DAYS
    half = 0.25 * abs(usual) + 0.003 * math.sqrt(max(weeks, 0.25))
    slack = 0.35 * abs(usual) + 0.009 * math.sqrt(max(weeks, 1.0))
    return _Loss(usual - half, usual, usual + half, slack)


def _recent_rate(series: tuple[Weighing, ...], until_day: float) -> tuple[float, float] | None:
    """Share of weight lost a day over the last interval, and the age of its middle."""
    past = bisect_right(series, until_day + SAME_ROUND_DAYS, key=attrgetter("day"))
    if past < 2:
        return None
    end = series[past - 1]
    start = next((w for w in reversed(series[: past - 1]) if end.day - w.day >= SHORTEST_RATE_DAYS), None)
    if start is None or until_day - end.day > OLDEST_RATE_DAYS:
        return None
    rate = (start.weight_g - end.weight_g) / end.weight_g / (end.day - start.day)
    return rate, until_day - (start.day + end.day) / 2


def _from_the_cut(last_day: float, day: float, water_share: float | None) -> _Loss:
    """Bound the loss between two days by the square root of time and the water there is."""
    shares = WATER_SHARES if water_share is None else (water_share,) * 3
    least, usual, most = (
        water * (_gone(day, week) - _gone(last_day, week)) for water, week in zip(shares, FIRST_WEEK_SHARES, strict=True)
    )
    return _Loss(least, usual, most, 0.01)


def _gone(day: float, first_week: float) -> float:
    """Share of the water gone by a day, if `first_week` of it is gone after seven."""
    return min(first_week * math.sqrt(max(day, 0.0) / WEEK_DAYS), 1.0)
