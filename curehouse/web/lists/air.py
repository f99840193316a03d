"""The rooms, and the log of their air: every reading, and the means of each day, which are what forecasts hear."""

from decimal import Decimal

from django.http import QueryDict

from curehouse.curing.models import Room, RoomDay, RoomReading
from curehouse.web.access import Visit
from curehouse.web.lists.table import ListOut, TableOut, wall
from curehouse.web.reading.rooms import room_lines
from curehouse.workshops.roles import Right


def _room(visit: Visit, pk: int | None) -> Room:
    return Room.objects.within(visit.workshop).get_here(pk or 0, what="room")


def _rooms(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    return TableOut(("Room", "Racks", "Read last"), ([one.name, one.note, one.newest] for one in room_lines(visit)))


def _readings(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    room = _room(visit, pk)
    rows = RoomReading.objects.within(visit.workshop).filter(room=room).with_withdrawn().newest_first()
    headers = ("Room", "When", "Humidity, %", "Temperature, °C", "It", "From", "Typed", "By")

    def line(row: RoomReading) -> list[object]:
        return [
            room.name,
            wall(row.moment, visit),
            row.humidity_pct,
            row.temperature_c,
            "withdrawn" if row.is_withdrawn else "counts",
            row.get_source_display(),
            row.typed,
            row.signed_by,
        ]

    return TableOut(headers, (line(row) for row in rows.iterator(chunk_size=1000)))


def _days(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    room = _room(visit, pk)
    rows = RoomDay.objects.within(visit.workshop).filter(room=room).with_readings()

    def line(row: RoomDay) -> list[object]:
        celsius = row.temperature_c
        means = [Decimal(f"{row.humidity_pct:.2f}"), None if celsius is None else Decimal(f"{celsius:.2f}")]
        return [room.name, row.day, *means, row.readings]

    headers = ("Room", "Date", "Humidity, %", "Temperature, °C", "Readings")
    return TableOut(headers, (line(row) for row in rows.iterator(chunk_size=1000)))


LISTS = (
    ListOut("rooms", "rooms/list", "Rooms", _rooms, Right.SEE),
    ListOut("room_readings", "rooms/<int:pk>/readings", "Readings of a room", _readings, Right.SEE),
    ListOut("room_days", "rooms/<int:pk>/days", "Days of a room", _days, Right.SEE),
)
