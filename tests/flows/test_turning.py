"""Bars that are to be turned: which, told once a morning, and no longer than it is true."""

from datetime import timedelta

import pytest

from curehouse.common.errors import Conflict, Invalid, NotHere
from curehouse.curing.models import Turning
from curehouse.curing.services.places import place
from curehouse.curing.turning import to_turn
from curehouse.flows.morning import begin_day
from curehouse.flows.preferences import choose
from curehouse.flows.take_out import take_out
from curehouse.flows.turn import turn_at_place, turn_batches
from curehouse.making.models import Batch
from curehouse.making.services import TakeOutEntry
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from tests.world import World

pytestmark = pytest.mark.django_db


def told(world: World) -> list[Notice]:
    return list(Notice.objects.within(world.workshop).of_kind(Kind.TURN).order_by("pk"))


def due(world: World, days: float = 0) -> list[tuple[str, int]]:
    """Return the batches that are to be turned so many days from now, and for how many days they have been."""
    at = world.now + timedelta(days=days)
    return [(str(one.batch), (at.date() - one.due_on).days) for one in to_turn(workshop=world.workshop, at=at)]


def turned(world: World, *batches: Batch, days_ago: float = 0) -> list[Turning]:
    keys = [one.pk for one in batches]
    return turn_batches(actor=world.actor, batch_ids=keys, turned_at=world.days_ago(days_ago), at=world.now)


def morning(world: World, days: int = 1) -> None:
    begin_day(workshop_id=world.workshop.pk, at=world.now + timedelta(days=days))


def all_out(world: World, batch: Batch) -> None:
    entry = TakeOutEntry(batch.bars_left, "destroyed", world.now, "crumbled")
    take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)


@pytest.mark.parametrize(("cut_days_ago", "is_due"), [(0.1, None), (6, None), (7, 0), (9, 2), (28, 21), (29, None)])
def test_bars_are_to_be_turned_a_week_after_the_cut_and_in_its_first_four(
    world: World, cut_days_ago: float, is_due: int | None
) -> None:
    batch = world.batch(cut_days_ago=cut_days_ago)
    assert due(world) == ([] if is_due is None else [(str(batch), is_due)])


def test_the_week_begins_anew_with_each_turning(world: World) -> None:
    batch = world.batch(cut_days_ago=9)
    turned(world, batch, days_ago=1)
    assert due(world) == []
    assert due(world, 5) == []
    assert due(world, 6) == [(str(batch), 0)]


def test_weighing_the_sample_bars_is_no_turning(world: World) -> None:
    batch = world.batch(cut_days_ago=9)
    world.weigh_series(batch, {0: "130.0", 8: "124.0"})
    assert due(world) == [(str(batch), 2)]


def test_the_workshop_says_how_often_and_for_how_long(world: World) -> None:
    young, old = world.batch(cut_days_ago=3), world.batch(cut_days_ago=20)
    choose(workshop=world.workshop, changes={"turn_every_days": 3, "turn_for_days": 10}, at=world.now)
    world.workshop.refresh_from_db()
    assert due(world) == [(str(young), 0)]
    choose(workshop=world.workshop, changes={"turn_for_days": 20}, at=world.now)
    world.workshop.refresh_from_db()
    assert {name for name, _days in due(world)} == {str(young), str(old)}
    choose(workshop=world.workshop, changes={"turn_every_days": None}, at=world.now)
    world.workshop.refresh_from_db()
    assert due(world) == []


@pytest.mark.parametrize(
    "changes", [{"turn_every_days": 0}, {"turn_every_days": 29}, {"turn_for_days": 0}, {"turn_for_days": None}]
)
def test_days_that_cannot_be_are_refused(world: World, changes: dict[str, int | None]) -> None:
    with pytest.raises(Invalid) as refused:
        choose(workshop=world.workshop, changes=changes, at=world.now)
    assert refused.value.field == next(iter(changes))


