"""A room's log reaches the forecasts of the batches in that room, of nobody else, and not with every reading."""

import math
import random
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.curing.models import Cure, CureLearning, CurePrior, CureRecord, Forecast, Rack, Room, RoomDay, RoomReading
from curehouse.curing.services.places import move
from curehouse.curing.services.room_log import AirEntry, withdraw_air
from curehouse.curing.services.rooms import add_room, rename_room
from curehouse.flows.foretell import foretell_wanting, learn_and_foretell
from curehouse.flows.log_air import log_air, log_air_many
from curehouse.flows.stand_rack import stand_rack
from curehouse.making.models import Batch
from curehouse.web.reading.batch import read_batch
from curehouse.web.reading.days import Calendar
from tests.flows.test_foretell import again, cure_of, cured
from tests.world import World

pytestmark = pytest.mark.django_db


def _spells() -> list[float]:
    """Return how far from its usual a room's humidity was so many days ago, in points."""
    chance, out = random.Random(4), [0.0]
    for _ in range(500):
        out.append(0.93 * out[-1] + chance.gauss(0, 4))
    return out


SPELLS = _spells()


def air(world: World, room: object, *, first: int, last: int = 0, base: float = 60.0) -> None:
    """Log a room from so many days ago to so many days ago, once a day: wet and dry spells."""
    entries = [
        AirEntry(
            world.days_ago(day),
            Decimal(f"{min(max(base + SPELLS[day], 5), 98):.2f}"),
            Decimal(f"{17 + 3 * math.cos(day / 30):.2f}"),
            RoomReading.Source.FORM,
            f"{day}",
        )
        for day in range(first, last - 1, -1)
    ]
    log_air_many(actor=world.actor, room=room, entries=entries, at=world.now)


def damped(world: World, *, days_ago: int, number: int, last: int, position: object = None) -> Batch:
    """Enter a batch whose bars take up what damp air gives, and weigh it each week."""
    batch = world.batch(cut_days_ago=days_ago, sample_bars=2, position=position)
    soaked, state, by_day = [], 0.0, {}
    for day in range(last + 1):
        wet = SPELLS[days_ago - day] / 10
        state = wet if day == 0 else state + (wet - state) / 8
        soaked.append(state)
    for day in range(0, last + 1, 7):
        left = 0.9 + 0.1 * 0.75 ** (day / 7) + 0.006 * (soaked[day] - soaked[0])
        by_day[day] = f"{130 * left + 0.1 * (number % 3):.1f}"
    world.weigh_series(batch, by_day, letters="AB")
    return batch


def foretold(batch: Batch) -> tuple[str, dict]:
    forecast = cure_of(batch).forecast
    assert forecast is not None
    return forecast.fingerprint, forecast.foretold


def test_a_log_is_part_of_what_a_forecast_rests_on_and_it_comes_out_the_same_again(world: World) -> None:
    room = add_room(workshop=world.workshop, name="Cellar")
    batches = [damped(world, days_ago=380 - 18 * n, number=n, last=56 if n < 18 else 21) for n in range(20)]
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    before = {batch.pk: foretold(batch) for batch in batches}
    air(world, room, first=430)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    learning = CureLearning.objects.within(world.workshop).get()
    assert learning.logged_stages and learning.logged_stages != learning.stages
    heard = CurePrior.objects.within(world.workshop).get(pk=learning.logged_stages[-1][1])
    assert heard.prior["damp_effect"] > 0
    for batch in batches:
        forecast = cure_of(batch).forecast
        assert forecast.room is not None and forecast.room.content["days"][-1][0] <= forecast.moment.date().toordinal()
        assert foretold(batch) != before[batch.pk]
        assert again(forecast) == forecast.foretold, batch
    calendar = Calendar(world.workshop, world.now)
    assert ", the log of its room and what " in read_batch(batches[-1], world.workshop, calendar).verdict.outlook.rests_on


