"""The only writer of lots, of what is ruled about them, and of their papers."""

import logging
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import Conflict, Invalid, NotHere
from curehouse.common.locking import lock_rows
from curehouse.common.time import local_day, local_moment
from curehouse.core.chemistry.called import is_of_the_other
from curehouse.workshops.actors import Actor
from curehouse.workshops.services import clean_name, next_lot_number
from inventory.models import Lot, LotCorrection, LotRuling, LotValue, Material, Movement, Supplier
from inventory.services.entries import (
    clean_amount,
    clean_best_before,
    clean_reason,
    clean_receipt_day,
    clean_text,
    clean_unit_cost,
)
from inventory.services.posting import lock_lot, post
from inventory.services.receipts import move_receipt
from inventory.solutions import is_dissolved

logger = logging.getLogger(__name__)

AT_RECEIPT = "as received"
_LARGEST_VALUE = Decimal("99999999")
_VALUE_STEP = Decimal("0.00001")
# What people call the purity of lye on a certificate, in small letters, and between what per cents it can be meant.
PURITY_NAMES = frozenset({"purity", "assay", "content", "naoh content", "koh content", "reinheit", "gehalt"})
# And how strong lye in water is that was made here, beside these: whatever says so counts, or it would be a silent one.
STRENGTH_NAMES = PURITY_NAMES | {
    "strength", "concentration", "titration", "titer", "titre", "naoh", "koh", "naoh strength", "koh strength",
    "stärke", "konzentration",
}  # fmt: skip
PLAUSIBLE_PURITY = (Decimal(50), Decimal("100.5"))
# And of lye in water that was made here: more than half of it hardly stays dissolved (reckoned at 20 °C).
PLAUSIBLE_STRENGTH = (Decimal(2), Decimal(60))


@dataclass(frozen=True, slots=True)
class ReceiptEntry:
    """A lot that came in: *amount* in grams or pieces, the cost of one of them.

    It waits in quarantine unless it is released at once.
    """

    material: Material
    amount: Decimal
    received_on: date
    supplier: Supplier | None = None
    supplier_lot: str = ""
    best_before: date | None = None
    unit_cost: Decimal | None = None
    standing: str = Lot.Standing.QUARANTINE
    why: str = ""


def _clean_standing(standing: str) -> str:
    if standing not in Lot.Standing.values:
        raise Invalid("standing", "A lot is in quarantine, released or rejected: choose one.", field="standing")
    return standing


def _sources_here(actor: Actor, entry: ReceiptEntry) -> tuple[Material, Supplier | None]:
    """Return the material, locked so that it is neither retired nor measured anew meanwhile, and the supplier."""
    material = lock_rows(Material.objects.within(actor.workshop), [entry.material.pk]).get(entry.material.pk)
    if material is None:
        raise NotHere("not_here", "There is no such material in this workshop.")
    if entry.supplier is None:
        return material, None
    return material, Supplier.objects.within(actor.workshop).get_here(entry.supplier.pk, what="supplier")


@transaction.atomic
def receive(*, actor: Actor, entry: ReceiptEntry, at: datetime, source: str = Movement.Source.PAGE) -> Lot:
    """Write a lot under the next house number, with its first ruling and what came of it."""
    material, supplier = _sources_here(actor, entry)
    if material.retired_at is not None:
        raise Conflict("retired", f"{material} is retired: put it into use again first.", field="material")
    today = local_day(at, actor.workshop.time_zone)
    received_on = clean_receipt_day(entry.received_on, today=today)
    amount = clean_amount(entry.amount, material)
    columns = {
        "material": material,
        "supplier": supplier,
        "supplier_lot": clean_text(entry.supplier_lot, field="supplier_lot", what="The supplier's lot number"),
        "received_on": received_on,
        "best_before": clean_best_before(entry.best_before, received_on=received_on),
        "unit_cost": clean_unit_cost(entry.unit_cost),
        "standing": _clean_standing(entry.standing),
    }
    why = clean_text(entry.why, field="why", what="The reason", longest=400) or AT_RECEIPT
    number = next_lot_number(workshop=actor.workshop)
    lot = Lot.unscoped.create(workshop=actor.workshop, number=number, written_at=at, **columns, **actor.signature)
    _write_ruling(actor, lot, why, at=at)
    # A day is all that is known: what was used on it was there already, however late in the day the lot is entered.
    moment = local_moment(received_on, time.min, actor.workshop.time_zone)
    post(actor=actor, lot=lot, kind=Movement.Kind.RECEIVE, amount=amount, moment=moment, at=at, source=source)
    logger.info("lot received: workshop=%s lot=%s", actor.workshop.pk, lot.pk)
    return lot


def _write_ruling(actor: Actor, lot: Lot, why: str, *, at: datetime) -> LotRuling:
    return LotRuling.unscoped.create(
        workshop=actor.workshop, lot=lot, standing=lot.standing, why=why, at=at, **actor.signature
    )  # fmt: skip


