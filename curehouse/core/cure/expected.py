"""The weight to expect of a bar next, from plain drying and no forecast.

Constants are rounded shapes of drying, not fits: what leaves early goes with
the square root of time, later losses shrink from week to week, and damp air
moves a bar by a few tenths of a percent either way.
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from operator import attrgetter
from statistics import median

from .foretold_weights import FAR_SD, LEAST_OFF_G, LEAST_OFF_STEPS, SHOWN_SD, Foretold
from .rule import SampleSeries
from .series import WEEK_DAYS, Weighing, in_order

# Water gone after a week, as a share of what went in: least, usual, most.
FIRST_WEEK_SHARES = (0.07, 0.22, 0.50)
# Free water of a fresh bar where the batch doesn't say: least, usual, most.
WATER_SHARES = (0.12, 0.20, 0.30)
# What may still leave is exp(-(days / 21)^0.75): fast at first, then three quarters of the week before.
DRYING_DAYS = 21.0
DRYING_POWER = 0.75
SAME_ROUND_DAYS = 0.75
SHORTEST_RATE_DAYS = 3.0
OLDEST_RATE_DAYS = 21.0
# How far beyond the slack another bar's loss may lie and still be drawn on, in slacks.
THINKABLE_SLACKS = 4.0
# What a bar may gain from week to week, and lose beyond the fastest drying, before a weighing starts afresh.
LARGEST_GAIN = 0.02
LARGEST_EXCESS_LOSS = 0.02


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
        A weight is asked about for itself only if it lies further than this outside.
    instead
        The range if the newest weight, confirmed though it did not fit, was wrong after all.
    """

    low_g: float
    high_g: float
    middle_g: float
    slack_g: float
    instead: "Expected | None" = None

    def shows(self, weight_g: float) -> bool:
        """Whether the weight lies in the shown range."""
        return self.low_g <= weight_g <= self.high_g

    def allows(self, weight_g: float) -> bool:
        """Whether the weight lies in the range or within the slack around it, or does so in `instead`."""
        if self.low_g - self.slack_g <= weight_g <= self.high_g + self.slack_g:
            return True
        return self.instead is not None and self.instead.allows(weight_g)


def expected_range(
    bar: Sequence[Weighing],
    day: float,
    *,
    batch: Sequence[SampleSeries] = (),
    water_share: float | None = None,
    step_g: float = 0.1,
    foretold: Foretold | None = None,
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
    foretold
        What was foretold of the bar: gone by instead of the batch's recent rate
        where it knew the bar's last weighing.
    """
    own = _known(bar, day)
    if not own:
        return None
    others = [_strands(_known(other.weighings, day + SAME_ROUND_DAYS), step_g) for other in batch]
    first, *rest = [
        _from_strand(strand, others, day, water_share, step_g, foretold if strand[-1] == own[-1] else None)
        for strand in _to_go_by(_strands(own, step_g))
    ]
    return replace(first, instead=rest[0]) if rest else first


def before_the_round(batch: Sequence[SampleSeries], day: float) -> tuple[SampleSeries, ...]:
    """Return the bars as they were known before the round on `day`."""
    return tuple(replace(one, weighings=tuple(w for w in one.weighings if w.day < day - SAME_ROUND_DAYS)) for one in batch)


def _from_strand(
    own: "Strand",
    others: Sequence[Sequence["Strand"]],
    day: float,
    water_share: float | None,
    step_g: float,
    foretold: Foretold | None,
) -> Expected:
    last = own[-1]
    if foretold is not None and last.day <= foretold.as_of_day:
        ahead = _foretold(foretold, last.weight_g, day, step_g)
    else:
        ahead = _projected(own, [max(strands, key=len) for strands in others if strands], day, water_share)
    # A wild weight of another bar, kept as it is, says nothing of this one.
    ratios = [ratio for ratio in _ratios_this_round(last, others, day) if _thinkable(1 - ratio, ahead)]
    if not ratios:
        return _in_grams(ahead, last.weight_g, step_g)
    loss = 1 - median(ratios)
    spread = max(abs(1 - ratio - loss) for ratio in ratios)
    half = 0.006 + 0.17 * abs(loss) + spread
    seen = _Loss(loss - half, loss, loss + half, 0.001 + 0.03 * abs(loss))
    noise = 2 * step_g / last.weight_g
    if ahead.least - noise <= loss <= ahead.most + noise:
        return _in_grams(seen, last.weight_g, step_g)
    # Bars that all weigh what none was expected to may all be wrong, by one tray; or the air has changed.
    # A room dries bars further than it wets them.
    if loss > ahead.most:
        ahead = replace(ahead, most=seen.most)
    return _in_grams(ahead, last.weight_g, step_g)


Strand = tuple[Weighing, ...]


def _strands(known: Strand, step_g: float) -> list[Strand]:
    """Part weighings that cannot all be right: each strand dries as a bar can, oldest strand first.

    Only weights that were confirmed though they did not fit can start another.
    """
    if not any(w.kept for w in known):
        return [known] if known else []
    strands: list[list[Weighing]] = []
    for weighing in known:
        fitting = [strand for strand in strands if _can_follow(strand[-1], weighing, step_g)]
        if fitting:
            max(fitting, key=len).append(weighing)
        else:
            strands.append([weighing])
    return [tuple(strand) for strand in strands]


def _can_follow(before: Weighing, after: Weighing, step_g: float) -> bool:
    """Whether one weight can be the other's a while later, with room to spare."""
    loss = (before.weight_g - after.weight_g) / before.weight_g
    noise = 2 * step_g / before.weight_g
    weeks = max((after.day - before.day) / WEEK_DAYS, 1.0)
    most = WATER_SHARES[-1] * (_gone(after.day, FIRST_WEEK_SHARES[-1]) - _gone(before.day, FIRST_WEEK_SHARES[-1]))
    if before.day > WEEK_DAYS / 2:
        # After the first days a bar loses half as fast at most.
        most /= 2
    return -LARGEST_GAIN * math.sqrt(weeks) - noise <= loss <= most + LARGEST_EXCESS_LOSS + noise


def _to_go_by(strands: Sequence[Strand]) -> list[Strand]:
    """Return the strand to go by, and the one to go by if its newest, confirmed weight was wrong.

    A piece may come off a bar, so a lighter weight that a person confirmed is believed; a heavier
    one is not, until a second weighing bears it out.
    """
    longest = max(strands, key=len)
    newest = max(strands, key=lambda strand: strand[-1].day)
    if newest is longest:
        return [longest]
    if newest[0].weight_g < longest[-1].weight_g or len(newest) > 1:
        return [newest, longest]
    return [longest]


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
        low_g=last_g * (1 - loss.most) - 1.5 * step_g,
        high_g=last_g * (1 - loss.least) + 1.5 * step_g,
        middle_g=last_g * (1 - loss.usual),
        slack_g=last_g * loss.slack + step_g / 2,
    )


