"""Rooms at the pages: written down, logged by hand, looked at, withdrawn; and where racks stand."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from curehouse.curing.models import RackRoom, Room, RoomReading
from curehouse.curing.services.rooms import add_room
from curehouse.flows.log_air import log_air_many, sensed
from curehouse.workshops.models import Member, User
from curehouse.workshops.services import change_preferences
from tests.web.on_round import set_clock, text_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def logged(world: World, room: Room, days: int, *, a_day: int = 2) -> None:
    entries = [
        sensed(
            world.actor,
            moment=world.now - timedelta(hours=24 * day + 3 * number),
            humidity_pct=Decimal(55 + day % 20),
            temperature_c=Decimal(17) + Decimal(day % 7) / 2,
        )
        for day in range(days)
        for number in range(a_day)
    ]
    log_air_many(actor=world.actor, room=room, entries=entries, at=world.now)


def test_a_room_is_named_and_its_air_written_down_on_a_phone(world: World, visitor: Visitor) -> None:
    assert "No room yet" in visitor.words("rooms")
    assert "name the room" in visitor.words("room_air")
    answer = visitor.post("rooms", name="Drying room")
    room = Room.objects.within(world.workshop).get()
    assert answer.url == reverse("web:room", args=[room.pk])
    assert "Nothing was read in these days" in visitor.words("room", room.pk)
    answer = visitor.post(
        "room_air", room=room.pk, humidity_pct="61,5", temperature="-2,5", degrees="c", moment="2026-03-09T21:40"
    )
    assert answer.url == reverse("web:room", args=[room.pk])
    row = RoomReading.objects.within(world.workshop).get()
    assert (row.humidity_pct, row.temperature_c, row.source, row.by_user) == (
        Decimal("61.5"),
        Decimal("-2.5"),
        "form",
        world.owner,
    )
    assert row.moment.isoformat() == "2026-03-09T20:40:00+00:00"
    words = visitor.words("room", room.pk)
    assert "61.5 %, −2.5 °C" in words and "Mon 9 Mar" in words
    assert "61.5 %, −2.5 °C, Mon 9 Mar, 21:40" in visitor.words("rooms")


def test_a_form_sent_twice_is_one_reading(world: World, visitor: Visitor) -> None:
    room, key = add_room(workshop=world.workshop, name="Drying room"), str(uuid.uuid4())
    for _ in range(2):
        visitor.post("room_air", form_key=key, room=room.pk, humidity_pct="60", temperature="", degrees="c", moment="")
    row = RoomReading.objects.within(world.workshop).get()
    assert (row.moment, row.temperature_c) == (world.now, None)


def test_who_weighs_in_ounces_is_asked_in_fahrenheit_and_shown_it(world: World, visitor: Visitor) -> None:
    change_preferences(workshop=world.workshop, changes={"unit": "oz"})
    room = add_room(workshop=world.workshop, name="Drying room")
    page = visitor.get("room_air").content.decode()
    assert page.index('value="f"') < page.index("checked") or 'value="f" id="id_degrees_1" checked' in page.replace("  ", " ")
    visitor.post("room_air", room=room.pk, humidity_pct="60", temperature="65.3", degrees="f", moment="")
    row = RoomReading.objects.within(world.workshop).get()
    assert (row.temperature_c, row.typed) == (Decimal("18.50"), "65.3 °F")
    assert "65.3 °F" in visitor.words("room", room.pk)
    assert "temperature from 65.3 to 65.3\u00a0°F" in visitor.get("room", room.pk).content.decode()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"humidity_pct": "101"}, "The humidity lies between 0 and 100 %"),
        ({"humidity_pct": "-1"}, "The humidity lies between 0 and 100 %"),
        ({"humidity_pct": ""}, "The humidity is missing"),
        ({"temperature": "71"}, "check the figure, and whether it is in °C or °F"),
        ({"temperature": "warm"}, "type figures with one point or comma"),
        ({"moment": "2026-03-10T11:00"}, "The time lies in the future"),
        ({"degrees": "k"}, "Choose °C or °F"),
        ({"room": "999999"}, "choose another one"),
    ],
)
def test_bad_values_are_refused_in_words(world: World, visitor: Visitor, changes: dict[str, str], words: str) -> None:
    room = add_room(workshop=world.workshop, name="Drying room")
    sent = {"room": f"{room.pk}", "humidity_pct": "60", "temperature": "18", "degrees": "c", "moment": ""}
    answer = visitor.post("room_air", **(sent | changes))
    assert answer.status_code == 200 and words in text_of(answer)
    assert not RoomReading.objects.within(world.workshop).exists()


def test_a_wrong_reading_is_withdrawn_and_shown_as_that(world: World, visitor: Visitor) -> None:
    room = add_room(workshop=world.workshop, name="Drying room")
    logged(world, room, 1, a_day=1)
    row = RoomReading.objects.within(world.workshop).get()
    assert "It stays on record" in visitor.words("air_withdraw", row.pk)
    assert "is missing" in text_of(visitor.post("air_withdraw", row.pk, reason=""))
    assert visitor.post("air_withdraw", row.pk, reason="held in the hand").url == reverse("web:room", args=[room.pk])
    words = visitor.words("room", room.pk)
    assert "✕withdrawn" in words.replace(" ", "") and "Nothing was read in these days" in words
    assert "was withdrawn before" in text_of(visitor.post("air_withdraw", row.pk, reason="again"))


def test_every_reading_stands_on_some_page_withdrawn_or_not(world: World, visitor: Visitor) -> None:
    room = add_room(workshop=world.workshop, name="Drying room")
    logged(world, room, 41, a_day=1)
    for row in RoomReading.objects.within(world.workshop).order_by("pk")[:3]:
        visitor.post("air_withdraw", row.pk, reason="held in the hand")
    pages = [visitor.get("room", room.pk, query=f"?page={number}").content.decode() for number in (1, 2, 3)]
    assert [page.count("sensor, Ottilie Brandt") for page in pages] == [20 * 2 - 3, 40, 2]
    assert "1 of 3" in pages[0]


def test_the_curve_has_its_figures_in_words_and_in_a_table(world: World, visitor: Visitor) -> None:
    room = add_room(workshop=world.workshop, name="Drying room")
    logged(world, room, 200)
    page = visitor.get("room", room.pk).content.decode()
    assert "Humidity from 55.0 to 74.0\u00a0% and temperature from 17.0 to 20.0\u00a0°C, means of " in page
    for days, rows in ((30, 30), (90, 90), (365, 200)):
        page = visitor.get("room", room.pk, query=f"?days={days}").content.decode()
        assert abs(page.count('<th scope="row">') - rows) <= 1
        assert f"The last {days} days" in page
    assert "The last 90 days" in visitor.words("room", room.pk, query="?days=7")


def test_what_pages_cost_does_not_grow_with_the_log_or_the_rooms(world: World, visitor: Visitor) -> None:
    room = add_room(workshop=world.workshop, name="Drying room")
    world.rack()
    logged(world, room, 3)
    visitor.get("room", room.pk)
    few = [visitor.queries("rooms"), visitor.queries("room", room.pk)]
    for number in range(5):
        logged(world, add_room(workshop=world.workshop, name=f"Room {number}"), 120)
        world.rack(f"Rack {number}")
    logged(world, room, 120)
    assert [visitor.queries("rooms"), visitor.queries("room", room.pk)] == few
    assert max(few) <= 14


def test_a_rack_stands_where_it_is_said_to_from_a_day_on(world: World, visitor: Visitor) -> None:
    rack = world.rack()
    assert "First name the rooms" in visitor.words("rack_room", rack.pk)
    dry, cellar = (add_room(workshop=world.workshop, name=name) for name in ("Drying room", "Cellar"))
    assert "it counts as in the room that was entered first" in visitor.words("rack_room", rack.pk)
    assert "North wall stands here" in visitor.words("room", dry.pk)
    visitor.post("rack_room", rack.pk, room=cellar.pk, since="2026-03-02")
    row = RackRoom.objects.within(world.workshop).get()
    assert (row.rack, row.room, f"{row.since}", row.by_user) == (
        rack,
        cellar,
        "2026-03-02",
        world.owner,
    )
    assert "Cellar from 2 March 2026 on" in visitor.words("rack_room", rack.pk)
    assert "North wall stands here" in visitor.words("room", cellar.pk)
    assert "lies in the future" in text_of(visitor.post("rack_room", rack.pk, room=dry.pk, since="2026-03-12"))


def test_a_helper_logs_the_air_and_a_reader_only_looks(world: World, visitor: Visitor) -> None:
    room = add_room(workshop=world.workshop, name="Drying room")
    sent = {
        "form_key": str(uuid.uuid4()),
        "room": room.pk,
        "humidity_pct": "60",
        "temperature": "",
        "degrees": "c",
        "moment": "",
    }
    for role, status in (("helper", 302), ("reader", 403)):
        user = User.objects.create(email=f"{role}@rooms.example", name=role.title(), joined_at=world.now)
        Member.unscoped.create(workshop=world.workshop, user=user, role=role, joined_at=world.now)
        client = Client()
        client.force_login(user)
        assert client.post(reverse("web:room_air"), sent).status_code == status
        page = client.get(reverse("web:room", args=[room.pk])).content.decode()
        assert ("Write the air down" in page) is (role == "helper")
        assert "Rename" not in page


def test_another_name(world: World, visitor: Visitor) -> None:
    room = add_room(workshop=world.workshop, name="Drying room")
    add_room(workshop=world.workshop, name="Cellar")
    visitor.post("room", room.pk, name="Loft")
    room.refresh_from_db()
    assert room.name == "Loft"
    answer = visitor.post("room", room.pk, name="Cellar")
    assert "There is a room called Cellar already" in text_of(answer) and "<h1>Loft</h1>" in answer.content.decode()
