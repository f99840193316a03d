"""When a batch is to be weighed next: on the day of its cut, then on round days a week or so apart."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.curing.models import Cure
from curehouse.curing.services.bars import end_sample_bar
from curehouse.curing.services.cures import next_due_on, note_news, reckon_due_days
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop
from curehouse.workshops.services import change_preferences
from tests.world import World

MON, TUE, FRI = 0, 1, 4
CUT = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)


def due(last: datetime | None, *, round_days: list[int], zone: str = "Europe/Berlin", cut_at: datetime = CUT) -> date | None:
    batch = Batch(state=Batch.State.CURING, cut_at=cut_at)
    return next_due_on(batch=batch, workshop=Workshop(time_zone=zone, round_days=round_days), last_weighed_at=last)


def test_a_batch_never_weighed_is_due_on_the_day_of_its_cut_whatever_the_round_days() -> None:
    assert due(None, round_days=[FRI]) == date(2026, 3, 3)


@pytest.mark.parametrize(
    ("last", "round_days", "next_day"),
    [
        # Tuesday, weekly round on Tuesdays: the next Tuesday.
        (datetime(2026, 3, 3, 9, tzinfo=UTC), [TUE], date(2026, 3, 10)),
        # Five days are the least: Thursday the 5th to Tuesday the 10th is enough, Friday the 6th is not.
        (datetime(2026, 3, 5, 9, tzinfo=UTC), [TUE], date(2026, 3, 10)),
        (datetime(2026, 3, 6, 9, tzinfo=UTC), [TUE], date(2026, 3, 17)),
        # Two round days: the first that is five days off.
        (datetime(2026, 3, 3, 9, tzinfo=UTC), [TUE, FRI], date(2026, 3, 10)),
        (datetime(2026, 3, 6, 9, tzinfo=UTC), [TUE, FRI], date(2026, 3, 13)),
        (datetime(2026, 3, 4, 9, tzinfo=UTC), [MON, TUE, FRI], date(2026, 3, 9)),
    ],
)
def test_the_next_weighing_is_the_first_round_day_at_least_five_days_on(
    last: datetime, round_days: list[int], next_day: date
) -> None:
    assert due(last, round_days=round_days) == next_day


def test_the_five_days_are_the_workshops_local_days() -> None:
    # 5 March 23:30 by UTC is the 6th in Berlin and the 5th in New York.
    last = datetime(2026, 3, 5, 23, 30, tzinfo=UTC)
    assert due(last, round_days=[TUE], zone="Europe/Berlin") == date(2026, 3, 17)
    assert due(last, round_days=[TUE], zone="America/New_York") == date(2026, 3, 10)


def test_a_change_of_the_clock_between_takes_no_day_away() -> None:
    # Berlin's 29 March 2026 has 23 hours: five days are counted, not 120 hours.
    last = datetime(2026, 3, 26, 21, 30, tzinfo=UTC)
    assert due(last, round_days=[TUE]) == date(2026, 3, 31)


@given(
    st.datetimes(datetime(2025, 1, 1), datetime(2027, 12, 31), timezones=st.just(UTC)),  # noqa: DTZ001
    st.sets(st.integers(0, 6), min_size=1),
    st.sampled_from(["Europe/Berlin", "America/New_York", "Pacific/Auckland"]),
)
def test_the_next_weighing_is_five_to_eleven_days_on(last: datetime, round_days: set[int], zone: str) -> None:
    found = due(last, round_days=sorted(round_days), zone=zone)
    assert found is not None
    assert found.weekday() in round_days
    weighed_on = due(None, round_days=[0], zone=zone, cut_at=last)
    assert weighed_on is not None
    assert 5 <= (found - weighed_on).days <= 11


def cure_of(world: World, batch: Batch) -> Cure:
    return Cure.objects.within(world.workshop).get(batch=batch)


def test_a_batch_is_due_on_its_cut_then_by_its_last_weighing_even_a_doubtful_one(world: World) -> None:
    batch = world.batch(cut_days_ago=7)
    assert cure_of(world, batch).due_on == date(2026, 3, 3)
    world.weigh(world.bar(batch), "130.0", moment=world.days_ago(7))
    assert cure_of(world, batch).due_on == date(2026, 3, 10)
    assert world.weigh(world.bar(batch), "13.0", moment=world.now).doubt
    assert cure_of(world, batch).due_on == date(2026, 3, 17)


def test_a_late_weighing_does_not_make_a_batch_due_sooner(world: World) -> None:
    batch = world.batch(cut_days_ago=14)
    world.weigh(world.bar(batch, "A"), "130.0", moment=world.now)
    world.weigh(world.bar(batch, "B"), "130.0", moment=world.days_ago(7))
    assert cure_of(world, batch).due_on == date(2026, 3, 17)


def test_a_batch_that_is_only_poured_is_not_due(world: World) -> None:
    batch = world.batch(cut_days_ago=None)
    assert next_due_on(batch=batch, workshop=world.workshop, last_weighed_at=None) is None
    assert not Cure.objects.within(world.workshop).exists()


def test_a_batch_without_a_sample_bar_left_is_not_due(world: World) -> None:
    batch = world.batch(sample_bars=1)
    end_sample_bar(bar=world.bar(batch), why="sold early", at=world.now)
    note_news(workshop=world.workshop, batch_id=batch.pk, at=world.now)
    assert cure_of(world, batch).due_on is None


def test_due_days_are_reckoned_anew_when_the_round_moves_to_other_days(world: World, stranger: World) -> None:
    batch, theirs = world.batch(cut_days_ago=7), stranger.batch(cut_days_ago=7)
    for one, row in ((world, batch), (stranger, theirs)):
        one.weigh(one.bar(row), "130.0", moment=one.days_ago(7))
    change_preferences(workshop=world.workshop, changes={"round_days": [FRI]})
    assert reckon_due_days(workshop=world.workshop) == 1
    assert cure_of(world, batch).due_on == date(2026, 3, 13)
    assert cure_of(stranger, theirs).due_on == date(2026, 3, 10)


def test_due_days_of_many_batches_take_the_queries_of_one(world: World, django_assert_num_queries) -> None:
    for batches in (1, 5):
        for _ in range(batches):
            world.batch(cut_days_ago=7)
        # A savepoint (2), the cures locked, the sample bars, and one update: Django opens no savepoint for it.
        with django_assert_num_queries(6):
            reckon_due_days(workshop=world.workshop)


def test_due_are_the_cures_of_that_day_and_those_left_over(world: World) -> None:
    for days_ago in (0, 1, 9):
        world.batch(cut_days_ago=days_ago)
    cures = Cure.objects.within(world.workshop)
    today = date(2026, 3, 10)
    counts = [cures.due(on=today - timedelta(days=back)).count() for back in (0, 1, 2, 9, 10)]
    assert counts == [3, 2, 1, 1, 0]
