"""The weighings of one bar, and what they say without a forecast.

Days are days since the cut, as exact moments (a float); weights are grams.
Every percentage here is free of the unit of weight.
"""

import math
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby
from operator import attrgetter
from statistics import fmean

WEEK_DAYS = 7.0
LONGEST_LINE_DAYS = 10.0
SHORTEST_WEEK_DAYS = 5.0
LATEST_START_DAY = 1.0

# Moments become days by subtraction and division; a tenth of a second is noise.
MOMENT_NOISE_DAYS = 1e-6


@dataclass(frozen=True, slots=True)
class Weighing:
    """One weight of one bar: `day` days after the cut, `weight_g` grams.

    `doubtful` marks a weighing that was asked about and is neither confirmed
    nor corrected; `kept` one that was asked about and confirmed. `step_g` is the
    step of the scale it was made on and `scale` tells the scales apart on which
    bars stood; both None where it isn't known.

    Raises
    ------
    ValueError
        If the day is not a finite number, or the weight or the step is not
        above zero.
    """

    day: float
    weight_g: float
    doubtful: bool = False
    step_g: float | None = None
    kept: bool = False
    scale: int | None = None

    def __post_init__(self) -> None:
        if not math.isfinite(self.day):
            raise ValueError("day must be a finite number of days since the cut")
        if not (math.isfinite(self.weight_g) and self.weight_g > 0):
            raise ValueError("weight_g must be a finite number above zero")
        if self.step_g is not None and not (math.isfinite(self.step_g) and self.step_g > 0):
            raise ValueError("step_g must be a finite number above zero")


class LossRead(StrEnum):
    """How the weight of a week ago was got."""

    LINE = "line"
    SCALED = "scaled"


@dataclass(frozen=True, slots=True)
class WeeklyLoss:
    """The loss over the last seven days, as of the bar's newest weighing.

    Attributes
    ----------
    percent
        Loss in seven days divided by the weight now, in %; a gain is negative.
    loss_g
        The same in grams.
    read
        `LINE`: read from the straight line between `before` and `after`, which
        lie around the moment seven days back (the same weighing twice if one
        lies exactly there). `SCALED`: `before` is the first weighing, `after`
        the newest, and their loss was scaled up to seven days.
    before, after
        The two weighings.
    span_days
        Days between them.
    as_of_day
        Day of the newest weighing.
    half_step_pct
        How far off the scale may show it: half of the coarsest step among the
        weighings behind it, in % of the weight now. None if no step is known.
    """

    percent: float
    loss_g: float
    read: LossRead
    before: Weighing
    after: Weighing
    span_days: float
    as_of_day: float
    half_step_pct: float | None


@dataclass(frozen=True, slots=True)
class TotalLoss:
    """Loss since the first weighing.

    Attributes
    ----------
    percent
        (first weight - newest weight) / first weight, in %; a gain is negative.
    loss_g
        The same in grams.
    start_day, as_of_day
        Days of the first and the newest weighing.
    starts_at_cut
        False if the first weighing is later than one day after the cut: what
        left before it is then not counted.
    """

    percent: float
    loss_g: float
    start_day: float
    as_of_day: float
    starts_at_cut: bool


@dataclass(frozen=True, slots=True)
class WaterLeft:
    """Free water still in the bar, if all of its loss was water.

    Attributes
    ----------
    of_what_went_in_pct
        Share of the fresh bar's free water that is still there, in %. Below
        zero if the bar lost more than its water.
    of_bar_now_pct
        The same water as a share of the bar's weight now, in %.
    water_g
        The same in grams.
    starts_at_cut
        As in `TotalLoss`.
    """

    of_what_went_in_pct: float
    of_bar_now_pct: float
    water_g: float
    starts_at_cut: bool


def in_order(weighings: Iterable[Weighing]) -> tuple[Weighing, ...]:
    """Sort weighings by moment; several of the very same moment become their mean."""
    ordered = sorted(weighings, key=attrgetter("day"))
    if len({w.day for w in ordered}) == len(ordered):
        return tuple(ordered)
    merged = []
    for day, same in groupby(ordered, key=attrgetter("day")):
        group = tuple(same)
        # Sorted, so that the mean doesn't depend on the order they came in.
        weight_g = fmean(sorted(w.weight_g for w in group))
        scales = {w.scale for w in group}
        merged.append(
            Weighing(
                day,
                weight_g,
                doubtful=any(w.doubtful for w in group),
                kept=any(w.kept for w in group),
                step_g=_coarsest(group),
                scale=scales.pop() if len(scales) == 1 else None,
            )
        )
    return tuple(merged)


