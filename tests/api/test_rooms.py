"""A sensor sends the air of its room, and can do nothing else; people see and withdraw it."""

import json
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from api import views
from curehouse.curing.models import Room, RoomDay, RoomReading
from curehouse.curing.services.room_log import record_air
from curehouse.curing.services.rooms import add_room
from curehouse.flows.log_air import sensed
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import AuditEntry, DeviceToken
from curehouse.workshops.services import give_token, revoke_token
from tests.api.device import V1, Device, problem
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def room(world: World) -> Room:
    return add_room(workshop=world.workshop, name="Drying room")


@pytest.fixture
def sensor(world: World) -> Device:
    device = Device(world)
    _token, secret = give_token(actor=world.actor, name="Wall sensor", reach="senses", at=world.now)
    device.client = Client(headers={"Authorization": f"Bearer {secret}"})
    return device


def sent(world: World, *, minutes: float = 5, **changes: Any) -> dict[str, Any]:
    moment = world.now - timedelta(minutes=minutes)
    return {"moment": moment.isoformat(), "humidity_pct": "61.4", "temperature_c": 18.25} | changes


def test_a_sensor_sends_one_reading_and_sends_it_again(world: World, sensor: Device, device: Device, room: Room) -> None:
    first = sensor.post(f"rooms/{room.pk}/readings/", sent(world))
    again = sensor.post(f"rooms/{room.pk}/readings/", sent(world))
    assert (first.status_code, again.status_code) == (201, 200) and first.json() == again.json()
    (row,) = device.rows("room-readings/", room=room.pk)
    assert (row["humidity_pct"], row["temperature_c"], row["source"], row["signed_by"]) == (
        "61.40", "18.25", "sensor", "Wall sensor",
    )  # fmt: skip
    assert AuditEntry.objects.within(world.workshop).filter(code="room_air").count() == 1
    (day,) = device.rows(f"rooms/{room.pk}/days/")
    assert (day["humidity_pct"], day["temperature_c"], day["readings"]) == (61.4, 18.25, 1)
    problem(sensor.post(f"rooms/{room.pk}/readings/", sent(world, humidity_pct=70)), 409, "another_value", "humidity_pct")


def test_many_readings_come_in_all_or_none(world: World, sensor: Device, room: Room) -> None:
    rows = [sent(world, minutes=15 * number, humidity_pct=55 + number / 10) for number in range(1, 61)]
    answer = sensor.post(f"rooms/{room.pk}/readings/bulk/", {"readings": rows})
    assert answer.status_code == 201 and answer.json()["written"] == 60
    answer = sensor.post(f"rooms/{room.pk}/readings/bulk/", {"readings": [*rows[:10], sent(world, minutes=999)]})
    assert (answer.json()["written"], answer.json()["sent_before"]) == (1, 10)
    bad = [sent(world, minutes=200), sent(world, minutes=201, humidity_pct=101), sent(world, minutes=202, temperature_c="warm")]
    found = problem(sensor.post(f"rooms/{room.pk}/readings/bulk/", {"readings": bad}), 400, "rows")
    assert [(one["row"], one["field"]) for one in found["errors"]] == [(2, "temperature_c")]
    found = problem(sensor.post(f"rooms/{room.pk}/readings/bulk/", {"readings": bad[:2]}), 400, "rows")
    assert [(one["row"], one["field"], one["code"]) for one in found["errors"]] == [(1, "humidity_pct", "humidity")]
    assert RoomReading.objects.within(world.workshop).count() == 61
    for body in ({"readings": []}, {"reading": rows}, [], {"readings": rows * 17}):
        problem(sensor.post(f"rooms/{room.pk}/readings/bulk/", body), 400, "rows")


def test_of_a_sensor_the_first_of_each_quarter_of_an_hour_is_kept_and_it_is_told(
    world: World, sensor: Device, device: Device, room: Room
) -> None:
    path, quarter = f"rooms/{room.pk}/readings/", world.now.replace(minute=0, second=0) - timedelta(hours=2)

    def at(seconds: float, humidity: float) -> dict[str, Any]:
        return sent(world, moment=(quarter + timedelta(seconds=seconds)).isoformat(), humidity_pct=humidity)

    first = sensor.post(path, at(5, 60))
    second = sensor.post(path, at(10, 75))
    assert (first.status_code, second.status_code) == (201, 200) and second.json() == first.json()
    bulk = sensor.post(f"{path}bulk/", {"readings": [at(10, 75), at(5, 60), at(899, 61), at(900, 62), at(930, 63)]}).json()
    assert [row["result"] for row in bulk["readings"]] == [
        "passed_over",
        "sent_before",
        "passed_over",
        "written",
        "passed_over",
    ]
    assert (bulk["written"], bulk["sent_before"], bulk["passed_over"]) == (1, 1, 3)
    assert sorted(row["humidity_pct"] for row in device.rows("room-readings/", room=room.pk)) == ["60.00", "62.00"]
    # Of the moment that is kept it still says when other figures come.
    problem(sensor.post(path, at(5, 61)), 409, "another_value", "humidity_pct")
    # Another sensor's is its own.
    _token, secret = give_token(actor=world.actor, name="Second sensor", reach="senses", at=world.now)
    other = Device(world)
    other.client = Client(headers={"Authorization": f"Bearer {secret}"})
    assert other.post(path, at(5, 64)).status_code == 201


