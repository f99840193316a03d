"""Stock lists that came in before the house kept what they say: it is kept since, as of the moment they came in."""

from datetime import timedelta
from decimal import Decimal
from functools import partial
from typing import Any

import pytest
from django.db import IntegrityError, connection
from django.db.migrations.executor import MigrationExecutor

from inventory.balance import differences
from inventory.models import Count, Lot
from inventory.services.movements import use
from tests.arena import Arena
from tests.common.test_guards import guards_in_words
from tests.history import to, to_the_newest
from tests.world import World

BEFORE, AFTER = [("inventory", "0005_counts_that_stand")], ("inventory", "0006_what_lists_said")
WHY = "brought in with the stock list"


def back() -> None:
    to(*BEFORE)


def on() -> None:
    to(AFTER)


def write_as_before(world: World, material: int) -> dict[str, int]:
    """Write lots as they stood then, by how they came in; return the keys of their receipts."""
    then = MigrationExecutor(connection).loader.project_state(BEFORE).apps
    by: dict[str, Any] = {"workshop_id": world.workshop.pk, "by_user_id": world.owner.pk}
    moved = then.get_model("inventory", "Movement")._base_manager
    came: dict[str, int] = {}
    for number, (name, source, why) in enumerate(
        (
            ("listed", "import", WHY),
            ("taken back", "import", WHY),
            ("gone", "import", "brought in with what was used of it"),
            ("by hand", "page", "as delivered"),
            ("ruled twice", "import", WHY),
        ),
        start=50,
    ):
        lot = then.get_model("inventory", "Lot")._base_manager.create(
            material_id=material, number=number, supplier_lot=name, received_on=world.days_ago(20).date(),
            standing="released", on_hand=0 if name == "taken back" else 500, written_at=world.now, **by,
        )  # fmt: skip
        rulings = then.get_model("inventory", "LotRuling")._base_manager
        for reason in [why, why] if name == "ruled twice" else [why]:
            rulings.create(lot=lot, standing="released", why=reason, at=world.now, **by)
        row = {"lot": lot, "moment": world.days_ago(20), "source": source, "written_at": world.now, **by}
        receipt = moved.create(kind="receive", amount=500, **row)
        came[name] = receipt.pk
        if name == "taken back":
            moved.create(kind="reversal", amount=-500, reason="a slip", corrects=receipt, **row)
    return came


def kept() -> list[tuple[Any, ...]]:
    rows = Count.unscoped.order_by("pk").select_related("lot")
    return [(one.movement_id, one.counted, one.expected, one.moment, one.by_list, one.reason, one.by_user_id) for one in rows]


def by_hand(statement: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement)


def test_what_lists_said_is_kept_as_of_the_moment_they_came_in(arena: Arena) -> None:
    guards = arena.do(guards_in_words)
    world = arena.do(World)
    material = arena.do(lambda: world.material().pk)
    arena.do(back)
    came = arena.do(partial(write_as_before, world, material))
    arena.do(on)
    arena.do(to_the_newest)
    said = "as the stock list says"
    rows = [(came[name], 500, 0, world.now, True, said, world.owner.pk) for name in ("listed", "ruled twice")]
    assert arena.do(kept) == rows
    assert arena.do(differences) == []
    assert arena.do(guards_in_words) == guards
    with pytest.raises(IntegrityError, match="ledger rows stay as they were written"):
        arena.do(partial(by_hand, "UPDATE inventory_count SET reason = 'x'"))


def test_what_was_used_before_such_a_list_leaves_what_it_brought(arena: Arena) -> None:
    world = arena.do(World)
    material = arena.do(lambda: world.material().pk)
    arena.do(back)
    arena.do(partial(write_as_before, world, material))
    arena.do(to_the_newest)
    at = world.now + timedelta(hours=1)

    def use_late(name: str) -> Decimal:
        lot = Lot.objects.within(world.workshop).get(supplier_lot=name)
        use(actor=world.actor, lot=lot, amount=Decimal(100), moment=world.days_ago(3), at=at)
        return Lot.objects.within(world.workshop).get(pk=lot.pk).on_hand

    assert [arena.do(partial(use_late, name)) for name in ("listed", "by hand")] == [500, 400]
    assert arena.do(differences) == []
