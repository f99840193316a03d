"""Rooms and the log of their air: what counts, what is refused, and that the days are what the readings come to."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction

from curehouse.common.errors import Conflict, Invalid
from curehouse.curing.models import Room, RoomDay, RoomReading
from curehouse.curing.services.room_log import AirEntry, celsius_of, record_air
from curehouse.curing.services.rooms import add_room, rename_room
from curehouse.flows.log_air import log_air, log_air_many, sensed, withdraw
from curehouse.flows.preferences import choose
from curehouse.flows.stand_rack import stand_rack
from curehouse.flows.weigh_many import RowsRefused
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def room(world: World) -> Room:
    return add_room(workshop=world.workshop, name="Drying room")


def entry(world: World, humidity: str = "61.5", celsius: str | None = "18.2", **changes: Any) -> AirEntry:
    warm = None if celsius is None else Decimal(celsius)
    made = sensed(world.actor, moment=world.now - timedelta(hours=1), humidity_pct=Decimal(humidity), temperature_c=warm)
    return replace(made, **changes)


def days(room: Room) -> list[tuple[float, float | None, int]]:
    rows = RoomDay.objects.within(room.workshop).filter(room=room).with_readings()
    return [(row.humidity_pct, row.temperature_c, row.readings) for row in rows]


def test_a_reading_that_is_sent_again_adds_nothing(world: World, room: Room) -> None:
    first, is_new = log_air(actor=world.actor, room=room, entry=entry(world), at=world.now)
    again, is_new_again = log_air(actor=world.actor, room=room, entry=entry(world), at=world.now)
    assert (is_new, is_new_again) == (True, False) and first == again
    assert RoomReading.objects.within(world.workshop).count() == 1
    assert days(room) == [(61.5, 18.2, 1)]
    with pytest.raises(Conflict, match="61.5 % and 18.2 °C came in before"):
        log_air(actor=world.actor, room=room, entry=entry(world, "70"), at=world.now)
    # Within one parcel too.
    later = world.now - timedelta(minutes=5)
    same = sensed(world.actor, moment=later, humidity_pct=Decimal(60), temperature_c=None)
    results = log_air_many(actor=world.actor, room=room, entries=[same, same], at=world.now)
    assert [is_new for _row, is_new in results] == [True, False]
    assert days(room) == [(60.75, 18.2, 2)]


@pytest.mark.parametrize(
    ("humidity", "celsius", "field", "words"),
    [
        ("100.1", "18", "humidity_pct", "lies between 0 and 100 %"),
        ("-1", "18", "humidity_pct", "lies between 0 and 100 %"),
        ("NaN", "18", "humidity_pct", "lies between 0 and 100 %"),
        ("60", "71", "temperature_c", "whether it is in °C or °F"),
        ("60", "-21", "temperature_c", "whether it is in °C or °F"),
    ],
)
def test_what_is_the_air_of_no_room_is_refused(
    world: World, room: Room, humidity: str, celsius: str, field: str, words: str
) -> None:
    with pytest.raises(Invalid, match=words) as refused:
        log_air(actor=world.actor, room=room, entry=entry(world, humidity, celsius), at=world.now)
    assert refused.value.field == field
    with pytest.raises(RowsRefused, match="1 of 2 rows"):
        log_air_many(actor=world.actor, room=room, entries=[entry(world), entry(world, humidity, celsius)], at=world.now)
    assert not RoomReading.objects.within(world.workshop).exists()


def test_a_time_to_come_is_refused_and_the_edges_are_taken(world: World, room: Room) -> None:
    with pytest.raises(Invalid, match="lies in the future"):
        log_air(actor=world.actor, room=room, entry=entry(world, moment=world.now + timedelta(hours=1)), at=world.now)
    for number, (humidity, celsius) in enumerate((("0", "-20"), ("100", "60"))):
        log_air(actor=world.actor, room=room, entry=entry(world, humidity, celsius, key=f"{number}"), at=world.now)
    with pytest.raises(IntegrityError, match="roomreading_humidity"), transaction.atomic():
        record_air(actor=world.actor, room=room, entries=[entry(world, "101", key="x")], at=world.now)


def test_a_wrong_reading_is_withdrawn_once_and_stays_on_record(world: World, room: Room) -> None:
    wrong, _ = log_air(actor=world.actor, room=room, entry=entry(world, "99"), at=world.now)
    log_air(actor=world.actor, room=room, entry=entry(world, "60", key="other"), at=world.now)
    withdraw(actor=world.actor, reading=wrong, reason="held in the hand", at=world.now)
    assert days(room) == [(60.0, 18.2, 1)]
    with pytest.raises(Conflict, match="withdrawn before"):
        withdraw(actor=world.actor, reading=wrong, reason="again", at=world.now)
    with pytest.raises(Invalid, match="Say why"):
        withdraw(actor=world.actor, reading=wrong, reason="  ", at=world.now)
    # Its sensor sends it again: it stays withdrawn.
    log_air(actor=world.actor, room=room, entry=entry(world, "99"), at=world.now)
    assert days(room) == [(60.0, 18.2, 1)]
    standing = {row.humidity_pct: row.is_withdrawn for row in RoomReading.objects.within(world.workshop).with_withdrawn()}
    assert standing == {Decimal(99): True, Decimal(60): False}


def test_a_day_is_the_mean_of_its_readings_to_the_hundredth_whatever_their_order(world: World, room: Room) -> None:
    values = ["60.01", "60.02", "60.02", "59.99", "71.23"]
    for number, value in enumerate(values):
        moment = world.now - timedelta(minutes=number)
        log_air(actor=world.actor, room=room, entry=entry(world, value, None, key=f"{number}", moment=moment), at=world.now)
    assert days(room) == [(round(sum(map(float, values)) / 5, 2), None, 5)]


def test_verify_rooms_finds_nothing_until_somebody_tampers(
    world: World, room: Room, capsys: pytest.CaptureFixture[str]
) -> None:
    for number in range(30):
        moment = world.now - timedelta(hours=5 * number)
        sent = entry(world, f"{50 + number * 0.37:.2f}", None if number % 3 else "17.35", key=f"{number}", moment=moment)
        row, _ = log_air(actor=world.actor, room=room, entry=sent, at=world.now)
    withdraw(actor=world.actor, reading=row, reason="sensor fell down", at=world.now)
    call_command("verify_rooms")
    assert "Every day is what its readings come to." in capsys.readouterr().out
    RoomDay.objects.within(world.workshop).filter(room=room, day=world.now.date()).update(humidity_sum=1)
    with pytest.raises(CommandError, match="1 figures differ"):
        call_command("verify_rooms")
    assert f"humidity_sum of room {room.pk} on {world.now.date()}: 1 kept" in capsys.readouterr().out


def test_days_begin_elsewhere_in_another_time_zone(world: World, room: Room) -> None:
    midnight = world.now.replace(hour=0, minute=0)
    for minutes in (-300, 300):
        moment = midnight + timedelta(minutes=minutes)
        log_air(actor=world.actor, room=room, entry=entry(world, key=f"{minutes}", moment=moment), at=world.now)
    before = days(room)
    choose(workshop=world.workshop, changes={"time_zone": "Pacific/Auckland"}, at=world.now)
    assert len(before) == 2 and len(days(room)) == 1
    call_command("verify_rooms")


def test_rooms_have_names_of_their_own(world: World, room: Room) -> None:
    with pytest.raises(Invalid, match="There is a room called Drying room already"):
        add_room(workshop=world.workshop, name="Drying room")
    other = add_room(workshop=world.workshop, name="Cellar")
    with pytest.raises(Invalid, match="choose another name"):
        rename_room(room=other, name="Drying room")
    with pytest.raises(Invalid, match="lies in the future"):
        stand_rack(
            actor=world.actor, rack=world.rack(), room=room, since=world.now.date() + timedelta(days=1), at=world.now
        )  # fmt: skip


def test_fahrenheit_is_read_to_the_hundredth() -> None:
    """By the definition of the degree Fahrenheit: 32 °F and 212 °F are 0 and 100 °C."""
    assert [celsius_of(Decimal(one)) for one in ("32", "212", "68", "65.3")] == [0, 100, 20, Decimal("18.50")]
