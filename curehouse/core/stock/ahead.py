"""What will be left of one material on each day to come, and what makes it go down or up.

Planned runs take what netting gives them, each beside all others, so this and the check of a run never disagree. Use
that nobody planned takes what is there on its day, first expired first like everything: it is not protected, and runs
after it may find less than netting gave them.

Of a day: what was good until the day before is gone first, then what comes is there, then runs take, then other use.
Days are whole numbers on any one scale (a date's ordinal), amounts grams, or pieces of what is counted.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf

from curehouse.core.stock.allocation import NOTHING
from curehouse.core.stock.netted import NettedMaterial, net
from curehouse.core.stock.stand_ins import settle
from curehouse.core.stock.storeroom import Arrival, Outlook, Run, Storeroom, check_runs, check_storeroom
from curehouse.core.stock.supplied import Demand, Served, Supply, serve


@dataclass(frozen=True, slots=True)
class UseAhead:
    """Use that nobody planned, added up from tomorrow to each day to come.

    Of a hundred such times 95 use more than ``little``, half more than ``usual``, five more than ``much``.
    """

    little: tuple[float, ...]
    usual: tuple[float, ...]
    much: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class DayAhead:
    """One day of a course: what came and went, what is usable at its end, and what was wanted and not there."""

    day: int
    came: float
    expired: float
    into_runs: float
    unplanned: float
    left: float
    lacking: float


@dataclass(frozen=True, slots=True)
class RunTakes:
    """What a run takes on its day: of what it needs netting gives it a part, and by this course it finds a part of that.

    ``made_up``: of a blend what netting does not give it of the blend's own lots, for that is made up from its parts.
    """

    run: str
    day: int
    needed: float
    given: float
    found: float
    made_up: float = 0.0

    @property
    def short(self) -> float:
        """Return what netting does not give it, as its check says."""
        return _unless_nothing(self.needed - self.given - self.made_up)

    @property
    def lacking(self) -> float:
        """Return what it does not find."""
        return _unless_nothing(self.needed - self.found - self.made_up)


@dataclass(frozen=True, slots=True)
class Comes:
    """What is on its way, on its day by this course."""

    supply: str
    day: int
    amount: float


@dataclass(frozen=True, slots=True)
class Expires:
    """What is left of a supply when it is good no more: *day* is the first on which it is not there."""

    supply: str
    day: int
    amount: float


@dataclass(frozen=True, slots=True)
class Course:
    """One way it may go, from today on: ``days[d].left == days[d - 1].left + came - expired - into_runs - unplanned``.

    ``opening`` stands for the day before today's: what is here and usable before anything happens.
    """

    opening: float
    days: tuple[DayAhead, ...]
    runs: tuple[RunTakes, ...]
    comes: tuple[Comes, ...]
    expires: tuple[Expires, ...]

    @property
    def short_on(self) -> int | None:
        """Return the first day on which something is wanted and not there."""
        return next((one.day for one in self.days if one.lacking), None)

    @property
    def used_up_on(self) -> int | None:
        """Return the first day at whose end nothing is left."""
        return next((one.day for one in self.days if one.left <= NOTHING), None)


@dataclass(frozen=True, slots=True)
class StockAhead:
    """How a material's stock may go.

    ``planned``: by planned runs alone, orders on their likely day; ``likely``: with usual unplanned use besides.
    ``lean``: orders on their safe day and much unplanned use; ``ample``: orders on their early day and little of it.
    """

    planned: Course
    likely: Course
    lean: Course
    ample: Course

    def between(self, place: int) -> tuple[float, float]:
        """Return the least and the most that is left on a day by any course that counts unplanned use.

        Where something comes later it is good for longer, so the lean course may be above the likely one.
        """
        lefts = [course.days[place].left for course in (self.likely, self.lean, self.ample)]
        return min(lefts), max(lefts)

    @property
    def short_early(self) -> int | None:
        """Return the first day on which anything lacks by any of the courses."""
        return min((day for one in (self.planned, self.likely, self.lean) if (day := one.short_on) is not None), default=None)


def look_ahead(
    room: Storeroom,
    runs: Sequence[Run],
    material: str,
    *,
    today: int,
    last_day: int,
    early: Mapping[str, Arrival] | None = None,
    unplanned: UseAhead | None = None,
) -> StockAhead:
    """Return how the stock of *material* may go from *today* to *last_day*.

    Parameters
    ----------
    room, runs
        As for ``netting.net_runs``: all that serves, and the runs that are there. Runs after *last_day* keep what
        netting gives them and are not shown.
    early
        Of orders by their keys, when they come at the earliest; any other comes at its likely day then too.
    unplanned
        Use besides, a figure for each day after *today* up to *last_day*; None where nothing is known of it.

    Raises
    ------
    ValueError
        As ``netting.net_runs``; a last day before today, or unplanned use of another number of days.
    """
    check_storeroom(room)
    check_runs(runs, today)
    if last_day < today:
        raise ValueError("the last day lies before today: look ahead to today or later")
    use = unplanned or UseAhead(*((0.0,) * (last_day - today) for _course in range(3)))
    for sums in (use.little, use.usual, use.much):
        _check_sums(sums, last_day - today)
    here = {lot.key for lot in room.lots}
    runs = settle(room.stand_ins, room.lots, runs).by_material()
    likely, safe, soon = _netted(room, runs, material, early or {})
    span = _Span(today, last_day, is_made_up=material in room.blends)
    planned = _course(likely, here, (), span)
    return StockAhead(
        planned=planned,
        likely=_course(likely, here, use.usual, span) if unplanned else planned,
        lean=_course(safe, here, use.much, span),
        ample=_course(soon, here, use.little, span),
    )


@dataclass(frozen=True, slots=True)
class _Span:
    """The days that are looked at, and whether what a run is not given is made up from parts."""

    today: int
    last_day: int
    is_made_up: bool


def _netted(
    room: Storeroom, runs: Sequence[Run], material: str, early: Mapping[str, Arrival]
) -> tuple[NettedMaterial, NettedMaterial, NettedMaterial]:
    """Return *material* with the runs served from it, with orders on their likely, their safe and their early day."""
    soonest = replace(room, orders=[replace(one, likely=early.get(one.key, one.likely)) for one in room.orders])
    return (
        net(room, runs, Outlook.LIKELY, [material])[material],
        net(room, runs, Outlook.SAFE, [material])[material],
        net(soonest, runs, Outlook.LIKELY, [material])[material],
    )


def _check_sums(sums: Sequence[float], days: int) -> None:
    if len(sums) != days:
        raise ValueError(f"unplanned use of {len(sums)} days: give the sums of the {days} days after today")
    if any(not before <= after < inf for before, after in pairwise((0.0, *sums))):
        raise ValueError("unplanned use that grows less, or without end: add it up from tomorrow on")


def _course(own: NettedMaterial, here: Collection[str], sums: Sequence[float], span: _Span) -> Course:
    today, last_day = span.today, span.last_day
    shown = [
        (asked, asked._replace(amount=given))
        for asked, given in zip(own.demands, own.served.amounts, strict=True)
        if asked.day <= last_day
    ]
    besides = [
        Demand("", today + after, later - before) for after, (before, later) in enumerate(pairwise((0.0, *sums)), start=1)
    ]
    served = serve(own.supplies, [*(given for _asked, given in shown), *besides])
    taken = [sum(amount for _place, amount in parts) for parts in served.parts]
    runs = [
        RunTakes(
            asked.key, asked.day, asked.amount, given.amount, found, asked.amount - given.amount if span.is_made_up else 0.0
        )
        for (asked, given), found in zip(shown, taken, strict=False)
    ]
    comes, expires = _comes(own.supplies, here, today, last_day), _expires(own.supplies, served, today, last_day)
    opening = sum(one.amount for one in own.supplies if one.key in here and one.usable_on(today))
    days = _Days(today, last_day)
    for come in comes:
        days.add("came", come.day, come.amount)
    for gone in expires:
        days.add("expired", gone.day, gone.amount)
    for run in runs:
        days.add("into_runs", run.day, run.found)
        days.add("lacking", run.day, run.lacking)
    for demand, found in zip(besides, taken[len(shown) :], strict=True):
        days.add("unplanned", demand.day, found)
        days.add("lacking", demand.day, _unless_nothing(demand.amount - found))
    in_order = sorted(runs, key=lambda run: run.day)
    return Course(opening, days.from_opening(opening), tuple(in_order), tuple(comes), tuple(expires))


def _comes(supplies: Sequence[Supply], here: Collection[str], today: int, last_day: int) -> list[Comes]:
    """Return what comes within the days; a lot that is here already is part of the opening."""
    found = [
        Comes(one.key, max(one.first_day, today), one.amount)
        for one in supplies
        if one.first_day <= last_day and one.last_day >= today and not (one.key in here and one.first_day <= today)
    ]
    return sorted(found, key=lambda one: one.day)


def _expires(supplies: Sequence[Supply], served: Served, today: int, last_day: int) -> list[Expires]:
    found = [
        Expires(one.key, int(one.last_day) + 1, left)
        for one, left in zip(supplies, served.left, strict=True)
        if today <= one.last_day < last_day and left > 0
    ]
    return sorted(found, key=lambda one: one.day)


class _Days:
    """Amounts of each kind, added up by their days."""

    def __init__(self, today: int, last_day: int) -> None:
        self._today = today
        self._sums = {kind: [0.0] * (last_day - today + 1) for kind in ("came", "expired", "into_runs", "unplanned", "lacking")}

    def add(self, kind: str, day: int, amount: float) -> None:
        self._sums[kind][day - self._today] += amount

    def from_opening(self, opening: float) -> tuple[DayAhead, ...]:
        found, left = [], opening
        columns = (self._sums[kind] for kind in ("came", "expired", "into_runs", "unplanned", "lacking"))
        for place, (came, expired, into_runs, unplanned, lacking) in enumerate(zip(*columns, strict=True)):
            # All went out of what was there: below zero is an echo of the arithmetic.
            left = max(left + came - expired - into_runs - unplanned, 0.0)
            found.append(DayAhead(self._today + place, came, expired, into_runs, unplanned, left, lacking))
        return tuple(found)


def _unless_nothing(amount: float) -> float:
    return amount if amount > NOTHING else 0.0
