"""Runs whose bars will not all have a place: none was kept for some, or what stands there stays longer than was expected."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from curehouse.common.time import local_day
from curehouse.core.planning.shelf import clashes
from curehouse.curing.models import ExpectedCure, Position
from curehouse.curing.services.kept_places import CureToCome
from curehouse.curing.shelf import ShelfAhead, days_kept, read_shelf
from curehouse.flows.run_places import places_ahead
from curehouse.flows.run_risks import SEEN_AHEAD
from curehouse.making.models import Run
from curehouse.workshops.models import Workshop


@dataclass(frozen=True, slots=True)
class Crowd:
    """Days on which a place would have to hold some bars too many, and by whom beside the run (names, with their last day)."""

    position: Position
    first_day: date
    last_day: date
    bars_over: int
    beside: tuple[tuple[str, date | None], ...]


@dataclass(frozen=True, slots=True)
class Cramped:
    """A run of whose bars some have no place on some days.

    ``without`` are bars for which none was kept; ``has_room`` whether there is room for all if places are kept anew,
    ``pour_first_on`` the first day to pour on with room for all, None where there is none within four months.
    """

    run: Run
    cure: ExpectedCure
    first_day: date
    last_day: date
    without: int
    crowds: tuple[Crowd, ...]
    has_room: bool
    pour_first_on: date | None


def cramped_runs(*, workshop: Workshop, at: datetime) -> list[Cramped]:
    """Return the runs whose bars will not all have a place, by the day of their cut (seven queries, however many)."""
    return cramped_on(read_shelf(workshop, local_day(at, workshop.time_zone)))


def cramped_on(shelf: ShelfAhead) -> list[Cramped]:
    """Return the same of a shelf that was read already."""
    if not shelf.positions or not shelf.kept:
        return []
    crowds = _crowds(shelf)
    found = []
    for cure in shelf.kept:
        without = cure.bars - sum(one.bars for one in cure.places.all())
        own = tuple(_of_run(cure, shelf, crowds))
        if without or own:
            first, last = days_kept(cure, shelf.today)
            anew = _anew(cure, shelf, first, last)
            found.append(Cramped(cure.run, cure, first, last, without, own, anew[0], anew[1]))
    return found


def _crowds(shelf: ShelfAhead) -> dict[int, list[tuple[date, date, int]]]:
    """Return by place when there would be too many bars, and how many too many."""
    last = max(days_kept(cure, shelf.today)[1] for cure in shelf.kept)
    days = (last - shelf.today).days + 1
    found: dict[int, list[tuple[date, date, int]]] = {}
    for one in clashes(shelf.shelf(), first_day=shelf.today.toordinal(), days=max(days, 0)):
        ends = date.fromordinal(one.first_day), date.fromordinal(one.last_day)
        found.setdefault(one.place, []).append((*ends, one.bars_over))
    return found


def _of_run(cure: ExpectedCure, shelf: ShelfAhead, crowds: dict[int, list[tuple[date, date, int]]]) -> Iterator[Crowd]:
    first, last = days_kept(cure, shelf.today)
    index = {position.pk: place for place, position in enumerate(shelf.positions)}
    for one in sorted(cure.places.all(), key=lambda kept: index[kept.position_id]):
        place = index[one.position_id]
        for begin, end, over in crowds.get(place, []):
            if begin <= last and first <= end:
                days = max(begin, first), min(end, last)
                yield Crowd(shelf.positions[place], *days, over, tuple(_beside(cure, shelf, place, days)))


def _beside(cure: ExpectedCure, shelf: ShelfAhead, place: int, days: tuple[date, date]) -> Iterator[tuple[str, date | None]]:
    """Yield who else is at a place on some of the days."""
    for stands in shelf.standing:
        if stands.place == place and (stands.last_day is None or stands.last_day >= days[0]):
            yield str(stands.batch), stands.last_day
    for other in shelf.kept:
        first, last = days_kept(other, shelf.today)
        at_place = any(one.position_id == shelf.positions[place].pk for one in other.places.all())
        if other.pk != cure.pk and at_place and first <= days[1] and days[0] <= last:
            yield f"{other.run.formula.name}, planned for {other.run.pour_on:%-d %b}", last


def _anew(cure: ExpectedCure, shelf: ShelfAhead, first: date, last: date) -> tuple[bool, date | None]:
    late = first - cure.cut_on
    to_come = CureToCome(cure.bars, cure.pour_on + late, first, cure.half_dry_on, last, cure.is_told)
    found = places_ahead(cure=to_come, shelf=shelf, run=cure.run)
    return found.lacking == 0, found.pour_first_on


def soon(ones: Sequence[Cramped], today: date) -> list[Cramped]:
    """Return those that are seen coming: cut as soon as pours are seen coming."""
    return [one for one in ones if one.first_day <= today + SEEN_AHEAD]
