"""What is new in the logs of rooms reaches the forecasts: once a day, when days are full, and of those it is about alone.

A reading as such wants nothing: a day's mean counts once the day is over, and of a log a batch hears what lies before its
last weighing. So a sensor that sends each minute makes new the forecasts of those that were weighed the day before in
its room, and what comes in late those that were weighed since.
"""

from collections.abc import Mapping
from datetime import date, datetime

from django.db import transaction

from curehouse.common.time import local_day
from curehouse.curing.airs import Rooms
from curehouse.curing.models import Cure, Room, RoomDay
from curehouse.curing.services.forecasts import want_forecasts
from curehouse.curing.services.rooms import note_heard
from curehouse.workshops.models import Workshop


@transaction.atomic
def hear_rooms(*, workshop: Workshop, at: datetime) -> None:
    """Let the forecasts be made anew that hear something new of their room's log (one query without rooms)."""
    today = local_day(at, workshop.time_zone)
    rooms = list(Room.objects.within(workshop).order_by("pk"))
    news = {room.pk: first for room in rooms if (first := _first_news(room, today)) is not None}
    if news:
        want_forecasts(workshop=workshop, batch_ids=_concerned(workshop, news), at=at)
    for room in rooms:
        if room.heard_before != today:
            note_heard(room=room, before=today)


def _concerned(workshop: Workshop, news: Mapping[int, date]) -> list[int]:
    """Return the batches that hear something of rooms in which from a day on something is new."""
    cures = Cure.objects.within(workshop).going_on().filter(last_reading__isnull=False).select_related("batch")
    rooms = Rooms(workshop, [cure.batch for cure in cures])
    concerned = []
    for cure in cures:
        last = local_day(cure.last_weighed_at, workshop.time_zone)
        stood = {room for _begin, room in rooms.stood(cure.batch_id).steps}
        if any(room in stood and first <= last for room, first in news.items()):
            concerned.append(cure.batch_id)
    return concerned


def _first_news(room: Room, today: date) -> date | None:
    """Return the first day of a room's log that the forecasts do not know yet, or None."""
    days = RoomDay.objects.within(room.workshop).filter(room=room, day__lt=today).order_by("day")
    if room.heard_before is not None:
        days = days.filter(day__gte=room.heard_before)
    return days.values_list("day", flat=True).first()
