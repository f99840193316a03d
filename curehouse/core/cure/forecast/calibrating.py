"""How wide the ranges must be, found by replaying a house's own cures as they were known week by week.

Each cure that was followed to the end is forecast again from its first weighings. Its weights are held against what
was read later, with the noise of a reading. The day it was ready is never read: it is known from all weighings
together, and how well it is known is kept, so the range is held against draws of it.

Each cure is replayed after one and three weighings or after two and four, for after the next it says nearly the same.
How far such a history is believed is `widening`'s.
"""

from bisect import bisect_right
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .batches import BarReadings, ForecastRule, WeighedBatch
from .beside import Beside
from .definitions import days_wanted, ready_days, whole_days
from .draws import drawn
from .humidity import Rooms
from .learning import Memory, learn
from .packing import packed
from .prior import Floats, Prior
from .ranges import MOST_READY, USUAL_READY, Calibration, levels, quantiles, tenths
from .widening import Held, Houses, factors

MOST_REPLAYED = 4
# Only the newest cures are replayed: more would say the same at more cost.
MOST_CURES = 80
# Each cure is replayed after every so many weighings.
_EVERY = 2
# Sessions seen the first time a cure is replayed: that of the cut and one more.
_SEEN_FIRST = 2
# A cure tells what came of it if it was weighed for this much longer than its forecast saw, and this often.
_BEYOND_DAYS, _BEYOND_SESSIONS = 14.0, 2
# Cures cut within so many days hung in the same air for most of what is foretold of them.
_SAME_AIR_DAYS = 56
# How often ranges should hold when replayed, for 80 of 100 or more to hold of what is to come (one that is a hair too
# narrow misleads, one too wide does not), and what houses want for it, on sets made here with other seeds. They lie within
# the error of what `tests/benchmarks/settle_constants.py` prints (usual 1.017 and 1.200, houses 0.052 and 0.037 apart).
HOLD = 0.84
# As many more of the draws as are taken in are as many more of what comes; of a normal distribution stretched 80 % rise
# by 2 x 1.28 x its density there.
READY = Houses(unlearnt=USUAL_READY, usual=1.01, spread=0.04, narrowest=0.7, widest=MOST_READY, steepest=0.8)
WEIGHT = Houses(unlearnt=1.0, usual=1.15, spread=0.05, narrowest=0.5, widest=2.0, steepest=0.45)
# Of Student's t with the 4 degrees of freedom by which readings scatter 80 % lie within this many scales (tables of t have
# 1.533); of ranges a reading beyond this many is a slip.
_EIGHTY, _SLIP = 1.5332, 4.0
_DRAWS = 150
_CHUNK = 40


@dataclass(frozen=True, slots=True, eq=False)
class Replayed:
    """A batch forecast again: draws of its ready moment then and as known at the end, and what its bars came to weigh.

    `weight_g` are (S, J) draws of the weights on the day of a late session, `read_g` what was read there (not a number
    where nothing was), `noise_g` within what 80 % of such readings lie of the bar's weight.
    `seen` is what of the batch it was forecast from.
    """

    said: Floats
    came: Floats
    weight_g: Floats
    read_g: Floats
    noise_g: float
    seen: "Seen"


