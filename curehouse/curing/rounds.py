"""What a round walks past: which sample bars, in which order, and what is on record of each today.

A bar is in the day's round if its batch is due or was weighed today in part. Weighed bars stay in
the walk, so that "3 of 14" means the same from the first bar to the last.
"""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Exists, Min, OuterRef, Q

from curehouse.common.time import local_day, local_moment
from curehouse.curing.adapter import sample_series
from curehouse.curing.doubts import Beside, foretold_of
from curehouse.curing.models import Cure, Occupancy, Position, Reading, SampleBar
from curehouse.curing.queries.weighing import ASKED, COUNTS
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop


@dataclass(frozen=True, slots=True)
class Day:
    """A workshop's local day, and the moments between which it lies (the end is not part of it)."""

    day: date
    begins: datetime
    ends: datetime


@dataclass(frozen=True, slots=True)
class Stop:
    """A sample bar of the walk: where its batch stands first, and whether it was weighed today."""

    bar: SampleBar
    position: Position | None
    weighed: bool

    @property
    def batch(self) -> Batch:
        """Return the bar's batch."""
        return self.bar.batch


@dataclass(frozen=True, slots=True)
class Walk:
    """The stops of a round in walking order; *batch* where only one batch is walked."""

    stops: tuple[Stop, ...]
    batch: Batch | None = None

    @property
    def left(self) -> tuple[Stop, ...]:
        """Return the stops not weighed today."""
        return tuple(stop for stop in self.stops if not stop.weighed)

    def number_of(self, bar: SampleBar) -> int | None:
        """Return the bar's number in the walk, from 1, or None if the walk does not pass it."""
        return next((number for number, stop in enumerate(self.stops, 1) if stop.bar.pk == bar.pk), None)

    def stop_at(self, bar: SampleBar) -> Stop | None:
        """Return the bar's stop, or None if the walk does not pass it."""
        return next((stop for stop in self.stops if stop.bar.pk == bar.pk), None)

    def after(self, bar: SampleBar) -> Stop | None:
        """Return the next stop past *bar* that is still to be weighed, or None at the walk's end."""
        return next((stop for stop in self.stops[self.number_of(bar) or 0 :] if not stop.weighed), None)


@dataclass(frozen=True, slots=True)
class OnTheScale:
    """A sample bar about to be weighed: what its weight is held against, its own rows, its letters."""

    around: Beside
    rows: tuple[Reading, ...]
    today: Reading | None
    letters: tuple[str, ...]
    weighed_letters: frozenset[str]

    @property
    def last(self) -> Reading | None:
        """Return the newest weighing that counts."""
        return next((row for row in reversed(self.rows) if row.standing == COUNTS), None)

    @property
    def still_asked(self) -> tuple[Reading, ...]:
        """Return the weighings of earlier days whose question is open."""
        return tuple(row for row in self.rows if row.standing == ASKED and row != self.today)


def day_at(workshop: Workshop, at: datetime) -> Day:
    """Return the workshop's day that *at* lies in."""
    day, zone = local_day(at, workshop.time_zone), workshop.time_zone
    return Day(day, local_moment(day, time(), zone), local_moment(day + timedelta(days=1), time(), zone))


def _positions(workshop: Workshop, batches: set[int]) -> dict[int, Position]:
    """Return the first position of each batch, as one walks past the racks."""
    first: dict[int, Position] = {}
    for row in Occupancy.objects.within(workshop).standing().filter(batch__in=batches):
        first.setdefault(row.batch_id, row.position)
    return first


def _in_walking_order(stop: Stop) -> tuple[bool, int, str, int, int, int, str]:
    """Order by rack, level and place; batches without a place come last, by number."""
    number, letter, position = stop.batch.number, stop.bar.letter, stop.position
    if position is None:
        return True, 0, "", 0, 0, number, letter
    rack = position.rack
    return False, rack.order, rack.name, position.level, position.place, number, letter


