"""What suppliers sell, as pages list it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.urls import reverse

from curehouse.web.access import Visit
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.amounts import amount_words
from curehouse.web.reading.days import Calendar
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
    until: str = ""


@dataclass(frozen=True, slots=True)
class Cost:
    """What a pack cost, and while it did."""

    words: str
    href: str
    is_this: bool


def money_words(amount: Decimal, workshop: Workshop) -> str:
    """Return money as it is said: ``8.20 EUR``, with more places where a price has them."""
    cents = amount.quantize(Decimal("0.01"))
    return f"{cents if cents == amount else amount.normalize():f} {workshop.currency}"


def money_of(visit: Visit) -> Callable[[Decimal], str] | None:
    """Return how money is said to a visitor; None to one who sees no costs."""
    return (lambda amount: money_words(amount, visit.workshop)) if visit.may(Right.SEE_COSTS) else None


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
        until=Calendar(workshop, visit.at).day(offer.ended_at) if offer.ended_at else "",
    )


def costs_over_time(visit: Visit, offer: Offer) -> tuple[Cost, ...]:
    """Return what a pack costs and cost before, the newest first, to whoever sees costs; nothing where it never changed."""
    if not visit.may(Right.SEE_COSTS):
        return ()
    # Other terms are another offer of the same material by the same supplier, that follows.
    rows = Offer.objects.within(visit.workshop).filter(supplier=offer.supplier_id, material=offer.material_id).named()
    by_key, followed_by = {row.pk: row for row in rows}, {row.follows_id: row.pk for row in rows if row.follows_id}
    newest = offer.pk
    while newest in followed_by:
        newest = followed_by[newest]
    line = [by_key[newest]]
    while line[-1].follows_id is not None:
        line.append(by_key[line[-1].follows_id])
    calendar = Calendar(visit.workshop, visit.at)
    return tuple(_cost(one, visit, calendar, is_this=one.pk == offer.pk) for one in line) if len(line) > 1 else ()


def _cost(offer: Offer, visit: Visit, calendar: Calendar, *, is_this: bool) -> Cost:
    said = [f"{pack_words(offer, visit.workshop.unit)}: {money_words(offer.price, visit.workshop)} a pack"]
    said += [f"since {calendar.day(offer.written_at)}"] if offer.follows_id else []
    said += [f"until {calendar.day(offer.ended_at)}"] if offer.ended_at else []
    return Cost(" ".join(said), reverse("web:offer", args=[offer.pk]), is_this)


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
