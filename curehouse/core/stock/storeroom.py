"""What runs are held against: lots, open orders, delivery times, blends, and the runs themselves.

Days are whole numbers on any one scale (a date's ordinal), amounts are grams, and a material, a lot,
an order and a run are told apart by their keys.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from itertools import chain
from math import inf

from curehouse.core.stock.explode import Parts, blends_first
from curehouse.core.stock.supplied import Supply


class Outlook(Enum):
    """How deliveries are counted on: on the day they will likely come, or on the day they will have come."""

    LIKELY = "likely"
    SAFE = "safe"


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot in the storeroom: usable from the day it came to its last day, that day included, once released."""

    key: str
    material: str
    amount_g: float
    received_day: int
    last_day: float = inf
    released: bool = True


@dataclass(frozen=True, slots=True)
class Arrival:
    """From which day to which what is ordered may be used."""

    day: int
    last_day: float = inf


@dataclass(frozen=True, slots=True)
class OpenOrder:
    """What is on its way; a blend that a planned run will make is one too, and its parts are that run's needs."""

    key: str
    material: str
    amount_g: float
    likely: Arrival
    safe: Arrival

    def arrival(self, outlook: Outlook) -> Arrival:
        """Return when it comes by *outlook*."""
        return self.likely if outlook is Outlook.LIKELY else self.safe


@dataclass(frozen=True, slots=True)
class DeliveryDays:
    """In how many days what is ordered today is here, likely and safely."""

    likely: int
    safe: int

    def by(self, outlook: Outlook) -> int:
        """Return the days by *outlook*."""
        return self.likely if outlook is Outlook.LIKELY else self.safe


@dataclass(frozen=True, slots=True)
class Run:
    """A run on its day, with the grams it needs of each item; an item may be a blend.

    Of two runs that are there the one of the lower ``turn`` was first: what it gets the other never takes, whichever
    is poured before. Runs of one turn are served by their days.
    """

    key: str
    day: int
    needs: Mapping[str, float]
    turn: int = 0
    # Of an item, how many grams of water may come with what stands for it.
    water_g: Mapping[str, float] = field(default_factory=dict)
    # Of an item, the lot that was chosen to stand for it when the run was announced.
    keeps: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StandIn:
    """A lot that may stand for another material: all of it that a run needs, or nothing (``stand_ins``).

    ``per_gram`` grams of the lot are weighed at most for a gram of the other, and ``water_share`` of them is water.
    """

    lot: str
    instead_of: str
    per_gram: float
    water_share: float = 0.0


@dataclass(frozen=True, slots=True)
class Storeroom:
    """All that can serve a run.

    ``blends_from_stock`` says what a lot of a blend is for. If it is set, every run, in the order of
    their days, takes what is usable of the blend's own lots and orders, and only the rest is made up
    from its parts; otherwise lots of blends are left alone and every blend is made up. What is made
    up needs its parts on the day of the run. Blends are made, not ordered: only parts are.
    ``stand_ins`` are lots that runs take in the place of another material.
    """

    lots: Sequence[Lot]
    orders: Sequence[OpenOrder] = ()
    delivery: Mapping[str, DeliveryDays] = field(default_factory=dict)
    blends: Mapping[str, Parts] = field(default_factory=dict)
    blends_from_stock: bool = False
    stand_ins: Sequence[StandIn] = ()

    @property
    def comes_as_likely(self) -> bool:
        """Return whether both outlooks are the same."""
        return all(order.likely == order.safe for order in self.orders) and all(
            days.likely == days.safe for days in self.delivery.values()
        )

    def supplies(self, outlook: Outlook) -> dict[str, list[Supply]]:
        """Return what is released or on its way of each material, lots first."""
        found: dict[str, list[Supply]] = {}
        by_lot = {one.lot for one in self.stand_ins}
        for lot in self.lots:
            if lot.released:
                found.setdefault(lot.material, []).append(Supply(lot.key, lot.amount_g, lot.received_day, lot.last_day))
                if lot.key in by_lot:
                    found[lot.key] = [found[lot.material][-1]]
        for order in self.orders:
            comes = order.arrival(outlook)
            found.setdefault(order.material, []).append(Supply(order.key, order.amount_g, comes.day, comes.last_day))
        return found


def check_storeroom(room: Storeroom) -> None:
    """Raise ValueError, saying what to do, for amounts below zero, days out of order, or a key used twice."""
    for lot in room.lots:
        what = f"the lot {lot.key} of {lot.material}"
        _check_amount(what, lot.amount_g)
        _check_days(what, lot.received_day, lot.last_day)
    for order in room.orders:
        what = f"the order {order.key} of {order.material}"
        _check_amount(what, order.amount_g)
        for comes in (order.likely, order.safe):
            _check_days(what, comes.day, comes.last_day)
        if order.safe.day < order.likely.day:
            raise ValueError(f"{what} is safely here before it likely is: give the later day as the safe one")
    for material, days in room.delivery.items():
        if not 0 <= days.likely <= days.safe:
            raise ValueError(
                f"delivery of {material} takes {days.likely} days likely and {days.safe} safely: "
                "give days from 0 up, the safe ones not below the likely ones"
            )
    _check_once("a lot or an order", chain((lot.key for lot in room.lots), (order.key for order in room.orders)))
    _check_stand_ins(room)
    blends_first(room.blends)


def _check_stand_ins(room: Storeroom) -> None:
    here = {lot.key: lot.material for lot in room.lots}
    _check_once("a lot that stands for another material", (one.lot for one in room.stand_ins))
    for one in room.stand_ins:
        what = f"the lot {one.lot} that stands for {one.instead_of}"
        if here.get(one.lot, one.instead_of) == one.instead_of:
            raise ValueError(f"{what} is not here, or is of that very material: leave it out")
        if not 0 < one.per_gram < inf or not 0 <= one.water_share < 1:
            raise ValueError(f"{what}: give grams for a gram above zero, and a share of water from 0 up to below 1")


def check_runs(runs: Sequence[Run], today: int) -> None:
    """Raise ValueError, saying what to do, for runs of the past, needs below zero, or a key used twice."""
    for run in runs:
        if run.day < today:
            raise ValueError(f"the run {run.key} is of a day that is past: move it to today or later, or leave it out")
        for item, amount_g in run.needs.items():
            _check_amount(f"what the run {run.key} needs of {item}", amount_g)
    _check_once("a run", (run.key for run in runs))


def _check_amount(what: str, amount_g: float) -> None:
    if not 0 <= amount_g < inf:
        raise ValueError(f"{what} is {amount_g:g} g: give an amount from 0 up")


def _check_days(what: str, first_day: int, last_day: float) -> None:
    if last_day < first_day:
        raise ValueError(f"{what} expires before it comes: put its two dates right, or leave it out")


def _check_once(what: str, keys: Iterable[str]) -> None:
    twice = [key for key, times in Counter(keys).items() if times > 1]
    if twice:
        raise ValueError(f"{what} called {twice[0]} stands here twice: leave one out, or call it otherwise")
