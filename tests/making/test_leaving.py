"""Safety checks by the maker's own limit, and bars that leave."""

from datetime import datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from curehouse.common.errors import Conflict, Invalid
from curehouse.making.models import Batch, SafetyCheck, TakeOut
from curehouse.making.services import TakeOutEntry, last_check_passed, record_check, take_out
from curehouse.workshops.services import change_preferences
from tests.world import World

LIMIT = "pH strip no darker than square 9"


@pytest.fixture
def batch(world: World) -> Batch:
    change_preferences(workshop=world.workshop, changes={"check_limit": LIMIT})
    return world.batch()


def checked(world: World, batch: Batch, *, passed: bool, when: datetime | None = None, **changes: str) -> SafetyCheck:
    values = {"method": "pH strip", "value": "square 8", "note": "", **changes}
    return record_check(
        actor=world.actor, batch=batch, passed=passed, checked_at=when or world.now, at=world.now, **values
    )  # fmt: skip


def leave(world: World, batch: Batch, **changes: object) -> TakeOut:
    state = str(changes.pop("cure_state", "ready"))
    values = {"bars": 5, "purpose": "sale", "taken_at": world.now, **changes}
    return take_out(actor=world.actor, batch=batch, entry=TakeOutEntry(**values), cure_state=state, at=world.now)


def test_a_check_keeps_the_limit_it_was_made_by_though_the_workshop_writes_another(world: World, batch: Batch) -> None:
    row = checked(world, batch, passed=True)
    change_preferences(workshop=world.workshop, changes={"check_limit": "another"})
    row.refresh_from_db()
    assert row.limit == LIMIT


def test_a_pass_needs_a_limit_of_the_makers_own_and_the_house_ships_none(world: World) -> None:
    batch = world.batch()
    with pytest.raises(Conflict) as refused:
        checked(world, batch, passed=True)
    assert refused.value.code == "no_limit"
    assert checked(world, batch, passed=False).limit == ""


def test_the_database_keeps_no_pass_without_a_limit(world: World) -> None:
    found = {"method": "pH strip", "value": "square 8", "limit": "", "at": world.now, "written_at": world.now}
    with pytest.raises(IntegrityError), transaction.atomic():
        SafetyCheck.unscoped.create(workshop=world.workshop, batch=world.batch(), passed=True, **found)


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"method": " "}, "method"), ({"value": ""}, "value"), ({"value": "x" * 61}, "value"), ({"note": "x" * 401}, "note")],
)
def test_a_check_names_its_method_and_the_value_found(world: World, batch: Batch, changes: dict, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        checked(world, batch, passed=True, **changes)
    assert refused.value.field == field


@pytest.mark.parametrize(("days", "code"), [(1, "future"), (-31, "before_cut")])
def test_a_check_is_made_on_a_cut_bar_and_not_in_the_future(world: World, batch: Batch, days: int, code: str) -> None:
    with pytest.raises(Invalid) as refused:
        checked(world, batch, passed=True, when=world.now + timedelta(days=days))
    assert refused.value.code == code


def test_the_check_made_last_counts_whatever_came_in_last(world: World, batch: Batch) -> None:
    assert last_check_passed(batch) is None
    checked(world, batch, passed=True, when=world.days_ago(1))
    checked(world, batch, passed=False, when=world.days_ago(5))
    assert last_check_passed(batch) is True
    assert last_check_passed(batch, up_to=world.days_ago(2)) is False
    assert last_check_passed(batch, up_to=world.days_ago(6)) is None
    assert Batch.objects.within(world.workshop).with_last_check().get().last_check_passed is True


def test_the_last_bar_that_leaves_closes_the_batch(world: World, batch: Batch) -> None:
    leave(world, batch, bars=20)
    assert (batch.state, batch.bars_left) == ("curing", 4)
    leave(world, batch, bars=4)
    assert (batch.state, batch.bars_left) == ("closed", 0)
    with pytest.raises(Conflict) as refused:
        leave(world, batch, bars=1)
    assert refused.value.code == "not_curing"


@pytest.mark.parametrize("bars", [0, -1, 25])
def test_only_bars_that_are_left_leave(world: World, batch: Batch, bars: int) -> None:
    with pytest.raises(Invalid, match="has 24 bars left: take 1 to 24"):
        leave(world, batch, bars=bars)


def test_a_batch_that_is_not_ready_leaves_only_with_a_reason_that_is_kept(world: World, batch: Batch) -> None:
    with pytest.raises(Conflict) as refused:
        leave(world, batch, cure_state="curing")
    assert (refused.value.code, refused.value.field) == ("not_ready", "forced_reason")
    row = leave(world, batch, cure_state="curing", forced_reason="  a fair on  Saturday ")
    assert (row.forced_reason, row.state_then) == ("a fair on Saturday", "curing")


def test_a_ready_batch_keeps_no_reason(world: World, batch: Batch) -> None:
    assert leave(world, batch, forced_reason="just because").forced_reason == ""


@pytest.mark.parametrize("purpose", ["sale", "gift", "kept"])
def test_bars_whose_last_check_failed_go_to_nobody_reason_or_not(world: World, batch: Batch, purpose: str) -> None:
    checked(world, batch, passed=False)
    with pytest.raises(Conflict) as refused:
        leave(world, batch, purpose=purpose, cure_state="check_due", forced_reason="they look fine")
    assert (refused.value.code, refused.value.field) == ("check_failed", "purpose")


def test_bars_whose_last_check_failed_may_be_destroyed(world: World, batch: Batch) -> None:
    checked(world, batch, passed=False)
    row = leave(world, batch, bars=24, purpose="destroyed", cure_state="check_due", forced_reason="failed the check")
    assert (row.bars, batch.state) == (24, "closed")


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"purpose": "barter"}, "purpose"),
        ({"cure_state": "curing", "forced_reason": "x" * 401}, "forced_reason"),
    ],
)
def test_a_take_out_that_cannot_be_right_is_refused_by_field(world: World, batch: Batch, changes: dict, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        leave(world, batch, **changes)
    assert refused.value.field == field


@pytest.mark.parametrize("days_ago", [-1, 31])
def test_bars_leave_between_the_cut_and_now(world: World, batch: Batch, days_ago: int) -> None:
    with pytest.raises(Invalid) as refused:
        leave(world, batch, taken_at=world.days_ago(days_ago))
    assert refused.value.code == "moment"