@dataclass(frozen=True, slots=True)
class Seen:
    """From what a batch was forecast again: its key, the half it was of, its sessions, and the days since the cut.

    `known_day` is that of the last session seen, `late_day` that of the session its weights are held against;
    `labels` are the bars' in the order of the draws, `cut_day` and `room` the batch's.
    """

    key: str
    half: int
    weighings: int
    known_day: int
    late_day: int
    labels: tuple[str, ...]
    cut_day: int | None = None
    room: str = ""

    @property
    def air(self) -> Hashable:
        """Name the air it hung in: its own where nobody knows when it was cut."""
        return self.key if self.cut_day is None else (self.room, self.cut_day // _SAME_AIR_DAYS)


def calibrated(
    batches: Sequence[WeighedBatch], prior: Prior, rule: ForecastRule, *, step_g: float, room: Rooms | None = None
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
    return wide_enough(replayed(batches, prior, rule, step_g=step_g, room=room))


def wide_enough(replays: Sequence[Sequence[Replayed]], *, hold: float = HOLD) -> Calibration:
    """Return the factors by which ranges of the ready day and of weights hold as often as wanted when replayed."""
    return Calibration(
        ready=factors([ready_held(one) for one in replays], hold, READY),
        weight=factors([weight_held(one) for one in replays], hold, WEIGHT),
        replayed=sum(len(one) for one in replays[:_EVERY]),
    )


def replayed(
    batches: Sequence[WeighedBatch],
    prior: Prior,
    rule: ForecastRule,
    *,
    step_g: float,
    room: Rooms | None = None,
    memory: Memory | None = None,
) -> list[list[Replayed]]:
    """Return the batches forecast again after each number of weighings; `memory` as in `learn`, all else as in `calibrated`."""
    ordered = sorted(batches, key=lambda batch: batch.key)
    replays: list[list[Replayed]] = [[] for _ in range(MOST_REPLAYED)]
    for half in (0, 1):
        taught = learn(ordered[1 - half :: 2], step_g=step_g, room=room, start=prior, memory=memory)
        followed = [batch for batch in ordered[half::2] if batch.last_day >= rule.min_days + _BEYOND_DAYS]
        long = sorted(followed, key=lambda batch: (batch.cut_day or 0, batch.key))[-MOST_CURES // 2 :]
        early = [
            [(one, i) for i in range(k % _EVERY, len(long), _EVERY) if (one := _known_by(long[i], k + 1)) is not None]
            for k in range(MOST_REPLAYED)
        ]
        asked = [*long, *(one for known in early for one, _ in known)]
        replay = _Replay(taught, rule, step_g, room, Beside(ordered, asked, taught, step_g=step_g, room=room))
        came = replay.each(long, [0.0] * len(long))
        for k, (then, into) in enumerate(zip(early, replays, strict=True)):
            late = [_late_session(long[i], one.last_day, rule.latest_day) for one, i in then]
            said = replay.each([one for one, _ in then], late)
            for (one, i), day, (ready, weight_g) in zip(then, late, said, strict=True):
                read_g = _read(long[i], day)
                scatter_g = np.hypot(taught.session_sd, taught.reading_sd) * np.nanmedian(read_g)
                noise_g = float(np.hypot(_EIGHTY * scatter_g, 0.4 * step_g))
                labels = tuple(sorted(bar.label for bar in one.bars))
                known_day, late_day = round(one.last_day), round(day)
                seen = Seen(one.key, half, k + _SEEN_FIRST, known_day, late_day, labels, one.cut_day, one.room)
                into.append(Replayed(ready, came[i][0], weight_g, read_g, noise_g, seen))
    return replays


def _late_session(batch: WeighedBatch, known_to: float, wanted: float) -> float:
    """Return the day of the session nearest to the day wanted, of those well after what was known."""
    days = sorted({round(day) for bar in batch.bars for day in bar.days if day >= known_to + _BEYOND_DAYS - 0.5})
    return float(min(days, key=lambda day: abs(day - wanted)))


def _read(batch: WeighedBatch, day: float) -> Floats:
    """Return what was read of the bars on a day, in the order of their labels."""
    rows = []
    for bar in sorted((bar for bar in batch.bars if bar.days), key=lambda bar: bar.label):
        rows.append(next((g for at, g in zip(bar.days, bar.weights_g, strict=True) if round(at) == day), np.nan))
    return np.array(rows)


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
    return bar.first(bisect_right(bar.days, until))


@dataclass(frozen=True, slots=True)
class _Replay:
    prior: Prior
    rule: ForecastRule
    step_g: float
    room: Rooms | None
    beside: Beside

    def each(self, batches: Sequence[WeighedBatch], days: Sequence[float]) -> list[tuple[Floats, Floats]]:
        """Return (S,) draws of the ready moment and (S, J) of the bars' weights on a day, of each batch."""
        wanted, knots = days_wanted(self.rule, np.zeros(0))
        out: dict[int, tuple[Floats, Floats]] = {}
        for group, places in packed(batches, self.prior, self.room, chunk=_CHUNK):
            spells = self.beside.spells(group)
            found = drawn(
                group, self.prior, wanted, step_g=self.step_g, draws=_DRAWS, room=self.room, spells=spells, others=False
            )
            ready = ready_days(found, group.water, wanted, knots, self.rule)
            for n, place in enumerate(places):
                after = int(np.clip(np.searchsorted(wanted, days[place]), 1, len(wanted) - 1))
                share = np.clip((days[place] - wanted[after - 1]) / (wanted[after] - wanted[after - 1]), 0.0, 1.0)
                weight_g = found.weight_g[n]
                out[place] = ready[n], weight_g[..., after - 1] * (1 - share) + weight_g[..., after] * share
        return [out[i] for i in range(len(batches))]


def ready_held(replayed: Sequence[Replayed]) -> Held:
    """Return what share of the ranges of the ready day holds if they take in so many more of the draws."""
    keys, airs = [one.seen.key for one in replayed], [one.seen.air for one in replayed]
    if not replayed:
        return Held(lambda by: np.zeros(0), np.zeros(0), keys, airs)
    said = np.stack([one.said for one in replayed])
    outcomes = whole_days(np.stack([one.came for one in replayed]))

    def held(by: float) -> Floats:
        low, _, high = whole_days(quantiles(said, levels(by)))[..., None]
        out: Floats = ((low <= outcomes) & (outcomes <= high)).mean(axis=1)
        return out

    return Held(held, np.ones(len(replayed)), keys, airs)


def weight_held(replayed: Sequence[Replayed]) -> Held:
    """Return how much of what was read lies in the ranges stretched so far, its noise allowed for."""
    sides, offs, noises, places = [np.zeros(0)], [np.zeros(0)], [np.zeros(0)], [np.zeros(0, dtype=int)]
    for place, one in enumerate(replayed):
        low, middle, high = tenths(one.weight_g[None])[:, 0]
        off = one.read_g - middle
        seen = np.isfinite(off)
        sides.append(np.where(off > 0, high - middle, middle - low)[seen])
        offs.append(np.abs(off)[seen])
        noises.append(np.full(int(seen.sum()), one.noise_g))
        places.append(np.full(int(seen.sum()), place))
    side, off, noise, of = (np.concatenate(each) for each in (sides, offs, noises, places))
    # A slip of the hand says nothing of the range.
    right = off <= _SLIP * np.hypot(side, noise)
    side, off, noise, of = side[right], off[right], noise[right], of[right]
    counts = np.bincount(of, minlength=len(replayed)).astype(float)

    def held(by: float) -> Floats:
        inside = off <= np.hypot(by * side, noise)
        return np.bincount(of, weights=inside, minlength=len(replayed)).astype(np.float64)

    return Held(held, counts, [one.seen.key for one in replayed], [one.seen.air for one in replayed])
