"""Where a rack stands is said, and whose log its batches hear follows from that."""

from datetime import date, datetime

from django.db import transaction

from curehouse.curing.models import Rack, RackRoom, Room
from curehouse.curing.services.forecasts import read_anew
from curehouse.curing.services.rooms import put_rack_in
from curehouse.workshops.actors import Actor


@transaction.atomic
def stand_rack(*, actor: Actor, rack: Rack, room: Room, since: date | None, at: datetime) -> RackRoom:
    """Say that a rack stands in a room from a day on, or has ever since; what is known of batches is read anew."""
    row = put_rack_in(actor=actor, rack=rack, room=room, since=since, at=at)
    read_anew(workshop=actor.workshop, at=at)
    return row
