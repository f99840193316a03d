"""What of other batches a forecast rests on, so that it can be told whether anything of it changed."""

from collections.abc import Iterable
from dataclasses import replace

from .batches import WeighedBatch
from .beside import LEAST_SESSIONS, WINDOW_DAYS


def heard_by(batch: WeighedBatch, others: Iterable[WeighedBatch]) -> list[WeighedBatch]:
    """Return the other batches of the room that a batch listens to, each as it was known on its last day, by key.

    `foretell` with these beside the batch gives what it gives with all others beside it.
    """
    if batch.cut_day is None:
        return []
    until = batch.cut_day + batch.last_day
    heard = []
    for other in others:
        if other.key == batch.key or other.cut_day is None or not batch.cut_day - WINDOW_DAYS < other.cut_day <= until:
            continue
        known = _up_to(other, until - other.cut_day)
        if known is not None:
            heard.append(known)
    return sorted(heard, key=lambda one: one.key)


def _up_to(batch: WeighedBatch, day: float) -> WeighedBatch | None:
    """Return a batch with what was weighed up to a day since its cut, or None where that says nothing of the room."""
    bars = []
    for bar in batch.bars:
        kept = sum(round(one) <= day for one in bar.days)
        bars.append(replace(bar, days=bar.days[:kept], weights_g=bar.weights_g[:kept]))
    sessions = {round(one) for bar in bars for one in bar.days}
    return replace(batch, bars=tuple(bars)) if len(sessions) >= LEAST_SESSIONS else None
