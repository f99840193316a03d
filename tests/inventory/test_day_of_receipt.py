"""A day of receipt that was entered wrongly is corrected, so that what happened before it can be told."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, Invalid
from curehouse.flows.preferences import choose
from inventory.balance import differences
from inventory.models import Count, Lot, LotCorrection, Movement
from inventory.services.lots import LotPapers, correct_lot
from inventory.services.movements import count, receive_more, reverse, use
from tests.flows.bring_in.test_bring_stock import OLIVE, _folder, stock, uses
from tests.world import World

pytestmark = pytest.mark.django_db
__all__ = ["_folder"]


def correct(world: World, lot: Lot, day: date) -> list[LotCorrection]:
    papers = LotPapers(lot.supplier_lot, lot.best_before, lot.unit_cost, day)
    return correct_lot(actor=world.actor, lot=lot, papers=papers, why="entered a day late", at=world.now)


def told(world: World, lot: Lot, days_ago: float) -> dict:
    return {"actor": world.actor, "lot": lot, "moment": world.days_ago(days_ago), "at": world.now}


def fresh(lot: Lot) -> Lot:
    return Lot.objects.within(lot.workshop).named().get(pk=lot.pk)


def test_a_lot_entered_a_day_late_is_used_on_the_day_it_really_came(world: World) -> None:
    lot = world.lot("500", days_here=0)
    with pytest.raises(Invalid, match="came in on 2026-03-10"):
        use(amount=Decimal(100), **told(world, lot, 1))
    (row,) = correct(world, lot, date(2026, 3, 8))
    assert str(row) == "the day of receipt: 2026-03-10 became 2026-03-08"
    lot = fresh(lot)
    use(amount=Decimal(100), **told(world, lot, 1))
    assert (lot.received_on, fresh(lot).on_hand, differences()) == (date(2026, 3, 8), 400, [])
    # What was booked at a moment stays derivable: a count of then is held against what was there then.
    assert count(counted=Decimal(500), reason="", **told(world, lot, 1.5)).count.expected == 500
    kinds = Movement.objects.within(world.workshop).filter(lot=lot).in_force().in_order().values_list("kind", flat=True)
    assert list(kinds) == ["receive", "use"]


def test_the_day_of_receipt_is_not_later_than_what_was_used_or_counted(world: World) -> None:
    lot = world.lot("500")
    used = use(amount=Decimal(10), **told(world, lot, 9)).movement
    count(counted=Decimal(490), reason="", **told(world, lot, 5))
    for days_ago, first in ((8, used.moment), (4, used.moment)):
        with pytest.raises(Invalid, match=f"was here on {first:%Y-%m-%d} already") as refused:
            correct(world, lot, world.days_ago(days_ago).date())
        assert refused.value.field == "received_on"
    reverse(actor=world.actor, movement=used, reason="a slip", at=world.now)
    correct(world, lot, world.days_ago(5).date())
    assert (fresh(lot).received_on, fresh(lot).on_hand, differences()) == (world.days_ago(5).date(), 490, [])


@pytest.mark.parametrize(("days", "said"), [(-1, "future"), (31 * 366, "thirty years")])
def test_a_day_of_receipt_is_possible(world: World, days: int, said: str) -> None:
    with pytest.raises(Invalid, match=said):
        correct(world, world.lot(), world.now.date() - timedelta(days=days))


def test_the_same_day_again_changes_nothing(world: World) -> None:
    lot = world.lot()
    assert correct(world, lot, lot.received_on) == []
    assert Movement.objects.within(world.workshop).count() == 1


def test_a_listed_lot_keeps_what_the_list_said_under_another_day(world: World, tmp_path) -> None:
    stock(world, tmp_path, OLIVE)
    uses(world, tmp_path, ("", "Olive oil", "", "L-7", "1 kg", "2026-02-01", ""))
    lot = Lot.objects.within(world.workshop).named().get()
    correct(world, lot, date(2025, 12, 1))
    before = ("", "Olive oil", "", "L-7", "200 g", "2025-12-24", "")
    outcome = uses(world, tmp_path, before, (*before[:5], "2026-03-10", ""))
    assert outcome.refused_rows == 0, outcome.refusals
    assert (fresh(lot).on_hand, differences()) == (5300, [])
    (listed,) = Count.objects.within(world.workshop).filter(by_list=True).standing()
    assert [row.expected for row in listed.restated_by.order_by("pk")] == [4500, 5300]


@pytest.mark.parametrize("day", [date(2026, 2, 21), date(2026, 2, 10)])
def test_a_receipt_is_moved_though_the_house_has_another_time_zone_by_now(world: World, day: date) -> None:
    lot = world.lot("500", received_on=date(2026, 2, 20))
    choose(workshop=world.workshop, changes={"time_zone": "America/New_York"}, at=world.now)
    world.workshop.refresh_from_db()
    correct(world, lot, day)
    (receipt,) = Movement.objects.within(world.workshop).filter(lot=lot, kind="receive").in_force()
    assert (fresh(lot).received_on, receipt.moment.hour) == (day, 5)
    assert (receipt.moment.date(), fresh(lot).on_hand, differences()) == (day, 500, [])


def test_the_day_of_a_receipt_that_was_taken_back_is_not_moved_past_what_came_later(world: World) -> None:
    lot = world.lot("500")
    receive_more(amount=Decimal(200), actor=world.actor, lot=lot, moment=world.days_ago(2), at=world.now + timedelta(hours=1))
    first = Movement.objects.within(world.workshop).filter(lot=lot, kind="receive").in_order().first()
    reverse(actor=world.actor, movement=first, reason="never came", at=world.now + timedelta(hours=2))
    with pytest.raises(Conflict, match="was taken back, and more of it came later") as refused:
        correct(world, lot, world.days_ago(40).date())
    assert (refused.value.field, fresh(lot).received_on) == ("received_on", lot.received_on)
