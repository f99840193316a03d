"""What a house knew of its batches on the day each was last weighed: its history, and the others' weighings up to then."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from .batches import WeighedBatch
from .humidity import Rooms
from .learning import learn
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
    base = cold_prior() if start is None else start
    prior = learn(history, step_g=step_g, room=room, start=base)
    moments = [None if batch.cut_day is None else batch.cut_day + batch.last_day for batch in current]
    yield Taught(tuple(i for i, moment in enumerate(moments) if moment is None), prior)
    begin = -math.inf
    for until in (*_moments_to_learn(len(history), current), math.inf):
        yield Taught(tuple(i for i, moment in enumerate(moments) if moment is not None and begin <= moment < until), prior)
        if until < math.inf:
            others = [part for batch in current if (part := known_before(batch, until)) is not None]
            prior = learn([*history, *others], step_g=step_g, room=room, start=base, earlier=prior)
            begin = until


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
        kept = sum(day < until for day in bar.days)
        bars.append(replace(bar, days=bar.days[:kept], weights_g=bar.weights_g[:kept]))
    sessions = {round(day) for bar in bars for day in bar.days}
    return replace(batch, bars=tuple(bars)) if len(sessions) >= _LEAST_SESSIONS else None
