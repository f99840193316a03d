"""The demo's storeroom, entered as a maker would have: deliveries with their papers, uses, a count, a slip."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal

from curehouse.common.time import local_day
from curehouse.flows.demo_goods import BOXES, GOODS, ORDERED, SUPPLIERS, TERMS, Delivery, boxed, deliveries_of, wants
from curehouse.flows.demo_story import Story
from curehouse.flows.order_notices import renew_orders
from curehouse.flows.orders import send_order
from curehouse.flows.propose import propose_now
from curehouse.flows.stock import count, end_store_count, give_back, receive, write_off
from curehouse.flows.stock_notices import renew_stock
from curehouse.flows.use_stock import UseLine, book_use, propose
from curehouse.making.models import Batch
from curehouse.workshops.actors import Actor
from inventory.models import Lot, Material, Movement, Supplier
from inventory.services.lots import ReceiptEntry, record_value
from inventory.services.offers import OfferEntry, TermsEntry, write_offer, write_terms
from inventory.services.orders import write_order
from inventory.services.things import MaterialEntry, SupplierEntry, write_material, write_supplier

_DEMO = Movement.Source.DEMO


def fill_storeroom(*, actor: Actor, stories: Sequence[Story], at: datetime) -> dict[str, Material]:
    """Enter the materials, the suppliers and every delivery; return the materials by name."""
    suppliers = {
        name: write_supplier(workshop=actor.workshop, entry=SupplierEntry(name, contact=contact)) for name, contact in SUPPLIERS
    }
    materials = {}
    for good in GOODS:
        materials[good.name] = write_material(workshop=actor.workshop, entry=MaterialEntry(good.name, good.kind))
    for number, delivery in enumerate(deliveries_of(stories, at=at), start=1):
        good, lot = delivery.good, delivery.lot
        entry = ReceiptEntry(
            material=materials[good.name],
            amount=Decimal(lot.amount),
            received_on=local_day(delivery.moment, actor.workshop.time_zone),
            supplier=suppliers[good.supplier],
            supplier_lot=_supplier_lot(delivery, number),
            best_before=local_day(at, actor.workshop.time_zone) + timedelta(days=lot.lasts) if lot.lasts else None,
            unit_cost=Decimal(good.cost),
            standing=lot.standing,
            why=lot.why or "looked at, papers read",
        )
        _take_in(actor, delivery, entry)
    return materials


def _supplier_lot(delivery: Delivery, number: int) -> str:
    letters = "".join(word[0] for word in delivery.good.supplier.split() if word[0].isalpha())
    return f"{letters}-{delivery.moment:%y%m}{number:02d}"


def _take_in(actor: Actor, delivery: Delivery, entry: ReceiptEntry) -> None:
    row = receive(actor=actor, entry=entry, at=delivery.moment, source=_DEMO)
    if delivery.lot.standing == Lot.Standing.RELEASED:
        for name, value, unit in delivery.good.values:
            record_value(actor=actor, lot=row, name=name, value=Decimal(value), unit=unit, at=delivery.moment)
    elif delivery.lot.standing == Lot.Standing.REJECTED:
        back = delivery.moment + timedelta(days=6)
        give_back(
            actor=actor, lot=row, amount=entry.amount, reason=delivery.lot.why, moment=back, at=back, source=_DEMO
        )  # fmt: skip


def take_for_pour(*, actor: Actor, materials: dict[str, Material], batch: Batch, story: Story) -> None:
    """Book what a batch took at its pour, first expired first."""
    lines = [line for name, amount in wants(story).items() for line in _lines(actor, materials[name], amount, batch.poured_at)]
    at = batch.cut_at or batch.poured_at
    book_use(actor=actor, batch=batch, lines=lines, used_at=batch.poured_at, at=at, source=_DEMO)


def take_boxes(*, actor: Actor, materials: dict[str, Material], batch: Batch, story: Story, at: datetime) -> None:
    """Book a box for each bar that was sold."""
    for moment, bars in boxed(story, at=at):
        lines = _lines(actor, materials[BOXES], Decimal(bars), moment)
        book_use(actor=actor, batch=batch, lines=lines, used_at=moment, at=moment, source=_DEMO)


def _lines(actor: Actor, material: Material, amount: Decimal, moment: datetime) -> list[UseLine]:
    day = local_day(moment, actor.workshop.time_zone)
    found = propose(workshop=actor.workshop, material=material, amount=amount, day=day)
    return [UseLine(lot, taken) for lot, taken in found.takes]


def order_goods(*, actor: Actor, materials: dict[str, Material], at: datetime) -> None:
    """Write down what suppliers sell, and two orders that are on the way, the first of them late; look what to order."""
    suppliers = {row.name: row for row in Supplier.objects.within(actor.workshop)}
    for name, (freight, free_from, surcharge, days) in TERMS.items():
        money = [None if one is None else Decimal(one) for one in (freight, free_from, surcharge)]
        write_terms(actor=actor, supplier=suppliers[name], terms=TermsEntry(*money, days))
    offers = {}
    for good in GOODS:
        price = (Decimal(good.cost) * good.pack).quantize(Decimal("0.01"))
        entry = OfferEntry(
            supplier=suppliers[good.supplier], material=materials[good.name], pack=Decimal(good.pack), price=price,
            breaks=[(4, (price * Decimal("0.93")).quantize(Decimal("0.01")))], is_hazardous=good.kind == Material.Kind.LYE,
            shelf_days=good.keeps_days,
        )  # fmt: skip
        offers[good.name] = write_offer(actor=actor, entry=entry, at=at - timedelta(days=190))
    for name, days_ago, packs in ORDERED:
        sent = at - timedelta(days=days_ago)
        wanted = {offers[good].pk: many for good, many in packs}
        order = write_order(actor=actor, supplier=suppliers[name], packs=wanted, at=sent)
        send_order(actor=actor, order=order, sent_on=local_day(sent, actor.workshop.time_zone), at=sent)
    renew_stock(workshop=actor.workshop, at=at)
    renew_orders(workshop=actor.workshop, at=at, tells_new=True)
    propose_now(actor=actor, at=at)


def look_after(*, actor: Actor, materials: dict[str, Material], at: datetime) -> None:
    """Count two lots, the second by eye, write off what was spilt, and say what the storeroom wants."""
    counted_at, spilt_at = at - timedelta(days=12), at - timedelta(days=5)
    what = {"actor": actor, "source": _DEMO}
    lot = _lot_of(actor, materials["Coconut oil"])
    later = Movement.objects.within(actor.workshop).filter(lot=lot, moment__gt=counted_at).total()
    there = lot.on_hand - later - 140
    why = "what sticks to the pail was never booked"
    counted = count(**what, lot=lot, counted=there, moment=counted_at, at=counted_at, reason=why, on_walk=True)
    by_eye = {"counted": None, "is_estimate": True, "moment": counted_at, "at": counted_at + timedelta(minutes=4)}
    count(**what, lot=_lot_of(actor, materials["Olive oil"]), **by_eye)
    # A batch came between, and the rest was left.
    walk = counted.count.store_count
    end_store_count(actor=actor, store_count=walk, at=counted_at + timedelta(minutes=9))
    oil = _lot_of(actor, materials["Sunflower oil"])
    write_off(**what, lot=oil, amount=Decimal(260), reason="spilt: the canister tipped over", moment=spilt_at, at=spilt_at)
    # So few are left that an order of them waits to be decided.
    boxes = _lot_of(actor, materials[BOXES])
    why = "wet: they stood under the window"
    write_off(**what, lot=boxes, amount=min(boxes.on_hand, Decimal(80)), reason=why, moment=spilt_at, at=spilt_at)
    renew_stock(workshop=actor.workshop, at=at, tells_new=True)


def _lot_of(actor: Actor, material: Material) -> Lot:
    return Lot.objects.within(actor.workshop).filter(material=material).in_stock().order_by("received_on", "pk")[0]
