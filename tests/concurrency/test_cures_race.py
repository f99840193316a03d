"""Weighings, verdicts and take-outs that meet."""

import uuid
from datetime import timedelta
from functools import partial

from curehouse.common.errors import Conflict, DomainError, Invalid
from curehouse.curing.models import Assessment, Reading, SampleBar
from curehouse.flows.assess import assess_batch, assess_this_morning
from curehouse.flows.check import check
from curehouse.flows.take_out import take_out
from curehouse.flows.weigh import weigh
from curehouse.making.models import Batch, TakeOut
from curehouse.making.services import TakeOutEntry
from curehouse.notices.models import Notice
from curehouse.workshops.services import change_preferences
from tests.arena import Arena
from tests.world import World


def send(world: World, bar: SampleBar, client_id: uuid.UUID, weight_g: str = "120.0"):
    entry = world.reading_entry(weight_g, moment=world.now, client_id=client_id)
    return weigh(actor=world.actor, bar=bar, entry=entry, at=world.now)


def test_a_weighing_sent_twice_at_once_is_there_once(arena: Arena) -> None:
    world = arena.do(World)
    bar = arena.do(lambda: world.bar(world.batch()))
    client_id = uuid.uuid4()
    outcomes = arena.race(*[partial(send, world, bar, client_id)] * 4)
    assert sorted(is_new for _reading, is_new in outcomes) == [False, False, False, True]
    assert len({reading.pk for reading, _is_new in outcomes}) == 1
    assert arena.do(lambda: Reading.objects.within(world.workshop).count()) == 1


def test_one_id_for_two_weighings_at_once_keeps_one_and_refuses_the_other(arena: Arena) -> None:
    world = arena.do(World)
    bars = arena.do(lambda: [world.bar(world.batch()), world.bar(world.batch())])
    client_id = uuid.uuid4()
    outcomes = arena.race(*[partial(send, world, bar, client_id) for bar in bars])
    refused = [one for one in outcomes if isinstance(one, Exception)]
    assert [(type(one), one.code) for one in refused] == [(Conflict, "id_used")], outcomes
    assert arena.do(lambda: Reading.objects.within(world.workshop).count()) == 1


def a_batch_with_news() -> tuple[World, Batch]:
    """Return a batch that was weighed four times and is dry enough, unassessed."""
    world = World()
    batch = world.batch(cut_days_ago=30)
    world.weigh_series(batch, {0: "130.0", 15: "121.0", 22: "120.2", 29: "120.0"})
    return world, batch


def test_a_batch_assessed_by_two_workers_at_once_has_one_verdict_a_weighing_and_one_notice(arena: Arena) -> None:
    world, batch = arena.do(a_batch_with_news)
    answer = partial(assess_batch, workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    outcomes = arena.race(answer, answer, answer)
    assert sorted(type(one).__name__ for one in outcomes) == ["Assessment", "NoneType", "NoneType"]
    rows = arena.do(lambda: list(Assessment.objects.within(world.workshop).values_list("reading", flat=True)))
    assert len(rows) == len(set(rows)) == 12
    assert arena.do(lambda: list(Notice.objects.within(world.workshop).values_list("kind", flat=True))) == ["check_due"]


def test_two_mornings_at_once_are_one(arena: Arena) -> None:
    world, batch = arena.do(a_batch_with_news)
    morning = partial(assess_this_morning, workshop=world.workshop, batch_id=batch.pk, at=world.now)
    outcomes = arena.race(morning, morning)
    assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
    mornings = arena.do(lambda: Assessment.objects.within(world.workshop).filter(cause="morning").count())
    assert mornings == 1


def test_weighing_checking_and_assessing_one_batch_at_once_end_in_one_true_state(arena: Arena) -> None:
    world, batch = arena.do(a_batch_with_news)
    arena.do(partial(change_preferences, workshop=world.workshop, changes={"check_limit": "no more than three drops"}))
    bar = arena.do(partial(world.bar, batch))

    def weigh_more() -> None:
        for minute in range(5):
            world.weigh(bar, "119.9", moment=world.now + timedelta(minutes=minute))

    def test_it() -> None:
        check(
            actor=world.actor, batch=batch, method="drops", value="1 drop", passed=True, note="",
            checked_at=world.now, at=world.now,
        )  # fmt: skip

    def answer() -> None:
        for _ in range(5):
            assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)

    assert arena.race(weigh_more, test_it, answer) == [None, None, None]
    arena.do(partial(assess_batch, workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now))
    cure = arena.do(lambda: Batch.objects.within(world.workshop).select_related("cure").get(pk=batch.pk).cure)
    assert (cure.state, cure.assess_wanted_at) == ("ready", None)
    told = arena.do(lambda: list(Notice.objects.within(world.workshop).filter(state="open").values_list("kind", flat=True)))
    assert told == ["ready"]


def test_of_two_who_take_the_last_bars_one_gets_them(arena: Arena) -> None:
    world = arena.do(World)
    batch = arena.do(lambda: world.batch(position=world.position(world.rack())))
    entry = TakeOutEntry(bars=24, purpose="sale", taken_at=world.now, forced_reason="for a fair")
    leave = partial(take_out, actor=world.actor, batch=batch, entry=entry, at=world.now)
    outcomes = arena.race(leave, leave)
    refused = [one for one in outcomes if isinstance(one, Exception)]
    assert len(refused) == 1, outcomes
    assert isinstance(refused[0], DomainError)
    row = arena.do(lambda: Batch.objects.within(world.workshop).get(pk=batch.pk))
    assert (row.state, row.bars_left) == ("closed", 0)
    assert arena.do(lambda: TakeOut.objects.within(world.workshop).count()) == 1


def test_of_two_who_take_more_than_half_one_is_told_what_is_left(arena: Arena) -> None:
    world = arena.do(World)
    batch = arena.do(world.batch)
    entry = TakeOutEntry(bars=14, purpose="gift", taken_at=world.now, forced_reason="for a fair")
    leave = partial(take_out, actor=world.actor, batch=batch, entry=entry, at=world.now)
    refused = [one for one in arena.race(leave, leave) if isinstance(one, Exception)]
    assert [(type(one), "10 bars left" in str(one)) for one in refused] == [(Invalid, True)]
