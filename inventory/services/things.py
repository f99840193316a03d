"""The only writer of materials and suppliers."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict, DomainError, Invalid
from curehouse.common.locking import lock_rows
from curehouse.workshops.models import Workshop
from curehouse.workshops.services import clean_name
from inventory.blends import MIXED_KINDS, place_among_blends
from inventory.models import Lot, Material, Supplier
from inventory.services.entries import clean_note, clean_text

_IN_PIECES = {Material.Kind.PACKAGING, Material.Kind.BARS}


@dataclass(frozen=True, slots=True)
class MaterialEntry:
    """A material as entered; without a measure its kind says which."""

    name: str
    kind: str
    measure: str = ""


@dataclass(frozen=True, slots=True)
class SupplierEntry:
    """A supplier as entered."""

    name: str
    contact: str = ""
    note: str = ""


def measure_of(kind: str) -> str:
    """Return how a material of this kind is usually kept: in grams, or counted in pieces."""
    return Material.Measure.PIECES if kind in _IN_PIECES else Material.Measure.GRAMS


def _columns_of(entry: MaterialEntry) -> dict[str, object]:
    if entry.kind not in Material.Kind.values:
        raise Invalid("kind", "Say what kind of material it is: choose from the list.", field="kind")
    measure = entry.measure or measure_of(entry.kind)
    if measure not in Material.Measure.values:
        raise Invalid("measure", "A material is kept in grams or in pieces: choose one.", field="measure")
    return {
        "name": clean_name(entry.name, field="name", what="The material's name"),
        "kind": entry.kind,
        "measure": measure,
    }


def _taken(what: str, name: str) -> dict[str, DomainError]:
    said = Conflict("name_taken", f"There is a {what} called {name} already: choose another name.", field="name")
    return {f"{what}_name_once": said}


@transaction.atomic
def write_material(*, workshop: Workshop, entry: MaterialEntry) -> Material:
    """Write a material; a name is given once, however its letters are written."""
    columns = _columns_of(entry)
    with answered(Material, _taken("material", str(columns["name"]))):
        return Material.unscoped.create(workshop=workshop, **columns)


def _taken_meanwhile(what: str) -> dict[str, DomainError]:
    said = Conflict("name_taken", f"A {what} of this name was written just now: check the file again.", field="name")
    return {f"{what}_name_once": said}


@transaction.atomic
def write_materials(*, workshop: Workshop, entries: Sequence[MaterialEntry]) -> list[Material]:
    """Write many materials by one statement, in the order given."""
    rows = [Material(workshop=workshop, **_columns_of(entry)) for entry in entries]
    with answered(Material, _taken_meanwhile("material")):
        return Material.unscoped.bulk_create(rows)


@transaction.atomic
def edit_material(*, material: Material, entry: MaterialEntry) -> Material:
    """Change a material; once it has lots or offers, grams stay grams and pieces pieces.

    What is made from others, or goes into what is, stays of a kind that may be mixed.
    """
    columns = _columns_of(entry)
    row = _lock_material(material)
    used = "lots" if row.lots.exists() else "offers" if row.offers.exists() else ""
    if columns["measure"] != row.measure and used:
        raise Conflict(
            "measure_used",
            f"{row} has {used} in {row.get_measure_display()}: write a new material for the other measure.",
            field="measure",
        )
    is_other = columns["kind"] != row.kind and (row.kind == Material.Kind.LYE or columns["kind"] not in MIXED_KINDS)
    if is_other and (why := place_among_blends(row)):
        stays = "lye" if row.kind == Material.Kind.LYE else "an additive, a fragrance or a colour"
        said = f"{why}, so it stays {stays}: write a new material for what is none."
        raise Conflict("mixed_kind", said, field="kind")
    for name, value in columns.items():
        setattr(row, name, value)
    with answered(Material, _taken("material", row.name)):
        row.save(update_fields=list(columns))
    return row


def _lock_material(material: Material) -> Material:
    return lock_rows(Material.unscoped.all(), [material.pk])[material.pk]


@transaction.atomic
def retire_material(*, material: Material, at: datetime) -> Material:
    """Take a material out of use; what was booked stays. With stock left it is refused."""
    row = _lock_material(material)
    left = Lot.objects.within(row.workshop).filter(material=row).in_stock().named().first()
    if left is not None:
        raise Conflict("in_stock", f"{left} still holds something: use it up or write it off first.", field="material")
    row.retired_at = at
    row.save(update_fields=["retired_at"])
    return row


@transaction.atomic
def take_up_material(*, material: Material) -> Material:
    """Put a retired material into use again."""
    material.retired_at = None
    material.save(update_fields=["retired_at"])
    return material


def _supplier_columns(entry: SupplierEntry) -> dict[str, str]:
    return {
        "name": clean_name(entry.name, field="name", what="The supplier's name"),
        "contact": clean_text(entry.contact, field="contact", what="The contact", longest=400),
        "note": clean_note(entry.note),
    }


@transaction.atomic
def write_supplier(*, workshop: Workshop, entry: SupplierEntry) -> Supplier:
    """Write a supplier; a name is given once, however its letters are written."""
    columns = _supplier_columns(entry)
    with answered(Supplier, _taken("supplier", columns["name"])):
        return Supplier.unscoped.create(workshop=workshop, **columns)


@transaction.atomic
def write_suppliers(*, workshop: Workshop, entries: Sequence[SupplierEntry]) -> list[Supplier]:
    """Write many suppliers by one statement, in the order given."""
    rows = [Supplier(workshop=workshop, **_supplier_columns(entry)) for entry in entries]
    with answered(Supplier, _taken_meanwhile("supplier")):
        return Supplier.unscoped.bulk_create(rows)


@transaction.atomic
def edit_supplier(*, supplier: Supplier, entry: SupplierEntry) -> Supplier:
    """Change a supplier."""
    columns = _supplier_columns(entry)
    for name, value in columns.items():
        setattr(supplier, name, value)
    with answered(Supplier, _taken("supplier", supplier.name)):
        supplier.save(update_fields=list(columns))
    return supplier


@transaction.atomic
def retire_supplier(*, supplier: Supplier, at: datetime) -> Supplier:
    """Take a supplier out of use; their lots stay theirs."""
    supplier.retired_at = at
    supplier.save(update_fields=["retired_at"])
    return supplier


@transaction.atomic
def take_up_supplier(*, supplier: Supplier) -> Supplier:
    """Put a retired supplier into use again."""
    supplier.retired_at = None
    supplier.save(update_fields=["retired_at"])
    return supplier
