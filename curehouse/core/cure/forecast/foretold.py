"""What is foretold of a batch: ready day, weights, water left, and whether it stays too soft."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from .batches import ForecastRule, WeighedBatch
from .beside import Beside
from .definitions import days_wanted, ready_days, soft_share, water_left, whole_days
from .draws import Draws, drawn
from .humidity import Rooms
from .packing import Packed, packed
from .prior import Floats, Prior
from .ranges import UNREPLAYED, Calibration, Range, factor, levels, quantiles, tenths

DRAWS = 300
_SPLIT = 40


@dataclass(frozen=True, slots=True)
class NewBar:
    """What a bar of the batch weighs that is no sample bar, on a day.

    Attributes
    ----------
    day
        Days since the cut.
    weight_g
        Range of one bar.
    mean_g, mean_sd_g
        The batch's average bar in grams, and how well it is known.
    bar_sd_g
        Spread between the bars around that average.
    """

    day: float
    weight_g: Range
    mean_g: float
    mean_sd_g: float
    bar_sd_g: float

    def as_plain(self) -> dict[str, Any]:
        """Return it as numbers by their names."""
        return {
            "day": self.day,
            "weight_g": self.weight_g.as_plain(),
            "mean_g": self.mean_g,
            "mean_sd_g": self.mean_sd_g,
            "bar_sd_g": self.bar_sd_g,
        }


@dataclass(frozen=True, slots=True)
class BatchForecast:
    """What is foretold of a batch.

    Attributes
    ----------
    key
        The batch's.
    weighings
        Number of sessions it rests on.
    ready_day
        Days after the cut; the rule's horizon where not ready by then.
    soft_probability
        That it is ready only after the latest day, or still too wet then.
    weight_g
        By bar: its true weight on each day asked for.
    new_bar
        A bar that was not weighed, on each day asked for.
    water_left_pct
        Median bar: water left on each day asked for, in % of what went in.
    odd_probability
        That the batch follows no rule of the house.
    """

    key: str
    weighings: int
    ready_day: Range
    soft_probability: float
    weight_g: dict[str, tuple[Range, ...]]
    new_bar: tuple[NewBar, ...]
    water_left_pct: tuple[Range, ...]
    odd_probability: float

    def as_plain(self) -> dict[str, Any]:
        """Return it as numbers, names and lists, as JSON keeps them."""
        # Field by field: a house keeps hundreds a night, and what walks any dataclass takes twenty times as long.
        return {
            "key": self.key,
            "weighings": self.weighings,
            "ready_day": self.ready_day.as_plain(),
            "soft_probability": self.soft_probability,
            "weight_g": {label: [one.as_plain() for one in days] for label, days in self.weight_g.items()},
            "new_bar": [one.as_plain() for one in self.new_bar],
            "water_left_pct": [one.as_plain() for one in self.water_left_pct],
            "odd_probability": self.odd_probability,
        }


def foretell(
    batches: Sequence[WeighedBatch],
    prior: Prior,
    rule: ForecastRule,
    *,
    step_g: float,
    days: Sequence[float] = (),
    room: Rooms | None = None,
    calibration: Calibration | None = None,
    beside: Sequence[WeighedBatch] = (),
    draws: int = DRAWS,
) -> list[BatchForecast]:
    """Return the forecast of each batch from its own weighings, in their order.

    Parameters
    ----------
    days
        Days since the cut for which weights and water left are wanted; what is said of one does not depend on the others.
    calibration
        How much to widen the ranges; as without a history if not given.
    beside
        Batches of the house, these among them or not: what each shows of its room's damp by the day a batch in the
        same room was last weighed enters.
    room
        The rooms' logs by name, where there are any.
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
    asked = np.asarray(days, dtype=float)
    wanted, knots = days_wanted(rule, asked)
    plan = _Plan(rule, asked, wanted, knots, UNREPLAYED if calibration is None else calibration)
    others = Beside(beside, batches, prior, step_g=step_g, room=room) if beside else None
    out: dict[int, BatchForecast] = {}
    for group, places in packed(batches, prior, room, chunk=_SPLIT):
        spells = others.spells(group) if others is not None else None
        found = drawn(group, prior, wanted, step_g=step_g, draws=draws, room=room, spells=spells)
        out |= zip(places, plan.told(group, found), strict=True)
    return [out[place] for place in range(len(batches))]


@dataclass(frozen=True, slots=True, eq=False)
class _Plan:
    rule: ForecastRule
    asked: Floats
    wanted: Floats
    knots: Floats
    wide: Calibration

    def told(self, group: Packed, found: Draws) -> Iterator[BatchForecast]:
        """Yield the forecast of each batch of a group from its draws."""
        at = np.searchsorted(self.wanted, self.asked)
        weighings = group.sessions.shape[1]
        by = factor(self.wide.weight, weighings - 1)
        ready = ready_days(found, group.water, self.wanted, self.knots, self.rule)
        soft = soft_share(found, group.water, ready, self.wanted, self.rule)
        ready_q = whole_days(quantiles(ready, levels(factor(self.wide.ready, weighings - 1))))
        weight_q = tenths(found.weight_g[..., at], by)
        # More may leave than is recorded; of that no more than nothing is left.
        left_q = np.maximum(tenths(water_left(found, group.water, at), by), 0.0)
        new_q = tenths(found.new_g[..., at], by)
        spread = np.stack(_spread_between(found.mean_g[..., at], found.new_g[..., at]), axis=-1)
        spread[..., 1] *= by
        for n, batch in enumerate(group.batches):
            yield BatchForecast(
                key=batch.key,
                weighings=weighings,
                ready_day=Range(*ready_q[:, n].tolist()),
                soft_probability=float(soft[n]),
                weight_g={label: _by_day(weight_q[:, n, j]) for j, label in enumerate(group.labels[n])},
                new_bar=tuple(
                    NewBar(day, one, *between)
                    for day, one, between in zip(self.asked.tolist(), _by_day(new_q[:, n]), spread[n].tolist(), strict=True)
                ),
                water_left_pct=_by_day(left_q[:, n]),
                odd_probability=float(found.odd[n]),
            )


def _by_day(quantiles: Floats) -> tuple[Range, ...]:
    """Return one range for each column of (3, days)."""
    return tuple(Range(*one) for one in quantiles.T.tolist())


def _spread_between(mean_g: Floats, new_g: Floats) -> tuple[Floats, Floats, Floats]:
    """Return (N, days) mean and sd of the average bar, and the sd of bars around it."""
    # Each day's draws side by side: how sums over them round must not depend on how many days there are.
    mean_g, new_g = (np.ascontiguousarray(np.moveaxis(one, 1, 2)) for one in (mean_g, new_g))
    return mean_g.mean(axis=2), mean_g.std(axis=2), np.sqrt(np.square(new_g - mean_g).mean(axis=2))
