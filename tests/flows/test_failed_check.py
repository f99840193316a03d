"""A safety check that failed is told at once, once a check, and until a later one passes or the bars are gone."""

from datetime import timedelta

import pytest

from curehouse.flows.assess import assess_all_this_morning, assess_batch
from curehouse.flows.check import check
from curehouse.flows.take_out import take_out
from curehouse.making.models import Batch
from curehouse.making.services import TakeOutEntry
from curehouse.notices.models import Delivery, Notice
from curehouse.notices.services import see_to, tell
from curehouse.workshops.services import change_preferences
from tests.world import World

LIMIT = "no darker than square 9."
DRY = {0: "130.0", 8: "123.5", 15: "121.2", 22: "120.4", 29: "120.0"}
YOUNG = {0: "130.0", 8: "125.0"}


def made(world: World, weights: dict[int, str], *, cut_days_ago: float = 30) -> Batch:
    change_preferences(workshop=world.workshop, changes={"check_limit": LIMIT})
    batch = world.batch(cut_days_ago=cut_days_ago)
    world.weigh_series(batch, weights)
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    return batch


def checked(world: World, batch: Batch, *, passed: bool, days_ago: float = 0) -> None:
    check(
        actor=world.actor, batch=batch, method="pH strip", value="square 11", passed=passed, note="two bars",
        checked_at=world.days_ago(days_ago), at=world.now,
    )  # fmt: skip


def told(world: World) -> list[tuple[str, str]]:
    return list(Notice.objects.within(world.workshop).order_by("pk").values_list("kind", "state"))


def the_open_one(world: World) -> Notice:
    return Notice.objects.within(world.workshop).open().get()


@pytest.mark.parametrize(
    ("weights", "cut_days_ago", "earlier"),
    [(YOUNG, 10, []), (DRY, 30, [("check_due", "withdrawn")])],
    ids=["still curing", "dry enough"],
)
def test_a_failed_check_is_told_at_once_whatever_the_state(
    world: World, weights: dict[int, str], cut_days_ago: float, earlier: list[tuple[str, str]]
) -> None:
    batch = made(world, weights, cut_days_ago=cut_days_ago)
    checked(world, batch, passed=False)
    assert told(world) == [*earlier, ("check_failed", "open")]
    notice = the_open_one(world)
    assert (notice.title, notice.mark) == (f"{batch}: its safety check failed", "check_failed")
    assert notice.body.splitlines()[0] == "It failed on Tue 10 Mar, by Ottilie Brandt: pH strip, square 11 (two bars)."
    assert "Your limit: no darker than square 9." in notice.body
    assert "Test again after a week or more, rework or destroy." in notice.body
    assert [one.state for one in Delivery.objects.within(world.workshop).filter(notice=notice)] == ["waiting"]


def test_a_failed_check_takes_ready_back(world: World) -> None:
    batch = made(world, DRY)
    checked(world, batch, passed=True, days_ago=2)
    checked(world, batch, passed=False)
    assert told(world) == [("check_due", "withdrawn"), ("ready", "withdrawn"), ("check_failed", "open")]
    assert "its safety check failed" in Notice.objects.within(world.workshop).get(kind="ready").closed_why


def test_a_failed_check_is_told_once_and_stays_seen_to(world: World) -> None:
    batch = made(world, YOUNG, cut_days_ago=10)
    checked(world, batch, passed=False)
    see_to(actor=world.actor, notice=the_open_one(world), at=world.now)
    for days in (1, 2):
        assess_all_this_morning(workshop=world.workshop, at=world.now + timedelta(days=days))
    assert told(world) == [("check_failed", "done")]


def test_each_failed_check_is_told_and_takes_the_earlier_one_s_place(world: World) -> None:
    batch = made(world, DRY)
    checked(world, batch, passed=False, days_ago=8)
    checked(world, batch, passed=False)
    assert told(world) == [("check_due", "withdrawn"), ("check_failed", "withdrawn"), ("check_failed", "open")]
    assert "Tue 10 Mar" in the_open_one(world).body


def test_a_later_check_that_passes_closes_it(world: World) -> None:
    batch = made(world, YOUNG, cut_days_ago=10)
    checked(world, batch, passed=False, days_ago=8)
    checked(world, batch, passed=True)
    notice = Notice.objects.within(world.workshop).get(kind="check_failed")
    assert (notice.state, notice.closed_why) == ("done", "A later safety check passed, on Tue 10 Mar.")


def test_a_pass_that_was_made_before_it_does_not_close_it(world: World) -> None:
    batch = made(world, YOUNG, cut_days_ago=10)
    checked(world, batch, passed=False)
    checked(world, batch, passed=True, days_ago=8)
    assert told(world) == [("check_failed", "open")]


def test_a_failure_entered_late_after_a_later_pass_is_not_told(world: World) -> None:
    batch = made(world, YOUNG, cut_days_ago=10)
    checked(world, batch, passed=True)
    checked(world, batch, passed=False, days_ago=8)
    assert told(world) == []


def test_it_is_closed_when_the_bars_are_gone(world: World) -> None:
    batch = made(world, DRY)
    checked(world, batch, passed=False)
    entry = TakeOutEntry(bars=24, purpose="destroyed", taken_at=world.now, forced_reason="failed")
    take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)
    assert told(world) == [("check_due", "withdrawn"), ("check_failed", "done")]


def test_a_batch_that_dries_after_its_check_failed_is_told_so_beside_it(world: World) -> None:
    batch = made(world, {day: weight for day, weight in DRY.items() if day < 27}, cut_days_ago=27)
    checked(world, batch, passed=False)
    assert told(world) == [("check_failed", "open")]
    assess_all_this_morning(workshop=world.workshop, at=world.now + timedelta(days=1))
    assert told(world) == [("check_failed", "open"), ("check_due", "open")]
    dry = Notice.objects.within(world.workshop).get(kind="check_due")
    assert (dry.title, dry.mark) == (f"{batch} is dry enough, but its last safety check failed", "check_failed")


def test_a_failure_told_as_a_check_due_by_an_earlier_house_is_told_anew_in_its_place(world: World) -> None:
    batch = made(world, DRY)
    checked(world, batch, passed=False)
    Delivery.objects.within(world.workshop).delete()
    Notice.objects.within(world.workshop).delete()
    tell(
        workshop=world.workshop, key=f"check_due:batch:{batch.pk}:1:failed:9", kind="check_due", about=f"batch:{batch.pk}",
        mark="check_failed", title=f"{batch}: its safety check failed", body="", path="/", at=world.now,
    )  # fmt: skip
    assess_all_this_morning(workshop=world.workshop, at=world.now + timedelta(days=1))
    assert [kind for kind, state in told(world) if state == "open"] == ["check_failed"]