def _known(weighings: Sequence[Weighing], day: float) -> tuple[Weighing, ...]:
    return in_order([w for w in weighings if w.day <= day and not w.doubtful])


def _ratios_this_round(last: Weighing, others: Sequence[Sequence[Strand]], day: float) -> list[float]:
    """Weight now over weight at `last`'s moment, of the other bars weighed both times."""
    ratios = []
    for other in others:
        for strand in other:
            now, then = of_round(strand, day), of_round(strand, last.day)
            if now and then and now.day > then.day:
                ratios.append(now.weight_g / then.weight_g)
    return ratios


def of_round(series: tuple[Weighing, ...], day: float) -> Weighing | None:
    """Return the latest weighing of the round on `day`, looked for from the end."""
    for weighing in reversed(series):
        if abs(weighing.day - day) <= SAME_ROUND_DAYS:
            return weighing
        if weighing.day < day:
            return None
    return None


def _foretold(foretold: Foretold, last_g: float, day: float, step_g: float) -> _Loss:
    middle_g, below_g, above_g = foretold.on(day)
    # Of one weighing nothing is asked that would spoil nothing.
    least_g = max(LEAST_OFF_G, LEAST_OFF_STEPS * step_g)
    slack_g = max((FAR_SD - SHOWN_SD) * max(below_g, above_g), least_g - SHOWN_SD * min(below_g, above_g))
    return _Loss(
        least=1 - (middle_g + SHOWN_SD * above_g) / last_g,
        usual=1 - middle_g / last_g,
        most=1 - (middle_g - SHOWN_SD * below_g) / last_g,
        slack=slack_g / last_g,
    )


def _projected(
    own: Strand,
    others: Sequence[Strand],
    day: float,
    water_share: float | None,
) -> _Loss:
    """Project the loss since the last weighing from the batch's recent rate, if it has one."""
    last = own[-1]
    found = (_recent_loss(series, last.day) for series in (own, *others))
    losses = [loss for loss in found if loss is not None]
    if not losses:
        return _from_the_cut(last.day, day, water_share)
    ahead_days = max(day - last.day, 0.0)
    usual = median(losses) * (_still_there(last.day) - _still_there(last.day + ahead_days))
    weeks = ahead_days / WEEK_DAYS
    half = 0.45 * abs(usual) + 0.009 * math.sqrt(max(weeks, 0.25))
    slack = 0.10 * abs(usual) + 0.003 * math.sqrt(max(weeks, 1.0))
    # Dry air after damp takes more than damp air after dry gives back.
    return _Loss(usual - half, usual, usual + half + 0.003 * math.sqrt(max(weeks, 0.25)), slack)


def _still_there(day: float) -> float:
    """Share of what will leave that hasn't left by a day."""
    return math.exp(-((max(day, 0.0) / DRYING_DAYS) ** DRYING_POWER))


def _recent_loss(series: Strand, until_day: float) -> float | None:
    """Loss over the last interval as a share of the weight, over the share of all that was to leave in it."""
    past = bisect_right(series, until_day + SAME_ROUND_DAYS, key=attrgetter("day"))
    if past < 2:
        return None
    end = series[past - 1]
    start = next((w for w in reversed(series[: past - 1]) if end.day - w.day >= SHORTEST_RATE_DAYS), None)
    if start is None or until_day - end.day > OLDEST_RATE_DAYS:
        return None
    leaving = _still_there(start.day) - _still_there(end.day)
    if not leaving > 0:
        return None
    return (start.weight_g - end.weight_g) / end.weight_g / leaving


def _from_the_cut(last_day: float, day: float, water_share: float | None) -> _Loss:
    """Bound the loss between two days by the square root of time and the water there is."""
    shares = WATER_SHARES if water_share is None else (water_share,) * 3
    least, usual, most = (
        water * (_gone(day, week) - _gone(last_day, week)) for water, week in zip(shares, FIRST_WEEK_SHARES, strict=True)
    )
    return _Loss(least, usual, most, 0.005)


def _gone(day: float, first_week: float) -> float:
    """Share of the water gone by a day, if `first_week` of it is gone after seven."""
    return min(first_week * math.sqrt(max(day, 0.0) / WEEK_DAYS), 1.0)