def _walk(workshop: Workshop, bars: Q, day: Day) -> tuple[Stop, ...]:
    """Return the stops of *bars* in walking order (two queries)."""
    today = Reading.objects.within(workshop).filter(bar=OuterRef("pk"), moment__gte=day.begins, moment__lt=day.ends)
    rows = list(
        SampleBar.objects.within(workshop)
        .on_the_rack()
        # An ended cure has no bars on the rack; said here too, the index of cures going on serves.
        .filter(bars, batch__cure__ended_at__isnull=True)
        .annotate(weighed_today=Exists(today.with_standing().filter(standing__in=[COUNTS, ASKED])))
        .select_related("batch__formula", "batch__cure__assessment")
    )
    positions = _positions(workshop, {bar.batch_id for bar in rows})
    stops = (Stop(bar, positions.get(bar.batch_id), bar.weighed_today) for bar in rows)
    return tuple(sorted(stops, key=_in_walking_order))


def walk_of_day(workshop: Workshop, *, at: datetime) -> Walk:
    """Return today's round (two queries)."""
    day = day_at(workshop, at)
    due = Q(batch__cure__due_on__lte=day.day)
    begun = Q(batch__cure__last_weighed_at__gte=day.begins, batch__cure__last_weighed_at__lt=day.ends)
    return Walk(_walk(workshop, due | begun, day))


def walk_of_batch(workshop: Workshop, batch: Batch, *, at: datetime) -> Walk:
    """Return the walk past one batch's bars, due or not (two queries)."""
    return Walk(_walk(workshop, Q(batch=batch), day_at(workshop, at)), batch)


def weighings_of_day(workshop: Workshop, *, at: datetime, batch: Batch | None = None) -> list[Reading]:
    """Return today's weighings that count or are asked about, in the order they were made."""
    day = day_at(workshop, at)
    rows = Reading.objects.within(workshop).filter(moment__gte=day.begins, moment__lt=day.ends)
    if batch is not None:
        rows = rows.filter(bar__batch=batch)
    standing = rows.with_standing().filter(standing__in=[COUNTS, ASKED])
    return list(standing.select_related("bar__batch__formula").order_by("moment", "pk"))


def newest_of_day(bar: SampleBar, *, workshop: Workshop, at: datetime) -> Reading | None:
    """Return the bar's newest weighing of the day *at* lies in, if one counts or is asked about."""
    day = day_at(workshop, at)
    rows = Reading.objects.within(workshop).filter(bar=bar, moment__gte=day.begins, moment__lt=day.ends)
    return rows.with_standing().filter(standing__in=[COUNTS, ASKED]).newest_first().first()


def on_the_scale(bar: SampleBar, *, workshop: Workshop, at: datetime) -> OnTheScale:
    """Fetch what a page about weighing *bar* shows (three queries)."""
    day = day_at(workshop, at)
    bars = list(SampleBar.objects.within(workshop).filter(batch=bar.batch).order_by("letter"))
    known = Reading.objects.within(workshop).of_bars(bars).with_standing().select_related("by_user", "by_device")
    rows = [row for row in known if row.standing in (COUNTS, ASKED)]
    series = sample_series(bar.batch, bars, rows, foretold=foretold_of(workshop, [bar.batch_id]).get(bar.batch_id, {}))
    own = next(one for one, row in zip(series, bars, strict=True) if row.pk == bar.pk)
    others = tuple(one for one, row in zip(series, bars, strict=True) if row.pk != bar.pk)
    weighed = {row.bar_id for row in rows if day.begins <= row.moment < day.ends}
    mine = tuple(row for row in rows if row.bar_id == bar.pk)
    return OnTheScale(
        around=Beside(bar=bar, own=own, others=others, neighbours=()),
        rows=mine,
        today=next((row for row in reversed(mine) if day.begins <= row.moment < day.ends), None),
        letters=tuple(row.letter for row in bars if row.ended_at is None or row.pk == bar.pk),
        weighed_letters=frozenset(row.letter for row in bars if row.pk in weighed),
    )


def next_round(workshop: Workshop, *, after: date) -> tuple[date, int] | None:
    """Return the day of the next round after *after* and how many batches are due then, or None."""
    going_on = Cure.objects.within(workshop).filter(ended_at__isnull=True, due_on__gt=after)
    day = going_on.aggregate(day=Min("due_on"))["day"]
    return None if day is None else (day, going_on.filter(due_on=day).count())
