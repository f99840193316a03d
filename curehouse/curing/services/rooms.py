"""The only writer of rooms, and of which racks stand in them."""

from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction

from curehouse.common.constraints import answered
from curehouse.common.errors import Invalid
from curehouse.common.locking import lock_rows
from curehouse.common.time import local_day
from curehouse.curing.models import Rack, RackRoom, Room
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from curehouse.workshops.services import clean_name

LONGEST_NAME = 80


def _clean(name: str) -> tuple[str, Invalid]:
    clean = clean_name(name, field="name", what="The room's name", longest=LONGEST_NAME)
    return clean, Invalid("name_taken", f"There is a room called {clean} already: choose another name.", field="name")


@transaction.atomic
def add_room(*, workshop: Workshop, name: str) -> Room:
    """Write a room down."""
    clean, taken = _clean(name)
    with answered(Room, {"room_name_once": taken}):
        return Room.unscoped.create(workshop=workshop, name=clean)


@transaction.atomic
def rename_room(*, room: Room, name: str) -> Room:
    """Give a room another name."""
    clean, taken = _clean(name)
    row = lock_rows(Room.unscoped.all(), [room.pk])[room.pk]
    row.name = clean
    with answered(Room, {"room_name_once": taken}):
        row.save(update_fields=["name"])
    return row


@transaction.atomic
def put_rack_in(*, actor: Actor, rack: Rack, room: Room, since: date | None, at: datetime) -> RackRoom:
    """Say that a rack stands in a room from a day on, or has ever since."""
    if since is not None and since > local_day(at, actor.workshop.time_zone):
        raise Invalid("future", "The day lies in the future: say it once the rack stands there.", field="since")
    return RackRoom.unscoped.create(
        workshop=actor.workshop, rack=rack, room=room, since=since, written_at=at, **actor.signature
    )  # fmt: skip


@transaction.atomic
def move_back_heard(*, rooms: Iterable[Room], day: date) -> None:
    """Let the forecasts look at rooms' logs (locked) again from a day on."""
    for room in rooms:
        if room.heard_before is not None and day < room.heard_before:
            room.heard_before = day
            room.save(update_fields=["heard_before"])


@transaction.atomic
def note_heard(*, room: Room, before: date) -> None:
    """Note that the forecasts know a room's log before a day."""
    row = lock_rows(Room.unscoped.all(), [room.pk])[room.pk]
    if row.heard_before == room.heard_before:
        row.heard_before = before
        row.save(update_fields=["heard_before"])
