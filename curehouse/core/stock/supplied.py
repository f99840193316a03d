"""One material over many days: what serves its demands, and what is free on any day.

Days are whole numbers, amounts grams. Serving demands in the order of their days, each from the
usable supply that expires first, is earliest-deadline-first matching on intervals: no other way
serves more (F. Glover, Naval Research Logistics Quarterly 14, 1967, 313-316; from memory).

What one more demand may have on a day, with every other as well served as without it, is a minimal
cut. All supply less all that is served, less what goes to waste whatever is done: on one side what
expires before the day beyond what demands before it can use, on the other what comes after the day
beyond what demands after it can use. Serving forwards, first expired first, leaves the least of the
one; serving backwards, last arrived first, the least of the other. So two passes say it for all days.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import accumulate, pairwise
from math import inf
from typing import NamedTuple

from curehouse.core.stock.allocation import NOTHING


@dataclass(frozen=True, slots=True)
class Supply:
    """What a lot or an order brings, and from which day to which it may be used."""

    key: str
    amount: float
    first_day: int
    last_day: float = inf

    def usable_on(self, day: int) -> bool:
        """Return whether it is here and not expired on *day*."""
        return self.first_day <= day <= self.last_day


class Demand(NamedTuple):
    """What a run needs on its day; of a lower ``turn`` is who was there first."""

    key: str
    day: int
    amount: float
    turn: int = 0


class Taken(NamedTuple):
    """Grams taken of one supply."""

    supply: str
    amount: float


@dataclass(frozen=True, slots=True)
class Served:
    """What each demand gets, in the order of the demands, and what each supply is left with."""

    amounts: tuple[float, ...]
    left: tuple[float, ...]
    # Of each demand: the places of the supplies it takes from, and how much.
    parts: tuple[Sequence[tuple[int, float]], ...]

    def takes(self, place: int, supplies: Sequence[Supply]) -> tuple[Taken, ...]:
        """Return what the demand at *place* takes of *supplies*, those that were served from."""
        return tuple(Taken(supplies[i].key, amount) for i, amount in self.parts[place])


def serve(supplies: Sequence[Supply], demands: Sequence[Demand]) -> Served:
    """Return what *demands* take of *supplies*, first expired first.

    Demands are served in the order of their days, those of one day as they are listed. Of supplies
    that expire on one day the one that came first goes first, then the one listed first.
    """
    days = [demand.day for demand in demands]
    amounts = [demand.amount for demand in demands]
    left = [supply.amount for supply in supplies]
    # By their first days, so that the next to come is the last of the list.
    coming = sorted(((one.first_day, one.last_day, i) for i, one in enumerate(supplies)), reverse=True)
    usable: list[tuple[float, int, int]] = []
    parts: list[Sequence[tuple[int, float]]] = [()] * len(days)
    for place in sorted(range(len(days)), key=days.__getitem__):
        day, wanted = days[place], amounts[place]
        while coming and coming[-1][0] <= day:
            first_day, last_day, i = coming.pop()
            heappush(usable, (last_day, first_day, i))
        own = []
        while usable and wanted > NOTHING:
            last_day, _first, i = usable[0]
            held = left[i]
            if last_day < day or held <= NOTHING:
                heappop(usable)
            elif held < wanted:
                own.append((i, held))
                wanted -= held
                left[i] = 0.0
                heappop(usable)
            else:
                own.append((i, wanted))
                left[i] = held - wanted
                wanted = 0.0
        parts[place] = own
        if wanted > NOTHING:
            amounts[place] -= wanted
    return Served(tuple(amounts), tuple(left), tuple(parts))


def serve_in_turn(supplies: Sequence[Supply], demands: Sequence[Demand]) -> Served:
    """Return what *demands* take of *supplies*, each as much as is free beside all of lower turns.

    Within a turn the earlier day comes first. As much is served in all as by :func:`serve`: who is first says
    only who goes short.
    """
    served = serve(supplies, demands)
    in_turn = sorted(range(len(demands)), key=lambda place: (demands[place].turn, demands[place].day))
    by_day = all(demands[one].day <= demands[after].day for one, after in pairwise(in_turn))
    if by_day or all(one.amount - amount <= NOTHING for one, amount in zip(demands, served.amounts, strict=True)):
        return served
    given: dict[int, Demand] = {}
    for place in in_turn:
        before, one = list(given.values()), demands[place]
        is_free = free(supplies, before, serve(supplies, before)).on(one.day)
        given[place] = one._replace(amount=min(one.amount, is_free))
    return serve(supplies, [given[place] for place in range(len(demands))])


def left_backwards(supplies: Sequence[Supply], days: Sequence[int], amounts: Sequence[float]) -> list[float]:
    """Return what each supply is left with if the last day's demand is served first, from what came last."""
    left = [supply.amount for supply in supplies]
    going = sorted((one.last_day, one.first_day, i) for i, one in enumerate(supplies))
    usable: list[tuple[int, int]] = []
    for place in sorted(range(len(days)), key=days.__getitem__, reverse=True):
        day, wanted = days[place], amounts[place]
        while going and going[-1][0] >= day:
            _last, first_day, i = going.pop()
            heappush(usable, (-first_day, i))
        while usable and wanted > NOTHING:
            minus_first_day, i = usable[0]
            held = left[i]
            if -minus_first_day > day or held <= NOTHING:
                heappop(usable)
            elif held < wanted:
                wanted -= held
                left[i] = 0.0
                heappop(usable)
            else:
                left[i] = held - wanted
                wanted = 0.0
    return left


@dataclass(frozen=True, slots=True)
class Free:
    """What is free of a material on any day, with every demand as well served as it would be."""

    _last_days: tuple[float, ...]
    _kept_to: tuple[float, ...]
    _first_days: tuple[int, ...]
    _kept_from: tuple[float, ...]

    def on(self, day: int) -> float:
        """Return how many grams are free on *day*."""
        lasting = self._kept_to[bisect_left(self._last_days, day)]
        not_here_yet = self._kept_from[bisect_right(self._first_days, day)]
        free = lasting - not_here_yet
        return free if free > NOTHING else 0.0


def free(supplies: Sequence[Supply], demands: Sequence[Demand], served: Served) -> Free:
    """Return what is free of *supplies* beside *demands* as they were *served*."""
    by_last = sorted(zip((one.last_day for one in supplies), served.left, strict=True))
    backwards = left_backwards(supplies, [one.day for one in demands], served.amounts)
    by_first = sorted(zip((one.first_day for one in supplies), backwards, strict=True))
    return Free(
        tuple(day for day, _left in by_last),
        _sums_to_the_end(left for _day, left in by_last),
        tuple(day for day, _left in by_first),
        _sums_to_the_end(left for _day, left in by_first),
    )


def _sums_to_the_end(amounts: Iterable[float]) -> tuple[float, ...]:
    """Return for each place what comes to from there to the end, and nothing at the end."""
    return tuple(accumulate(reversed(tuple(amounts)), initial=0.0))[::-1]
