"""Bars leave: their places are free, weighing ends, the notices close."""

import pytest

from curehouse.common.errors import Conflict
from curehouse.curing.balance import differences
from curehouse.curing.models import Cure, Placement, SampleBar
from curehouse.curing.services.cures import note_news
from curehouse.flows.assess import assess_batch
from curehouse.flows.check import check
from curehouse.flows.take_out import take_out
from curehouse.making.models import Batch, TakeOut
from curehouse.making.services import TakeOutEntry
from curehouse.notices.models import Notice
from curehouse.workshops.services import change_preferences
from tests.world import World

DRY = {0: "130.0", 8: "123.5", 15: "121.2", 22: "120.4", 29: "120.0"}


def checked(world: World, batch: Batch, *, passed: bool) -> None:
    change_preferences(workshop=world.workshop, changes={"check_limit": "no darker than square 9"})
    check(
        actor=world.actor, batch=batch, method="pH strip", value="square 8", passed=passed, note="",
        checked_at=world.now, at=world.now,
    )  # fmt: skip


def leave(world: World, batch: Batch, bars: int, *, purpose: str = "sale", reason: str = "") -> TakeOut:
    entry = TakeOutEntry(bars=bars, purpose=purpose, taken_at=world.now, forced_reason=reason)
    return take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)


@pytest.fixture
def ready(world: World) -> Batch:
    """Return a batch that stands on a rack and is ready, though nobody has assessed it yet."""
    batch = world.batch(position=world.position(world.rack()))
    world.weigh_series(batch, DRY)
    checked(world, batch, passed=True)
    return batch


def test_some_bars_leave_and_the_cure_goes_on(world: World, ready: Batch) -> None:
    leave(world, ready, 10)
    position = world.position(Placement.objects.within(world.workshop).first().target.rack)
    cure = Cure.objects.within(world.workshop).get(batch=ready)
    assert (position.bars_held, cure.ended_at, cure.state) == (14, None, "ready")
    assert differences() == []


def test_the_last_bars_free_the_places_end_the_weighing_and_close_the_notices(world: World, ready: Batch) -> None:
    assess_batch(workshop_id=world.workshop.pk, batch_id=ready.pk, at=world.now)
    leave(world, ready, 24)
    cure = Cure.objects.within(world.workshop).get(batch=ready)
    assert (cure.ended_at, cure.due_on, cure.assess_wanted_at) == (world.now, None, None)
    assert not SampleBar.objects.within(world.workshop).on_the_rack().exists()
    assert set(Notice.objects.within(world.workshop).values_list("state", flat=True)) == {"done"}
    assert differences() == []


def test_the_last_letters_go_where_no_sample_bar_is_named(world: World, ready: Batch) -> None:
    leave(world, ready, 21)
    assert SampleBar.objects.within(world.workshop).on_the_rack().count() == 3
    leave(world, ready, 2)
    assert SampleBar.objects.within(world.workshop).on_the_rack().get().letter == "A"


def test_what_was_weighed_and_checked_a_moment_ago_has_its_say_first(world: World, ready: Batch) -> None:
    row = leave(world, ready, 5)
    assert (row.state_then, row.forced_reason) == ("ready", "")


def test_a_check_that_failed_a_moment_ago_holds_the_bars(world: World, ready: Batch) -> None:
    assess_batch(workshop_id=world.workshop.pk, batch_id=ready.pk, at=world.now)
    checked(world, ready, passed=False)
    with pytest.raises(Conflict) as refused:
        leave(world, ready, 5, reason="they look fine")
    assert refused.value.code == "check_failed"
    assert leave(world, ready, 24, purpose="destroyed", reason="failed its check").state_then == "check_due"


def test_a_take_out_that_is_refused_leaves_everything_as_it_was(world: World, ready: Batch) -> None:
    note_news(workshop=world.workshop, batch_id=ready.pk, at=world.now)
    for bars, purpose in ((25, "sale"), (5, "barter")):
        with pytest.raises(Exception, match="take 1 to 24|choose from the list"):
            leave(world, ready, bars, purpose=purpose)
    ready.refresh_from_db()
    assert (ready.bars_left, TakeOut.objects.within(world.workshop).count()) == (24, 0)
    # Not even the verdict it would have been judged by is written.
    assert Cure.objects.within(world.workshop).get(batch=ready).assess_wanted_at is not None
    assert differences() == []
