"""Planned runs for whose day not everything will be there: what is short, by when to order it, when they could be poured."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from curehouse.core.stock.netting import RunCheck, check_run
from curehouse.flows.check_run import Sharers, Shares, planned_sharers, run_key
from curehouse.making.models import Run
from curehouse.workshops.models import Workshop
from inventory.models import Lot, Material, Order, OrderLine

# A pour is seen coming six weeks ahead, or as long before as its materials are to be ordered (our own choice, no source).
SEEN_AHEAD = timedelta(days=42)
ORDERED_SOON = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class Lack:
    """What a run lacks of a material, in grams: as orders likely and as they safely come.

    ``order_by``: the last day to order it so that it is safely here; ``safe_on``: when it is safely here if it is ordered
    today. Both are None where nobody knows how long it takes. ``written``: orders with it that are not sent.
    """

    material: Material
    likely_g: float
    safe_g: float
    order_by: date | None
    safe_on: date | None
    written: tuple[Order, ...]
    waiting: tuple[Lot, ...]


@dataclass(frozen=True, slots=True)
class FirstDays:
    """The first days on which a run can be poured so that no other goes shorter; None: not within four months."""

    likely: date | None
    safe: date | None


@dataclass(frozen=True, slots=True)
class RunRisk:
    """A planned run that lacks something: with what is here and on its way, and with an order today, its first days."""

    run: Run
    lacks: tuple[Lack, ...]
    as_it_is: FirstDays
    if_ordered: FirstDays

    @property
    def is_short(self) -> bool:
        """Return whether something likely lacks; otherwise all is there if orders come on their likely day."""
        return any(one.likely_g for one in self.lacks)


def runs_at_risk(*, workshop: Workshop, at: datetime) -> list[RunRisk]:
    """Return the runs of which it is to be said, the next first; as many queries however many runs there are.

    What is short is what the run's own page says. A run whose day is past is left to whoever says what became of it.
    """
    there = planned_sharers(workshop, at)
    shares = there.shares(there.runs)
    runs = Run.objects.within(workshop).named().planned().filter(pour_on__gte=there.today)
    lacking = [(run, short) for run in runs if (short := shares.short_of(run))]
    written = _written(workshop, {material.pk for _run, short in lacking for material, _likely, _safe in short})
    found = []
    for run, short in lacking:
        lacks = tuple(
            _lack(run, material, amounts, shares, there.today, written.get(material.pk, ())) for material, *amounts in short
        )
        if _is_soon(run, lacks, there.today):
            check = _checked(run, there)
            found.append(
                RunRisk(
                    run,
                    lacks,
                    FirstDays(_day(check.likely.first_day), _day(check.safe.first_day)),
                    FirstDays(_day(check.likely.first_day_if_ordered_today), _day(check.safe.first_day_if_ordered_today)),
                )
            )
    return found


def _is_soon(run: Run, lacks: Iterable[Lack], today: date) -> bool:
    by = [one.order_by for one in lacks if one.order_by is not None]
    return run.pour_on <= today + SEEN_AHEAD or (bool(by) and min(by) <= today + ORDERED_SOON)


def _lack(
    run: Run, material: Material, amounts: Iterable[float], shares: Shares, today: date, written: Iterable[Order]
) -> Lack:
    likely_g, safe_g = amounts
    key = str(material.pk)
    days = shares.delivery.get(key)
    waiting = (lot for lot in shares.waiting.get(key, ()) if not lot.best_before or lot.best_before >= run.pour_on)
    return Lack(
        material=material,
        likely_g=likely_g,
        safe_g=safe_g,
        order_by=None if days is None else run.pour_on - timedelta(days=days.safe),
        safe_on=None if days is None else today + timedelta(days=days.safe),
        written=tuple(written),
        waiting=tuple(waiting),
    )


def _checked(run: Run, there: Sharers) -> RunCheck:
    """Hold a run against all others, as if it were planned anew: so its first days take nothing from any of them."""
    own = next(one for one in there.runs if one.key == run_key(run))
    others = [one for one in there.runs if one.key != own.key]
    return check_run(own, others, there.here.room, there.today.toordinal())


def _written(workshop: Workshop, materials: Collection[int]) -> dict[int, list[Order]]:
    """Return the orders that are not sent, by the material that is on them."""
    found: dict[int, list[Order]] = {}
    lines = OrderLine.objects.within(workshop).filter(order__state=Order.State.WRITTEN, material__in=materials, packs__gt=0)
    for line in lines.select_related("order__supplier").order_by("order__number"):
        ones = found.setdefault(line.material_id, [])
        if line.order not in ones:
            ones.append(line.order)
    return found


def _day(ordinal: int | None) -> date | None:
    return None if ordinal is None else date.fromordinal(ordinal)
