"""The storeroom's verbs as the doors call them: the stock changes, and what the house says of it with it.

Each is the verb of ``inventory.services`` under the same name and with the same arguments; a use by a
batch is ``flows/use_stock.py``. Doors call no other (``tests/architecture/test_doors.py``).
"""

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.flows.rule_lot import rule_and_hold
from curehouse.flows.stock_notices import renew_stock
from curehouse.workshops.actors import Actor
from inventory.models import Lot, LotCorrection, LotRuling, Material, Movement
from inventory.services import lots as _lots
from inventory.services import movements as _movements
from inventory.services import things as _things
from inventory.services.lots import LotPapers, ReceiptEntry
from inventory.services.movements import PAGE, Counted, Used
from inventory.services.things import MaterialEntry


def _renew(actor: Actor, lot: Lot, *, at: datetime) -> None:
    renew_stock(workshop=actor.workshop, at=at, material_ids=[lot.material_id])


@transaction.atomic
def receive(*, actor: Actor, entry: ReceiptEntry, at: datetime, source: str = PAGE) -> Lot:
    """Write a lot that came in."""
    lot = _lots.receive(actor=actor, entry=entry, at=at, source=source)
    _renew(actor, lot, at=at)
    return lot


@transaction.atomic
def receive_more(
    *, actor: Actor, lot: Lot, amount: Decimal, moment: datetime, at: datetime, reason: str = "", source: str = PAGE
) -> Movement:
    """Book more of the same lot that came in."""
    moved = _movements.receive_more(actor=actor, lot=lot, amount=amount, moment=moment, at=at, reason=reason, source=source)
    _renew(actor, lot, at=at)
    return moved


@transaction.atomic
def use(
    *, actor: Actor, lot: Lot, amount: Decimal, moment: datetime, at: datetime, reason: str = "", source: str = PAGE
) -> Used:
    """Book what was used of *lot* by no batch."""
    used = _movements.use(actor=actor, lot=lot, amount=amount, moment=moment, at=at, reason=reason, source=source)
    _renew(actor, lot, at=at)
    return used


@transaction.atomic
def write_off(
    *, actor: Actor, lot: Lot, amount: Decimal, reason: str, moment: datetime, at: datetime, source: str = PAGE
) -> Movement:
    """Book what was spilt, spoilt or thrown away."""
    moved = _movements.write_off(actor=actor, lot=lot, amount=amount, reason=reason, moment=moment, at=at, source=source)
    _renew(actor, lot, at=at)
    return moved


@transaction.atomic
def give_back(
    *, actor: Actor, lot: Lot, amount: Decimal, reason: str, moment: datetime, at: datetime, source: str = PAGE
) -> Movement:
    """Book what went back to the supplier."""
    moved = _movements.give_back(actor=actor, lot=lot, amount=amount, reason=reason, moment=moment, at=at, source=source)
    _renew(actor, lot, at=at)
    return moved


@transaction.atomic
def count(
    *, actor: Actor, lot: Lot, counted: Decimal, moment: datetime, at: datetime, reason: str = "", source: str = PAGE
) -> Counted:
    """Book what a person found of *lot*."""
    found = _movements.count(actor=actor, lot=lot, counted=counted, moment=moment, at=at, reason=reason, source=source)
    _renew(actor, lot, at=at)
    return found


@transaction.atomic
def reverse(*, actor: Actor, movement: Movement, reason: str, at: datetime, source: str = PAGE) -> Movement:
    """Take back a movement that never happened."""
    reversal = _movements.reverse(actor=actor, movement=movement, reason=reason, at=at, source=source)
    _renew(actor, reversal.lot, at=at)
    return reversal


@transaction.atomic
def rule_lot(*, actor: Actor, lot: Lot, standing: str, why: str, at: datetime) -> LotRuling:
    """Release or reject a lot, or put it in quarantine; rejected, it holds what it went into."""
    ruling, _held = rule_and_hold(actor=actor, lot=lot, standing=standing, why=why, at=at)
    return ruling


@transaction.atomic
def correct_lot(*, actor: Actor, lot: Lot, papers: LotPapers, why: str, at: datetime) -> list[LotCorrection]:
    """Correct what was entered wrongly about a lot."""
    corrections = _lots.correct_lot(actor=actor, lot=lot, papers=papers, why=why, at=at)
    _renew(actor, lot, at=at)
    return corrections


@transaction.atomic
def edit_material(*, material: Material, entry: MaterialEntry, at: datetime) -> Material:
    """Change a material, also the level at which it counts as low."""
    row = _things.edit_material(material=material, entry=entry)
    renew_stock(workshop=row.workshop, at=at, material_ids=[row.pk])
    return row


@transaction.atomic
def retire_material(*, material: Material, at: datetime) -> Material:
    """Take a material out of use."""
    row = _things.retire_material(material=material, at=at)
    renew_stock(workshop=row.workshop, at=at, material_ids=[row.pk])
    return row
