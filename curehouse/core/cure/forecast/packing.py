"""Batches of one shape side by side, so that one array operation serves them all."""

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .batches import BarReadings, WeighedBatch
from .humidity import RoomLog, Rooms, log_of
from .one_thread import on_one_thread
from .prior import COVARIATES, DRYING, Floats, Prior

# A batch's bars by their labels, the days of its sessions, and the log of its room.
_Prepared = tuple[list[BarReadings], list[int], RoomLog | None]

CHUNK = 200
# To so many sessions shapes are filled up where many small groups would cost most.
FILL = 4
_YEAR = 365.25
# The ordinal of the day before 1 January 2001.
_NEW_YEAR = 730_485
# A weight this far from the batch's middle one is no weight of that bar.
WILD_LOW, WILD_HIGH = 0.55, 1.8
# Weighings of a bar that differ by more than this, drying set aside, contradict each other.
CONTRADICTS = 0.03
# Bars of one batch are cut to about one size: a bar further off than this is a bar of its own.
MOST_OFF_SIZE = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class Packed:
    """N batches with J bars and D sessions each.

    Attributes
    ----------
    batches, labels
        The batches and their bars' labels in the order of the arrays.
    design, known
        (N, 5 + formulas) and (N,), see `Prior.expected`.
    water
        (N,) recorded water share.
    sessions
        (N, D) whole days of the sessions.
    held
        (N, D) whether there was such a session, or it only fills up the shape.
    days, relative, seen
        (N, J, D) days, weights over `scale_g`, and whether there is a weight to go by.
    given_g
        (N, J, D) weights as given, in grams, those too wild to go by among them; not a number where there is none.
    scale_g
        (N, J) about the weight of each bar at the cut.
    size
        (N, J) weight at the cut of the batch's middle bar over `scale_g`.
    off
        (N, J, D) how far each weighing lies off what was usual for its bar, as a share; nought without one.
    session_off
        (N, D) by how much all bars of a session are off alike, if by more than drying explains.
    logged
        Whether the room's log reaches over the weighings.
    damp
        (N, D) what the air has soaked in by each session; nought without a log.
    """

    batches: tuple[WeighedBatch, ...]
    labels: tuple[tuple[str, ...], ...]
    design: Floats
    known: NDArray[np.bool_]
    water: Floats
    sessions: Floats
    held: NDArray[np.bool_]
    days: Floats
    relative: Floats
    seen: NDArray[np.bool_]
    given_g: Floats
    scale_g: Floats
    size: Floats
    off: Floats
    session_off: Floats
    logged: bool
    damp: Floats

    def by(self, prior: Prior) -> "Packed":
        """Return the group as another prior that knows the same formulas would have it packed."""
        weights = np.where(self.seen, self.given_g, np.nan)
        return replace(self, **_by_curve(self.days, weights, self.water, prior.middle(self.design)))