def test_a_batch_in_a_room_without_a_log_is_foretold_as_before_to_the_last_digit(world: World) -> None:
    usual, cellar = (add_room(workshop=world.workshop, name=name) for name in ("Drying room", "Cellar"))
    wall, vault = world.rack("Wall", levels=6, places=6), world.rack("Vault", levels=6, places=6)
    stand_rack(actor=world.actor, rack=vault, room=cellar, since=None, at=world.now)
    batches = {
        rack.name: [
            damped(
                world, days_ago=150 - 9 * n, number=n, last=56 if n < 8 else 21,
                position=world.position(rack, 1 + n % 6, 1 + n // 6),
            )
            for n in range(13)
        ]
        for rack in (wall, vault)
    }  # fmt: skip
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    plain = {name: [foretold(one) for one in rows] for name, rows in batches.items()}
    records = CureRecord.objects.within(world.workshop).filter(content__room=f"{cellar.pk}")
    assert records.count() == 13
    air(world, cellar, first=200)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    assert [foretold(one) for one in batches["Wall"]] == plain["Wall"]
    assert all(foretold(one) != was for one, was in zip(batches["Vault"], plain["Vault"], strict=True))
    assert all(cure_of(one).forecast.room is None for one in batches["Wall"])
    assert CureLearning.objects.within(world.workshop).get().logged_stages
    assert usual.pk < cellar.pk


def wanted(world: World) -> set[int]:
    rows = Cure.objects.within(world.workshop).filter(forecast_wanted_at__isnull=False)
    return set(rows.values_list("batch", flat=True))


@pytest.fixture
def two_rooms(world: World) -> tuple[Batch, Batch, Callable[..., None]]:
    """Return a batch in each of two rooms, last weighed yesterday, both foretold; and how a sensor of the second sends."""
    add_room(workshop=world.workshop, name="Drying room")
    cellar = add_room(workshop=world.workshop, name="Cellar")
    wall, vault = world.rack("Wall"), world.rack("Vault")
    stand_rack(actor=world.actor, rack=vault, room=cellar, since=None, at=world.now)
    here, there = (cured(world, days_ago=22, last=21, position=world.position(rack)) for rack in (wall, vault))
    air(world, cellar, first=60, last=2)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)

    def send(at: object, humidity: str = "65") -> None:
        entry = AirEntry(at, Decimal(humidity), Decimal(18), RoomReading.Source.SENSOR, f"{at}")
        log_air(actor=world.actor, room=cellar, entry=entry, at=max(at, world.now))

    return here, there, send


def test_no_reading_of_a_sensor_wants_a_forecast_and_the_night_wants_those_it_is_news_to(
    world: World, two_rooms: tuple[Batch, Batch, Callable[..., None]]
) -> None:
    here, there, send = two_rooms
    assert wanted(world) == set()
    before = foretold(here), foretold(there)
    for minute in range(60):
        send(world.now - timedelta(minutes=minute))
    assert wanted(world) == set()
    assert foretell_wanting(workshop_id=world.workshop.pk, at=world.now) == 0
    # Yesterday, the day of the weighing, comes in late: it is news to the batch in that room alone.
    send(world.days_ago(1))
    assert wanted(world) == set()
    night = world.now + timedelta(hours=12)
    learn_and_foretell(workshop_id=world.workshop.pk, at=night)
    assert foretold(here) == before[0]
    assert foretold(there)[0] != before[1][0]
    days = cure_of(there).forecast.room.content["days"]
    assert days[-1] == [world.days_ago(1).date().toordinal(), 65.0, 18.0]
    # What was read today lies after the last weighing: nothing to anybody the night after.
    count = Forecast.objects.within(world.workshop).count()
    learn_and_foretell(workshop_id=world.workshop.pk, at=night + timedelta(days=1))
    assert Forecast.objects.within(world.workshop).count() == count


def test_a_reading_that_is_withdrawn_is_heard_no_more(
    world: World, two_rooms: tuple[Batch, Batch, Callable[..., None]]
) -> None:
    _here, there, send = two_rooms
    was = foretold(there)
    send(world.days_ago(5), "99")
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now + timedelta(days=1))
    assert foretold(there)[0] != was[0]
    reading = RoomReading.objects.within(world.workshop).get(humidity_pct=99)
    withdraw_air(actor=world.actor, reading=reading, reason="held in the hand", at=world.now)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now + timedelta(days=2))
    assert foretold(there) == was


def test_a_batch_that_was_carried_hears_each_room_while_it_stood_there(
    world: World, two_rooms: tuple[Batch, Batch, Callable[..., None]]
) -> None:
    here, there, _send = two_rooms
    wall, vault = world.position(_rack(world, "Wall"), 2), world.position(_rack(world, "Vault"))
    moved_at = there.cut_at + timedelta(days=10)
    move(actor=world.actor, batch=there, origin=vault, target=wall, bars=there.bars_cut, moved_at=moved_at, at=world.now)
    assert wanted(world) == {there.pk}
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    record = cure_of(there).forecast
    day = moved_at.date().toordinal()
    assert record.record.content["room"].endswith(f">@{day}")
    # The usual room has no log, so the log that it hears ends where it was carried away: too early for its weighings.
    assert record.room is None
    usual = _room(world, "Drying room")
    air(world, usual, first=60, base=40)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now + timedelta(days=1))
    days = {one[0]: one[1] for one in cure_of(there).forecast.room.content["days"]}
    kept = {(row.room.name, row.day.toordinal()): row.humidity_pct for row in RoomDay.objects.within(world.workshop)}
    assert days[day - 1] == kept["Cellar", day - 1] and days[day] == kept["Drying room", day]


def test_a_room_by_another_name_changes_no_figure(world: World, two_rooms: tuple[Batch, Batch, Callable[..., None]]) -> None:
    here, there, _send = two_rooms
    was = foretold(here), foretold(there)
    rename_room(room=_room(world, "Cellar"), name="Vault below")
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now + timedelta(days=1))
    assert (foretold(here), foretold(there)) == was


def _rack(world: World, name: str) -> object:
    return Rack.objects.within(world.workshop).get(name=name)


def _room(world: World, name: str) -> object:
    return Room.objects.within(world.workshop).get(name=name)
