"""A batch takes from the storeroom: proposed first expired first, booked as it happened."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, DomainError, NotHere
from curehouse.flows.take_out import take_out
from curehouse.flows.use_stock import Proposal, UseLine, book_use, propose
from curehouse.making.models import Batch, BatchHold, BatchUse
from curehouse.making.services import TakeOutEntry, lift_hold
from inventory.balance import differences
from inventory.models import Lot, Material, Movement
from inventory.services.movements import reverse
from tests.world import World

pytestmark = pytest.mark.django_db


def ask(world: World, amount: str) -> Proposal:
    oil = Material.objects.within(world.workshop).called("Olive oil")
    return propose(workshop=world.workshop, material=oil, amount=Decimal(amount), day=world.now.date())


def book(world: World, batch: Batch, *lines: UseLine) -> list[BatchUse]:
    return book_use(actor=world.actor, batch=batch, lines=lines, used_at=world.now, at=world.now)


def on_hand(world: World) -> list[Decimal]:
    return list(Lot.objects.within(world.workshop).order_by("number").values_list("on_hand", flat=True))


def test_the_lot_that_expires_first_is_proposed_first_and_what_is_missing_is_said(world: World) -> None:
    today = world.now.date()
    late = world.lot("500.125", best_before=today + timedelta(days=90))
    soon = world.lot("300.4", best_before=today + timedelta(days=9))
    assert ask(world, "400.5").takes == ((soon, Decimal("300.4")), (late, Decimal("100.1")))
    proposal = ask(world, "1000")
    assert proposal.takes == ((soon, Decimal("300.4")), (late, Decimal("500.125")))
    assert proposal.short == Decimal("199.475")


def test_what_is_not_in_order_is_never_proposed_and_is_named_beside_it(world: World) -> None:
    expired = world.lot(best_before=world.now.date() - timedelta(days=1))
    waiting, rejected = world.lot(standing="quarantine"), world.lot(standing="rejected")
    fine = world.lot("20", best_before=None)
    proposal = ask(world, "100")
    assert (proposal.takes, proposal.short) == (((fine, Decimal(20)),), 80)
    assert proposal.passed_over == ((expired, "expired"), (waiting, "quarantine"), (rejected, "rejected"))


def test_another_material_and_another_house_are_not_asked(world: World, stranger: World) -> None:
    lot = world.lot("100")
    world.lot("900", material=world.material("Coconut oil"))
    stranger.lot("900")
    assert ask(world, "500").takes == ((lot, Decimal(100)),)


def test_what_a_batch_took_is_booked_on_the_lots_and_on_the_batch(world: World) -> None:
    batch, oil, boxes = world.batch(), world.lot("1000"), world.lot("50", material=world.material("Box", kind="packaging"))
    uses = book(world, batch, UseLine(oil, Decimal("700.5")), UseLine(boxes, Decimal(24)))
    assert on_hand(world) == [Decimal("299.5"), 26]
    assert [str(one) for one in BatchUse.objects.within(world.workshop).filter(batch=batch).in_force().order_by("pk")] == [
        "700.5 of Olive oil, lot 1", "24 of Box, lot 2",
    ]  # fmt: skip
    assert [one.irregular for one in uses] == ["", ""]
    assert not BatchHold.objects.within(world.workshop).exists()


def test_one_line_that_cannot_be_books_none_of_them(world: World, stranger: World) -> None:
    batch, oil = world.batch(), world.lot("1000")
    for bad in (
        UseLine(oil, Decimal(-1)),
        UseLine(stranger.lot(), Decimal(5)),
        UseLine(world.lot(standing="rejected"), Decimal(5)),
    ):
        with pytest.raises(DomainError):
            book(world, batch, UseLine(oil, Decimal(100)), bad)
    assert Lot.objects.within(world.workshop).get(pk=oil.pk).on_hand == 1000
    assert not BatchUse.objects.within(world.workshop).exists()


def test_the_same_lot_on_two_lines_is_taken_from_twice(world: World) -> None:
    oil = world.lot("1000")
    book(world, world.batch(), UseLine(oil, Decimal(600)), UseLine(oil, Decimal(600)))
    assert on_hand(world) == [0]
    kinds = list(Movement.objects.within(world.workshop).in_order().values_list("kind", "amount"))
    assert kinds == [("receive", 1000), ("use", -600), ("count", 200), ("use", -600)]
    assert differences() == []


def test_a_use_that_is_taken_back_leaves_the_batch(world: World) -> None:
    batch, oil = world.batch(), world.lot("1000")
    (use,) = book(world, batch, UseLine(oil, Decimal(600)))
    reverse(actor=world.actor, movement=use.movement, reason="another batch", at=world.now)
    assert not BatchUse.objects.within(world.workshop).in_force().exists()
    assert BatchUse.objects.within(world.workshop).count() == 1


def leave(world: World, batch: Batch, purpose: str) -> None:
    entry = TakeOutEntry(bars=2, purpose=purpose, taken_at=world.now, forced_reason="a fair")
    take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)


def test_a_lot_not_in_order_holds_the_batch_until_a_person_says_otherwise(world: World) -> None:
    batch, oil = world.batch(), world.lot(standing="quarantine")
    book(world, batch, UseLine(oil, Decimal(600), reason="nothing else was here"))
    for purpose in ("sale", "gift", "kept"):
        with pytest.raises(Conflict, match="is held: Olive oil, lot 1 was in quarantine when it went in") as refused:
            leave(world, batch, purpose)
        assert (refused.value.code, refused.value.field) == ("held", "purpose")
    leave(world, batch, "destroyed")
    (hold,) = BatchHold.objects.within(world.workshop).filter(batch=batch).standing()
    assert hold.reason == "nothing else was here"
    lift_hold(actor=world.actor, hold=hold, why="certificate came, in order", at=world.now)
    leave(world, batch, "sale")
    assert Batch.objects.within(world.workshop).get(pk=batch.pk).bars_left == 20


def test_each_hold_is_lifted_by_itself(world: World) -> None:
    batch = world.batch()
    lines = [UseLine(world.lot(standing=standing), Decimal(60), reason="needed") for standing in ("quarantine", "rejected")]
    book(world, batch, *lines)
    holds = list(BatchHold.objects.within(world.workshop).filter(batch=batch).standing())
    lift_hold(actor=world.actor, hold=holds[0], why="in order", at=world.now)
    with pytest.raises(Conflict, match="lot 2 was rejected"):
        leave(world, batch, "sale")


def test_a_strangers_batch_takes_nothing_from_here(world: World, stranger: World) -> None:
    with pytest.raises(NotHere):
        book_use(
            actor=world.actor, batch=stranger.batch(), lines=[UseLine(world.lot(), Decimal(5))], used_at=world.now, at=world.now
        )
    assert on_hand(world) == [1000]
