"""What a night looks at: every material with its past, what is here, on its way and planned, and who sells it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from statistics import median

from curehouse.common.time import local_day
from curehouse.core.stock.explode import from_stock_first
from curehouse.core.stock.lead_time import LeadTime, lead_time
from curehouse.core.stock.reorder.kept import KEEPS_DAYS, Coming, Kept, LeadFrom, Lot, Offered, Seller
from curehouse.core.stock.reorder.things import Planned
from curehouse.core.stock.stand_ins import settle
from curehouse.flows.dissolved import dissolved_here
from curehouse.flows.reserved import reserved_runs
from curehouse.flows.waiting_costs import WaitingCosts, waiting_costs
from curehouse.making.models import Run
from curehouse.making.use_history import KNOWN_DAYS, PastOfUse, past_of_use
from curehouse.workshops.models import Workshop
from inventory import models
from inventory.adapter import stock_lots
from inventory.blends import is_unkept, recipes_of
from inventory.queries.orders import Arrival, Taken
from inventory.to_order import not_now

# What a delivery takes where nobody has had one and nobody said: common practice, no source.
NOBODY_KNOWS_DAYS = 8.0


@dataclass(frozen=True, slots=True)
class Room:
    """The storeroom as the core takes it, and the rows by the keys it gives back."""

    today: date
    kept: list[Kept]
    sellers: list[Seller]
    past: PastOfUse
    # The last step of each supplier's orders, and the last time something was put off, as it was read.
    step_keys: Mapping[int, int]
    put_off_key: int
    materials: Mapping[str, models.Material]
    offers: Mapping[str, models.Offer]
    runs: Mapping[str, Run]
    waiting: WaitingCosts


def read_room(*, workshop: Workshop, at: datetime) -> Room:
    """Read it; as many queries however much there is."""
    today = local_day(at, workshop.time_zone)
    # First of all: what comes after them is noticed under the locks.
    step_keys = models.OrderStep.objects.within(workshop).newest_keys()
    put_off_key = models.PutOff.objects.within(workshop).newest_key()
    materials = models.Material.objects.within(workshop).in_use().exclude(kind=models.Material.Kind.BARS)
    offers = list(models.Offer.objects.within(workshop).buyable().named())
    put_off = not_now(workshop=workshop, on=today)
    asked_of = _asked_by_people(workshop)
    lives = _lives(workshop, at)
    took = models.OrderLineStep.objects.within(workshop).lead_days()
    past = past_of_use(workshop=workshop, at=at)
    lots = _lots(workshop, today)
    coming = _coming(models.OrderLine.objects.within(workshop).arrivals(on=today), took, lives, today)
    planned, runs = _planned(workshop, today, lots)
    sold: dict[int, list[Offered]] = {}
    for offer in offers:
        # What a person writes with one supplier is not written with another too.
        if offer.material_id not in put_off and asked_of.get(offer.material_id, offer.supplier_id) == offer.supplier_id:
            sold.setdefault(offer.material_id, []).append(_offered(offer, took, lives.get(offer.material_id)))
    kept = [
        Kept(
            key=str(one.pk),
            uses=past.used(one.pk),
            known_days=past.known_days(one.pk),
            lots=lots.get(one.pk, []),
            coming=coming.get(one.pk, []),
            planned=planned.get(one.pk, []),
            offers=sold.get(one.pk, []),
        )
        for one in materials
    ]
    suppliers = {offer.supplier_id: offer.supplier for offer in offers}
    waiting = waiting_costs(workshop=workshop, at=at)
    return Room(
        today=today,
        kept=kept,
        sellers=[_seller(suppliers[key], float(waiting.order_work)) for key in sorted(suppliers)],
        past=past,
        step_keys=step_keys,
        put_off_key=put_off_key,
        materials={str(one.pk): one for one in materials},
        offers={str(offer.pk): offer for offer in offers},
        runs={str(key): run for key, run in runs.items()},
        waiting=waiting,
    )


def _lots(workshop: Workshop, today: date) -> dict[int, list[Lot]]:
    found: dict[int, list[Lot]] = {}
    rows = models.Lot.objects.within(workshop)
    # What waits to be released is in the house: it is not bought a second time.
    for lot in (*rows.usable(on=today), *rows.waiting(on=today)):
        last_day = float("inf") if lot.best_before is None else (lot.best_before - today).days
        found.setdefault(lot.material_id, []).append(Lot(str(lot.pk), float(lot.on_hand), last_day))
    return found


def _coming(arrivals: Iterable[Arrival], took: Taken, lives: Mapping[int, int], today: date) -> dict[int, list[Coming]]:
    found: dict[int, list[Coming]] = {}
    for one in arrivals:
        line = one.line
        life = line.shelf_days or lives.get(line.material_id) or KEEPS_DAYS
        days = _days_from_today(one, took, today)
        found.setdefault(line.material_id, []).append(Coming(str(line.pk), float(one.amount), days, life))
    return found


def _days_from_today(one: Arrival, took: Taken, today: date) -> LeadTime:
    order, named = one.line.order, one.line.order.promised_on
    if named is not None and named >= today:
        return LeadTime((1.0,), (named - today).days)
    said = took.lead_time(order.supplier_id, one.line.material_id, said=one.line.lead_days)
    lead, age = said or lead_time((), NOBODY_KNOWS_DAYS), (today - order.sent_on).days
    # What would have come today may still come today.
    later = lead.still_open_after(max(age - 1, 0)) if age else lead
    return LeadTime(later.chances, max(later.first_day - age, 0))


def _planned(workshop: Workshop, today: date, lots: Mapping[int, list[Lot]]) -> tuple[dict[int, list[Planned]], dict[int, Run]]:
    found: dict[int, list[Planned]] = {}
    recipes = recipes_of(workshop)
    made = {key for key, one in recipes.items() if one.material.kind == models.Material.Kind.LYE}
    dissolved = models.Lot.objects.within(workshop).filter(material__in=made).usable(on=today).first_expired_first()
    usable = list(dissolved.named()) if made else []
    blends = {str(key): one.core_shares for key, one in recipes.items() if key not in made}
    left = {key: sum(lot.quantity for lot in lots.get(int(key), ())) for key in blends}
    reserved = reserved_runs(workshop, today)
    # By their days, as who pours first takes what is mixed.
    runs = [run for _row, run in sorted(reserved.values(), key=lambda one: (one[0].pour_on, one[0].pk))]
    stand_ins = dissolved_here(workshop, recipes, usable).stand_ins
    for run in settle(stand_ins, stock_lots(usable), runs).by_material():
        for key, grams in from_stock_first(run.needs, blends, left).items():
            if not is_unkept(key):
                found.setdefault(int(key), []).append(Planned(run.day - today.toordinal(), grams, str(reserved[run.key][0].pk)))
    return found, {row.pk: row for row, _run in reserved.values()}


def _offered(offer: models.Offer, took: Taken, usual_life: int | None) -> Offered:
    said = offer.lead_days if offer.lead_days is not None else offer.supplier.lead_days
    lead = took.lead_time(offer.supplier_id, offer.material_id, said=said)
    seen, others = took.counts(offer.supplier_id, offer.material_id)
    return Offered(
        key=str(offer.pk),
        seller=str(offer.supplier_id),
        pack=float(offer.pack),
        price=float(offer.price),
        lead=lead or lead_time((), NOBODY_KNOWS_DAYS),
        minimum_packs=offer.min_packs,
        breaks=[(one.from_packs, float(one.price)) for one in offer.breaks.all()],
        life_days=offer.shelf_days or usual_life or KEEPS_DAYS,
        is_hazardous=offer.is_hazardous,
        lead_from=LeadFrom(seen, others, NOBODY_KNOWS_DAYS if said is None else said, is_assumed=said is None),
    )


def _asked_by_people(workshop: Workshop) -> dict[int, int]:
    """Return the supplier of each material on orders that are written and that a person had a hand in."""
    touched = models.OrderStep.objects.within(workshop).by_people().filter(order__state="written").values("order")
    lines = models.OrderLine.objects.within(workshop).filter(order__in=touched)
    return dict(lines.values_list("material", "order__supplier"))


def _lives(workshop: Workshop, at: datetime) -> dict[int, int]:
    """Return for how many days lots of each material kept as they came, in the median, where they had a best-before."""
    lots = models.Lot.objects.within(workshop).filter(
        best_before__isnull=False, received_on__gt=local_day(at, workshop.time_zone) - timedelta(days=KNOWN_DAYS)
    )
    days: dict[int, list[int]] = {}
    for material, received_on, best_before in lots.values_list("material", "received_on", "best_before"):
        days.setdefault(material, []).append(max((best_before - received_on).days, 1))
    return {material: int(median(ones)) for material, ones in days.items()}


def _seller(supplier: models.Supplier, work: float) -> Seller:
    free_from = supplier.free_freight_from
    return Seller(
        key=str(supplier.pk),
        work=work,
        freight=float(supplier.freight or 0),
        free_from=float("inf") if free_from is None else float(free_from),
        surcharge=float(supplier.hazard_surcharge or 0),
    )
