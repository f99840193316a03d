"""What a rule means, worked out for every draw: ready day, water left, too soft."""

import numpy as np
from numpy.typing import NDArray

from .batches import ForecastRule
from .draws import Draws
from .prior import Floats

WEEK = 7.0
KNOT_DAYS = 3.5


def days_wanted(rule: ForecastRule, also: Floats) -> tuple[Floats, Floats]:
    """Return the days on which draws are needed for a rule and some days more, and the knots of the ready day among them."""
    # A week's loss is known from the seventh day on.
    knots = np.append(np.arange(max(rule.min_days, WEEK) - WEEK, rule.horizon_days, KNOT_DAYS), float(rule.horizon_days))
    knots = np.unique(knots)
    return np.unique(np.concatenate([knots, [float(rule.latest_day)], also])), knots


def middle_bar(values: Floats) -> Floats:
    """Return the median over bars (axis 2), by draw.

    Neighbours change places, in all draws at once, until the middle stands: bars are few, and NumPy's own median sorts
    draw by draw.
    """
    bars = [values[:, :, j] for j in range(values.shape[2])]
    low, high = (len(bars) - 1) // 2, len(bars) // 2
    for last in range(len(bars) - 1, low - 1, -1):
        for j in range(last):
            bars[j], bars[j + 1] = np.minimum(bars[j], bars[j + 1]), np.maximum(bars[j], bars[j + 1])
    out: Floats = bars[low] if low == high else (bars[low] + bars[high]) / 2
    return out


def water_left(found: Draws, water: Floats, at: NDArray[np.intp]) -> Floats:
    """Return (N, S, days) water left in % of what went in, of the median bar."""
    lost = 1 - middle_bar(found.weight_g[..., at] / found.start_g[..., None])
    out: Floats = 100 * (1 - lost / water[:, None, None])
    return out


def ready_days(found: Draws, water: Floats, days: Floats, knots: Floats, rule: ForecastRule) -> Floats:
    """Return (N, S) moments from which a batch is ready by the rule's own definition, between knots by a straight line.

    The ready day is the first whole day from there on: `whole_days`.
    """
    now = knots[knots >= max(rule.min_days, WEEK)]
    at, before = np.searchsorted(days, now), np.searchsorted(days, now - WEEK)
    exact = np.abs(days[before.clip(max=len(days) - 1)] - (now - WEEK)) < 1e-9
    now, at, before = now[exact], at[exact], before[exact]
    over = middle_bar(found.weight_g[..., before] / found.weight_g[..., at]) - 1 - rule.weekly_loss_limit_pct / 100
    if rule.water_left_limit_pct is not None:
        wet = (water_left(found, water, at) - rule.water_left_limit_pct) / 100
        over = np.maximum(over, wet)
    dry = over <= 0
    first = dry.argmax(axis=2)
    back = np.maximum(first - 1, 0)
    here = np.take_along_axis(over, first[..., None], 2)[..., 0]
    earlier = np.take_along_axis(over, back[..., None], 2)[..., 0]
    share = np.where(first > 0, earlier / np.where(earlier - here == 0, 1.0, earlier - here), 1.0)
    day = now[back] + share * (now[first] - now[back])
    out: Floats = np.where(dry.any(axis=2), np.minimum(np.maximum(day, rule.min_days), rule.horizon_days), rule.horizon_days)
    return out


def whole_days(moments: Floats) -> Floats:
    """Return the first whole day at or after each moment."""
    out: Floats = np.ceil(moments - 1e-9)
    return out


def soft_share(found: Draws, water: Floats, ready: Floats, days: Floats, rule: ForecastRule) -> Floats:
    soft = whole_days(ready) > rule.latest_day
    if rule.soft_water_of_bar_pct is not None:
        at = np.searchsorted(days, [float(rule.latest_day)])
        kept = middle_bar(found.weight_g[..., at] / found.start_g[..., None])[..., 0]
        soft = soft | (100 * (water[:, None] - (1 - kept)) / kept > rule.soft_water_of_bar_pct)
    out: Floats = soft.mean(axis=1)
    return out