def _coarsest(weighings: Iterable[Weighing]) -> float | None:
    return max((w.step_g for w in weighings if w.step_g is not None), default=None)


def without_doubtful(weighings: Iterable[Weighing]) -> tuple[Weighing, ...]:
    """Leave the doubtful weighings out."""
    return tuple(w for w in weighings if not w.doubtful)


def loss_over_last_seven_days(weighings: Iterable[Weighing]) -> WeeklyLoss | None:
    """Return the loss over the last seven days, as of the newest weighing.

    The weight seven days back is read from the straight line between the two
    weighings around that moment if these are at most 10 days apart; a weighing
    exactly there is taken itself. If the first weighing is at least 5 and less
    than 7 days back, its loss x 7 / days. Otherwise there is no weekly loss
    yet: None. The loss is divided by the weight now.
    """
    ordered = in_order(weighings)
    if not ordered:
        return None
    first, newest = ordered[0], ordered[-1]
    target = newest.day - WEEK_DAYS
    back_days = newest.day - first.day
    if back_days < WEEK_DAYS - MOMENT_NOISE_DAYS:
        if back_days < SHORTEST_WEEK_DAYS - MOMENT_NOISE_DAYS:
            return None
        loss_g = (first.weight_g - newest.weight_g) * WEEK_DAYS / back_days
        return _weekly(loss_g, newest, LossRead.SCALED, first, newest)
    # From here on a weighing lies at the moment or before it.
    index = max(bisect_right(ordered, target + MOMENT_NOISE_DAYS, key=lambda w: w.day) - 1, 0)
    before = ordered[index]
    if abs(before.day - target) <= MOMENT_NOISE_DAYS:
        return _weekly(before.weight_g - newest.weight_g, newest, LossRead.LINE, before, before)
    after = ordered[index + 1]
    span_days = after.day - before.day
    if span_days > LONGEST_LINE_DAYS + MOMENT_NOISE_DAYS:
        return None
    share = (target - before.day) / span_days
    then_g = before.weight_g + share * (after.weight_g - before.weight_g)
    return _weekly(then_g - newest.weight_g, newest, LossRead.LINE, before, after)


def _weekly(loss_g: float, newest: Weighing, read: LossRead, before: Weighing, after: Weighing) -> WeeklyLoss:
    step_g = _coarsest((before, after, newest))
    return WeeklyLoss(
        percent=100 * loss_g / newest.weight_g,
        loss_g=loss_g,
        read=read,
        before=before,
        after=after,
        span_days=after.day - before.day,
        as_of_day=newest.day,
        half_step_pct=None if step_g is None else 50 * step_g / newest.weight_g,
    )


def total_loss(weighings: Iterable[Weighing]) -> TotalLoss | None:
    """Return the loss since the first weighing; None without a weighing."""
    ordered = in_order(weighings)
    if not ordered:
        return None
    first, newest = ordered[0], ordered[-1]
    loss_g = first.weight_g - newest.weight_g
    return TotalLoss(
        percent=100 * loss_g / first.weight_g,
        loss_g=loss_g,
        start_day=first.day,
        as_of_day=newest.day,
        starts_at_cut=first.day <= LATEST_START_DAY,
    )


def water_left(weighings: Iterable[Weighing], water_share: float) -> WaterLeft | None:
    """Return the free water still in the bar; None without a weighing.

    With w the water share of the fresh bar, W0 its first and Wt its newest
    weight: (w W0 - (W0 - Wt)) / (w W0) of what went in, and the same grams
    over Wt of the bar now.

    Raises
    ------
    ValueError
        If `water_share` is not above 0 and below 1.
    """
    if not 0 < water_share < 1:
        raise ValueError("water_share must lie between 0 and 1")
    ordered = in_order(weighings)
    if not ordered:
        return None
    first, newest = ordered[0], ordered[-1]
    went_in_g = water_share * first.weight_g
    water_g = went_in_g - (first.weight_g - newest.weight_g)
    return WaterLeft(
        of_what_went_in_pct=100 * water_g / went_in_g,
        of_bar_now_pct=100 * water_g / newest.weight_g,
        water_g=water_g,
        starts_at_cut=first.day <= LATEST_START_DAY,
    )
