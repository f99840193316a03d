"""What will be here of a material on each day to come: planned runs, orders, expiry, and use that nobody planned."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from curehouse.core.stock.ahead import Course, StockAhead, UseAhead, look_ahead
from curehouse.core.stock.allocation import NOTHING
from curehouse.core.stock.reorder.foreseen import use_ahead
from curehouse.core.stock.reorder.things import Planned
from curehouse.core.stock.storeroom import DeliveryDays, Outlook
from curehouse.flows.check_run import Sharers, run_key, sharers_of, waiting_of
from curehouse.flows.drafts_ahead import Draft, drafts_of
from curehouse.making.models import Run
from curehouse.making.use_history import UseHistory, use_histories
from inventory.adapter import arrival_key, early_arrivals, lot_key
from inventory.models import Lot, Material
from inventory.queries.orders import Arrival

LEAST_DAYS, MOST_DAYS = 90, 730
# What is used besides is said for so many days.
TOLD_DAYS = 28
# What a ledger keeps, and one piece.
_FINEST = {Material.Measure.GRAMS: 0.001, Material.Measure.PIECES: 1.0}


@dataclass(frozen=True, slots=True)
class DayFigures:
    """A day in grams or pieces: what is left at its end, likely and between which ends, by plan alone, and what moved it.

    ``if_sent`` would come by orders that are not sent, if they are sent in time: it is counted nowhere.
    """

    day: date
    left: float
    low: float
    high: float
    planned_left: float
    came: float
    expired: float
    into_runs: float
    unplanned: float
    lacking: float
    if_sent: float


@dataclass(frozen=True, slots=True)
class RunEvent:
    """A run on its day: what it needs, and what it lacks with usual use besides.

    ``short`` and ``short_safe`` are what lacks by plan alone, as orders likely and safely come: what its check says.
    ``made_up``: of what is made here, what its own lots do not give and its parts do.
    """

    day: date
    run: Run
    needed: float
    short: float
    short_safe: float
    lacking: float
    made_up: float = 0.0


@dataclass(frozen=True, slots=True)
class ArrivalEvent:
    """What an order brings, on its likely day; ``early`` and ``safe`` are the ends."""

    day: date
    arrival: Arrival
    amount: float
    early: date
    safe: date


@dataclass(frozen=True, slots=True)
class ExpiryEvent:
    """What is left of a lot (or of what an order will bring) on the first day on which it is expired, likely and at most."""

    day: date
    lot: Lot | None
    arrival: Arrival | None
    amount: float
    most: float


Event = RunEvent | ArrivalEvent | ExpiryEvent


@dataclass(frozen=True, slots=True)
class CourseFigures:
    """What a course comes to: from when something lacks and how much in all, from when nothing is left, by when to order."""

    short_on: date | None
    lacking: float
    used_up_on: date | None
    order_by: date | None


@dataclass(frozen=True, slots=True)
class UseFigures:
    """Use besides planned runs over the next ``TOLD_DAYS`` days, and from how many uses in how many days that is learnt.

    Up to ``planned_to`` as much is planned as is usual, so hardly any more is expected.
    """

    uses: int
    known_days: int
    little: float
    usual: float
    much: float
    planned_to: date | None


@dataclass(frozen=True, slots=True)
class Ahead:
    """What will be here of a material.

    ``dayless`` are orders of which nobody knows when they come, ``waiting`` lots that count only once a person releases
    them, ``drafts`` what orders would bring that are not sent. Without ``use`` none of it was used so far.
    """

    material: Material
    usable: float
    days: list[DayFigures]
    events: list[Event]
    planned: CourseFigures
    likely: CourseFigures
    lean: CourseFigures
    use: UseFigures | None
    waiting: list[Lot]
    dayless: list[Arrival]
    drafts: list[Draft]

    @property
    def is_empty(self) -> bool:
        """Return whether there is nothing to look ahead to: nothing here, on its way or planned, and no use known."""
        return not (self.usable or self.events or self.use)


def stock_ahead(*, material: Material, at: datetime) -> Ahead:
    """Look ahead for ninety days, or to the furthest run or order if that is later; a constant number of queries.

    All is counted as when a run is checked (``flows/check_run.py``): by planned runs alone a run is short here just
    where it is short there.
    """
    there = sharers_of(material.workshop, [material], at=at)
    looked = look_at(there, at=at)[material.pk]
    found, use, history = looked.found, looked.use, looked.history
    delivery = there.here.room.delivery.get(str(material.pk))
    drafts = drafts_of(material=material, today=there.today)
    known = {order.key for order in there.here.room.orders}
    return Ahead(
        material=material,
        usable=_told(found.likely.opening),
        days=_days(found, drafts),
        events=sorted(_events(found, there), key=lambda one: one.day),
        planned=_course(found.planned, delivery),
        likely=_course(found.likely, delivery),
        lean=_course(found.lean, delivery),
        use=None if use is None else _use(use, history, there.today),
        waiting=waiting_of(material.workshop, [str(material.pk)], there.today).get(str(material.pk), []),
        dayless=[one for one in there.here.arrivals if one.line.material_id == material.pk and arrival_key(one) not in known],
        drafts=drafts,
    )


@dataclass(frozen=True, slots=True)
class Looked:
    """What the core says of a material, and the use beside planned runs it was told."""

    found: StockAhead
    use: UseAhead | None
    history: UseHistory


def look_at(there: Sharers, *, at: datetime) -> dict[int, Looked]:
    """Look ahead for each material of *there*, by its key; four queries however many they are."""
    today = there.today.toordinal()
    # Of what is made from others, and of its parts, as netting has it.
    days = {run.key: run.day - today for run in there.runs}
    planned: dict[int, list[Planned]] = {material.pk: [] for material in there.materials.values()}
    for one in there.net(there.runs, Outlook.LIKELY):
        if days[one.run] > 0:
            planned[there.materials[one.material].pk].append(Planned(days[one.run], one.needed_g, one.run))
    histories = use_histories(workshop=there.workshop, planned=planned, at=at)
    early = early_arrivals(there.here.arrivals)
    looked = {}
    for key, material in there.materials.items():
        history, last_day = histories[material.pk], _last_day(there, key, planned[material.pk])
        use = use_ahead(
            history.known,
            history.season,
            history.mean_rate,
            last_day - today,
            announced=history.announced,
            finest=_FINEST[Material.Measure(material.measure)],
        )
        found = look_ahead(there.here.room, there.runs, key, today=today, last_day=last_day, early=early, unplanned=use)
        looked[material.pk] = Looked(found, use, history)
    return looked


def _last_day(there: Sharers, material: str, planned: Iterable[Planned]) -> int:
    today = there.today.toordinal()
    furthest = [today + one.day for one in planned]
    furthest += [order.safe.day for order in there.here.room.orders if order.material == material]
    return min(max(today + LEAST_DAYS, *furthest, today), today + MOST_DAYS)


def _told(amount: float) -> float:
    """Return an amount as it is told everywhere: to the milligram, as it is kept."""
    return round(amount, 3) + 0.0


def _days(found: StockAhead, drafts: list[Draft]) -> list[DayFigures]:
    rows = []
    would_come: dict[int, float] = {}
    for draft in drafts:
        if draft.is_written and draft.day is not None:
            would_come[draft.day.toordinal()] = would_come.get(draft.day.toordinal(), 0.0) + draft.amount
    for place, (one, by_plan) in enumerate(zip(found.likely.days, found.planned.days, strict=True)):
        low, high = found.between(place)
        amounts = (one.left, low, high, by_plan.left, one.came, one.expired, one.into_runs, one.unplanned, one.lacking)
        amounts = (*amounts, would_come.get(one.day, 0.0))
        rows.append(DayFigures(date.fromordinal(one.day), *map(_told, amounts)))
    return rows


def _events(found: StockAhead, there: Sharers) -> Iterator[Event]:
    lots = {lot_key(lot): lot for lot in there.lots}
    arrivals = {arrival_key(one): one for one in there.here.arrivals}
    yield from _arrivals(found, arrivals)
    yield from _expiries(found, lots, arrivals)
    keys = {int(run.key.removeprefix("run ")) for run in there.runs}
    runs = {run_key(run): run for run in Run.objects.within(there.workshop).filter(pk__in=keys).named()}
    for one, safe in zip(found.likely.runs, found.lean.runs, strict=True):
        amounts = (one.needed, one.short, safe.short, one.lacking, one.made_up)
        yield RunEvent(date.fromordinal(one.day), runs[one.run], *map(_told, amounts))


def _arrivals(found: StockAhead, arrivals: Mapping[str, Arrival]) -> Iterator[ArrivalEvent]:
    for one in found.likely.comes:
        # A lot that is dated later than today is no order.
        if (arrival := arrivals.get(one.supply)) is not None:
            day = date.fromordinal(one.day)
            yield ArrivalEvent(day, arrival, _told(one.amount), arrival.early_on or day, arrival.safe_on or day)


def _expiries(found: StockAhead, lots: Mapping[str, Lot], arrivals: Mapping[str, Arrival]) -> Iterator[ExpiryEvent]:
    likely = {one.supply: one for one in found.likely.expires}
    most: dict[str, float] = {}
    days: dict[str, int] = {}
    for course in (found.likely, found.ample, found.lean):
        for one in course.expires:
            most[one.supply] = max(most.get(one.supply, 0.0), one.amount)
            days.setdefault(one.supply, one.day)
    for key, amount in most.items():
        if amount > NOTHING:
            own = likely[key].amount if key in likely else 0.0
            day = date.fromordinal(days[key])
            yield ExpiryEvent(day, lots.get(key), arrivals.get(key), _told(own), _told(amount))


def _course(course: Course, delivery: DeliveryDays | None) -> CourseFigures:
    short_on, used_up_on = course.short_on, course.used_up_on
    order_by = None if short_on is None or delivery is None else date.fromordinal(short_on - delivery.safe)
    return CourseFigures(
        short_on=None if short_on is None else date.fromordinal(short_on),
        lacking=_told(sum(one.lacking for one in course.days)),
        used_up_on=None if used_up_on is None else date.fromordinal(used_up_on),
        order_by=order_by,
    )


def _use(use: UseAhead, history: UseHistory, today: date) -> UseFigures:
    last_planned = max((one.day for one in history.known.planned), default=0)
    little, usual, much = (_told(sums[TOLD_DAYS - 1]) for sums in (use.little, use.usual, use.much))
    return UseFigures(
        uses=len(history.known.uses),
        known_days=history.known.known_days,
        little=little,
        usual=usual,
        much=much,
        planned_to=today + timedelta(days=last_planned) if last_planned and not use.usual[last_planned - 1] else None,
    )
