"""What the tick finds. The tasks it nudges run in the drills, by a real worker."""

from datetime import timedelta

import pytest

from curehouse.curing.services.cures import note_news
from curehouse.curing.services.forecasts import LEASE as LEARNING_LEASE
from curehouse.curing.services.forecasts import claim_learning, want_learning
from curehouse.flows.answer_news import answer_news
from curehouse.flows.deliver import deliver
from curehouse.flows.foretell import foretell_wanting, learn_and_foretell
from curehouse.flows.tick import MOST_DELIVERIES
from curehouse.jobs.schedule import beat_schedule
from curehouse.notices.models import Delivery
from curehouse.notices.services import begin_attempt, tell
from curehouse.notices.services.delivering import LEASE
from curehouse.workshops.mornings import claim_morning
from tests.smtp_peer import SmtpPeer
from tests.world import World


def _tell(world: World, number: int = 1) -> Delivery:
    notice = tell(
        workshop=world.workshop,
        key=f"ready:batch:{number}:1",
        kind="ready",
        about=f"batch:{number}",
        mark="ready",
        title="Mint is ready",
        body="Dry.",
        path="/",
        at=world.now,
    )
    assert notice is not None
    return Delivery.objects.within(world.workshop).get(notice=notice)


def _morning_is_done(world: World) -> None:
    claim_morning(workshop=world.workshop, day=world.now.date())


def test_tick_finds_a_morning_that_has_come_until_it_is_done(world: World, nudged_at) -> None:
    assert nudged_at(world.now) == [("jobs.morning", (world.workshop.pk,))]
    _morning_is_done(world)
    assert nudged_at(world.now) == []


def test_tick_finds_a_cure_with_news(world: World, nudged_at) -> None:
    _morning_is_done(world)
    batch = world.batch(cut_days_ago=10)
    note_news(workshop=world.workshop, batch_id=batch.pk, at=world.now)
    wanted = [("jobs.assess", (world.workshop.pk, batch.pk)), ("jobs.foretell", (world.workshop.pk,))]
    assert nudged_at(world.now) == wanted
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    assert nudged_at(world.now) == wanted[:1]


def test_tick_finds_a_house_that_is_to_learn_until_somebody_is_at_it(world: World, nudged_at) -> None:
    _morning_is_done(world)
    want_learning(workshop=world.workshop, at=world.now)
    wanted = [("jobs.learn", (world.workshop.pk,))]
    assert nudged_at(world.now) == wanted
    assert claim_learning(workshop=world.workshop, at=world.now) is not None
    assert claim_learning(workshop=world.workshop, at=world.now) is None
    assert nudged_at(world.now) == []
    later = world.now + LEARNING_LEASE
    assert nudged_at(later) == wanted
    learn_and_foretell(workshop_id=world.workshop.pk, at=later)
    assert nudged_at(later) == []


def test_tick_finds_deliveries_that_wait_and_those_a_dead_worker_left(world: World, nudged_at) -> None:
    _morning_is_done(world)
    delivery = _tell(world)
    due = [("jobs.deliver", (world.workshop.pk, delivery.pk))]
    assert nudged_at(world.now - timedelta(seconds=1)) == []
    assert nudged_at(world.now) == due
    begin_attempt(workshop_id=world.workshop.pk, delivery_id=delivery.pk, mail_is_set_up=True, at=world.now)
    assert nudged_at(world.now + LEASE - timedelta(seconds=1)) == []
    assert nudged_at(world.now + LEASE) == due


def test_tick_takes_so_many_deliveries_at_once_and_no_more(world: World, nudged_at) -> None:
    _morning_is_done(world)
    first = [_tell(world, number).pk for number in range(MOST_DELIVERIES + 3)][:MOST_DELIVERIES]
    assert [ids[1] for _, ids in nudged_at(world.now)] == first


def test_tick_sends_what_waited_once_a_mail_server_is_named_at_a_restart(world: World, nudged_at, settings) -> None:
    _morning_is_done(world)
    delivery = _tell(world)
    deliver(workshop_id=world.workshop.pk, delivery_id=delivery.pk, at=world.now)
    assert nudged_at(world.now) == []
    with SmtpPeer() as peer:
        settings.EMAIL_URL = peer.url
        due = ("jobs.deliver", (world.workshop.pk, delivery.pk))
        assert due not in nudged_at(world.now + timedelta(hours=25))
        assert due in nudged_at(world.now + timedelta(hours=1))


def test_every_entry_of_the_schedule_expires_before_its_next_run() -> None:
    for tick_seconds in (1, 30, 600):
        for entry in beat_schedule(tick_seconds).values():
            assert 0 < entry["options"]["expires"] < entry["schedule"].seconds


def test_a_batch_that_cannot_be_assessed_goes_behind_those_that_can(world: World, nudged_at, monkeypatch) -> None:
    _morning_is_done(world)
    poisoned, sound = world.batch(cut_days_ago=10), world.batch(cut_days_ago=10)
    note_news(workshop=world.workshop, batch_id=poisoned.pk, at=world.now - timedelta(minutes=2))
    note_news(workshop=world.workshop, batch_id=sound.pk, at=world.now - timedelta(minutes=1))
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    first, second = ("jobs.assess", (world.workshop.pk, poisoned.pk)), ("jobs.assess", (world.workshop.pk, sound.pk))
    assert nudged_at(world.now) == [first, second]

    def broken(*_args: object, **_options: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("curehouse.flows.assess.verdict_at", broken)
    with pytest.raises(ZeroDivisionError):
        answer_news(workshop_id=world.workshop.pk, batch_id=poisoned.pk, at=world.now)
    monkeypatch.undo()
    assert nudged_at(world.now) == [second, first]
    answer_news(workshop_id=world.workshop.pk, batch_id=sound.pk, at=world.now)
    assert nudged_at(world.now) == [first]
