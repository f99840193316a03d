"""``verify_ledger`` finds nothing in a house that worked, and each thing that somebody tampered with."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command

from inventory.models import Count, Lot, Movement
from inventory.services.movements import count, reverse, use
from tests.world import World

pytestmark = pytest.mark.django_db


def worked(world: World) -> Lot:
    """Return a lot to which everything happened that is reckoned up."""
    lot = world.lot("0.3")
    for _ in range(3):
        use(actor=world.actor, lot=lot, amount=Decimal("0.1"), moment=world.now, at=world.now)
    used = use(actor=world.actor, lot=lot, amount=Decimal("12.345"), moment=world.now, at=world.now).movement
    reverse(actor=world.actor, movement=used, reason="another lot", at=world.now)
    for found in (Decimal(90), Decimal(90), Decimal("0.001")):
        count(actor=world.actor, lot=lot, counted=found, moment=world.now, at=world.now, reason="weighed")
    return lot


def found_by_the_command(capsys: pytest.CaptureFixture[str], differences: int) -> str:
    with pytest.raises(CommandError, match=f"{differences} differences"):
        call_command("verify_ledger")
    return capsys.readouterr().out


def test_it_finds_nothing_in_houses_that_worked(world: World, stranger: World, capsys: pytest.CaptureFixture[str]) -> None:
    for one in (world, stranger):
        worked(one)
    call_command("verify_ledger")
    assert capsys.readouterr().out == "The stock is what its ledgers come to.\n"


def test_it_names_a_balance_that_was_written_past_the_ledger(world: World, capsys: pytest.CaptureFixture[str]) -> None:
    lot, other = worked(world), world.lot("250")
    Lot.unscoped.filter(pk=lot.pk).update(on_hand=Decimal("0.002"))
    Lot.unscoped.filter(pk=other.pk).update(on_hand=Decimal(0))
    said = found_by_the_command(capsys, 2)
    assert f"on hand of lot {lot.pk}: 0.002 kept, 0.001 by the ledger\n" in said
    assert f"on hand of lot {other.pk}: 0.000 kept, 250.000 by the ledger\n" in said


def test_it_names_a_movement_that_no_balance_knows(world: World, capsys: pytest.CaptureFixture[str]) -> None:
    lot = worked(world)
    Movement.unscoped.create(
        workshop=world.workshop, lot=lot, kind="use", amount=-5, moment=world.now, source="page", written_at=world.now
    )
    assert f"on hand of lot {lot.pk}: 0.001 kept, -4.999 by the ledger" in found_by_the_command(capsys, 1)


def test_it_names_a_standing_that_nobody_ruled(world: World, capsys: pytest.CaptureFixture[str]) -> None:
    lot = world.lot(standing="rejected", why="rancid")
    Lot.unscoped.filter(pk=lot.pk).update(standing="released")
    bare = Lot.unscoped.create(
        workshop=world.workshop, material=lot.material, number=99, received_on=world.now.date(),
        standing="released", written_at=world.now,
    )  # fmt: skip
    said = found_by_the_command(capsys, 2)
    assert f"standing of lot {lot.pk}: released kept, rejected by the ledger" in said
    assert f"standing of lot {bare.pk}: released kept, no ruling by the ledger" in said


def test_it_names_a_count_whose_correction_is_another(world: World, capsys: pytest.CaptureFixture[str]) -> None:
    lot = worked(world)
    values = {"workshop": world.workshop, "lot": lot, "moment": world.now, "written_at": world.now}
    moved = Movement.unscoped.create(kind="count", amount=4, reason="weighed", source="page", **values)
    Lot.unscoped.filter(pk=lot.pk).update(on_hand=Decimal("4.001"))
    assert f"count of movement {moved.pk}: none kept, 4.000 by the ledger" in found_by_the_command(capsys, 1)
    wrong = Count.unscoped.create(counted=10, expected=5, reason="weighed", movement=moved, **values)
    said = found_by_the_command(capsys, 2)
    assert f"correction by count {wrong.pk}: 5.000 kept, 4.000 by the ledger" in said
    assert f"on hand of lot {lot.pk}: 4.001 kept, 10.000 by the count of {world.now:%Y-%m-%d %H:%M} UTC and what" in said


def test_it_names_a_balance_that_its_last_count_and_what_came_after_do_not_come_to(
    world: World, capsys: pytest.CaptureFixture[str]
) -> None:
    """The sum of the movements is what is kept, so only the second way finds it: a count held anew for nothing."""
    lot = worked(world)
    world.now += timedelta(hours=1)
    told = {"actor": world.actor, "lot": lot, "at": world.now}
    found = count(counted=Decimal(40), reason="weighed", moment=world.now, **told).count
    world.now += timedelta(hours=1)
    use(amount=Decimal(3), moment=world.now, **{**told, "at": world.now})
    call_command("verify_ledger")
    values = {"workshop": world.workshop, "lot": lot, "moment": found.moment, "written_at": world.now, "reason": "lacking"}
    moved = Movement.unscoped.create(kind="count", amount=7, source="page", **values)
    Count.unscoped.create(counted=40, expected=33, movement=moved, restates=found, **values)
    Lot.unscoped.filter(pk=lot.pk).update(on_hand=44)
    capsys.readouterr()
    said = found_by_the_command(capsys, 1)
    when = f"{found.moment:%Y-%m-%d %H:%M} UTC"
    assert f"on hand of lot {lot.pk}: 44.000 kept, 37.000 by the count of {when} and what came after it\n" in said


def test_it_names_a_reversal_that_is_not_the_opposite(world: World, capsys: pytest.CaptureFixture[str]) -> None:
    lot, other = world.lot(), world.lot()
    for which, amount in ((lot, -900), (other, -1000)):
        Movement.unscoped.create(
            workshop=world.workshop, lot=which, kind="reversal", amount=amount, reason="a slip", source="page",
            corrects=lot.movements.get(kind="receive") if which == lot else lot.movements.get(kind="reversal"),
            moment=world.now, written_at=world.now + timedelta(hours=1),
        )  # fmt: skip
        Lot.unscoped.filter(pk=which.pk).update(on_hand=1000 + amount)
    said = found_by_the_command(capsys, 2)
    assert f"on lot {lot.pk}: -900.000 kept, -1000.000 on lot {lot.pk} by the ledger" in said
    assert f"on lot {other.pk}: -1000.000 kept, 900.000 on lot {lot.pk} by the ledger" in said
