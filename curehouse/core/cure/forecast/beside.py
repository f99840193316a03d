"""What other batches in the same room say of its damp.

Air that makes one batch heavier makes all of them heavier on that day. Each batch's weighings leave a message on what
its sessions had in common, its own curve and bars set aside; a Gaussian process over the calendar joins the messages
of the others into what is to be expected of a batch's own sessions and of the days after. Rooms know
nothing of each other. Of the others enters what
was weighed up to the day the batch itself was last weighed.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .batches import WeighedBatch
from .damp import GRID, Whole, air_cov, foretold_by_cut, spell_cov
from .humidity import Rooms
from .packing import FILL, Packed, packed
from .posterior import Spells, fit
from .prior import Floats, Mix, Prior

# Batches cut longer ago than this before a batch say little of its days.
WINDOW_DAYS = 70
LEAST_SESSIONS = 2
# Steps of their fits: for what they say of the damp that is near enough.
_STEPS = 8


@dataclass(frozen=True, slots=True, eq=False)
class _Message:
    """What a batch's sessions say of the room's air, by the calendar: precision, and precision times mean.

    A batch's damp is that of the air without what the day of its cut foretells of it, so of that day it says something too.
    """

    moments: Whole
    precision: Floats
    pull: Floats
    logged: bool

    @classmethod
    def of(cls, cut: int, days: Whole, precision: Floats, pull: Floats, *, logged: bool, mix: Mix) -> "_Message":
        """Return what is said of the air by what is said of a batch's damp on some days since its cut."""
        moments, place = np.unique(np.append(cut + days, cut), return_inverse=True)
        by_air = np.zeros((len(days), len(moments)))
        each = np.arange(len(days))
        by_air[each, place[:-1]] = 1.0
        by_air[:, place[-1]] -= foretold_by_cut(np.full(len(days), cut), cut + days, mix)
        return cls(moments, by_air.T @ precision @ by_air, by_air.T @ pull, logged)


class _Said:
    """Messages side by side, the shorter ones filled up with nothing said of their own first day."""

    def __init__(self, messages: Mapping[tuple[int, int], _Message]) -> None:
        self.row = {key: row for row, key in enumerate(messages)}
        count, most = len(messages), max((len(one.moments) for one in messages.values()), default=0)
        self.moments = np.zeros((count, most), dtype=int)
        self.precision, self.pull = np.zeros((count, most, most)), np.zeros((count, most))
        self.logged = np.array([one.logged for one in messages.values()], dtype=bool)
        for row, one in enumerate(messages.values()):
            size = len(one.moments)
            self.moments[row, :size], self.moments[row, size:] = one.moments, one.moments[0]
            self.precision[row, :size, :size], self.pull[row, :size] = one.precision, one.pull

    def rows(self, keys: Sequence[tuple[int, int]]) -> Whole:
        return np.array([self.row[key] for key in keys], dtype=int)


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
        self.room_numbers: dict[str, int] = {}
        self.rooms = np.array(
            [self.room_numbers.setdefault(other.batch.room, len(self.room_numbers)) for other in self.others], dtype=int
        )

    def wanted(self, batch: WeighedBatch) -> list[tuple[int, int]]:
        """Return which others a batch listens to, and how many of their sessions lie no later than its own last."""
        if batch.cut_day is None:
            return []
        until = batch.cut_day + batch.last_day
        room = self.room_numbers.get(batch.room, -1)
        near = np.flatnonzero((self.rooms == room) & (self.cuts > batch.cut_day - WINDOW_DAYS) & (self.cuts <= until))
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
        self.said = self._said({one for batch in asked for one in self.mates.wanted(batch)})

    def spells(self, group: Packed) -> Spells:
        """Return what is to be expected of the damp in a group's sessions and on the days of the grid, from all others."""
        count, sessions = group.sessions.shape
        mean = np.zeros((count, sessions + len(GRID)))
        cov = np.empty((count, sessions + len(GRID), sessions + len(GRID)))
        for n, batch in enumerate(group.batches):
            own = np.concatenate([group.sessions[n], GRID]).astype(int)
            heard = self.said.rows(self.mates.wanted(batch))
            # With a log that is listened to, the damp is what that leaves unexplained.
            if self.prior.damp_effect:
                heard = heard[self.said.logged[heard] == group.logged]
            cut = batch.cut_day or 0
            sd, mix = self.prior.damp(logged=group.logged)
            mean[n], cov[n] = _joined(self.said, heard, cut, cut + own, sd=sd, mix=mix)
        return Spells(mean, cov)

    def _said(self, wanted: set[tuple[int, int]]) -> _Said:
        keys = sorted(wanted)
        parts = [_first_sessions(self.mates.others[i], known) for i, known in keys]
        out: dict[tuple[int, int], _Message] = {}
        for group, places in packed(parts, self.prior, self.logs, fill=FILL):
            precision, pull = fit(group, self.prior, step_g=self.step_g, steps=_STEPS).says_of_damp()
            for n, place in enumerate(places):
                cut, held = self.mates.others[keys[place][0]].cut, int(group.held[n].sum())
                days = group.sessions[n, :held].astype(int)
                said, pulled = precision[n, :held, :held], pull[n, :held]
                out[keys[place]] = _Message.of(cut, days, said, pulled, logged=group.logged, mix=self.prior.mix)
        return _Said(out)


def _first_sessions(other: _Other, known: int) -> WeighedBatch:
    until = other.sessions[known - 1] + 0.5
    bars = []
    for bar in other.batch.bars:
        bars.append(bar.first(bisect_left(bar.days, until)))
    return replace(other.batch, bars=tuple(bars))


def _joined(said: _Said, heard: Whole, cut: int, days: Whole, *, sd: float, mix: Mix) -> tuple[Floats, Floats]:
    """Return mean and covariance of the damp of a batch cut on a day, on some calendar days, given the messages
    that are *heard* (rows of *said*).

    Whatever batches say is of the air of one room: hundreds of weighings are of some dozens of days.
    """
    cuts = np.full(len(days), cut)
    own = sd**2 * spell_cov(cuts, days, cuts, days, mix)
    if not len(heard):
        return np.zeros(len(days)), own
    moments, place = np.unique(said.moments[heard].ravel(), return_inverse=True)
    count, by = len(moments), place.reshape(len(heard), -1)
    cells = by[:, :, None] * count + by[:, None, :]
    precision = np.bincount(cells.ravel(), weights=said.precision[heard].ravel(), minlength=count**2).reshape(count, count)
    pull = np.bincount(place.ravel(), weights=said.pull[heard].ravel(), minlength=count)
    among = sd**2 * air_cov(moments, moments, mix)
    across = sd**2 * (air_cov(days, moments, mix) - foretold_by_cut(cuts, days, mix)[:, None] * air_cov(cuts, moments, mix))
    right = np.column_stack([pull, precision @ across.T])
    solved = np.linalg.solve(np.eye(count) + precision @ among, right)
    cov = own - across @ solved[:, 1:]
    return across @ solved[:, 0], (cov + cov.T) / 2