@transaction.atomic
def rule_lot(*, actor: Actor, lot: Lot, standing: str, why: str, at: datetime) -> LotRuling:
    """Release or reject a lot, or put it in quarantine, and say why; no device releases one: that is a person's judgement."""
    row = lock_lot(workshop=actor.workshop, lot=lot)
    ruled = _clean_standing(standing)
    if ruled == Lot.Standing.RELEASED:
        actor.must_be_a_person("release a lot", instead="A device may reject it, or put it in quarantine.", field="standing")
    reason = clean_reason(why, ask="Say why: what was checked, or what is wrong with the lot.", field="why")
    if ruled == row.standing:
        raise Conflict("ruled_already", f"{row} is {row.get_standing_display()} already.", field="standing")
    row.standing = ruled
    row.save(update_fields=["standing"])
    logger.info("lot ruled: workshop=%s lot=%s standing=%s", actor.workshop.pk, row.pk, ruled)
    return _write_ruling(actor, row, reason, at=at)


@dataclass(frozen=True, slots=True)
class LotPapers:
    """What a lot's papers say, where it can be corrected; without a day of receipt that stays as it is."""

    supplier_lot: str
    best_before: date | None
    unit_cost: Decimal | None
    received_on: date | None = None


@transaction.atomic
def correct_lot(*, actor: Actor, lot: Lot, papers: LotPapers, why: str, at: datetime) -> list[LotCorrection]:
    """Correct what was entered wrongly about a lot; each change keeps what stood there, and why.

    With the day of receipt its receipt is booked anew, as of that day: not after anything else that
    happened to the lot.
    """
    row = lock_lot(workshop=actor.workshop, lot=lot)
    reason = clean_reason(why, ask="Say why it is corrected.", field="why")
    today = local_day(at, actor.workshop.time_zone)
    received_on = clean_receipt_day(papers.received_on or row.received_on, today=today)
    clean = {
        LotCorrection.Field.RECEIVED_ON: received_on,
        LotCorrection.Field.SUPPLIER_LOT: clean_text(
            papers.supplier_lot, field="supplier_lot", what="The supplier's lot number"
        ),
        LotCorrection.Field.BEST_BEFORE: clean_best_before(papers.best_before, received_on=received_on),
        LotCorrection.Field.UNIT_COST: clean_unit_cost(papers.unit_cost),
    }
    changed = {field: value for field, value in clean.items() if value != getattr(row, field)}
    if LotCorrection.Field.RECEIVED_ON in changed:
        move_receipt(actor=actor, lot=row, day=received_on, why=reason, at=at)
    corrections = [
        LotCorrection.unscoped.create(
            workshop=actor.workshop, lot=row, field=field, before=_said(getattr(row, field)), after=_said(value),
            why=reason, at=at, **actor.signature,
        )
        for field, value in changed.items()
    ]  # fmt: skip
    for field, value in changed.items():
        setattr(row, field, value)
    if changed:
        row.save(update_fields=[str(field) for field in changed])
    return corrections


def _said(value: str | date | Decimal | None) -> str:
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    return "" if value is None else str(value)


def _check_purity(lot: Lot, name: str, value: Decimal) -> None:
    """Refuse a purity of lye that cannot be meant in per cent: not counted, it would be a silent one."""
    is_made, called = is_dissolved(lot), " ".join(name.split()).casefold()
    if lot.material.kind != Material.Kind.LYE or called not in (STRENGTH_NAMES if is_made else PURITY_NAMES):
        return
    if is_of_the_other(name, lot.material.name, is_dissolved=is_made):
        return
    low, high = PLAUSIBLE_STRENGTH if is_made else PLAUSIBLE_PURITY
    if 0 < value <= Decimal("1.005"):
        said = f"{value.normalize():f}"
        meant = f"{(value * 100).normalize():f}"
        raise Invalid("purity", f"A purity is typed in per cent, as on the certificate: {meant} and not {said}.", field="value")
    if not low <= value <= high:
        what = "strength of lye that was dissolved here" if is_made else "purity of lye"
        said = f"The {what} lies between {low} and {high}\u00a0%: check it against the certificate."
        raise Invalid("purity", said, field="value")


@transaction.atomic
def record_value(*, actor: Actor, lot: Lot, name: str, value: Decimal, unit: str, at: datetime) -> LotValue:
    """Record a figure of the lot's certificate, such as 98.5 % purity; the newest of a name counts."""
    if not value.is_finite() or abs(value) > _LARGEST_VALUE:
        raise Invalid("value", "The value is not a figure a certificate could hold: check it.", field="value")
    _check_purity(lot, name, value)
    return LotValue.unscoped.create(
        workshop=actor.workshop,
        lot=lot,
        name=clean_name(name, field="name", what="The value's name", longest=80),
        value=value.quantize(_VALUE_STEP),
        unit=clean_text(unit, field="unit", what="The unit", longest=40),
        at=at,
        **actor.signature,
    )
