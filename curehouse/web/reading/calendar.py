"""The calendar in words, week by week, over a drawing of how full the racks will be."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from django.urls import reverse
from django.utils.safestring import SafeString

from curehouse.common.time import day_words, local_day
from curehouse.common.units import show_at_least
from curehouse.flows.calendar import WEEKS, CalendarAhead, CureToEnd, MarketAhead
from curehouse.flows.place_notices import NO_PLACE, cramped_words
from curehouse.making.models import Run
from curehouse.web.access import Visit
from curehouse.web.drawing.rack_load import load_figure
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.run_places import rack_load
from curehouse.web.reading.words import count


@dataclass(frozen=True, slots=True)
class CalendarLine:
    """One thing on a day; ``trouble`` are sentences about what is in its way."""

    on: date
    day: str
    name: str
    href: str
    note: str
    mark: Mark | None
    beside: Mark | None = None
    trouble: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CalendarWeek:
    """A week from Monday on, with how many bars the racks hold on its fullest day."""

    name: str
    load: str
    lines: tuple[CalendarLine, ...]


@dataclass(frozen=True, slots=True)
class CalendarView:
    """Everything on the page; ``untold`` are cures of which nobody knows when they end."""

    figure: SafeString | str
    weeks: tuple[CalendarWeek, ...]
    untold: tuple[CalendarLine, ...]
    is_empty: bool


def read_calendar(visit: Visit, found: CalendarAhead) -> CalendarView:
    """Return what is to come as the page shows it."""
    lines = sorted(_lines(visit, found), key=lambda line: (line.on, line.name))
    untold = tuple(_untold(found))
    has_racks = bool(found.shelf.positions)
    figure = load_figure(rack_load(found.shelf, days=7 * WEEKS + 1)) if has_racks else ""
    return CalendarView(figure, tuple(_weeks(found, lines)), untold, not lines and not untold)


def _lines(visit: Visit, found: CalendarAhead) -> Iterator[CalendarLine]:
    unit, today = visit.workshop.unit, found.today
    for run in found.runs:
        yield _of_run(run, found, unit)
    for batch in found.in_moulds:
        poured = day_words(local_day(batch.poured_at, visit.workshop.time_zone), today=today)
        href = reverse("web:batch", args=[batch.pk])
        yield _line(today, today, f"{batch}", href, f"in its mould since {poured}: cut it", mark_of("poured"))
    for one in found.cures:
        if one.is_dry or one.last_on is not None:
            yield _of_cure(one, found)
    for market in found.markets:
        yield _of_market(market, found)


def _line(on: date, today: date, name: str, href: str, note: str, mark: Mark | None) -> CalendarLine:
    return CalendarLine(on, day_words(on, today=today), name, href, note, mark)


def _of_run(run: Run, found: CalendarAhead, unit: str) -> CalendarLine:
    day, cramped = max(run.pour_on, found.today), found.cramped.get(run.pk)
    note = f"pour {show_at_least(run.fats_g, unit)} of oils"
    if run.pour_on < found.today:
        note += f"; its day, {day_words(run.pour_on, today=found.today)}, is past: move it, call it off or enter its batch"
    return CalendarLine(
        on=day,
        day=day_words(day, today=found.today),
        name=run.formula.name,
        href=reverse("web:run", args=[run.pk]),
        note=note,
        mark=mark_of(found.shares.standing(run)),
        beside=None if cramped is None else mark_of(NO_PLACE),
        trouble=() if cramped is None else tuple(cramped_words(cramped, today=found.today)),
    )


def _of_cure(one: CureToEnd, found: CalendarAhead) -> CalendarLine:
    batch, today = one.cure.batch, found.today
    href, bars = reverse("web:batch", args=[batch.pk]), count(batch.bars_left, "bar")
    if one.is_dry:
        return _line(today, today, str(batch), href, f"dry enough, {bars}", mark_of(one.cure.state))
    last = max(one.last_on, today)
    first = day_words(max(one.first_on, today), today=today)
    said = f"by then 9 of 10 such batches are dry enough, the first of 10 by {first}; {bars}"
    return _line(last, today, str(batch), href, said, mark_of(one.cure.state))


def _of_market(one: MarketAhead, found: CalendarAhead) -> CalendarLine:
    of = f"{count(one.bars, 'bar')} of {count(one.batches, 'batch', 'batches')} on the racks"
    said = f"{of} are likely dry enough by then, sample bars left out"
    if one.planned_bars:
        said += f", and {one.planned_bars} of runs that are planned"
    if one.earlier_bars:
        said += f"; besides {count(one.earlier_bars, 'bar')} counted for an earlier market, if none are sold there"
    if one.market.note:
        said += f". {one.market.note}"
    href = reverse("web:market", args=[one.market.pk])
    return _line(one.market.held_on, found.today, one.market.name, href, said, mark_of("market"))


def _untold(found: CalendarAhead) -> Iterator[CalendarLine]:
    for one in found.cures:
        if not one.is_dry and one.last_on is None:
            batch = one.cure.batch
            why = "goes to nobody as it stands" if one.is_stopped else "nobody can tell yet when it is dry enough"
            bars = count(batch.bars_left, "bar")
            href = reverse("web:batch", args=[batch.pk])
            yield _line(found.today, found.today, str(batch), href, f"{why}; {bars}", mark_of(one.cure.state))


def _weeks(found: CalendarAhead, lines: list[CalendarLine]) -> Iterator[CalendarWeek]:
    """Return the weeks that have something, and beyond the last of them one for all that is later."""
    monday = found.today - timedelta(days=found.today.weekday())
    core, room = found.shelf.shelf(), sum(one.capacity_bars for one in found.shelf.positions)
    load = core.load(found.today.toordinal(), 7 * WEEKS + 8).sum(axis=0)
    for week in range(WEEKS + 1):
        begins = monday + timedelta(weeks=week)
        ends = begins + timedelta(days=6)
        own = tuple(line for line in lines if begins <= line.on <= ends)
        if not own:
            continue
        days = [(begins + timedelta(days=n) - found.today).days for n in range(7)]
        most = max(int(load[day]) for day in days if 0 <= day < len(load))
        name = "This week" if week == 0 else f"Week of {day_words(begins, today=found.today)}"
        yield CalendarWeek(name, f"{most} of {room} bars stand or are kept" if room else "", own)
    later = tuple(line for line in lines if line.on > monday + timedelta(weeks=WEEKS, days=6))
    if later:
        yield CalendarWeek("Later", "", later)
