"""The storeroom's verbs as the doors call them: the stock changes, and what the house says of it with it.

Each is the verb of ``inventory.services`` under the same name and with the same arguments; only a batch uses
anything, by ``flows/use_stock.py``. Doors call no other (``tests/architecture/test_doors.py``).
"""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from curehouse.common.errors import Conflict
from curehouse.flows.blends import check_renamed
from curehouse.flows.know import Tell, lock_known, lye_held, tell_nobody
from curehouse.flows.made_lots import lock_made_by, quarantine_made
from curehouse.flows.order_notices import renew_orders
from curehouse.flows.rule_lot import correct_and_hold, rule_and_hold
from curehouse.flows.stock_notices import renew_stock
from curehouse.flows.superfats import renew_superfats
from curehouse.making.formulas.moved import moves_said
from curehouse.making.formulas.odd import counted_value, doubt_of
from curehouse.making.models import Batch
from curehouse.making.services import lock_batches
from curehouse.making.tracing import batches_by, uses_through
from curehouse.workshops.actors import Actor
from inventory.models import Count, Lot, LotCorrection, LotRuling, LotValue, Material, Movement, StoreCount
from inventory.services import lots as _lots
from inventory.services import movements as _movements
from inventory.services import store_counts as _store_counts
from inventory.services import things as _things
from inventory.services.lots import LotPapers, ReceiptEntry
from inventory.services.movements import PAGE, Counted
from inventory.services.orders import give_packs_back, ordered_by
from inventory.services.posting import lock_lot
from inventory.services.things import MaterialEntry
from inventory.solutions import is_dissolved


def _takers(actor: Actor, lot: Lot) -> set[int]:
    """Return the keys of the batches that took of lye that was dissolved here; of other lots none."""
    return set(uses_through(actor.workshop, lot).values_list("batch_id", flat=True)) if is_dissolved(lot) else set()


def _check_takers(actor: Actor, lot: Lot, batches: list[Batch]) -> None:
    """Refuse, the lot locked, where a batch took from it between the two looks: it was not locked before it."""
    if _takers(actor, lot) - {batch.pk for batch in batches}:
        raise Conflict("used_meanwhile", f"{lot} was used just now: look at it again, and send it again.")


@contextmanager
def _reaching_batches(actor: Actor, lot: Lot, *, at: datetime) -> Iterator[None]:
    """Work out the batches anew that took of dissolved lye: what is missing of it may be water, so it may be stronger."""
    batches = lock_batches(actor.workshop, _takers(actor, lot))
    yield
    _check_takers(actor, lot, batches)
    renew_superfats(batches=batches, at=at)


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
def write_off(
    *, actor: Actor, lot: Lot, amount: Decimal, reason: str, moment: datetime, at: datetime, source: str = PAGE
) -> Movement:
    """Book what was spilt, spoilt or thrown away."""
    with _reaching_batches(actor, lot, at=at):
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
def count(*, actor: Actor, lot: Lot, at: datetime, source: str = PAGE, **found: Any) -> Counted:
    """Book what a person found of *lot*, on the store count that is under way; *found* as `count_in_store` takes it."""
    with _reaching_batches(actor, lot, at=at):
        counted = _store_counts.count_in_store(actor=actor, lot=lot, at=at, source=source, **found)
    _renew(actor, lot, at=at)
    return counted


@transaction.atomic
def end_store_count(*, actor: Actor, store_count: StoreCount, at: datetime) -> StoreCount:
    """End a store count before all lots were counted."""
    return _store_counts.end_store_count(actor=actor, store_count=store_count, at=at)


@transaction.atomic
def reverse(*, actor: Actor, movement: Movement, reason: str, at: datetime, source: str = PAGE) -> Movement:
    """Take back a movement that never happened; of a batch that took it the superfat is worked out anew.

    The receipt of a lot that came in by an order gives the order its packs back. What went into a lot that was made,
    and did not after all, puts that lot in quarantine, and what was made with it.
    """
    came = ordered_by(actor=actor, lot=movement.lot) if _is_receipt(movement) else None
    batches = lock_batches(actor.workshop, batches_by(actor.workshop, movement) | _takers(actor, movement.lot))
    made = lock_made_by(actor.workshop, movement)
    reversal = _movements.reverse(actor=actor, movement=movement, reason=reason, at=at, source=source)
    _check_takers(actor, movement.lot, batches)
    order = None if came is None else give_packs_back(actor=actor, came=came, why=reversal.reason, at=at)
    quarantine_made(actor, made, f"what it took of {reversal.lot} was taken back: {reversal.reason}", at=at)
    renew_superfats(batches=batches, at=at)
    renew_stock(workshop=actor.workshop, at=at, material_ids={reversal.lot.material_id, *(one.material_id for one in made)})
    if order is not None:
        renew_orders(workshop=actor.workshop, at=at, orders=[order.pk])
    return reversal


