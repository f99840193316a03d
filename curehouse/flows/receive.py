"""A lot comes in, of a material and from a supplier that may be new: all of it is written, or nothing."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from curehouse.flows.stock import receive
from curehouse.workshops.actors import Actor
from inventory.models import Lot, Material, Supplier
from inventory.services.lots import ReceiptEntry
from inventory.services.things import MaterialEntry, SupplierEntry, write_material, write_supplier


@dataclass(frozen=True, slots=True)
class Receipt:
    """What came in: *amount* and its cost in grams or pieces; without a material, or with a new supplier, its name."""

    amount: Decimal
    received_on: date
    material: Material | None = None
    new_name: str = ""
    new_kind: str = ""
    supplier: Supplier | None = None
    new_supplier: str = ""
    supplier_lot: str = ""
    best_before: date | None = None
    unit_cost: Decimal | None = None
    standing: str = Lot.Standing.QUARANTINE
    why: str = ""


@transaction.atomic
def receive_lot(*, actor: Actor, receipt: Receipt, at: datetime) -> Lot:
    """Write the lot, and first the material and the supplier where they are new."""
    material, supplier = receipt.material, receipt.supplier
    if material is None:
        material = write_material(workshop=actor.workshop, entry=MaterialEntry(receipt.new_name, receipt.new_kind))
    if receipt.new_supplier:
        supplier = write_supplier(workshop=actor.workshop, entry=SupplierEntry(receipt.new_supplier))
    entry = ReceiptEntry(
        material=material,
        amount=receipt.amount,
        received_on=receipt.received_on,
        supplier=supplier,
        supplier_lot=receipt.supplier_lot,
        best_before=receipt.best_before,
        unit_cost=receipt.unit_cost,
        standing=receipt.standing,
        why=receipt.why,
    )
    return receive(actor=actor, entry=entry, at=at)
