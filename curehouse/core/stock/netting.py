"""Whether a run can be poured on a day, from what, what is missing, and when it first can be.

Runs that are there already are protected: a new one may have only what leaves each of them as well
supplied as it would be without it. Of each material that is what ``supplied.free`` says.

From one day to the next a run becomes possible only because something comes; what expires can only
make it impossible. So the first possible day is the day that was asked for or one on which one of
the run's materials comes, and no other day is looked at.

Before anything is netted it is settled which runs take a lot in the place of another material (``stand_ins``).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from curehouse.core.stock.allocation import NOTHING
from curehouse.core.stock.netted import Asked, FreeOn, NettedMaterial, asked_on, free_if_ordered, free_on, net
from curehouse.core.stock.stand_ins import Instead, Settled, settle
from curehouse.core.stock.storeroom import Outlook, Run, Storeroom, check_runs, check_storeroom
from curehouse.core.stock.supplied import Demand, Taken, serve

HORIZON_DAYS = 120


@dataclass(frozen=True, slots=True)
class Supplied:
    """How one material of a run stands on its day, in grams, by one outlook.

    What is here and what comes in time, less what runs up to that day take of it, less what has to
    be left for later runs, is free: ``here_g + coming_g - taken_before_g - kept_for_later_g == free_g``.
    """

    needed_g: float
    here_g: float
    coming_g: float
    taken_before_g: float
    kept_for_later_g: float
    free_g: float
    short_g: float
    # Of a blend: what its own lots do not give and is made up from its parts.
    made_up_g: float
    takes: tuple[Taken, ...]


@dataclass(frozen=True, slots=True)
class MaterialCheck:
    """One material of a run, or one of its blends that has lots, on the day that was asked for.

    Of what it takes ``instead`` of another material all figures are those of the one lot that it takes.
    """

    material: str
    likely: Supplied
    safe: Supplied
    # The last day to order what is short so that it is safely here; None where nothing is, or no time is known.
    order_by: int | None
    too_late: bool
    instead: Instead | None = None


@dataclass(frozen=True, slots=True)
class Prospect:
    """Whether a run is possible on its day, and the first days on which it is, by one outlook."""

    possible: bool
    first_day: int | None
    first_day_if_ordered_today: int | None
    takes_on_first_day: Mapping[str, tuple[Taken, ...]]


@dataclass(frozen=True, slots=True)
class RunCheck:
    """What is to be said of a run on its day."""

    materials: tuple[MaterialCheck, ...]
    likely: Prospect
    safe: Prospect


@dataclass(frozen=True, slots=True)
class RunMaterial:
    """What a run that is planned gets of one material, by one outlook."""

    run: str
    material: str
    needed_g: float
    short_g: float
    takes: tuple[Taken, ...]
    instead: Instead | None = None


def check_run(run: Run, others: Sequence[Run], room: Storeroom, today: int, horizon_days: int = HORIZON_DAYS) -> RunCheck:
    """Hold *run* against the storeroom, with *others* protected.

    First days are looked for from the run's own day to *horizon_days* from *today*. With an order
    today, as much as anybody needs of every material whose delivery time is known is here from then
    on and never expires.

    Raises
    ------
    ValueError
        An amount below zero, days out of order, a day that is past, a blend made of itself, or a key
        that stands for two things; the message says what to do.
    """
    check_storeroom(room)
    check_runs([*others, run], today)
    end = max(run.day, today + horizon_days)
    settled = settle(room.stand_ins, room.lots, others)
    new = _New(run, room, settled, end)
    netted = net(room, settled.runs, Outlook.LIKELY, settled.items(run))
    likely = rows, prospect = _rows(new, netted), _prospect(new, netted, Outlook.LIKELY, today)
    safe_rows, safe_prospect = likely
    if not room.comes_as_likely:
        netted = net(room, settled.runs, Outlook.SAFE, settled.items(run))
        safe_rows, safe_prospect = _rows(new, netted), _prospect(new, netted, Outlook.SAFE, today)
    instead = {one.lot: one.instead for one in settled.chosen_on(run, run.day)}
    materials = []
    # What one outlook takes from a blend's own lots, it does not need of the parts.
    for material in sorted({*rows, *safe_rows}):
        by_likely, by_safe = rows.get(material, _NOTHING_NEEDED), safe_rows.get(material, _NOTHING_NEEDED)
        order_by = None
        if (by_likely.short_g or by_safe.short_g) and material in room.delivery:
            order_by = run.day - room.delivery[material].safe
        too_late = order_by is not None and order_by < today
        what = settled.material_of(material)
        materials.append(MaterialCheck(what, by_likely, by_safe, order_by, too_late, instead.get(material)))
    return RunCheck(tuple(materials), prospect, safe_prospect)


def net_runs(runs: Sequence[Run], room: Storeroom, today: int, outlook: Outlook) -> tuple[RunMaterial, ...]:
    """Return what each of *runs* gets of each material, in the order of their days; raises as ``check_run``.

    Who was there first (``turn``) is served first, so that a run that was checked and is then planned leaves
    every other as it was.
    """
    check_storeroom(room)
    check_runs(runs, today)
    days = {run.key: (run.day, place) for place, run in enumerate(runs)}
    settled = settle(room.stand_ins, room.lots, runs)
    found = []
    for material, own in net(room, settled.runs, outlook).items():
        for place, (demand, amount) in enumerate(zip(own.demands, own.served.amounts, strict=True)):
            short = 0.0 if material in room.blends else demand.amount - amount
            if demand.amount > NOTHING:
                takes = own.served.takes(place, own.supplies)
                what, instead = settled.material_of(material), settled.instead(demand.key, material)
                found.append(RunMaterial(demand.key, what, demand.amount, short, takes, instead))
    return tuple(sorted(found, key=lambda one: (days[one.run], one.material)))


_NOTHING_NEEDED = Supplied(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, ())


@dataclass(frozen=True, slots=True)
class _New:
    """The run that is held against the storeroom, after all that are there; days are looked at up to ``end``."""

    run: Run
    room: Storeroom
    settled: Settled
    end: int

    def asked_on(self, day: int, how_much: FreeOn) -> Asked:
        return asked_on(day, self.settled.needs_on(self.run, day), self.room, how_much)


def _rows(new: _New, netted: Mapping[str, NettedMaterial]) -> dict[str, Supplied]:
    run, room = new.run, new.room
    asked = new.asked_on(run.day, free_on(netted))
    here = {lot.key for lot in room.lots}
    return {
        material: _supplied(run, netted[material], needed, asked.made_up.get(material), here)
        for material, needed in asked.needs.items()
        # A blend of which nothing is in stock is but its parts.
        if material not in room.blends or netted[material].supplies
    }


def _supplied(run: Run, own: NettedMaterial, needed: float, made_up: float | None, here: set[str]) -> Supplied:
    usable = {i: one for i, one in enumerate(own.supplies) if one.usable_on(run.day)}
    in_stock = sum(one.amount for one in usable.values() if one.key in here)
    coming = sum(one.amount for one in usable.values() if one.key not in here)
    before = sum(
        amount
        for demand, parts in zip(own.demands, own.served.parts, strict=True)
        if demand.day <= run.day
        for i, amount in parts
        if i in usable
    )
    free_g = own.free.on(run.day)
    short = needed - free_g if made_up is None and needed - free_g > NOTHING else 0.0
    kept = max(in_stock + coming - before - free_g, 0.0)
    takes = _takes(run.key, run.day, own, min(needed, free_g))
    return Supplied(needed, in_stock, coming, before, kept, free_g, short, made_up or 0.0, takes)


def _takes(key: str, day: int, own: NettedMaterial, amount: float) -> tuple[Taken, ...]:
    """Return from which lots a new run takes *amount*, after the others up to its day; all of it must be free."""
    others = [
        demand._replace(amount=served)
        for demand, served in zip(own.demands, own.served.amounts, strict=True)
        if demand.day <= day
    ]
    return serve(own.supplies, [*others, Demand(key, day, amount)]).takes(-1, own.supplies)


def _prospect(new: _New, netted: Mapping[str, NettedMaterial], outlook: Outlook, today: int) -> Prospect:
    run, room = new.run, new.room
    arrivals = {one.first_day for own in netted.values() for one in own.supplies}
    as_it_is = free_on(netted)
    first_day = _first_day(new, as_it_is, arrivals)
    takes = _takes_on(first_day, new, netted) if first_day is not None else {}
    if first_day == run.day:
        return Prospect(possible=True, first_day=first_day, first_day_if_ordered_today=first_day, takes_on_first_day=takes)
    here_from = {item: today + days.by(outlook) for item, days in room.delivery.items() if item not in room.blends}
    ordered = free_if_ordered(netted, here_from)
    if_ordered = _first_day(new, ordered, {*arrivals, *here_from.values()})
    return Prospect(possible=False, first_day=first_day, first_day_if_ordered_today=if_ordered, takes_on_first_day=takes)


def _first_day(new: _New, how_much: FreeOn, arrivals: Iterable[int]) -> int | None:
    run, room = new.run, new.room
    for day in sorted({run.day, *(day for day in arrivals if run.day < day <= new.end)}):
        needs = new.asked_on(day, how_much).needs
        if all(item in room.blends or grams - how_much(item, day) <= NOTHING for item, grams in needs.items()):
            return day
    return None


def _takes_on(day: int, new: _New, netted: Mapping[str, NettedMaterial]) -> dict[str, tuple[Taken, ...]]:
    asked = new.asked_on(day, free_on(netted))
    return {
        new.settled.material_of(item): _takes(new.run.key, day, netted[item], min(needed, netted[item].free.on(day)))
        for item, needed in asked.needs.items()
        if item not in new.room.blends or netted[item].supplies
    }