def packed(
    batches: Sequence[WeighedBatch], prior: Prior, room: Rooms | None = None, *, chunk: int = CHUNK, fill: int = 1
) -> Iterator[tuple[Packed, list[int]]]:
    """Yield groups of one shape with the places of their batches in `batches`; `room` are the rooms' logs by name.

    The number of sessions is filled up to a multiple of `fill` by some of which nothing was seen: they leave all else
    as it is but for rounding, and what a house has is a few large groups instead of many small ones.
    """
    on_one_thread()
    groups: dict[tuple[int, int, bool], list[int]] = defaultdict(list)
    prepared: list[_Prepared] = []
    for place, batch in enumerate(batches):
        bars = sorted((bar for bar in batch.bars if bar.days), key=lambda bar: bar.label)
        sessions = sorted({round(day) for bar in bars for day in bar.days})
        log = log_of(batch, room)
        prepared.append((bars, sessions, log))
        groups[len(bars), -(-len(sessions) // fill) * fill, log is not None].append(place)
    for (_bars, sessions_each, _logged), places in groups.items():
        for start in range(0, len(places), chunk):
            part = places[start : start + chunk]
            yield _pack([batches[i] for i in part], [prepared[i] for i in part], prior, sessions_each), part


def design_rows(
    batches: Sequence[WeighedBatch], formulas: Sequence[str], logs: Sequence[RoomLog | None]
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return (N, 5 + formulas) what shifts each batch's curve, and (N,) whether its formula is known."""
    place = {name: COVARIATES + i for i, name in enumerate(formulas)}
    rows = np.zeros((len(batches), COVARIATES + len(formulas)))
    known = np.zeros(len(batches), dtype=bool)
    for row, batch in enumerate(batches):
        rows[row, 0] = 1.0
        rows[row, 1] = batch.water_share - 0.2
        if batch.cut_day is not None:
            angle = 2 * math.pi * ((batch.cut_day - _NEW_YEAR) % _YEAR) / _YEAR
            rows[row, 2:4] = math.cos(angle), math.sin(angle)
            log = logs[row]
            if log is not None:
                rows[row, DRYING] = log.dried_by(batch.cut_day, math.floor(batch.cut_day + batch.last_day))
        column = place.get(batch.formula)
        if column is not None:
            rows[row, column] = 1.0
            known[row] = True
    return rows, known


def _pack(batches: list[WeighedBatch], prepared: list[_Prepared], prior: Prior, sessions: int) -> Packed:
    count, bars = len(batches), len(prepared[0][0])
    days = np.zeros((count, bars, sessions))
    weights = np.full((count, bars, sessions), np.nan)
    # What fills up comes after all that was held, a day after the other.
    filled = [[*one[1], *range(one[1][-1] + 1, one[1][-1] + 1 + sessions - len(one[1]))] for one in prepared]
    when = np.array(filled, dtype=float)
    held = np.arange(sessions) < np.array([[len(one[1])] for one in prepared])
    logs = [one[2] for one in prepared]
    for n, (own_bars, own_sessions, _) in enumerate(prepared):
        place = {day: i for i, day in enumerate(own_sessions)}
        for j, bar in enumerate(own_bars):
            days[n, j] = when[n]
            for day, weight_g in zip(bar.days, bar.weights_g, strict=True):
                i = place[round(day)]
                days[n, j, i], weights[n, j, i] = day, weight_g
    design, known = design_rows(batches, prior.formulas, logs)
    water = np.array([batch.water_share for batch in batches])
    given_g = weights.copy()
    with np.errstate(invalid="ignore"):
        # A weight that was read, not one between two that contradict each other: one must be left to go by.
        middle = _middles(weights.reshape(count, -1))[0][:, None, None]
        weights[(weights < WILD_LOW * middle) | (weights > WILD_HIGH * middle)] = np.nan
    seen = np.isfinite(weights)
    return Packed(
        batches=tuple(batches),
        labels=tuple(tuple(bar.label for bar in one[0]) for one in prepared),
        design=design, known=known, water=water, sessions=when, held=held, days=days, seen=seen, given_g=given_g,
        logged=logs[0] is not None, damp=_damp(batches, when, held, logs),
        **_by_curve(days, np.where(seen, weights, np.nan), water, prior.middle(design)),
    )  # fmt: skip


def _by_curve(days: Floats, weights: Floats, water: Floats, mean: Floats) -> dict[str, Any]:
    """Return what of a group rests on the curves (N, 3) that are to be expected: what bars weighed at the cut."""
    # No more leaves than there is, however wet a batch is said to be.
    share = np.minimum(np.exp(mean[:, 0]), 1.0)[:, None, None]
    left = 1.0 - water[:, None, None] * share * -np.expm1(
        -((days / np.exp(mean[:, 1])[:, None, None]) ** np.exp(mean[:, 2])[:, None, None])
    )
    scale_g, size_g = _scales(weights / left)
    with np.errstate(invalid="ignore"):
        off = weights / left / scale_g[:, :, None] - 1
    seen = np.isfinite(weights)
    return {
        "relative": np.where(seen, weights, 0.0) / scale_g[:, :, None],
        "scale_g": scale_g,
        "size": size_g / scale_g,
        "off": np.where(seen, off, 0.0),
        "session_off": _session_off(off),
    }


def _scales(at_cut_g: Floats) -> tuple[Floats, Floats]:
    """Return (N, J) about each bar's weight at the cut from what each weighing says of it, and (N, 1) that of the batch's bars.

    Where a bar's weighings contradict each other, the one nearer to the other bars is believed, and among those the
    lighter: what is forgotten on a scale makes bars heavier.
    """
    low, high = _middles(at_cut_g)
    size_g = (np.add(*_middles(low)) / 2)[:, None]
    with np.errstate(invalid="ignore"):
        apart = high - low > CONTRADICTS * low
        nearer = np.where(np.abs(low - size_g) <= np.abs(high - size_g), low, high)
    scale_g = np.where(apart, nearer, (low + high) / 2)
    # A bar of which nothing is left to go by stands at its batch's middle.
    return np.where(np.isfinite(scale_g), scale_g, size_g), size_g


def _middles(values: Floats) -> tuple[Floats, Floats]:
    """Return the two middle values along the last axis, without what is no number; no number where there is none."""
    ordered = np.sort(values, axis=-1)
    count = np.isfinite(values).sum(axis=-1)
    low = np.take_along_axis(ordered, np.maximum((count - 1) // 2, 0)[..., None], -1)[..., 0]
    high = np.take_along_axis(ordered, np.minimum(count // 2, np.maximum(count - 1, 0))[..., None], -1)[..., 0]
    return np.where(count > 0, low, np.nan), np.where(count > 0, high, np.nan)


def _session_off(off: Floats) -> Floats:
    """Return (N, D) by how much all bars of a session are off alike, as a share; nought where they are not."""
    low, high = _middles(np.swapaxes(off, 1, 2))
    both = np.where(np.sign(low) == np.sign(high), np.minimum(np.abs(low), np.abs(high)), 0.0)
    several = np.isfinite(off).sum(axis=1) > 1
    out: Floats = np.where(several & (both > CONTRADICTS), both, 0.0)
    return out


def size_squares(scale_g: Floats) -> Floats:
    """Return (N,) summed squares of what bars (N, J) differ by from their batch's middle, as a share."""
    off = np.log(scale_g) - np.median(np.log(scale_g), axis=1, keepdims=True)
    out: Floats = np.square(np.clip(off, -MOST_OFF_SIZE, MOST_OFF_SIZE)).sum(axis=1)
    return out


def _damp(batches: list[WeighedBatch], when: Floats, held: NDArray[np.bool_], logs: list[RoomLog | None]) -> Floats:
    """Return (N, D) what the air has soaked in by each session that was held, and nought for what fills up."""
    out = np.zeros_like(when)
    for n, (batch, log) in enumerate(zip(batches, logs, strict=True)):
        if log is not None and batch.cut_day is not None:
            own = when[n, held[n]].astype(int)
            cut, last = batch.cut_day, int(own[-1])
            out[n, held[n]] = log.paths(cut, cut + last, last, 1)[0][own]
    return out