def test_they_are_walked_past_in_the_order_of_the_racks(world: World) -> None:
    rack = world.rack()
    loose = world.batch(cut_days_ago=10)
    far = world.batch(cut_days_ago=10, position=world.position(rack, 2, 2))
    near = world.batch(cut_days_ago=10, position=world.position(rack, 1, 1))
    assert [name for name, _days in due(world)] == [str(near), str(far), str(loose)]


def test_turned_place_by_place_they_are_turned_once_all_places_were(world: World) -> None:
    rack = world.rack()
    here, there = world.position(rack, 1, 1), world.position(rack, 1, 2)
    batch = world.batch(cut_days_ago=10)
    for where in (here, there):
        place(actor=world.actor, batch=batch, position=where, bars=12, moved_at=batch.cut_at, at=world.now)
    turn = {"actor": world.actor, "batch": batch, "at": world.now}
    turn_at_place(position=here, moved_at=world.days_ago(1), **turn)
    assert due(world) == [(str(batch), 3)]
    turn_at_place(position=there, moved_at=world.days_ago(2), **turn)
    # By the place that was turned first.
    assert (due(world), due(world, 4), due(world, 5)) == ([], [], [(str(batch), 0)])


def test_pressed_twice_it_is_there_once(world: World) -> None:
    batch = world.batch(cut_days_ago=10)
    assert turned(world, batch) == turned(world, batch)
    assert Turning.objects.within(world.workshop).count() == 1


def test_what_cannot_be_is_refused_whole(world: World, stranger: World) -> None:
    batch, young = world.batch(cut_days_ago=10), world.batch(cut_days_ago=2)
    with pytest.raises(Invalid, match="lies in the future"):
        turned(world, batch, days_ago=-1)
    with pytest.raises(Invalid, match="was not cut yet"):
        turned(world, batch, young, days_ago=5)
    with pytest.raises(Conflict, match="no bars on the racks"):
        turned(world, batch, world.batch(cut_days_ago=None))
    with pytest.raises(NotHere):
        turned(world, batch, stranger.batch())
    with pytest.raises(Invalid, match="No batch is chosen"):
        turned(world)
    assert not Turning.objects.within(world.workshop).exists()


def test_the_morning_tells_of_all_of_them_at_once_and_of_nothing_twice(world: World) -> None:
    first, second = world.batch(cut_days_ago=6), world.batch(cut_days_ago=8)
    assert told(world) == []
    morning(world)
    morning(world)
    (notice,) = told(world)
    assert (notice.title, notice.path, notice.state) == ("Turn the bars of 2 batches", "/turning/", "open")
    assert notice.body == f"{first}, due today; {second}, due since Mon 9 Mar."
    later = world.days_ago(-1)
    turn_batches(actor=world.actor, batch_ids=[second.pk], turned_at=later, at=later)
    (notice,) = told(world)
    assert (notice.title, notice.state) == ("Turn the bars of 1 batch", "open")
    turn_batches(actor=world.actor, batch_ids=[first.pk], turned_at=later, at=later)
    (notice,) = told(world)
    assert (notice.state, notice.closed_why) == ("done", "The bars were turned.")


def test_each_morning_has_its_own_as_long_as_nobody_turns_them(world: World) -> None:
    world.batch(cut_days_ago=8)
    morning(world)
    morning(world, 2)
    assert [(one.state, one.closed_why) for one in told(world)] == [("done", "The next morning has come."), ("open", "")]


def test_it_ends_with_the_batch_and_with_the_setting(world: World) -> None:
    gone, other = world.batch(cut_days_ago=8), world.batch(cut_days_ago=8)
    morning(world)
    all_out(world, gone)
    assert [one.title for one in told(world)] == ["Turn the bars of 1 batch"]
    choose(workshop=world.workshop, changes={"turn_every_days": None}, at=world.now)
    (notice,) = told(world)
    assert (notice.state, notice.closed_why) == ("withdrawn", "No bars are to be turned any more.")
    assert other.bars_left


def test_a_batch_entered_late_is_in_what_stands(world: World) -> None:
    world.batch(cut_days_ago=8)
    morning(world)
    world.batch(cut_days_ago=9)
    assert [one.title for one in told(world)] == ["Turn the bars of 2 batches"]
