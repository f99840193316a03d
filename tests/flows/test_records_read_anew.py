"""What is known of cures that ended is read whole before anything is learnt, and anew where it has changed."""

from collections.abc import Sequence
from datetime import timedelta

import pytest

from curehouse.curing.models import Cure, Reading
from curehouse.curing.services.rooms import add_room
from curehouse.flows import learn as learning
from curehouse.flows.foretell import foretell_wanting, learn_and_foretell
from curehouse.flows.stand_rack import stand_rack
from curehouse.flows.take_out import take_out
from curehouse.flows.weigh import correct
from curehouse.making.models import Batch
from curehouse.making.services import TakeOutEntry
from tests.flows.test_foretell import cure_of, cured
from tests.world import World

pytestmark = pytest.mark.django_db


def brought_in(batches: Sequence[Batch]) -> None:
    """Let cures be as those of batches that came in as closed."""
    for batch in batches:
        Cure.objects.within(batch.workshop).filter(batch=batch).update(
            ended_at=batch.cut_at + timedelta(days=40), forecast_wanted_at=batch.cut_at, due_on=None
        )


def taken_out(world: World, batch: Batch) -> None:
    entry = TakeOutEntry(bars=batch.bars_left, purpose="sale", taken_at=world.now, forced_reason="for a fair")
    take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)


def last_day_known(batch: Batch) -> int:
    record = cure_of(batch).record
    assert record is not None
    return max(max(bar["days"]) for bar in record.content["bars"])


def night(world: World, *, days: int = 1) -> int:
    return learn_and_foretell(workshop_id=world.workshop.pk, at=world.now + timedelta(days=days))


def test_batches_of_unknown_water_keep_none_of_the_others_unread(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learning, "_READ_AT_ONCE", 2)
    batches = [cured(world, days_ago=90 - n, number=n, sample_bars=1) for n in range(7)]
    dry = batches[1::2]
    Batch.objects.within(world.workshop).filter(pk__in=[one.pk for one in dry]).update(
        water_share_stated=None, water_share_computed=0
    )
    brought_in(batches)
    night(world)
    known = {one.batch_id for one in Cure.objects.within(world.workshop).filter(record__isnull=False)}
    assert known == {one.pk for one in batches if one not in dry}


def test_nothing_that_was_read_is_read_again_the_night_after(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    batches = [cured(world, days_ago=90 - n, number=n, sample_bars=1) for n in range(3)]
    Batch.objects.within(world.workshop).filter(pk=batches[0].pk).update(water_share_stated=None, water_share_computed=0)
    brought_in(batches)
    night(world)
    read: list[object] = []
    monkeypatch.setattr(learning, "records_of", lambda _workshop, rows: read.extend(rows) or {})
    night(world, days=2)
    assert read == []


def test_a_cure_that_ends_before_its_last_weighing_was_foretold_teaches_with_it(world: World) -> None:
    batch = cured(world, days_ago=35, last=28)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    world.weigh(world.bar(batch), "116.0", moment=world.now)
    taken_out(world, batch)
    night(world)
    assert last_day_known(batch) == 35


def test_what_is_put_right_after_the_end_is_read_anew(world: World) -> None:
    batch = cured(world, days_ago=35, last=28)
    taken_out(world, batch)
    night(world)
    reading = Reading.objects.within(world.workshop).filter(bar__batch=batch).order_by("-moment", "bar__letter")[0]
    entry = world.reading_entry("118.4", moment=reading.moment)
    correct(actor=world.actor, reading=reading, entry=entry, at=world.now)
    night(world, days=2)
    assert 118.4 in [bar["weights_g"][-1] for bar in cure_of(batch).record.content["bars"]]


def test_what_is_known_of_an_ended_cure_stands_until_it_is_read_anew(world: World) -> None:
    rack = world.rack()
    batch = cured(world, days_ago=35, last=28, position=world.position(rack))
    room, cellar = (add_room(workshop=world.workshop, name=name) for name in ("Drying room", "Cellar"))
    taken_out(world, batch)
    night(world)
    assert cure_of(batch).record.content["room"] == ""
    stand_rack(actor=world.actor, rack=rack, room=cellar, since=None, at=world.now)
    assert cure_of(batch).record is not None
    night(world, days=2)
    assert cure_of(batch).record.content["room"] == f"{cellar.pk}"
    assert room.pk < cellar.pk
