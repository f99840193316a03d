"""Where the bars of a run would stand, or will, as pages show it: in words, place by place, and drawn day by day."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.urls import reverse
from django.utils.safestring import SafeString

from curehouse.common.time import day_words, local_day
from curehouse.core.planning.shelf import Shelf
from curehouse.curing.models import ExpectedCure, Position
from curehouse.curing.shelf import ShelfAhead, Standing, days_kept, read_shelf
from curehouse.flows.place_clashes import cramped_on
from curehouse.flows.place_notices import NO_PLACE, cramped_words
from curehouse.flows.run_places import PlacesAhead, why_no_places
from curehouse.making.models import Batch, Run
from curehouse.web.access import Visit
from curehouse.web.drawing.rack_load import LoadDay, RackLoad, load_figure
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.words import count

# The drawing goes on so far after the run has gone, so that one sees its places come free.
_BEYOND_DAYS = 7
_SHORTEST_DAYS = 28


@dataclass(frozen=True, slots=True)
class PlaceLine:
    """A place, with how many bars of the run."""

    name: str
    href: str
    note: str


@dataclass(frozen=True, slots=True)
class WeekLine:
    """How full the racks are on a day, in bars."""

    day: str
    others: int
    own: int
    free: str


@dataclass(frozen=True, slots=True)
class PlacesView:
    """Where the bars of a run stand; ``trouble`` are sentences about what is in the way."""

    mark: Mark | None
    says: str
    trouble: tuple[str, ...]
    lines: tuple[PlaceLine, ...]
    figure: SafeString | str
    weeks: tuple[WeekLine, ...]


def read_places(visit: Visit, found: PlacesAhead) -> PlacesView:
    """Return where the bars of a run that is not planned yet would stand."""
    today, cure = found.shelf.today, found.cure
    says = _days_words(cure.bars, (cure.cut_on, cure.stays_until), today, is_told=cure.is_told)
    if not found.shelf.positions:
        return PlacesView(None, says, (_NO_RACKS,), (), "", ())
    leave = _leave_first(found.shelf, found.leave_first)
    trouble = [] if not found.lacking else [_lacking(found, today)]
    load = _load(found.shelf, cure.cut_on, cure.stays_until, sum(bars for _at, bars in found.places))
    return PlacesView(
        mark=mark_of(NO_PLACE) if found.lacking else None,
        says=says,
        trouble=tuple(trouble),
        lines=tuple(_line(position, bars, leave.get(position.pk, [])) for position, bars in found.places),
        figure=load_figure(load),
        weeks=tuple(_weeks(load)),
    )


_NO_RACKS = "No rack is drawn yet, so there is no place to keep: put one up on Racks."


def _days_words(bars: int, days: tuple[date, date], today: date, *, is_told: bool) -> str:
    first, last = (day_words(day, today=today) for day in days)
    until = "by then 9 of 10 such batches are dry enough" if is_told else "some such batches take longer still"
    return f"{count(bars, 'bar')}, from the cut on {first} until {last}: {until}."


def _leave_first(shelf: ShelfAhead, ones: Iterable[Standing]) -> dict[int, list[str]]:
    """Return by the key of a place who has to leave it first."""
    found: dict[int, list[str]] = {}
    for one in ones:
        found.setdefault(shelf.positions[one.place].pk, []).append(_leaves(one, shelf.today))
    return found


def _lacking(found: PlacesAhead, today: date) -> str:
    finds = "finds" if found.lacking == 1 else "find"
    none = f"{count(found.lacking, 'bar')} of {found.cure.bars} {finds} no place for all of it."
    if found.pour_first_on is None:
        return f"{none} No day within four months has room for all: make room, or make less."
    return f"{none} Poured on {day_words(found.pour_first_on, today=today)}, all of them do."


def _leaves(one: Standing, today: date) -> str:
    if one.last_day is None or one.last_day <= today:
        return f"{one.batch} is dry enough and stands there: it has to leave first"
    return f"{one.batch} stands there until about {day_words(one.last_day, today=today)}"


def _line(position: Position, bars: int, leave: Sequence[str]) -> PlaceLine:
    note = "; ".join([count(bars, "bar"), *leave])
    return PlaceLine(str(position), reverse("web:position", args=[position.pk]), note)


def _load(shelf: ShelfAhead, first: date, last: date, bars: int, *, without: Run | None = None) -> RackLoad:
    """Return how full the racks are with what stands and is kept, and so many bars of a run on top from one day to another."""
    days = max((last - shelf.today).days + _BEYOND_DAYS, _SHORTEST_DAYS) + 1
    return rack_load(shelf, days=days, own=(first, last, bars), without=without)


def rack_load(
    shelf: ShelfAhead, *, days: int, own: tuple[date, date, int] | None = None, without: Run | None = None
) -> RackLoad:
    """Return how full the racks are on so many days; *own* bars of a run on top, from one day to another."""
    core = shelf.shelf(without=without)
    others = core.load(shelf.today.toordinal(), days).sum(axis=0)
    room = sum(core.capacities)
    told = []
    for ahead in range(days):
        day = shelf.today + timedelta(days=ahead)
        bars = own[2] if own is not None and own[0] <= day <= own[1] else 0
        told.append(LoadDay(ahead, int(others[ahead]), bars, _says(day, int(others[ahead]), bars, room, shelf.today)))
    return RackLoad("rack-load", shelf.today, room, told, _said(told, room, core), has_own=own is not None)


def _says(day: date, others: int, own: int, room: int, today: date) -> str:
    run = f", {own} of this run" if own else ""
    return f"{day_words(day, today=today)}: {others} of {room} stand or are kept{run}, {_free(others + own, room)}"


def _free(taken: int, room: int) -> str:
    return f"{room - taken} free" if taken <= room else f"{taken - room} too many"


def _said(days: Sequence[LoadDay], room: int, core: Shelf) -> str:
    fullest = max(days, key=lambda one: one.others + one.own)
    return (
        f"{len(core.capacities)} places hold {room} bars. Today {days[0].others} stand there; on the fullest day, in "
        f"{count(fullest.day, 'day')}, {fullest.others + fullest.own} stand or are kept."
    )


def _weeks(load: RackLoad) -> Iterator[WeekLine]:
    for one in load.days[::7]:
        day = day_words(load.today + timedelta(days=one.day), today=load.today)
        yield WeekLine(day, one.others, one.own, _free(one.others + one.own, load.room).removesuffix(" free"))


def read_run_places(visit: Visit, run: Run) -> PlacesView | None:
    """Return the places that are kept for a run; None where its bars stand on the racks already, or never will."""
    is_to_come = run.state == Run.State.POURED and run.batch is not None and run.batch.state == Batch.State.POURED
    if run.state != Run.State.PLANNED and not is_to_come:
        return None
    today = Calendar(visit.workshop, visit.at).today
    cure = ExpectedCure.objects.within(visit.workshop).filter(run=run).first()
    if cure is None:
        return PlacesView(None, "No places are kept for it.", (why_no_places(run, at=visit.at),), (), "", ())
    shelf = read_shelf(visit.workshop, today)
    if not shelf.positions:
        days = (cure.cut_on, cure.stays_until)
        return PlacesView(None, _days_words(cure.bars, days, today, is_told=cure.is_told), (_NO_RACKS,), (), "", ())
    kept = next(one for one in shelf.kept if one.pk == cure.pk)
    cramped = next((one for one in cramped_on(shelf) if one.run.pk == run.pk), None)
    first, last = days_kept(kept, today)
    bars = {one.position_id: one.bars for one in kept.places.all()}
    leave = _leave_first(shelf, shelf.gone_before(first))
    return PlacesView(
        mark=None if cramped is None else mark_of(NO_PLACE),
        says=_days_words(cure.bars, (first, last), today, is_told=cure.is_told),
        trouble=() if cramped is None else tuple(cramped_words(cramped, today=today)),
        lines=tuple(
            _line(position, bars[position.pk], leave.get(position.pk, []))
            for position in shelf.positions
            if position.pk in bars
        ),
        figure=load_figure(_load(shelf, first, last, sum(bars.values()), without=run)),
        weeks=(),
    )


def kept_words(run: Run) -> str:
    """Return in a sentence what is kept for a run that was just planned or changed."""
    today = local_day(run.written_at, run.workshop.time_zone)
    cure = ExpectedCure.objects.within(run.workshop).filter(run=run).prefetch_related("places").first()
    if cure is None:
        return "No places are kept for its bars: see below."
    kept = sum(one.bars for one in cure.places.all())
    until = day_words(cure.stays_until, today=today)
    if kept == cure.bars:
        return f"Places for all its {count(kept, 'bar')} are kept until {until}."
    return f"Places for {kept} of its {count(cure.bars, 'bar')} are kept until {until}."
