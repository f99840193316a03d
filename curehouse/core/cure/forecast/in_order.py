"""What a house knew of its batches on the day each was last weighed: its history, and the others' weighings up to then."""

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from .batches import WeighedBatch
from .humidity import Rooms
from .learning import Memory, learn
from .prior import Prior, cold_prior

# Learnt afresh once there are this many batches more, or this part more.
_MORE, _PART_MORE = 8, 0.2
# After one weighing a fast loss and a large one look alike.
_LEAST_SESSIONS = 3


@dataclass(frozen=True, slots=True)
class Taught:
    """Places of batches in the sequence given, and the prior to forecast them by."""

    places: tuple[int, ...]
    prior: Prior


def taught_in_order(
    history: Sequence[WeighedBatch],
    current: Sequence[WeighedBatch],
    *,
    step_g: float,
    room: Rooms | None = None,
    start: Prior | None = None,
) -> Iterator[Taught]:
    """Yield what the house knew of its batches when each was last weighed.

    Of other current batches enters what was weighed before that day; `history` enters whole. A current
    batch without a date of its cut is forecast by the history alone and teaches nothing.

    Parameters
    ----------
    history, current
        Batches to learn from; batches to forecast.
    step_g, room, start
        As in `learn`.
    """
    steps = list(stages(history, current))
    prior: Prior | None = None
    for number, stage in enumerate(steps):
        prior = taught_by(stage, step_g=step_g, room=room, start=start, earlier=prior)
        places = tuple(i for i, batch in enumerate(current) if stage_of(batch, steps) == number)
        yield Taught(places, prior)


@dataclass(frozen=True, slots=True)
class Stage:
    """The moment (an ordinal) from which batches last weighed are forecast by a prior, and the batches that teach it."""

    begin: float
    teaching: tuple[WeighedBatch, ...]


def stages(history: Sequence[WeighedBatch], current: Sequence[WeighedBatch]) -> Iterator[Stage]:
    """Yield what a house learns from, one stage after the other; see :func:`taught_in_order`.

    A stage by which no current batch is forecast is left out, but for the first: that is what the house knew before.
    """
    yield Stage(-math.inf, tuple(history))
    last = sorted(batch.cut_day + batch.last_day for batch in current if batch.cut_day is not None)
    moments = [*_moments_to_learn(len(history), current), math.inf]
    for until, after in pairwise(moments):
        if bisect_left(last, until) < bisect_left(last, after):
            others = (part for batch in current if (part := known_before(batch, until)) is not None)
            yield Stage(until, (*history, *others))


def stage_of(batch: WeighedBatch, steps: Sequence[Stage]) -> int:
    """Return by which of the stages a batch is forecast."""
    if batch.cut_day is None:
        return 0
    moment = batch.cut_day + batch.last_day
    return max(number for number, stage in enumerate(steps) if stage.begin <= moment)


def taught_by(
    stage: Stage,
    *,
    step_g: float,
    room: Rooms | None = None,
    start: Prior | None = None,
    earlier: Prior | None = None,
    memory: Memory | None = None,
) -> Prior:
    """Return the prior that a stage's batches teach; `earlier` is that of the stage before it, `memory` as in `learn`."""
    base = cold_prior() if start is None else start
    return learn(stage.teaching, step_g=step_g, room=room, start=base, earlier=earlier, memory=memory)


def _moments_to_learn(learnt_from: int, current: Sequence[WeighedBatch]) -> Iterator[float]:
    """Yield the moments by which enough batches more can teach; what comes after a moment has no part in it."""
    teaching = sorted(moment for batch in current if (moment := _teaches_from(batch)) is not None)
    known, base = 0, learnt_from
    while (wanted := known + max(_MORE, int(_PART_MORE * (base + known)))) < len(teaching):
        yield teaching[wanted]
        known = wanted


def _teaches_from(batch: WeighedBatch) -> float | None:
    """Return the moment of the session from which a batch teaches."""
    sessions = sorted({round(day) for bar in batch.bars for day in bar.days})
    if batch.cut_day is None or len(sessions) < _LEAST_SESSIONS:
        return None
    return batch.cut_day + sessions[_LEAST_SESSIONS - 1]


def known_before(batch: WeighedBatch, ordinal: float) -> WeighedBatch | None:
    """Return a batch with its weighings before a day, or None if too little was seen of how it dries."""
    if batch.cut_day is None:
        return None
    until = ordinal - batch.cut_day
    bars = []
    for bar in batch.bars:
        bars.append(bar.first(bisect_left(bar.days, until)))
    sessions = {round(day) for bar in bars for day in bar.days}
    if len(sessions) < _LEAST_SESSIONS:
        return None
    return batch if batch.last_day < until else replace(batch, bars=tuple(bars))
