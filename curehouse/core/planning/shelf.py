"""Places on racks, day by day: which of them hold so many bars from one day to another, and where bars get in each other's way.

A place holds a number of bars. Bars that are held for keep their place for the whole of their cure: one cannot be put
where it is free on most days only. Days are ordinals, and a stay counts its first and its last day.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Stay:
    """Bars at a place (its index) from one day to another; without a last day nobody knows when they leave.

    Raises
    ------
    ValueError
        If there are no bars, or they leave before they come.
    """

    place: int
    bars: int
    first_day: int
    last_day: int | None

    def __post_init__(self) -> None:
        if self.bars <= 0:
            raise ValueError("a stay is of one bar or more")
        if self.last_day is not None and self.last_day < self.first_day:
            raise ValueError("bars leave after they came")


@dataclass(frozen=True, slots=True)
class Shelf:
    """Places in the order in which one walks past them, by how many bars each holds, and who stays there when.

    Raises
    ------
    ValueError
        If a place holds less than nothing, or a stay is at none of the places.
    """

    capacities: tuple[int, ...]
    stays: tuple[Stay, ...] = ()

    def __post_init__(self) -> None:
        if any(bars < 0 for bars in self.capacities):
            raise ValueError("a place holds no bars or more")
        if any(not 0 <= stay.place < len(self.capacities) for stay in self.stays):
            raise ValueError("a stay is at one of the places")

    def load(self, first_day: int, days: int) -> NDArray[np.int64]:
        """Return how many bars stand at each place on each of so many days: an array of places by days."""
        # What comes on a day is added there and taken off on the day after it left: then summed along the days.
        steps = np.zeros((len(self.capacities), days + 1), dtype=np.int64)
        for stay in self.stays:
            comes = max(stay.first_day - first_day, 0)
            leaves = days if stay.last_day is None else min(stay.last_day + 1 - first_day, days)
            if comes < leaves:
                steps[stay.place, comes] += stay.bars
                steps[stay.place, leaves] -= stay.bars
        return steps.cumsum(axis=1)[:, :days]

    def free(self, first_day: int, days: int) -> NDArray[np.int64]:
        """Return how many more bars each place holds on each day (places by days); below 0 where there are too many."""
        return np.array(self.capacities, dtype=np.int64)[:, None] - self.load(first_day, days)


@dataclass(frozen=True, slots=True)
class Holding:
    """Places, by index in walking order, with the bars each would hold; and how many bars find none."""

    parts: tuple[tuple[int, int], ...]
    lacking: int


def hold(shelf: Shelf, bars: int, *, first_day: int, last_day: int) -> Holding:
    """Return where bars can stay from one day to another without one moving and without a place overfull on any day.

    They come to lie side by side: among neighbouring places that hold them all, those are taken that are fewest, then
    those that leave least over, then the first. Of bars for which all places together do not do, as many as there is
    room for are held.

    Raises
    ------
    ValueError
        If there are no bars, or they leave before they come.
    """
    if bars <= 0 or last_day < first_day:
        raise ValueError("one bar or more, for one day or more")
    room = np.clip(shelf.free(first_day, last_day - first_day + 1).min(axis=1, initial=np.iinfo(np.int64).max), 0, None)
    some = [int(place) for place in np.flatnonzero(room)]
    if int(room.sum()) <= bars:
        return Holding(tuple((place, int(room[place])) for place in some), bars - int(room.sum()))
    parts, left = [], bars
    for place in _fewest(some, room, bars):
        taken = min(int(room[place]), left)
        parts.append((place, taken))
        left -= taken
    return Holding(tuple(parts), 0)


def _fewest(some: Sequence[int], room: NDArray[np.int64], bars: int) -> Sequence[int]:
    """Return of the places with room those neighbours that hold the bars: the fewest, with the least left over, the first."""
    sums = np.concatenate([[0], np.cumsum(room[list(some)])])
    # For each first place the first end (not counted itself) by which the bars have room.
    ends = np.searchsorted(sums, sums[:-1] + bars)
    starts = np.arange(len(some))
    fits = ends < len(sums)
    starts, ends = starts[fits], ends[fits]
    best = np.lexsort((starts, sums[ends] - sums[starts], ends - starts))[0]
    return some[int(starts[best]) : int(ends[best])]


def first_day_with_room(shelf: Shelf, bars: int, *, from_day: int, days: int, latest: int) -> int | None:
    """Return the first day, up to the latest, from which bars can be held for so many days; None if there is none.

    Raises
    ------
    ValueError
        If there are no bars, or they stay for no day.
    """
    if bars <= 0 or days <= 0:
        raise ValueError("one bar or more, for one day or more")
    if latest < from_day:
        return None
    free = np.clip(shelf.free(from_day, latest - from_day + days), 0, None)
    windows = np.lib.stride_tricks.sliding_window_view(free, days, axis=1).min(axis=2)
    found = np.flatnonzero(windows.sum(axis=0) >= bars)
    return from_day + int(found[0]) if len(found) else None


@dataclass(frozen=True, slots=True)
class Clash:
    """Days, from the first to the last, on which a place would have to hold so many bars too many (the most on any of them)."""

    place: int
    first_day: int
    last_day: int
    bars_over: int


def clashes(shelf: Shelf, *, first_day: int, days: int) -> tuple[Clash, ...]:
    """Return where and when places would be overfull, by place and day."""
    over = np.clip(-shelf.free(first_day, days), 0, None)
    found = []
    for place in np.flatnonzero(over.any(axis=1)):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], (over[place] > 0).astype(np.int8), [0]])))
        found += [
            Clash(int(place), first_day + int(begin), first_day + int(end) - 1, int(over[place, begin:end].max()))
            for begin, end in list(pairwise(edges))[::2]
        ]
    return tuple(found)