def _is_receipt(movement: Movement) -> bool:
    """Return whether a lot came in by a movement; more of it that came later was told later."""
    return movement.kind == Movement.Kind.RECEIVE and movement.written_at == movement.lot.written_at


@transaction.atomic
def take_back_count(*, actor: Actor, count: Count, reason: str, at: datetime, source: str = PAGE) -> Count:
    """Take back a count that never happened, whether it found a difference or not."""
    with _reaching_batches(actor, count.lot, at=at):
        row = _movements.take_back_count(actor=actor, count=count, reason=reason, at=at, source=source)
    _renew(actor, count.lot, at=at)
    return row


@transaction.atomic
def record_value(
    *,
    actor: Actor,
    lot: Lot,
    name: str,
    value: Decimal,
    unit: str,
    at: datetime,
    value_confirmed: bool = False,
    lye_confirmed: str = "",
    tell: Tell = tell_nobody,
) -> LotValue:
    """Record a figure of a lot's certificate; of batches that took the lot the superfat is worked out anew.

    Raises ``Conflict`` (value_doubtful) for one outside of what is published or sold that nobody confirmed, and as
    `know.lye_held` where it moves the lye of poured versions.
    """
    lock_known(actor.workshop, lot.material_id)
    uses = uses_through(actor.workshop, lot)
    batches = lock_batches(actor.workshop, set(uses.values_list("batch_id", flat=True)))
    row = lock_lot(workshop=actor.workshop, lot=lot)
    # What took from it between the two looks was not locked before it.
    if set(uses.values_list("batch_id", flat=True)) - {batch.pk for batch in batches}:
        raise Conflict("used_meanwhile", f"{row} was used just now: look at it again, and type the figure again.")
    with lye_held(workshop=actor.workshop, material=row.material, at=at, lye_confirmed=lye_confirmed) as found:
        kept = _lots.record_value(actor=actor, lot=row, name=name, value=value, unit=unit, at=at)
        counted = counted_value(row, name, kept.value, unit)
        if not value_confirmed and (doubt := doubt_of(row, name, counted)):
            said = f"{doubt} Check it against the certificate; if it says so, confirm it."
            raise Conflict("value_doubtful", said, field="value")
    tell(f"{row}: {kept}. {moves_said(found, actor.workshop.unit)}" if found else "")
    renew_superfats(batches=batches, at=at)
    return kept


@transaction.atomic
def rule_lot(*, actor: Actor, lot: Lot, standing: str, why: str, at: datetime) -> LotRuling:
    """Release or reject a lot, or put it in quarantine; rejected, it holds what it went into."""
    ruling, _held = rule_and_hold(actor=actor, lot=lot, standing=standing, why=why, at=at)
    return ruling


@transaction.atomic
def correct_lot(*, actor: Actor, lot: Lot, papers: LotPapers, why: str, at: datetime) -> list[LotCorrection]:
    """Correct what was entered wrongly about a lot; used after its best-before as that now stands, it holds its batches."""
    return correct_and_hold(actor=actor, lot=lot, papers=papers, why=why, at=at)


@transaction.atomic
def edit_material(
    *, material: Material, entry: MaterialEntry, at: datetime, lye_confirmed: str = "", tell: Tell = tell_nobody
) -> Material:
    """Change a material; what the house says of the storeroom calls it by its new name.

    Raises as `know.lye_held` where it is another fat by its new name.
    """
    workshop = material.workshop
    known = lock_known(workshop, material.pk)
    before = str(known)
    check_renamed(known, entry.name)
    with lye_held(workshop=workshop, material=material, at=at, lye_confirmed=lye_confirmed) as found:
        row = _things.edit_material(material=material, entry=entry)
    tell(f"{before} → {row}. {moves_said(found, workshop.unit)}" if found else "")
    renew_stock(workshop=row.workshop, at=at, material_ids=[row.pk])
    return row
