"""The only writer of what suppliers sell, and of what they ask beside the goods."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict, Invalid, NotHere
from curehouse.common.locking import lock_rows
from curehouse.workshops.actors import Actor
from inventory.models import MOST_LEAD_DAYS, MOST_PACKS, MOST_SHELF_DAYS, Material, Offer, OfferBreak, Supplier
from inventory.order_totals import CENT
from inventory.services.entries import clean_amount, clean_text

logger = logging.getLogger(__name__)

PRICE_STEP = Decimal("0.0001")
_MOST_MONEY = Decimal(9_999_999)
MOST_BREAKS = 8


@dataclass(frozen=True, slots=True)
class OfferEntry:
    """An offer as entered: *pack* in grams or pieces, *price* of one pack, *breaks* as (from so many packs, price)."""

    supplier: Supplier
    material: Material
    pack: Decimal
    price: Decimal
    breaks: Sequence[tuple[int, Decimal]] = ()
    min_packs: int = 1
    article: str = ""
    is_hazardous: bool = False
    shelf_days: int | None = None
    lead_days: int | None = None


@dataclass(frozen=True, slots=True)
class TermsEntry:
    """What a supplier asks beside the goods, and how many days they say it takes; None where it is not known."""

    freight: Decimal | None = None
    free_freight_from: Decimal | None = None
    hazard_surcharge: Decimal | None = None
    lead_days: int | None = None


def clean_money(amount: Decimal, *, field: str, what: str, step: Decimal = CENT) -> Decimal:
    """Return an amount of money to *step*; 0 or more."""
    if not amount.is_finite() or not 0 <= amount <= _MOST_MONEY:
        raise Invalid("money", f"{what} lies between 0 and {_MOST_MONEY}: check the figure.", field=field)
    return amount.quantize(step)


def clean_packs(packs: int, *, field: str, what: str, least: int = 1) -> int:
    """Return a number of packs."""
    if not least <= packs <= MOST_PACKS:
        raise Invalid("packs", f"{what}: type a whole number from {least} to {MOST_PACKS}.", field=field)
    return packs


def clean_days(days: int | None, *, least: int, most: int, field: str, what: str) -> int | None:
    """Return a number of days, or None where nobody said."""
    if days is not None and not least <= days <= most:
        raise Invalid(field, f"{what}: type a whole number of days from {least} to {most}, or leave it empty.", field=field)
    return days


def _clean_breaks(entry: OfferEntry, price: Decimal) -> list[tuple[int, Decimal]]:
    if len(entry.breaks) > MOST_BREAKS:
        raise Invalid("breaks", f"An offer has up to {MOST_BREAKS} cheaper prices: keep to the largest.", field="breaks")
    clean: list[tuple[int, Decimal]] = []
    for packs, asked in sorted(entry.breaks):
        packs = clean_packs(packs, field="breaks", what="A cheaper price begins at a number of packs", least=2)
        lower = clean_money(asked, field="breaks", what=f"The price from {packs} packs on", step=PRICE_STEP)
        if clean and packs == clean[-1][0]:
            raise Invalid("break_twice", f"There are two prices from {packs} packs on: keep one.", field="breaks")
        before = clean[-1][1] if clean else price
        if lower >= before:
            said = f"From {packs} packs on a pack costs {lower.normalize():f}, not less than before: check the price."
            raise Invalid("break_not_cheaper", said, field="breaks")
        clean.append((packs, lower))
    return clean


def _columns_of(entry: OfferEntry) -> dict[str, object]:
    return {
        "article": clean_text(entry.article, field="article", what="The supplier's number of it", longest=80),
        "pack": clean_amount(entry.pack, entry.material, field="pack", what="The pack"),
        "price": clean_money(entry.price, field="price", what="The price of a pack", step=PRICE_STEP),
        "min_packs": clean_packs(entry.min_packs, field="min_packs", what="The fewest packs"),
        "is_hazardous": entry.is_hazardous,
        "shelf_days": clean_days(
            entry.shelf_days, least=1, most=MOST_SHELF_DAYS, field="shelf_days", what="How long it keeps as it comes in"
        ),
        "lead_days": clean_days(
            entry.lead_days, least=0, most=MOST_LEAD_DAYS, field="lead_days", what="How long it takes to come"
        ),
    }  # fmt: skip


@transaction.atomic
def write_offer(*, actor: Actor, entry: OfferEntry, at: datetime, follows: Offer | None = None) -> Offer:
    """Write what a supplier sells; the same pack under the same article number stands once."""
    workshop = actor.workshop
    supplier = Supplier.objects.within(workshop).get_here(entry.supplier.pk, what="supplier")
    # Locked, so that its measure stays meanwhile.
    material = lock_rows(Material.objects.within(workshop), [entry.material.pk]).get(entry.material.pk)
    if material is None:
        raise NotHere("not_here", "There is no such material in this workshop.", field="material")
    columns = _columns_of(entry)
    breaks = _clean_breaks(entry, columns["price"])
    said = f"{supplier} sells {material} in this pack already: change that offer, or name the supplier's other number of it."
    with answered(Offer, {"offer_once": Conflict("offer_taken", said, field="pack")}):
        offer = Offer.unscoped.create(
            workshop=workshop, supplier=supplier, material=material, follows=follows, written_at=at,
            **columns, **actor.signature,
        )  # fmt: skip
    OfferBreak.unscoped.bulk_create(
        OfferBreak(workshop=workshop, offer=offer, from_packs=packs, price=price) for packs, price in breaks
    )
    logger.info("offer written: workshop=%s offer=%s", workshop.pk, offer.pk)
    return offer


@transaction.atomic
def change_offer(*, actor: Actor, offer: Offer, entry: OfferEntry, at: datetime) -> Offer:
    """End an offer and write what is sold instead; what was ordered by the old one stays as it was."""
    row = end_offer(actor=actor, offer=offer, at=at)
    return write_offer(actor=actor, entry=entry, at=at, follows=row)


@transaction.atomic
def end_offer(*, actor: Actor, offer: Offer, at: datetime) -> Offer:
    """End an offer: it stays on record and is not ordered any more."""
    row = lock_rows(Offer.objects.within(actor.workshop).select_related("material", "supplier"), [offer.pk]).get(offer.pk)
    if row is None:
        raise NotHere("not_here", "There is no such offer in this workshop.")
    if row.ended_at is not None:
        raise Conflict("ended", f"This offer of {row.material} has ended already: look at what is sold now.", field="offer")
    row.ended_at = at
    row.save(update_fields=["ended_at"])
    return row


def price_of(offer: Offer, packs: int) -> Decimal:
    """Return what a pack costs where so many are ordered at once (*offer* with its breaks)."""
    reached = [one for one in offer.breaks.all() if one.from_packs <= packs]
    return max(reached, key=lambda one: one.from_packs).price if reached else offer.price


@transaction.atomic
def write_terms(*, actor: Actor, supplier: Supplier, terms: TermsEntry) -> Supplier:
    """Write what a supplier asks beside the goods, for orders that are not sent yet."""
    row = lock_rows(Supplier.objects.within(actor.workshop), [supplier.pk]).get(supplier.pk)
    if row is None:
        raise NotHere("not_here", "There is no such supplier in this workshop.")
    what = {
        "freight": "The freight", "free_freight_from": "Free freight begins at an amount, which",
        "hazard_surcharge": "The hazard surcharge",
    }  # fmt: skip
    for name, words in what.items():
        amount = getattr(terms, name)
        setattr(row, name, None if amount is None else clean_money(amount, field=name, what=words))
    row.lead_days = clean_days(
        terms.lead_days, least=0, most=MOST_LEAD_DAYS, field="lead_days", what="How long it takes to come"
    )  # fmt: skip
    row.save(update_fields=[*what, "lead_days"])
    return row
