"""How a material was used so far, and how often anything is used here, as the core takes it that learns from it."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from curehouse.common.time import local_day
from curehouse.core.stock.cover import RECENT_DAYS
from curehouse.core.stock.reorder.announced import share_open
from curehouse.core.stock.reorder.things import Planned, Use, Used
from curehouse.core.stock.reorder.unplanned import YEAR_DAYS, Floats, Season, learn_season, mean_rate
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop
from inventory.models import Lot, Material, Movement

# What was used before hardly counts: it does half as much for every 180 days.
MOST_KNOWN_DAYS = 3 * 365
# A season is told by whole years, growth by two of them.
SEASON_DAYS = 2 * 365


@dataclass(frozen=True, slots=True)
class UseHistory:
    """A material's uses, one a batch from however many lots; the season of all pours; the uses a day of any material.

    ``announced``: the share of use on each day ahead that is not planned yet, by how long before their day the pours of
    the last year were planned; empty where too few tell it.
    """

    known: Used
    season: Season
    mean_rate: float
    announced: Floats


def use_history(*, material: Material, planned: Sequence[Planned], at: datetime) -> UseHistory:
    """Return what is known of a material's use, *planned* runs beside it; see :func:`use_histories`."""
    return use_histories(workshop=material.workshop, planned={material.pk: planned}, at=at)[material.pk]


def use_histories(*, workshop: Workshop, planned: Mapping[int, Sequence[Planned]], at: datetime) -> dict[int, UseHistory]:
    """Return what is known of the use of each material that is a key of *planned*, its planned runs beside it.

    Five queries, however many they are. How often anything is used is counted over the last ``RECENT_DAYS`` days, so
    that it costs the same however long the house has been kept.
    """
    today = local_day(at, workshop.time_zone)
    pours = pours_since(workshop, today, at)
    season = _season(pours, today)
    used = _uses(workshop, list(planned), today, at)
    materials = Material.objects.within(workshop).with_first_receipt().order_by()
    first_receipts = dict(materials.values_list("pk", "first_received_on"))
    recent = Movement.objects.within(workshop).used_since(at - timedelta(days=RECENT_DAYS)).count()
    rate = mean_rate(recent, [min(_days_known(day, today), RECENT_DAYS) for day in first_receipts.values()], season)
    announced = announced_by(workshop=workshop, pours=pours, at=at)
    found = {}
    for material, runs in planned.items():
        uses = used.get(material, [])
        known_days = max(_days_known(first_receipts.get(material), today), *(1 - use.day for use in uses), 1)
        known = Used(str(material), uses, min(known_days, MOST_KNOWN_DAYS), runs)
        found[material] = UseHistory(known, season, rate, announced)
    return found


def _days_known(first: date | None, today: date) -> int:
    return 0 if first is None else max((today - first).days + 1, 0)


def _uses(workshop: Workshop, materials: Collection[int], today: date, at: datetime) -> dict[int, list[Use]]:
    """Return what each batch took of each, the oldest first; what no batch is named for stands by itself."""
    lots = Lot.objects.within(workshop).filter(material__in=materials)
    rows = lots.uses_since(at - timedelta(days=MOST_KNOWN_DAYS)).order_by("moment", "pk")
    taken: dict[int, dict[object, Use]] = {}
    for key, batch, material, moment, amount in rows.values_list("pk", "batch_use__batch", "lot__material", "moment", "amount"):
        day = min((local_day(moment, workshop.time_zone) - today).days, 0)
        one = ("movement", key) if batch is None else ("batch", batch)
        of_material = taken.setdefault(material, {})
        before = of_material.get(one)
        of_material[one] = Use(day, float(-amount) + (0.0 if before is None else before.quantity))
    return {
        material: [use for use in of_material.values() if use.day > -MOST_KNOWN_DAYS] for material, of_material in taken.items()
    }


@dataclass(frozen=True, slots=True)
class Pour:
    """A pour, in days from today, and how long before it was planned; None where the house was not there to be told."""

    day: int
    notice_days: int | None


def pours_since(workshop: Workshop, today: date, at: datetime) -> list[Pour]:
    since = at - timedelta(days=SEASON_DAYS)
    rows = Batch.objects.within(workshop).filter(poured_at__gte=since).order_by()
    found = []
    for moment, announced_on, is_brought_in in rows.values_list("poured_at", "run__announced_on", "is_brought_in"):
        poured_on = local_day(moment, workshop.time_zone)
        notice = 0 if announced_on is None else max((poured_on - announced_on).days, 0)
        found.append(Pour(min((poured_on - today).days, 0), None if is_brought_in else notice))
    return found


def announced_by(*, workshop: Workshop, pours: Sequence[Pour], at: datetime) -> Floats:
    """Return the share of use on each day ahead that is not planned yet, by *pours* of the last year; without days where
    too few tell it.

    What was used of no batch is not planned by planning pours. Of what was brought in nobody knows; one query.
    """
    notices = [pour.notice_days for pour in pours if pour.notice_days is not None and pour.day > -YEAR_DAYS]
    used = Movement.objects.within(workshop).used_since(at - timedelta(days=YEAR_DAYS))
    others = used.filter(batch_use__isnull=True).exclude(source=Movement.Source.IMPORT).count()
    return share_open(notices, others)


def _season(pours: Sequence[Pour], today: date) -> Season:
    """Return the season of the pours: of all materials that a batch takes the uses fall on one day."""
    known_days = min(1 - min((pour.day for pour in pours), default=0), SEASON_DAYS)
    poured = Used("pours", [Use(pour.day, 1.0) for pour in pours], known_days)
    return learn_season([poured], first_month=today.month - 1, day_of_month=today.day)
