"""What is foretold of a batch: ready day, weights, water left, and whether it stays too soft."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .batches import ForecastRule, WeighedBatch
from .draws import Draws, drawn
from .humidity import RoomLog
from .packing import packed
from .prior import Floats, Prior

WEEK = 7.0
KNOT_DAYS = 3.5
DRAWS = 300
_SPLIT = 40


@dataclass(frozen=True, slots=True)
class Range:
    """An 80 % range with its middle."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True)
class BatchForecast:
    """What is foretold of a batch.

    Attributes
    ----------
    key
        The batch's.
    ready_day
        Days after the cut; the rule's horizon where not ready by then.
    soft_probability
        That it is ready only after the latest day, or still too wet then.
    weight_g
        By bar: its true weight on each day asked for.
    water_left_pct
        Median bar: water left on each day asked for, in % of what went in.
    odd_probability
        That the batch follows no rule of the house.
    """

    key: str
    ready_day: Range
    soft_probability: float
    weight_g: dict[str, tuple[Range, ...]]
    water_left_pct: tuple[Range, ...]
    odd_probability: float


def foretell(
    batches: Sequence[WeighedBatch],
    prior: Prior,
    rule: ForecastRule,
    *,
    step_g: float,
    days: Sequence[float] = (),
    room: RoomLog | None = None,
    draws: int = DRAWS,
) -> list[BatchForecast]:
    """Return the forecast of each batch from its own weighings, in their order.

    Parameters
    ----------
    days
        Days since the cut for which weights and water left are wanted.
    draws
        Number of joint draws.

    Raises
    ------
    ValueError
        If the scale's step is not above 0, or a day is negative.
    """
    if not step_g > 0:
        raise ValueError("step_g must be above 0")
    if any(day < 0 for day in days):
        raise ValueError("a day counts from the cut: none may be negative")
    knots = np.append(np.arange(rule.min_days - WEEK, rule.horizon_days, KNOT_DAYS), float(rule.horizon_days))
    knots = np.unique(np.maximum(knots, 0.0))
    wanted = np.unique(np.concatenate([knots, [float(rule.latest_day)], np.asarray(days, dtype=float)]))
    out: dict[int, BatchForecast] = {}
    for group, places in packed(batches, prior, room, chunk=_SPLIT):
        found = drawn(group, prior, wanted, step_g=step_g, draws=draws, room=room)
        ready = _ready_days(found, group.water, wanted, knots, rule)
        soft = _soft(found, group.water, ready, wanted, rule)
        at = np.searchsorted(wanted, np.asarray(days, dtype=float))
        ready_q = np.quantile(ready, (0.1, 0.5, 0.9), axis=1)
        weight_q = np.quantile(found.weight_g[..., at], (0.1, 0.5, 0.9), axis=1)
        left_q = np.quantile(_water_left(found, group.water, at), (0.1, 0.5, 0.9), axis=1)
        for n, place in enumerate(places):
            bars = {
                label: tuple(Range(*weight_q[:, n, j, d].tolist()) for d in range(len(at)))
                for j, label in enumerate(group.labels[n])
            }
            left = tuple(Range(*left_q[:, n, d].tolist()) for d in range(len(at)))
            out[place] = BatchForecast(
                group.batches[n].key, Range(*ready_q[:, n].tolist()), float(soft[n]), bars, left, float(found.odd[n])
            )
    return [out[place] for place in range(len(batches))]


def _middle_bar(values: Floats) -> Floats:
    """Return the median over bars (axis 2), by draw."""
    out: Floats = np.median(values, axis=2)
    return out


def _water_left(found: Draws, water: Floats, at: NDArray[np.intp]) -> Floats:
    """Return (N, S, days) water left in % of what went in, of the median bar."""
    lost = 1 - _middle_bar(found.weight_g[..., at] / found.start_g[..., None])
    out: Floats = 100 * (1 - lost / water[:, None, None])
    return out


def _ready_days(found: Draws, water: Floats, days: Floats, knots: Floats, rule: ForecastRule) -> Floats:
    """Return (N, S) ready days by the rule's own definition, between knots by a straight line."""
    now = knots[knots >= max(rule.min_days, WEEK)]
    at, before = np.searchsorted(days, now), np.searchsorted(days, now - WEEK)
    exact = np.abs(days[before.clip(max=len(days) - 1)] - (now - WEEK)) < 1e-9
    now, at, before = now[exact], at[exact], before[exact]
    over = _middle_bar(found.weight_g[..., before] / found.weight_g[..., at]) - 1 - rule.weekly_loss_limit_pct / 100
    if rule.water_left_limit_pct is not None:
        wet = (_water_left(found, water, at) - rule.water_left_limit_pct) / 100
        over = np.maximum(over, wet)
    dry = over <= 0
    first = dry.argmax(axis=2)
    back = np.maximum(first - 1, 0)
    here = np.take_along_axis(over, first[..., None], 2)[..., 0]
    earlier = np.take_along_axis(over, back[..., None], 2)[..., 0]
    share = np.where(first > 0, earlier / np.where(earlier - here == 0, 1.0, earlier - here), 1.0)
    day = np.ceil(now[back] + share * (now[first] - now[back]))
    out: Floats = np.where(dry.any(axis=2), np.minimum(np.maximum(day, rule.min_days), rule.horizon_days), rule.horizon_days)
    return out


def _soft(found: Draws, water: Floats, ready: Floats, days: Floats, rule: ForecastRule) -> Floats:
    soft = ready > rule.latest_day
    if rule.soft_water_of_bar_pct is not None:
        at = np.searchsorted(days, [float(rule.latest_day)])
        kept = _middle_bar(found.weight_g[..., at] / found.start_g[..., None])[..., 0]
        soft = soft | (100 * (water[:, None] - (1 - kept)) / kept > rule.soft_water_of_bar_pct)
    out: Floats = soft.mean(axis=1)
    return out
