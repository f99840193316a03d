"""What other batches in the same room say of its damp.

Air that makes one batch heavier makes all of them heavier on that day. Each batch's weighings leave a message on what
its sessions had in common, its own curve and bars set aside; a Gaussian process over the calendar joins the messages
of the others into what is to be expected of a batch's own sessions and of the days after. Rooms know
nothing of each other. Of the others enters what
was weighed up to the day the batch itself was last weighed.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .batches import WeighedBatch
from .damp import GRID, spell_cov
from .humidity import Rooms
from .packing import Packed, packed
from .posterior import Spells, fit
from .prior import Floats, Mix, Prior

# Batches cut longer ago than this before a batch say little of its days.
WINDOW_DAYS = 70
LEAST_SESSIONS = 2
# Steps of their fits: for what they say of the damp that is near enough.
_STEPS = 8


@dataclass(frozen=True, slots=True, eq=False)
class _Message:
    """What a batch's sessions say of the damp on their days: precision, and precision times mean."""

    cut: int
    days: NDArray[np.int_]
    precision: Floats
    pull: Floats
    logged: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Other:
    """A batch with the whole days of its sessions since its cut, and by the calendar."""

    batch: WeighedBatch
    cut: int
    sessions: list[int]
    moments: list[int]


class RoomMates:
    """Which batches a batch hears of, and what of them.

    Parameters
    ----------
    batches
        All batches of the house, finished or not, of any room; those without a date of their cut say nothing.
    """

    def __init__(self, batches: Sequence[WeighedBatch]) -> None:
        self.others = []
        for batch in sorted(batches, key=lambda one: one.key):
            if batch.cut_day is not None:
                sessions = sorted({round(day) for bar in batch.bars for day in bar.days})
                moments = [batch.cut_day + day for day in sessions]
                self.others.append(_Other(batch, batch.cut_day, sessions, moments))
        self.cuts = np.array([other.cut for other in self.others])
        self.rooms = np.array([other.batch.room for other in self.others], dtype=object)

    def wanted(self, batch: WeighedBatch) -> list[tuple[int, int]]:
        """Return which others a batch listens to, and how many of their sessions lie no later than its own last."""
        if batch.cut_day is None:
            return []
        until = batch.cut_day + batch.last_day
        near = np.flatnonzero((self.rooms == batch.room) & (self.cuts > batch.cut_day - WINDOW_DAYS) & (self.cuts <= until))
        out = []
        for i in near.tolist():
            other = self.others[i]
            known = bisect_right(other.moments, until)
            if known >= LEAST_SESSIONS and other.batch.key != batch.key:
                out.append((i, known))
        return out

    def as_known(self, wanted: tuple[int, int]) -> WeighedBatch:
        """Return one of those `wanted` with what was weighed of it by then."""
        place, known = wanted
        return _first_sessions(self.others[place], known)


class Beside:
    """The batches of a house, made ready to be asked what they say of their rooms' damp.

    Parameters
    ----------
    batches
        All batches, finished or not, of any room; those without a date of their cut say nothing.
    asked
        The batches that will be asked about.
    prior, step_g, room
        As in `foretell`.
    """

    def __init__(
        self,
        batches: Sequence[WeighedBatch],
        asked: Sequence[WeighedBatch],
        prior: Prior,
        *,
        step_g: float,
        room: Rooms | None = None,
    ) -> None:
        self.prior, self.step_g, self.logs = prior, step_g, room
        self.mates = RoomMates(batches)
        # One by one they would be fitted in groups too small to be worth it.
        self.messages = self._messages({one for batch in asked for one in self.mates.wanted(batch)})

    def spells(self, group: Packed) -> Spells:
        """Return what is to be expected of the damp in a group's sessions and on the days of the grid, from all others."""
        count, sessions = group.sessions.shape
        mean = np.zeros((count, sessions + len(GRID)))
        cov = np.empty((count, sessions + len(GRID), sessions + len(GRID)))
        for n, batch in enumerate(group.batches):
            own = np.concatenate([group.sessions[n], GRID]).astype(int)
            said = [self.messages[one] for one in self.mates.wanted(batch)]
            # With a log that is listened to, the damp is what that leaves unexplained.
            heard = [one for one in said if one.logged == group.logged or not self.prior.damp_effect]
            cut = batch.cut_day or 0
            sd, mix = self.prior.damp(logged=group.logged)
            mean[n], cov[n] = _joined(heard, np.full(len(own), cut), cut + own, sd=sd, mix=mix)
        return Spells(mean, cov)

    def _messages(self, wanted: set[tuple[int, int]]) -> dict[tuple[int, int], _Message]:
        keys = sorted(wanted)
        parts = [_first_sessions(self.mates.others[i], known) for i, known in keys]
        out: dict[tuple[int, int], _Message] = {}
        for group, places in packed(parts, self.prior, self.logs):
            precision, pull = fit(group, self.prior, step_g=self.step_g, steps=_STEPS).says_of_damp()
            for n, place in enumerate(places):
                cut, days = self.mates.others[keys[place][0]].cut, group.sessions[n].astype(int)
                out[keys[place]] = _Message(cut, days, precision[n], pull[n], group.logged)
        return out


def _first_sessions(other: _Other, known: int) -> WeighedBatch:
    until = other.sessions[known - 1] + 0.5
    bars = []
    for bar in other.batch.bars:
        kept = bisect_left(bar.days, until)
        bars.append(replace(bar, days=bar.days[:kept], weights_g=bar.weights_g[:kept]))
    return replace(other.batch, bars=tuple(bars))


def _joined(
    heard: list[_Message], cuts: NDArray[np.int_], days: NDArray[np.int_], *, sd: float, mix: Mix
) -> tuple[Floats, Floats]:
    """Return mean and covariance of the damp of a batch on some calendar days, given the messages."""
    own = sd**2 * spell_cov(cuts, days, cuts, days, mix)
    if not heard:
        return np.zeros(len(days)), own
    their_cuts = np.concatenate([np.full(len(one.days), one.cut) for one in heard])
    their_days = np.concatenate([one.cut + one.days for one in heard])
    size, begin = len(their_days), 0
    among = sd**2 * spell_cov(their_cuts, their_days, their_cuts, their_days, mix)
    across = sd**2 * spell_cov(cuts, days, their_cuts, their_days, mix)
    both = np.concatenate([among, across.T], axis=1)
    # Each message is about its own batch's sessions: their precision is a matrix of blocks.
    for one in heard:
        end = begin + len(one.days)
        both[begin:end] = one.precision @ both[begin:end]
        begin = end
    right = np.column_stack([np.concatenate([one.pull for one in heard]), both[:, size:]])
    solved = np.linalg.solve(np.eye(size) + both[:, :size], right)
    cov = own - across @ solved[:, 1:]
    return across @ solved[:, 0], (cov + cov.T) / 2
