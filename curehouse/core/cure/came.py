"""When a batch really became ready, by the measured rule alone: what forecasts of it are held against.

Days are whole days since the cut. No model enters: a session of weighings shows whether the batch was dry enough then,
and between the last that showed it was not and the first that showed it was, the weekly loss (and the water left,
where a limit is set) is taken to go down a straight line. Between weekly weighings the day is known to about a week.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import ceil, inf

from .findings import Findings, find
from .rule import BatchAtMoment, RuleLimits, SampleSeries
from .series import LONGEST_LINE_DAYS, Weighing

# A crossing that lies on a whole day is that day, whatever the last bit of a float says.
_DAY_NOISE = 1e-9


class WhyUnknown(StrEnum):
    """Why nobody can say on which day a batch became ready."""

    STILL_WET = "still_wet"
    NOT_WEIGHED = "not_weighed"
    TOO_FAR_APART = "too_far_apart"


@dataclass(frozen=True, slots=True)
class Came:
    """When a batch became ready.

    Attributes
    ----------
    ready_day
        The first whole day since the cut on which it was; None where that is not known.
    seen_day
        Day of the weighing that showed it was dry enough; None where none did.
    wet_day
        Day of the last weighing that showed it was not dry enough yet, before it was; None where none did.
    why_unknown
        Why there is no ready day; None where there is one.
    """

    ready_day: int | None
    seen_day: int | None
    wet_day: int | None
    why_unknown: WhyUnknown | None


@dataclass(frozen=True, slots=True)
class _Session:
    """A day on which bars were weighed: how far each figure lies over its limit, None where nothing tells."""

    day: int
    over: tuple[float, ...] | None

    @property
    def is_dry(self) -> bool:
        return self.over is not None and max(self.over) <= _DAY_NOISE


def came_of(bars: Mapping[str, Mapping[int, Weighing]], limits: RuleLimits, water_share: float | None) -> Came:
    """Return when a batch became ready.

    The two weighings that bound the day lie at most ten days apart, as those that tell of a week's loss do; a batch
    that is dry enough at its least age is ready on that day.

    Parameters
    ----------
    bars
        By label, each bar's weighings by whole day since the cut, those left out that are doubtful or were corrected.
    limits
        The rule.
    water_share
        Free water of the fresh bar over its mass (0-1), if known.
    """
    sessions = _sessions(bars, limits, water_share)
    wet_day = None
    for place, now in enumerate(sessions):
        if now.over is not None and not now.is_dry:
            wet_day = now.day
        if now.day < limits.min_days or not now.is_dry:
            continue
        before = sessions[place - 1] if place else None
        ready = _between(before, now, limits.min_days)
        return Came(ready, now.day, wet_day, WhyUnknown.TOO_FAR_APART if ready is None else None)
    told = any(one.day >= limits.min_days and one.over is not None for one in sessions)
    return Came(None, None, wet_day, WhyUnknown.STILL_WET if told else WhyUnknown.NOT_WEIGHED)


def _sessions(bars: Mapping[str, Mapping[int, Weighing]], limits: RuleLimits, water_share: float | None) -> Sequence[_Session]:
    found = []
    for day in sorted({day for weighed in bars.values() for day in weighed}):
        known = tuple(
            SampleSeries(label, tuple(replace(one, day=float(on)) for on, one in sorted(weighed.items()) if on <= day))
            for label, weighed in sorted(bars.items())
        )
        at = BatchAtMoment(day, float(day), tuple(bar for bar in known if bar.weighings), water_share=water_share)
        found.append(_Session(day, _over(find(at, limits), limits)))
    return found


def _over(found: Findings, limits: RuleLimits) -> tuple[float, ...] | None:
    if found.weekly_loss_pct is None or found.scale_hides_loss:
        return None
    loss = found.weekly_loss_pct - limits.weekly_loss_limit_pct
    if limits.water_left_limit_pct is None:
        return (loss,)
    if found.water_left_pct is None or found.water_impossible:
        return None
    return loss, found.water_left_pct - limits.water_left_limit_pct


def _between(before: _Session | None, now: _Session, min_days: int) -> int | None:
    """Return the first whole day from the least age on at which all lines lie at or under their limits."""
    if now.day == min_days:
        return min_days
    if before is None or before.over is None or now.over is None or now.day - before.day > LONGEST_LINE_DAYS:
        return None
    crossing = max(_crossing(was, is_now) for was, is_now in zip(before.over, now.over, strict=True))
    moment = now.day if crossing == inf else before.day + crossing * (now.day - before.day)
    return max(ceil(moment - _DAY_NOISE), min_days)


def _crossing(was: float, now: float) -> float:
    """Return the share of the way at which a line from one figure to the other comes down to nought."""
    if was <= 0:
        return 0.0
    return was / (was - now) if was > now else inf
