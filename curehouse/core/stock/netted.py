"""Every material with the runs that are there already served from it, and what is left for one more."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from curehouse.core.stock.explode import blends_first, put_parts
from curehouse.core.stock.storeroom import Outlook, Run, Storeroom
from curehouse.core.stock.supplied import Demand, Free, Served, Supply, free, serve_in_turn

# How much is free of a material on a day.
FreeOn = Callable[[str, int], float]


@dataclass(frozen=True, slots=True)
class NettedMaterial:
    """One material: what serves, what is asked for in the order of the days, and what comes of it."""

    supplies: tuple[Supply, ...]
    demands: tuple[Demand, ...]
    served: Served
    free: Free


@dataclass(frozen=True, slots=True)
class Asked:
    """What a run needs of each material on one day, and how much of each blend is made up from its parts."""

    needs: Mapping[str, float]
    made_up: Mapping[str, float]


def net(
    room: Storeroom, runs: Sequence[Run], outlook: Outlook, items: Iterable[str] | None = None
) -> dict[str, NettedMaterial]:
    """Return every blend, and of *items* each material and part (all materials where None), with *runs* served."""
    in_order = blends_first(room.blends)
    supplies = room.supplies(outlook)
    if not room.blends_from_stock:
        for blend in in_order:
            supplies.pop(blend, None)
    wanted: dict[str, dict[int, float]] = {}
    for place, run in enumerate(runs):
        for item, grams in run.needs.items():
            _want(wanted, item, place, grams)
    netted: dict[str, NettedMaterial] = {}
    for blend in in_order:
        asked = wanted.pop(blend, {})
        netted[blend] = own = _net_one(supplies.pop(blend, ()), _demands(runs, asked))
        for place, (grams, served) in zip(asked, zip(asked.values(), own.served.amounts, strict=True), strict=True):
            for part, share in room.blends[blend]:
                _want(wanted, part, place, (grams - served) * share)
    for material in _with_parts(items, room) if items is not None else {*wanted, *supplies}:
        if material not in netted:
            netted[material] = _net_one(supplies.get(material, ()), _demands(runs, wanted.get(material, {})))
    return netted


def free_on(netted: Mapping[str, NettedMaterial]) -> FreeOn:
    """Return what is free of each material."""
    return lambda material, day: netted[material].free.on(day)


def free_if_ordered(netted: Mapping[str, NettedMaterial], here_from: Mapping[str, int]) -> FreeOn:
    """Return what is free if without end more is here from a day of its own on, for whoever needs it then."""
    before = {
        material: _net_one(own.supplies, tuple(demand for demand in own.demands if demand.day < here_from[material])).free
        for material, own in netted.items()
        if material in here_from
    }

    def on(material: str, day: int) -> float:
        if material not in before:
            return netted[material].free.on(day)
        return before[material].on(day) if day < here_from[material] else float("inf")

    return on


def asked_on(day: int, needs: Mapping[str, float], room: Storeroom, how_much: FreeOn) -> Asked:
    """Return what *needs* come to on *day*: of blends first what is free of their own lots, then their parts."""
    left, made_up = dict(needs), {}
    for blend in blends_first(room.blends):
        if blend in left:
            made_up[blend] = max(left[blend] - how_much(blend, day), 0.0)
            put_parts(left, room.blends[blend], made_up[blend])
    return Asked(left, made_up)


def _with_parts(items: Iterable[str], room: Storeroom) -> dict[str, None]:
    found = dict.fromkeys(items)
    for blend in blends_first(room.blends):
        if blend in found:
            found |= dict.fromkeys(part for part, _share in room.blends[blend])
    return found


def _want(wanted: dict[str, dict[int, float]], item: str, place: int, grams: float) -> None:
    by_run = wanted.setdefault(item, {})
    by_run[place] = by_run.get(place, 0.0) + grams


def _demands(runs: Sequence[Run], asked: Mapping[int, float]) -> tuple[Demand, ...]:
    return tuple(Demand(runs[place].key, runs[place].day, grams, runs[place].turn) for place, grams in asked.items())


def _net_one(supplies: Iterable[Supply], demands: tuple[Demand, ...]) -> NettedMaterial:
    own = tuple(supplies)
    served = serve_in_turn(own, demands)
    return NettedMaterial(own, demands, served, free(own, demands, served))
