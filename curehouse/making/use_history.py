"""How materials were used so far, and how often anything is used here, as the core takes it that learns from it.

Whoever asks of the past of use asks here: what is ordered tonight, the pages, and what planning earlier is worth.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Count, Q

from curehouse.common.time import local_day, local_moment
from curehouse.core.stock.reorder.announced import share_open
from curehouse.core.stock.reorder.things import Planned, Use, Used
from curehouse.core.stock.reorder.unplanned import YEAR_DAYS, Floats, Season, learn_season, mean_rate
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop
from inventory.models import Lot, Material, Movement

# Two years tell a season and a growth; what is older tells less than it misleads.
KNOWN_DAYS = 2 * 365


@dataclass(frozen=True, slots=True)
class PastOfUse:
    """What was used here, one use a batch and material from however many lots, and what all of it tells.

    ``season`` is that of the pours: of all materials that a batch takes the uses fall on one day. ``mean_rate``: uses a day
    of a material that came in, in the last year. ``notices``: of the pours of the last year that were entered here, how long
    before their day they were planned, 0 where they never were; ``others``: how many uses of that year were of no batch.
    """

    uses: Mapping[int, list[Use]]
    first_days: Mapping[int, int]
    season: Season
    mean_rate: float
    notices: Sequence[int]
    others: int

    @property
    def announced(self) -> Floats:
        """Return the share of use on each day ahead that is not planned yet; without days where too few pours tell it."""
        return share_open(self.notices, self.others)

    def used(self, material: int) -> list[Use]:
        """Return the uses of a material, the oldest first."""
        return self.uses.get(material, [])

    def known_days(self, material: int) -> int:
        """Return for how many days its uses were written down, today counted."""
        return min(1 - self.first_days.get(material, 0), KNOWN_DAYS)


@dataclass(frozen=True, slots=True)
class UseHistory:
    """A material's uses beside its planned runs, and what the past of all tells; as in :class:`PastOfUse`."""

    known: Used
    season: Season
    mean_rate: float
    announced: Floats


def use_history(*, material: Material, planned: Sequence[Planned], at: datetime) -> UseHistory:
    """Return what is known of a material's use, *planned* runs beside it; see :func:`use_histories`."""
    return use_histories(workshop=material.workshop, planned={material.pk: planned}, at=at)[material.pk]


def use_histories(*, workshop: Workshop, planned: Mapping[int, Sequence[Planned]], at: datetime) -> dict[int, UseHistory]:
    """Return what is known of the use of each material that is a key of *planned*, its planned runs beside it."""
    past = past_of_use(workshop=workshop, at=at, materials=list(planned))
    announced = past.announced
    return {
        material: UseHistory(
            Used(str(material), past.used(material), past.known_days(material), runs), past.season, past.mean_rate, announced
        )
        for material, runs in planned.items()
    }


def past_of_use(*, workshop: Workshop, at: datetime, materials: Collection[int] | None = None) -> PastOfUse:
    """Read what was used in the last ``KNOWN_DAYS`` days, of all materials or of these; four queries however much there is.

    What all of it tells is told by all materials either way. How often anything is used is counted over a year and not read,
    so that it costs a page hardly more however old or large the house is.
    """
    today = local_day(at, workshop.time_zone)
    since = local_moment(today - timedelta(days=KNOWN_DAYS - 1), time.min, workshop.time_zone)
    pours = _pours(workshop, today, since)
    season = _season(pours, today)
    received = Material.objects.within(workshop).with_first_receipt().filter(first_received_on__isnull=False).order_by()
    first_days = {material: min((first - today).days, 0) for material, first in received.values_list("pk", "first_received_on")}
    known_days = [min(1 - day, int(YEAR_DAYS)) for day in first_days.values()]
    uses = _uses(workshop, materials, today, since)
    for material, of_material in uses.items():
        first_days[material] = min(first_days.get(material, 0), *(use.day for use in of_material))
    counts = _counts(workshop, at)
    return PastOfUse(
        uses=uses,
        first_days=first_days,
        season=season,
        mean_rate=mean_rate(counts["uses"], known_days, season),
        notices=[pour.notice_days for pour in pours if pour.notice_days is not None and pour.day > -YEAR_DAYS],
        others=counts["others"],
    )


def _counts(workshop: Workshop, at: datetime) -> dict[str, int]:
    """Return how often anything was used in the last year, and how many of these uses were of no batch.

    Planning pours plans none of the latter; when what was brought in was planned nobody knows.
    """
    others = Q(batch_use__isnull=True) & ~Q(source=Movement.Source.IMPORT)
    used = Movement.objects.within(workshop).used_since(at - timedelta(days=YEAR_DAYS))
    return used.aggregate(uses=Count("pk"), others=Count("pk", filter=others))


def _uses(workshop: Workshop, materials: Collection[int] | None, today: date, since: datetime) -> dict[int, list[Use]]:
    """Return what each batch took of each, the oldest first; what no batch is named for stands by itself."""
    rows = Movement.objects.within(workshop).used_since(since)
    if materials is not None:
        rows = Lot.objects.within(workshop).filter(material__in=materials).uses_since(since)
    taken: dict[int, dict[object, Use]] = {}
    rows = rows.order_by("moment", "pk").values_list("pk", "batch_use__batch", "lot__material", "moment", "amount")
    for key, batch, material, moment, amount in rows:
        day = min((local_day(moment, workshop.time_zone) - today).days, 0)
        one = ("movement", key) if batch is None else ("batch", batch)
        of_material = taken.setdefault(material, {})
        before = of_material.get(one)
        of_material[one] = Use(day, float(-amount) + (0.0 if before is None else before.quantity))
    return {material: list(of_material.values()) for material, of_material in taken.items()}


@dataclass(frozen=True, slots=True)
class Pour:
    """A pour, in days from today, and how long before it was planned; None where the house was not there to be told."""

    day: int
    notice_days: int | None


def _pours(workshop: Workshop, today: date, since: datetime) -> list[Pour]:
    rows = Batch.objects.within(workshop).filter(poured_at__gte=since).order_by()
    found = []
    for moment, announced_on, is_brought_in in rows.values_list("poured_at", "run__announced_on", "is_brought_in"):
        poured_on = local_day(moment, workshop.time_zone)
        notice = 0 if announced_on is None else max((poured_on - announced_on).days, 0)
        found.append(Pour(min((poured_on - today).days, 0), None if is_brought_in else notice))
    return found


def _season(pours: Sequence[Pour], today: date) -> Season:
    """Return the season of the pours: of all materials that a batch takes the uses fall on one day."""
    known_days = min(1 - min((pour.day for pour in pours), default=0), KNOWN_DAYS)
    poured = Used("pours", [Use(pour.day, 1.0) for pour in pours], known_days)
    return learn_season([poured], first_month=today.month - 1, day_of_month=today.day)
