"""What suppliers sell, as pages list it."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.urls import reverse

from curehouse.web.access import Visit
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.amounts import amount_words
from curehouse.web.reading.words import count
from curehouse.workshops.models import Workshop
from curehouse.workshops.roles import Right
from inventory.models import Offer, Supplier


@dataclass(frozen=True, slots=True)
class OfferLine:
    """An offer as a line; without costs where its reader may not know them."""

    pk: int
    name: str
    supplier: str
    href: str
    note: str
    price: str
    mark: Mark | None


def money_words(amount: Decimal, workshop: Workshop) -> str:
    """Return money as it is said: ``8.20 EUR``, with more places where a price has them."""
    cents = amount.quantize(Decimal("0.01"))
    return f"{cents if cents == amount else amount.normalize():f} {workshop.currency}"


def pack_words(offer: Offer, unit: str) -> str:
    """Return a pack: ``25 kg``, ``500 pieces``."""
    return amount_words(offer.pack, offer.material, unit)


def offer_lines(visit: Visit, offers: Iterable[Offer]) -> tuple[OfferLine, ...]:
    """Return *offers* (named) as lines."""
    return tuple(_line(visit, offer) for offer in offers)


def _line(visit: Visit, offer: Offer) -> OfferLine:
    workshop, sees_costs = visit.workshop, visit.may(Right.SEE_COSTS)
    note = [f"their number {offer.article}"] if offer.article else []
    if sees_costs:
        breaks = sorted(offer.breaks.all(), key=lambda one: one.from_packs)
        note += [f"from {one.from_packs} packs {money_words(one.price, workshop)}" for one in breaks]
    note += [f"sold from {offer.min_packs} packs"] if offer.min_packs > 1 else []
    note += [f"keeps {count(offer.shelf_days, 'day')} as it comes in"] if offer.shelf_days else []
    note += [f"comes after {count(offer.lead_days, 'day')}"] if offer.lead_days is not None else []
    note += ["hazard surcharge"] if offer.is_hazardous else []
    return OfferLine(
        pk=offer.pk,
        name=f"{offer.material.name}, {pack_words(offer, workshop.unit)}",
        supplier=offer.supplier.name,
        href=reverse("web:offer", args=[offer.pk]),
        note=", ".join(note),
        price=money_words(offer.price, workshop) if sees_costs else "",
        mark=mark_of("ended") if offer.ended_at else None,
    )


def terms_facts(visit: Visit, supplier: Supplier) -> list[tuple[str, str]]:
    """Return what a supplier asks beside the goods, and how long they say it takes."""
    found = []
    if visit.may(Right.SEE_COSTS):
        asked = {
            "freight of an order": supplier.freight, "no freight from": supplier.free_freight_from,
            "hazard surcharge": supplier.hazard_surcharge,
        }  # fmt: skip
        found = [(name, money_words(money, visit.workshop)) for name, money in asked.items() if money is not None]
    if supplier.lead_days is not None:
        found.append(("comes after, they say", count(supplier.lead_days, "day")))
    return found
