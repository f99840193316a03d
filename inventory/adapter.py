"""Rows of the storeroom as the cores want them: days as ordinals, amounts as floats."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from curehouse.common.time import local_day
from curehouse.core.stock.allocation import LotOnHand
from curehouse.core.stock.cover import RECENT_DAYS, daily_use, days_of_cover
from curehouse.core.stock.storeroom import Arrival as Usable
from curehouse.core.stock.storeroom import DeliveryDays, OpenOrder
from curehouse.core.stock.storeroom import Lot as StockLot
from curehouse.workshops.models import Workshop
from inventory.models import Lot, Material, Movement, Offer, OrderLineStep
from inventory.queries.orders import EVEN, SAFE, Arrival


def lots_on_hand(lots: Iterable[Lot]) -> list[LotOnHand]:
    """Return the lots as :mod:`curehouse.core.stock.allocation` takes them."""
    return [
        LotOnHand(
            key=lot.pk,
            on_hand=float(lot.on_hand),
            received_day=lot.received_on.toordinal(),
            last_day=lot.best_before.toordinal() if lot.best_before else None,
            released=lot.standing == Lot.Standing.RELEASED,
        )
        for lot in lots
    ]


def lot_key(lot: Lot) -> str:
    """Return what a lot is called in :mod:`curehouse.core.stock.storeroom`."""
    return key_of_lot(lot.pk)


def key_of_lot(pk: int) -> str:
    """Return the same of a lot of which only its key in the database is at hand."""
    return f"lot {pk}"


def arrival_key(one: Arrival) -> str:
    """Return what a line of an order is called there."""
    return f"order line {one.line.pk}"


def stock_lots(lots: Iterable[Lot]) -> list[StockLot]:
    """Return usable lots as :mod:`curehouse.core.stock.storeroom` takes them, first expired first among equals."""
    return [
        StockLot(
            key=lot_key(lot),
            material=str(lot.material_id),
            amount_g=float(lot.on_hand),
            received_day=lot.received_on.toordinal(),
            last_day=lot.best_before.toordinal() if lot.best_before else float("inf"),
            released=lot.standing == Lot.Standing.RELEASED,
        )
        for lot in lots
    ]


@dataclass(frozen=True, slots=True)
class Deliveries:
    """What is on its way, as the core takes it, and in how many days what is ordered today would be here.

    Of a material that nobody offers, or of whose suppliers nobody knows how long they take, there are no days.
    """

    orders: list[OpenOrder]
    days: dict[str, DeliveryDays]


def deliveries(*, workshop: Workshop, arrivals: Collection[Arrival], materials: Collection[int]) -> Deliveries:
    """Return when *arrivals* come and how long orders of *materials* take, likely and safely; two queries.

    What is on its way comes when its order's page says. How long orders take, by what their suppliers took so far, and
    say; of several offers of a material by the one that is safely here first.
    """
    offers = list(Offer.objects.within(workshop).buyable().filter(material__in=materials).select_related("supplier"))
    took = OrderLineStep.objects.within(workshop).lead_days(suppliers={offer.supplier_id for offer in offers})
    days: dict[str, DeliveryDays] = {}
    for offer in offers:
        said = offer.lead_days if offer.lead_days is not None else offer.supplier.lead_days
        taken = took.lead_time(offer.supplier_id, offer.material_id, said=said)
        if taken is None:
            continue
        ours, known = DeliveryDays(taken.within(EVEN), taken.within(SAFE)), days.get(str(offer.material_id))
        if known is None or ours.safe < known.safe:
            days[str(offer.material_id)] = ours
    orders = [_open_order(one) for one in arrivals]
    return Deliveries([one for one in orders if one is not None], days)


def _open_order(one: Arrival) -> OpenOrder | None:
    if one.likely_on is None or one.safe_on is None:
        return None
    likely, safe = _usable_from(one, one.likely_on), _usable_from(one, one.safe_on)
    return OpenOrder(arrival_key(one), str(one.line.material_id), float(one.amount), likely, safe)


def early_arrivals(arrivals: Iterable[Arrival]) -> dict[str, Usable]:
    """Return when orders come at the earliest, by what they are called in the core."""
    return {arrival_key(one): _usable_from(one, one.early_on) for one in arrivals if one.early_on is not None}


def _usable_from(one: Arrival, day: date) -> Usable:
    keeps = float("inf") if one.line.shelf_days is None else one.line.shelf_days
    return Usable(day.toordinal(), day.toordinal() + keeps)


@dataclass(frozen=True, slots=True)
class Cover:
    """A material's recent use a day, and the days its usable stock lasts; None where none was used."""

    a_day: float | None
    days: float | None


def covers(*, workshop: Workshop, at: datetime, materials: Collection[int] | None = None) -> dict[int, Cover]:
    """Return the cover of every material of the workshop, or of *materials*, by its key, with two queries."""
    today = local_day(at, workshop.time_zone)
    since, wanted = at - timedelta(days=RECENT_DAYS), Material.objects.within(workshop)
    if materials is None:
        used = Movement.objects.within(workshop).used_since(since).used_by_material()
    else:
        wanted = wanted.filter(pk__in=materials)
        used = Lot.objects.within(workshop).filter(material__in=materials).used_by_material(since=since)
    found = {}
    for material in wanted.with_stock(on=today).with_first_receipt():
        a_day = daily_use(float(used.get(material.pk, 0)), _days_known(material.first_received_on, today))
        found[material.pk] = Cover(a_day, days_of_cover(float(material.usable), a_day))
    return found


def _days_known(first_received_on: date | None, today: date) -> int:
    return 0 if first_received_on is None else (today - first_received_on).days