def test_what_came_before_under_its_moment_alone_is_not_written_twice(world: World, sensor: Device, room: Room) -> None:
    token = DeviceToken.objects.within(world.workshop).get(reach="senses")
    entry = sensed(Actor(workshop=world.workshop, device=token), moment=world.now, humidity_pct=Decimal(60), temperature_c=None)
    record_air(actor=world.actor, room=room, entries=[replace(entry, key=entry.old_key)], at=world.now)
    again = sensor.post(f"rooms/{room.pk}/readings/", sent(world, minutes=0, humidity_pct=60, temperature_c=None))
    assert again.status_code == 200 and RoomReading.objects.within(world.workshop).count() == 1


def test_of_a_sensor_s_day_in_a_room_one_line_stands_in_the_trail(
    world: World, sensor: Device, room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    for minutes in (200, 100, 50):
        assert sensor.post(f"rooms/{room.pk}/readings/", sent(world, minutes=minutes)).status_code == 201
    lines = AuditEntry.objects.within(world.workshop).filter(code="room_air")
    assert lines.count() == 1
    other = add_room(workshop=world.workshop, name="Cellar")
    assert sensor.post(f"rooms/{other.pk}/readings/", sent(world)).status_code == 201
    assert lines.count() == 2
    tomorrow = timezone.now() + timedelta(days=1)
    monkeypatch.setattr(views, "timezone", SimpleNamespace(now=lambda: tomorrow))
    assert sensor.post(f"rooms/{room.pk}/readings/", sent(world)).status_code == 201
    assert lines.count() == 3


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"humidity_pct": 100.5}, "humidity_pct"),
        ({"temperature_c": 71}, "temperature_c"),
        ({"moment": "2026-03-10T09:00:00"}, "moment"),
        ({"moment": "2027-03-10T09:00:00Z"}, "moment"),
        ({"moment": "1980-03-10T09:00:00Z"}, "moment"),
        ({"humidity_pct": "damp"}, "humidity_pct"),
        ({"pressure": 1013}, "pressure"),
    ],
)
def test_bad_values_are_refused_in_words(world: World, sensor: Device, room: Room, changes: dict[str, Any], field: str) -> None:
    found = problem(sensor.post(f"rooms/{room.pk}/readings/", sent(world, **changes)), 400)
    assert field in json.dumps(found) and found["detail"].endswith(".")
    assert not RoomReading.objects.within(world.workshop).exists()


def test_under_its_key_a_request_is_done_once(world: World, sensor: Device, room: Room) -> None:
    path = f"{V1}rooms/{room.pk}/readings/bulk/"
    answers = [
        sensor.client.post(
            path, json.dumps({"readings": [sent(world)]}), content_type="application/json",
            headers={"Idempotency-Key": '"a-parcel"'},
        )
        for _ in range(2)
    ]  # fmt: skip
    assert [one.status_code for one in answers] == [201, 201] and answers[0].content == answers[1].content


def test_a_sensor_sees_nothing_and_shut_out_sends_nothing(world: World, sensor: Device, room: Room) -> None:
    for path in ("rooms/", f"rooms/{room.pk}/", f"rooms/{room.pk}/days/", "room-readings/", "batches/", "workshop/", "racks/"):
        problem(sensor.get(path), 403)
    assert sensor.get(f"rooms/{room.pk}/readings/").status_code == 405
    problem(sensor.post("rooms/", {"name": "Cellar"}), 403)
    problem(sensor.post("readings/", {}), 403)
    answer = sensor.post(f"rooms/{room.pk}/readings/", sent(world))
    problem(sensor.post(f"room-readings/{answer.json()['id']}/withdraw/", {"reason": "wrong"}), 403)
    revoke_token(token=DeviceToken.objects.within(world.workshop).get(reach="senses"), at=world.now)
    problem(sensor.post(f"rooms/{room.pk}/readings/", sent(world, minutes=1)), 401)


def test_a_person_s_device_keeps_rooms_and_withdraws(world: World, device: Device, sensor: Device) -> None:
    made = device.post("rooms/", {"name": "Cellar"})
    assert made.status_code == 201 and made["Location"].endswith(f"/rooms/{made.json()['id']}/")
    pk = made.json()["id"]
    assert device.patch(f"rooms/{pk}/", {"name": "Vault"}).json()["name"] == "Vault"
    answer = sensor.post(f"rooms/{pk}/readings/", sent(world)).json()
    withdrawn = device.post(f"room-readings/{answer['id']}/withdraw/", {"reason": "held in the hand"})
    assert withdrawn.status_code == 200 and withdrawn.json()["is_withdrawn"] is True
    problem(device.post(f"room-readings/{answer['id']}/withdraw/", {"reason": "again"}), 409, "withdrawn")
    assert [len(device.rows("room-readings/", is_withdrawn=one)) for one in ("true", "false")] == [1, 0]
    assert device.rows(f"rooms/{pk}/days/") == []
    rack = world.rack()
    stood = device.post(f"racks/{rack.pk}/rooms/", {"room": pk, "since": "2026-02-01"})
    assert stood.status_code == 201
    assert [(row["room"], row["since"]) for row in device.rows(f"racks/{rack.pk}/rooms/")] == [(pk, "2026-02-01")]
    problem(device.post(f"racks/{rack.pk}/rooms/", {"room": pk + 99}), 404, field="room")


def test_what_a_parcel_costs_does_not_grow_with_the_log(world: World, sensor: Device, room: Room) -> None:
    def parcel(days: int) -> int:
        rows = [sent(world, minutes=24 * 60 * days + 15 * number) for number in range(1, 21)]
        with CaptureQueriesContext(connection) as caught:
            assert sensor.post(f"rooms/{room.pk}/readings/bulk/", {"readings": rows}).status_code == 201
        return len(caught)

    parcel(0)
    few = parcel(1)
    for days in range(2, 42):
        parcel(days)
    assert parcel(42) == few
    assert RoomDay.objects.within(world.workshop).count() == 43
