"""Which bars the round walks past, and in which order."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curehouse.curing.rounds import day_at, newest_of_day, next_round, walk_of_batch, walk_of_day
from curehouse.curing.services.places import place
from curehouse.flows.end_bar import end_bar
from curehouse.flows.take_out import take_out
from curehouse.flows.weigh import strike
from curehouse.making.models import Batch
from curehouse.making.services import TakeOutEntry
from tests.world import World

pytestmark = pytest.mark.django_db
USUAL = {0: "130.0", 7: "124.0", 14: "121.0", 21: "119.5"}


def letters(world: World, **walk: object) -> list[str]:
    stops = (walk_of_batch(world.workshop, at=world.now, **walk) if walk else walk_of_day(world.workshop, at=world.now)).stops
    return [f"{stop.batch.number}{stop.bar.letter}" for stop in stops]


def weighed_until_last_week(world: World, **changes: object) -> Batch:
    batch = world.batch(cut_days_ago=28, **changes)
    world.weigh_series(batch, USUAL)
    return batch


def test_round_walks_by_rack_then_level_then_place_and_leaves_the_placeless_for_last(world: World) -> None:
    first, second = world.rack("Zinc shelf"), world.rack("Attic")
    placeless = weighed_until_last_week(world, sample_bars=3)
    far = weighed_until_last_week(world, position=world.position(second, 1, 1))
    low = weighed_until_last_week(world, position=world.position(first, 2, 1))
    right = weighed_until_last_week(world, position=world.position(first, 1, 2))
    left = weighed_until_last_week(world, position=world.position(first, 1, 1))
    walked = [left, right, low, far, placeless]
    assert letters(world) == [f"{batch.number}{letter}" for batch in walked for letter in "ABC"]


def test_round_passes_a_batch_once_at_its_first_place_when_it_stands_at_two(world: World) -> None:
    rack = world.rack(capacity=12)
    spread = weighed_until_last_week(world)
    between = weighed_until_last_week(world, bars=12, position=world.position(rack, 1, 2))
    for level, spot in ((2, 1), (1, 1)):
        here = world.position(rack, level, spot)
        place(actor=world.actor, batch=spread, position=here, bars=12, moved_at=world.now, at=world.now)
    assert letters(world) == [f"{batch.number}{letter}" for batch in (spread, between) for letter in "ABC"]


def test_round_leaves_out_a_batch_that_is_not_due(world: World) -> None:
    weighed_until_last_week(world)
    fresh = world.batch(cut_days_ago=12)
    world.weigh_series(fresh, {0: "130.0", 8: "124.0"})
    assert letters(world) == ["1A", "1B", "1C"]


def test_round_has_a_batch_on_the_very_day_of_its_cut(world: World) -> None:
    world.batch(cut_days_ago=0.05)
    assert letters(world) == ["1A", "1B", "1C"]


def test_round_keeps_the_rest_of_a_batch_that_was_weighed_today_in_part(world: World) -> None:
    batch = weighed_until_last_week(world)
    world.weigh(world.bar(batch, "B"), "118.3", moment=world.now)
    walk = walk_of_day(world.workshop, at=world.now)
    assert [(stop.bar.letter, stop.weighed) for stop in walk.stops] == [("A", False), ("B", True), ("C", False)]
    assert [stop.bar.letter for stop in walk.left] == ["A", "C"]
    assert walk.after(world.bar(batch, "A")).bar.letter == "C"
    assert walk.after(world.bar(batch, "C")) is None


def test_round_asks_for_a_bar_again_when_todays_weighing_was_struck_out(world: World) -> None:
    batch = weighed_until_last_week(world)
    reading = world.weigh(world.bar(batch), "118.3", moment=world.now)
    strike(actor=world.actor, reading=reading, reason="wrong batch", at=world.now)
    assert [stop.weighed for stop in walk_of_day(world.workshop, at=world.now).stops] == [False, False, False]


def test_round_counts_a_weighing_that_is_asked_about_as_weighed(world: World) -> None:
    batch = weighed_until_last_week(world)
    reading = world.weigh(world.bar(batch), "181.3", moment=world.now)
    assert reading.doubt
    assert [stop.weighed for stop in walk_of_day(world.workshop, at=world.now).stops] == [True, False, False]


def test_round_leaves_out_a_bar_that_is_gone(world: World) -> None:
    batch = weighed_until_last_week(world)
    end_bar(actor=world.actor, bar=world.bar(batch, "B"), why="sold early", at=world.now)
    assert letters(world) == ["1A", "1C"]


def test_batch_is_not_due_any_more_when_its_last_sample_bar_is_gone(world: World) -> None:
    batch = weighed_until_last_week(world)
    for letter in "ABC":
        end_bar(actor=world.actor, bar=world.bar(batch, letter), why="sold early", at=world.now)
    batch.cure.refresh_from_db()
    assert (letters(world), batch.cure.due_on) == ([], None)


def test_round_leaves_out_a_batch_whose_bars_were_taken_out(world: World) -> None:
    batch = weighed_until_last_week(world)
    world.weigh(world.bar(batch), "118.3", moment=world.now)
    entry = TakeOutEntry(bars=24, purpose="destroyed", taken_at=world.now, forced_reason="rancid")
    take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)
    assert letters(world) == letters(world, batch=batch) == []


def test_walk_of_one_batch_passes_its_bars_though_not_due(world: World) -> None:
    weighed_until_last_week(world)
    fresh = world.batch(cut_days_ago=12)
    world.weigh_series(fresh, {0: "130.0", 8: "124.0"})
    assert letters(world, batch=fresh) == ["2A", "2B", "2C"]


def test_round_has_nothing_of_the_house_next_door(world: World, stranger: World) -> None:
    weighed_until_last_week(stranger)
    assert letters(world) == []


def test_next_round_names_the_first_day_after_today_and_its_batches(world: World) -> None:
    for _ in range(2):
        batch = world.batch(cut_days_ago=12)
        world.weigh_series(batch, {0: "130.0", 8: "124.0"})
    # Weighed on Friday 6 March, so at the earliest on Wednesday 11: the next Tuesday is the 17th.
    assert next_round(world.workshop, after=world.now.date()) == (datetime(2026, 3, 17).date(), 2)  # noqa: DTZ001


@pytest.mark.parametrize(("hour", "today"), [(22, True), (23, False)])
def test_day_of_the_round_is_the_workshops_own(world: World, hour: int, *, today: bool) -> None:
    """Berlin is an hour ahead of UTC in winter: its 10 March begins at 23:00 UTC on the 9th."""
    begins = datetime(2026, 3, 9, 23, 0, tzinfo=UTC)
    assert day_at(world.workshop, world.now).begins == begins
    batch = weighed_until_last_week(world)
    world.weigh(world.bar(batch), "118.3", moment=datetime(2026, 3, 9, hour, 30, tzinfo=UTC))
    found = newest_of_day(world.bar(batch), workshop=world.workshop, at=world.now)
    assert (found is None) is today


def test_day_is_23_hours_long_when_the_clocks_go_forward(world: World) -> None:
    """Germany: 29 March 2026, 02:00 becomes 03:00 (IANA time zone data, Europe/Berlin)."""
    day = day_at(world.workshop, datetime(2026, 3, 29, 12, 0, tzinfo=UTC))
    assert day.ends - day.begins == timedelta(hours=23)


@pytest.mark.parametrize("batches", [2, 20])
def test_round_is_read_in_two_queries_however_many_batches_are_due(world: World, batches: int) -> None:
    rack = world.rack(levels=4, places=5)
    for number in range(batches):
        world.batch(cut_days_ago=0.05, position=world.position(rack, number // 5 + 1, number % 5 + 1))
    with CaptureQueriesContext(
        connection,
    ) as queries:
        stops = walk_of_day(world.workshop, at=world.now).stops
        assert [(str(stop.batch), stop.batch.cure.assessment, str(stop.position)) for stop in stops]
    assert (len(stops), len(queries)) == (batches * 3, 2)
