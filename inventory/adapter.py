"""Rows of the storeroom as the cores want them: days as ordinals, amounts as floats."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from curehouse.common.time import local_day
from curehouse.core.stock.allocation import LotOnHand
from curehouse.core.stock.cover import RECENT_DAYS, daily_use, days_of_cover
from curehouse.workshops.models import Workshop
from inventory.models import Lot, Material, Movement


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
