"""How wide the ranges must be, found by replaying a house's own cures as they were known week by week.

Each cure that was followed to the end is forecast again from its first weighings; what it really came to
is known from all of them, and how well that is known is kept: the ranges are held against draws of it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .batches import BarReadings, ForecastRule, WeighedBatch
from .definitions import days_wanted, middle_bar, ready_days, whole_days
from .draws import drawn
from .humidity import RoomLog
from .learning import learn
from .packing import packed
from .prior import Floats, Prior
from .ranges import Calibration, levels, tenths, widened

MOST_REPLAYED = 4
# A cure tells what came of it if it was weighed for this much longer than its forecast saw, and this often.
_BEYOND_DAYS, _BEYOND_SESSIONS = 14.0, 2
# Batches' worth of ranges taken as they are drawn.
_WORTH = 20.0
_WIDEST, _NARROWEST = 1.6, 0.7
_HOLD = 0.8
_DRAWS = 200
_STEPS = 20
_CHUNK = 40

_Outcome = tuple[Floats, Floats]
_Replayed = tuple[_Outcome, _Outcome]


def calibrated(
    batches: Sequence[WeighedBatch], prior: Prior, rule: ForecastRule, *, step_g: float, room: RoomLog | None = None
) -> Calibration:
    """Return the factors a history wants, one for each number of weighings; 1 where it says nothing.

    Parameters
    ----------
    batches
        Cures of the house, finished or not; those too short say nothing.
    prior
        What is taken to hold without them. Each half is replayed by what the other half teaches.
    rule, step_g, room
        As in `foretell`.
    """
    ordered = sorted(batches, key=lambda batch: batch.key)
    replays: list[list[_Replayed]] = [[] for _ in range(MOST_REPLAYED)]
    for half in (0, 1):
        taught = learn(ordered[1 - half :: 2], step_g=step_g, room=room, start=prior)
        long = [batch for batch in ordered[half::2] if batch.last_day >= rule.min_days + _BEYOND_DAYS]
        replay = _Replay(taught, rule, step_g, room)
        came = replay.each(long)
        for weighings, into in enumerate(replays, start=1):
            early = [_known_by(batch, weighings) for batch in long]
            outcomes = [came[i] for i, batch in enumerate(early) if batch is not None]
            said = replay.each([batch for batch in early if batch is not None])
            into.extend(zip(said, outcomes, strict=True))
    return Calibration(
        ready=tuple(_ready_factor([(said[0], came[0]) for said, came in one]) for one in replays),
        weight=tuple(_weight_factor([(said[1], came[1]) for said, came in one]) for one in replays),
        replayed=len(replays[0]),
    )


def _known_by(batch: WeighedBatch, weighings: int) -> WeighedBatch | None:
    """Return a batch as it was known after so many weighings, or None if it was not followed long after that."""
    days = sorted({round(day) for bar in batch.bars for day in bar.days})
    if len(days) < weighings + 1 + _BEYOND_SESSIONS or batch.last_day < days[weighings] + _BEYOND_DAYS:
        return None
    until = days[weighings] + 0.5
    bars = tuple(_cut_off(bar, until) for bar in batch.bars)
    # The same bars are asked about then and at the end.
    return replace(batch, bars=bars) if all(bar.days for bar in bars) else None


def _cut_off(bar: BarReadings, until: float) -> BarReadings:
    kept = sum(day <= until for day in bar.days)
    return replace(bar, days=bar.days[:kept], weights_g=bar.weights_g[:kept])


@dataclass(frozen=True, slots=True)
class _Replay:
    prior: Prior
    rule: ForecastRule
    step_g: float
    room: RoomLog | None

    def each(self, batches: Sequence[WeighedBatch]) -> list[_Outcome]:
        """Return (S,) draws of the ready moment and of the middle bar's weight on the latest day, of each batch."""
        wanted, knots = days_wanted(self.rule, np.zeros(0))
        at = int(np.searchsorted(wanted, float(self.rule.latest_day)))
        out: dict[int, _Outcome] = {}
        for group, places in packed(batches, self.prior, self.room, chunk=_CHUNK):
            found = drawn(group, self.prior, wanted, step_g=self.step_g, draws=_DRAWS, room=self.room)
            ready = ready_days(found, group.water, wanted, knots, self.rule)
            weight = middle_bar(found.weight_g[..., at])
            for n, place in enumerate(places):
                out[place] = ready[n], weight[n]
        return [out[i] for i in range(len(batches))]


def _ready_factor(replayed: list[tuple[Floats, Floats]]) -> float:
    """Return how many more of the draws the range must take in for 80 % to hold."""
    if not replayed:
        return 1.0
    said = np.stack([one for one, _ in replayed])
    outcomes = whole_days(np.stack([came for _, came in replayed]))

    def held(by: float) -> float:
        low, _, high = whole_days(np.quantile(said, levels(by), axis=1))[..., None]
        return float(((low <= outcomes) & (outcomes <= high)).mean())

    return _solved(held, len(replayed))


def _weight_factor(replayed: list[tuple[Floats, Floats]]) -> float:
    """Return by how much the range must be stretched for 80 % to hold."""
    if not replayed:
        return 1.0
    quantiles = tenths(np.stack([said for said, _ in replayed]))[..., None]
    outcomes = np.stack([came for _, came in replayed])

    def held(by: float) -> float:
        low, _, high = widened(quantiles, by)
        return float(((low <= outcomes) & (outcomes <= high)).mean())

    return _solved(held, len(replayed))


def _solved(held: Callable[[float], float], count: int) -> float:
    """Return the factor at which 80 % hold, drawn towards 1 where few batches were replayed."""
    low, high = np.log(_NARROWEST), np.log(_WIDEST)
    for _ in range(_STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if held(float(np.exp(middle))) < _HOLD else (low, middle)
    found = (low + high) / 2 * count / (count + _WORTH)
    # The end of a cure is read through the same model: that narrower ranges would do is believed by half.
    return float(np.exp(found if found > 0 else found / 2))
