"""The rooms, and the log of one: read with a constant number of queries, however long it is."""

from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property

from django.core.paginator import Page, Paginator
from django.db.models import OuterRef, Subquery, Sum
from django.urls import reverse
from django.utils.safestring import SafeString

from curehouse.common.time import day_words
from curehouse.curing.airs import racks_by_room
from curehouse.curing.models import Rack, Room, RoomDay, RoomReading, RoomWithdrawal
from curehouse.curing.queries.rooms import RoomReadingQuerySet
from curehouse.web.access import Visit
from curehouse.web.drawing.air import AirDay, AirDrawing, draw_air
from curehouse.web.reading.days import Calendar
from curehouse.workshops.models import Workshop

A_PAGE = 20
SPANS = (30, 90, 365)


@dataclass(frozen=True, slots=True)
class RoomLine:
    """A room as a line of the list."""

    pk: int
    name: str
    note: str
    newest: str


@dataclass(frozen=True, slots=True)
class AirLine:
    """A reading as a line."""

    pk: int
    said: str
    note: str
    is_withdrawn: bool


@dataclass(frozen=True, slots=True)
class DayLine:
    """A day as a row of the table."""

    day: str
    humidity: str
    temperature: str
    readings: int


@dataclass(frozen=True, slots=True)
class RoomView:
    """Everything on a room's page."""

    room: Room
    racks: str
    figure: SafeString | None
    days: tuple[DayLine, ...]
    span: int
    spans: tuple[int, ...]
    page: Page
    lines: tuple[AirLine, ...]
    address: str


def air_words(humidity: object, celsius: object, workshop: Workshop) -> str:
    """Return the air in words: 61.5 %, 18.2 °C; in °F where the workshop counts in ounces."""
    said = f"{float(humidity):.1f}\u00a0%"
    return said if celsius is None else f"{said}, {warmth_words(float(celsius), workshop)}"


def warmth_words(celsius: float, workshop: Workshop) -> str:
    """Return a temperature in the degrees a workshop thinks in."""
    return f"{_shown(celsius, workshop):.1f}\u00a0{_degrees(workshop)}".replace("-", "−")


def _degrees(workshop: Workshop) -> str:
    return "°F" if workshop.unit == Workshop.Unit.OUNCE else "°C"


def _shown(celsius: float, workshop: Workshop) -> float:
    return celsius * 9 / 5 + 32 if workshop.unit == Workshop.Unit.OUNCE else celsius


def room_lines(visit: Visit) -> list[RoomLine]:
    """Return the rooms with what was read last, and which racks stand there (three queries)."""
    workshop, calendar = visit.workshop, Calendar(visit.workshop, visit.at)
    newest = RoomReading.objects.within(workshop).standing().filter(room=OuterRef("pk")).order_by("-moment", "-pk")
    fields = {name: Subquery(newest.values(name)[:1]) for name in ("moment", "humidity_pct", "temperature_c")}
    rows = Room.objects.within(workshop).annotate(**fields).order_by("pk")
    standing = _racks(workshop, calendar)
    return [
        RoomLine(
            pk=row.pk,
            name=row.name,
            note=standing.get(row.pk, "no rack stands here"),
            newest=""
            if row.moment is None
            else f"{air_words(row.humidity_pct, row.temperature_c, workshop)}, {calendar.moment(row.moment)}",
        )
        for row in rows
    ]


def _racks(workshop: Workshop, calendar: Calendar) -> dict[int, str]:
    names = dict(Rack.objects.within(workshop).order_by("order", "name").values_list("pk", "name"))
    found = racks_by_room(workshop, list(names), day=calendar.today)
    return {room: ", ".join(names[rack] for rack in racks) for room, racks in found.items()}


class _Readings(Paginator):
    """A room's readings in pages; of a sensor that sends each minute for years they are not counted one by one."""

    def __init__(self, rows: RoomReadingQuerySet, per_page: int, *, room: Room) -> None:
        super().__init__(rows, per_page)
        self._room = room

    @cached_property
    def count(self) -> int:
        """Return how many there are: those that count by the day, and those withdrawn."""
        days = RoomDay.objects.within(self._room.workshop).filter(room=self._room)
        withdrawn = RoomWithdrawal.objects.within(self._room.workshop).filter(reading__room=self._room)
        return (days.aggregate(all=Sum("readings"))["all"] or 0) + withdrawn.count()


def read_room(visit: Visit, room: Room, *, span: int | None, number: str | None) -> RoomView:
    """Read a room's page."""
    workshop, calendar = visit.workshop, Calendar(visit.workshop, visit.at)
    shown = span if span in SPANS else SPANS[1]
    first = calendar.today - timedelta(days=shown - 1)
    days = list(RoomDay.objects.within(workshop).filter(room=room, day__gte=first).with_readings())
    drawn = [
        AirDay(row.day, row.humidity_pct, None if (warm := row.temperature_c) is None else _shown(warm, workshop))
        for row in days
    ]
    air = AirDrawing(room.name, f"air-{room.pk}", first, calendar.today, drawn, _degrees(workshop))
    rows = RoomReading.objects.within(workshop).filter(room=room).with_withdrawn().newest_first()
    page = _Readings(rows, A_PAGE, room=room).get_page(number)
    return RoomView(
        room=room,
        racks=_racks(workshop, calendar).get(room.pk, ""),
        figure=draw_air(air) if drawn else None,
        days=tuple(_day_line(row, calendar, workshop) for row in reversed(days)),
        span=shown,
        spans=SPANS,
        page=page,
        lines=tuple(_air_line(row, calendar, workshop) for row in page),
        address=reverse("api:room-log", args=[room.pk]),
    )


def _day_line(row: RoomDay, calendar: Calendar, workshop: Workshop) -> DayLine:
    celsius = row.temperature_c
    return DayLine(
        day=day_words(row.day, today=calendar.today),
        humidity=f"{row.humidity_pct:.1f}\u00a0%",
        temperature="" if celsius is None else warmth_words(celsius, workshop),
        readings=row.readings,
    )


def _air_line(row: RoomReading, calendar: Calendar, workshop: Workshop) -> AirLine:
    return AirLine(
        pk=row.pk,
        said=air_words(row.humidity_pct, row.temperature_c, workshop),
        note=f"{calendar.moment(row.moment)}, {row.get_source_display()}, {row.signed_by}",
        is_withdrawn=row.is_withdrawn,
    )
