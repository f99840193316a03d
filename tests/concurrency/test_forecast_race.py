"""A worker that takes its time over a forecast, and what comes to be known meanwhile: the older never has the last word.

All that happens meanwhile happens at the very moment of the wish that the slow one answers, so moments tell nothing.
"""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from functools import partial
from threading import Event
from typing import Any

import pytest

from curehouse.curing.models import Cure, Rack, Room, RoomReading
from curehouse.curing.services.cures import note_news
from curehouse.curing.services.forecasts import answer_with_forecasts
from curehouse.curing.services.room_log import AirEntry
from curehouse.curing.services.rooms import add_room
from curehouse.flows import foretell as flow
from curehouse.flows.foretell import foretell_wanting, learn_and_foretell
from curehouse.flows.log_air import log_air_many
from curehouse.flows.stand_rack import stand_rack
from curehouse.making.models import Batch
from tests.arena import STUCK_SECONDS, Arena
from tests.flows.test_foretell import cured
from tests.world import World


def a_house() -> tuple[World, Batch]:
    """Return a house with a batch to foretell, on a rack of which nobody said where it stands, and with two rooms."""
    world = World()
    rack = world.rack("Wall")
    batch = cured(world, days_ago=21, last=14, position=world.position(rack))
    add_room(workshop=world.workshop, name="Drying room")
    cellar = add_room(workshop=world.workshop, name="Cellar")
    entries = [
        AirEntry(world.days_ago(day), Decimal(60), Decimal(18), RoomReading.Source.FORM, f"{day}") for day in range(1, 22)
    ]
    log_air_many(actor=world.actor, room=cellar, entries=entries, at=world.now)
    return world, batch


def weighed_foretold_and_wanted_again(world: World, batch: Batch) -> None:
    world.weigh(world.bar(batch), "117.0", moment=world.days_ago(1))
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    note_news(workshop=world.workshop, batch_id=batch.pk, at=world.now)


def stood_elsewhere(world: World, _batch: Batch) -> None:
    rack = Rack.objects.within(world.workshop).get()
    cellar = Room.objects.within(world.workshop).get(name="Cellar")
    stand_rack(actor=world.actor, rack=rack, room=cellar, since=None, at=world.now)


def learnt(world: World, batch: Batch) -> None:
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    note_news(workshop=world.workshop, batch_id=batch.pk, at=world.now)


def raced(arena: Arena, meanwhile: Callable[[World, Batch], None]) -> tuple[World, Batch]:
    """Let a worker come as far as its forecast, then what happens meanwhile, then the worker's answer."""
    world, batch = arena.do(a_house)
    working, is_at_it, goes_on = flow._worked_out, Event(), Event()

    def slow(*given: Any, **also: Any) -> Any:
        found = working(*given, **also)
        if not is_at_it.is_set():
            is_at_it.set()
            assert goes_on.wait(STUCK_SECONDS)
        return found

    def news() -> None:
        assert is_at_it.wait(STUCK_SECONDS)
        try:
            meanwhile(world, batch)
        finally:
            goes_on.set()

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(flow, "_worked_out", slow)
        outcomes = arena.race(partial(foretell_wanting, workshop_id=world.workshop.pk, at=world.now), news)
    assert outcomes == [1, None]
    return world, batch


def what_stands(world: World, batch: Batch) -> tuple[bool, Any]:
    """Return whether a forecast is still wanted, and what the one that stands was made of."""
    cure = Cure.objects.within(world.workshop).select_related("forecast__record").get(batch=batch)
    made_of = cure.forecast and (cure.forecast.record.content, cure.forecast.room_id, cure.forecast.prior_id)
    return cure.forecast_wanted_at is not None, made_of


def afterwards(arena: Arena, world: World, batch: Batch) -> tuple[Any, Any]:
    """Return what the forecast that stands was made of, if none is wanted; and what it is to be made of."""
    is_wanted, stands = arena.do(partial(what_stands, world, batch))
    arena.do(partial(note_news, workshop=world.workshop, batch_id=batch.pk, at=world.now + timedelta(minutes=1)))
    arena.do(partial(foretell_wanting, workshop_id=world.workshop.pk, at=world.now + timedelta(minutes=1)))
    _wanted, right = arena.do(partial(what_stands, world, batch))
    return right if is_wanted else stands, right


MEANWHILE = [weighed_foretold_and_wanted_again, stood_elsewhere, learnt]


@pytest.mark.parametrize("meanwhile", MEANWHILE)
def test_what_came_to_be_known_meanwhile_is_in_the_forecast_or_it_is_still_wanted(arena: Arena, meanwhile: Any) -> None:
    stands, right = afterwards(arena, *raced(arena, meanwhile))
    assert stands == right


@pytest.mark.parametrize("meanwhile", MEANWHILE)
def test_without_the_look_at_what_stands_now_the_older_has_the_last_word(
    arena: Arena, meanwhile: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        flow, "_answer", lambda workshop, answers, before, at: answer_with_forecasts(workshop=workshop, answers=answers, at=at)
    )
    stands, right = afterwards(arena, *raced(arena, meanwhile))
    assert stands != right
