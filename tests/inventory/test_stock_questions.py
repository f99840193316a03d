"""What is here, what expires, and how long it lasts."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.adapter import covers
from inventory.models import Lot, Material, Movement
from inventory.services.movements import reverse, use
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def today(world: World) -> date:
    return world.now.date()


def the(world: World, name: str, today: date) -> Material:
    return Material.objects.within(world.workshop).with_stock(on=today).get(name=name)


def test_what_is_here_is_more_than_what_may_be_used(world: World, today: date) -> None:
    for held in ("0.1", "0.2"):
        world.lot(held)
    world.lot("50", best_before=today - timedelta(days=1))
    world.lot("60", standing="quarantine")
    world.lot("70", standing="rejected")
    world.lot("0.4", best_before=None)
    world.lot("0.5", best_before=today)
    world.lot("999", material=world.material("Coconut oil"))
    oil = the(world, "Olive oil", today)
    assert (oil.on_hand, oil.usable) == (Decimal("181.2"), Decimal("1.2"))


def test_a_material_without_a_lot_has_nothing(world: World, today: date) -> None:
    world.material("Cocoa butter")
    butter = the(world, "Cocoa butter", today)
    assert (butter.on_hand, butter.usable) == (0, 0)


def test_lots_are_used_up_in_the_order_in_which_they_expire(world: World, today: date) -> None:
    never = world.lot(best_before=None)
    late = world.lot(best_before=today + timedelta(days=90))
    soon_new = world.lot(best_before=today + timedelta(days=9), days_here=3)
    soon_old = world.lot(best_before=today + timedelta(days=9), days_here=5)
    rows = Lot.objects.within(world.workshop)
    assert list(rows.first_expired_first()) == [soon_old, soon_new, late, never]
    assert list(rows.expiring(by=today + timedelta(days=9))) == [soon_old, soon_new]
    use(actor=world.actor, lot=soon_old, amount=Decimal(1000), moment=world.now, at=world.now)
    assert list(rows.expiring(by=today + timedelta(days=9))) == [soon_new]
    assert list(rows.newest_first()) == [soon_old, soon_new, late, never]


def used(world: World, lot: Lot, amount: str, days_ago: float) -> Movement:
    moment = world.days_ago(days_ago)
    return use(actor=world.actor, lot=lot, amount=Decimal(amount), moment=moment, at=world.now).movement


def test_cover_is_what_is_usable_at_the_rate_of_the_last_ninety_days(world: World) -> None:
    lot = world.lot("10000", days_here=200)
    used(world, lot, "5000", 120)
    used(world, lot, "450", 80)
    used(world, lot, "450", 3)
    reverse(actor=world.actor, movement=used(world, lot, "700", 10), reason="another batch", at=world.now)
    world.lot("3000", standing="quarantine")
    cover = covers(workshop=world.workshop, at=world.now)[lot.material_id]
    assert (cover.a_day, cover.days) == (10.0, 410.0)


def test_cover_of_a_newcomer_counts_a_fortnight_and_of_what_nobody_used_is_unknown(world: World, stranger: World) -> None:
    lot = world.lot("1000", days_here=2)
    used(world, lot, "140", 1)
    idle = world.lot("500", material=world.material("Clay", kind="colour"))
    bare = world.material("Silk", kind="additive")
    used(stranger, stranger.lot("1000"), "900", 1)
    found = covers(workshop=world.workshop, at=world.now)
    assert (found[lot.material_id].a_day, found[lot.material_id].days) == (10.0, 86.0)
    assert [found[key].days for key in (idle.material_id, bare.pk)] == [None, None]
    assert len(found) == 3


def test_cover_asks_two_questions_however_much_there_is(world: World) -> None:
    for number in range(4):
        used(world, world.lot(material=world.material(f"Oil {number}")), "10", 1)
        with CaptureQueriesContext(connection) as asked:
            covers(workshop=world.workshop, at=world.now)
        assert len(asked) == 2
