"""A sensor that lost its answer sends the same parcel while the first is still being written."""

import json
from datetime import timedelta
from functools import partial

from django.core.management import call_command
from django.http import HttpResponse

from curehouse.curing.models import Room, RoomReading
from curehouse.curing.services.rooms import add_room
from tests.api.device import V1, Device
from tests.arena import Arena
from tests.world import World


def a_sensor() -> tuple[Device, Room]:
    device = Device(World())
    device.get("rooms/")  # the token's last use is noted once in ten minutes
    return device, add_room(workshop=device.world.workshop, name="Drying room")


def send(device: Device, room: Room, first: int = 0) -> HttpResponse:
    rows = [
        {"moment": (device.world.now - timedelta(minutes=15 * quarter)).isoformat(), "humidity_pct": 50 + quarter}
        for quarter in range(first, first + 20)
    ]
    path = f"{V1}rooms/{room.pk}/readings/bulk/"
    return device.client.post(path, json.dumps({"readings": rows}), content_type="application/json")


def test_of_one_parcel_sent_at_once_each_reading_is_written_once_and_the_days_are_right(arena: Arena) -> None:
    device, room = arena.do(a_sensor)
    answers = arena.race(*[partial(send, device, room)] * 3, partial(send, device, room, 10))
    assert {answer.status_code for answer in answers} <= {200, 201}, [answer.content for answer in answers]
    assert sum(answer.json()["written"] for answer in answers) == 30
    assert arena.do(lambda: RoomReading.objects.within(device.world.workshop).count()) == 30
    arena.do(lambda: call_command("verify_rooms"))
