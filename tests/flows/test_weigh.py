"""What a weighing sets in motion: the next day due, news to assess, the notice that asked for it."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, Invalid
from curehouse.curing.models import Reading
from curehouse.flows.weigh import correct, keep, strike, weigh
from curehouse.flows.weigh_on_round import weigh_again_on_round, weigh_on_round
from curehouse.making.models import Batch
from curehouse.notices.models import Notice
from curehouse.notices.services import tell
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch(world: World) -> Batch:
    batch = world.batch(cut_days_ago=28)
    world.weigh_series(batch, {0: "130.0", 7: "125.0", 14: "123.0", 21: "121.6"})
    return batch


def rows(world: World, batch: Batch) -> int:
    return Reading.objects.within(world.workshop).filter(bar__batch=batch).count()


def test_weighing_makes_the_batch_due_on_the_round_day_at_least_five_days_later(world: World, batch: Batch) -> None:
    world.weigh(world.bar(batch), "120.4", moment=world.now)
    batch.cure.refresh_from_db()
    # Tuesday 10 March 2026, rounds on Tuesdays.
    assert (batch.cure.due_on, batch.cure.last_weighed_at) == (date(2026, 3, 17), world.now)


def test_weighings_of_a_batch_in_one_transaction_want_one_assessment_and_one_forecast_once_it_is_committed(
    world: World, django_capture_on_commit_callbacks: Callable[[], AbstractContextManager[list[object]]]
) -> None:
    with django_capture_on_commit_callbacks() as nudges:
        fresh = world.batch(cut_days_ago=0.05)
        for letter in "ABC":
            world.weigh(world.bar(fresh, letter), "130.0", moment=fresh.cut_at + timedelta(hours=1))
    fresh.cure.refresh_from_db()
    assert fresh.cure.assess_wanted_at is not None
    assert [nudge.task_name for nudge in nudges] == ["jobs.assess", "jobs.foretell"]


def test_weighing_closes_the_notice_that_asked_for_it(world: World, batch: Batch) -> None:
    about = f"batch:{batch.pk}"
    tell(
        workshop=world.workshop,
        key="weigh:today",
        kind="weigh",
        about=about,
        mark="not_weighed",
        title="Weigh Goat & oat 1",
        body="",
        path="/round/",
        at=world.now,
    )
    world.weigh(world.bar(batch), "120.4", moment=world.now)
    assert not Notice.objects.within(world.workshop).open().filter(about=about, kind="weigh").exists()


def test_weighing_sent_again_is_the_same_row(world: World, batch: Batch) -> None:
    entry, before = world.reading_entry("120.4", moment=world.now), rows(world, batch)
    sent = [weigh(actor=world.actor, bar=world.bar(batch), entry=entry, at=world.now) for _ in range(2)]
    assert [new for _row, new in sent] == [True, False]
    assert sent[0][0] == sent[1][0]
    assert rows(world, batch) == before + 1


@pytest.mark.parametrize("other", ["bar", "weight"])
def test_id_that_was_used_for_another_weighing_is_refused(world: World, batch: Batch, other: str) -> None:
    entry, before = world.reading_entry("120.4", moment=world.now), rows(world, batch)
    weigh(actor=world.actor, bar=world.bar(batch), entry=entry, at=world.now)
    again = world.reading_entry("120.4" if other == "bar" else "120.3", moment=world.now, client_id=entry.client_id)
    bar = world.bar(batch, "B" if other == "bar" else "A")
    with pytest.raises(Conflict, match="used for another weighing"):
        weigh(actor=world.actor, bar=bar, entry=again, at=world.now)
    assert rows(world, batch) == before + 1


def test_late_weighing_does_not_move_the_due_day_back(world: World, batch: Batch) -> None:
    world.weigh(world.bar(batch), "120.4", moment=world.now)
    world.weigh(world.bar(batch, "B"), "122.5", moment=world.days_ago(12))
    batch.cure.refresh_from_db()
    assert (batch.cure.due_on, batch.cure.last_weighed_at) == (date(2026, 3, 17), world.now)


def test_striking_out_the_only_weighing_of_today_makes_the_batch_due_again(world: World, batch: Batch) -> None:
    reading = world.weigh(world.bar(batch), "120.4", moment=world.now)
    strike(actor=world.actor, reading=reading, reason="wrong batch", at=world.now)
    batch.cure.refresh_from_db()
    assert (batch.cure.due_on, batch.cure.last_weighed_at) == (date(2026, 3, 10), world.days_ago(7) + timedelta(hours=1))


def test_guess_that_is_taken_is_not_asked_about_again(world: World, batch: Batch) -> None:
    reading = world.weigh(world.bar(batch), "102.8", moment=world.now)
    assert reading.doubt_guess_g == Decimal("120.8")
    row, _new = correct(actor=world.actor, reading=reading, entry=world.reading_entry("120.8", moment=world.now), at=world.now)
    assert (row.doubt, row.corrects) == ("", reading)


def test_correction_is_held_against_the_other_weighings_not_the_one_it_replaces(world: World, batch: Batch) -> None:
    reading = world.weigh(world.bar(batch), "120.4", moment=world.now)
    entry = world.reading_entry("120.6", moment=world.now)
    assert correct(actor=world.actor, reading=reading, entry=entry, at=world.now)[0].doubt == ""


def test_corrected_weighing_can_neither_be_corrected_nor_kept_nor_struck_out(world: World, batch: Batch) -> None:
    reading = world.weigh(world.bar(batch), "102.8", moment=world.now)
    correct(actor=world.actor, reading=reading, entry=world.reading_entry("120.8", moment=world.now), at=world.now)
    with pytest.raises(Conflict):
        correct(actor=world.actor, reading=reading, entry=world.reading_entry("120.7", moment=world.now), at=world.now)
    with pytest.raises(Conflict):
        keep(actor=world.actor, reading=reading, at=world.now)
    with pytest.raises(Conflict):
        strike(actor=world.actor, reading=reading, reason="wrong batch", at=world.now)


def test_round_page_that_does_not_know_todays_weighing_writes_nothing(world: World, batch: Batch) -> None:
    first = world.weigh(world.bar(batch), "120.4", moment=world.now)
    entry, before = world.reading_entry("120.3", moment=world.now), rows(world, batch)
    with pytest.raises(Conflict) as refused:
        weigh_on_round(actor=world.actor, bar=world.bar(batch), entry=entry, seen=None, at=world.now)
    assert (refused.value.code, rows(world, batch)) == ("weighed_today", before)
    weigh_on_round(actor=world.actor, bar=world.bar(batch), entry=entry, seen=first.pk, at=world.now)
    assert rows(world, batch) == before + 1


def test_second_look_with_the_same_weight_is_refused(world: World, batch: Batch) -> None:
    reading = world.weigh(world.bar(batch), "102.8", moment=world.now)
    with pytest.raises(Invalid, match="same weight again"):
        weigh_again_on_round(
            actor=world.actor, reading=reading, entry=world.reading_entry("102.8", moment=world.now), at=world.now
        )
