"""The oracle of the netting tests: maximal flows, solved anew by SciPy for every question, whole grams only."""

from collections.abc import Sequence
from functools import cache

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

# A lot: grams, first day, last day. A demand: grams, day.
Lots = Sequence[tuple[int, int, float]]
Demands = Sequence[tuple[int, int]]
ENDLESS = 10**8


def most_served(lots: Lots, demands: Demands) -> int:
    """Return how many grams flow at most from *lots* to *demands*, each on its day."""
    arcs = tuple(
        (place, at)
        for at, (_grams, day) in enumerate(demands, len(lots))
        for place, (_held, first, last) in enumerate(lots)
        if first <= day <= last
    )
    return _flow(tuple(lot[0] for lot in lots), tuple(demand[0] for demand in demands), arcs) if arcs else 0


# Two days on which the same lots are usable ask for the same flow.
@cache
def _flow(held: tuple[int, ...], asked: tuple[int, ...], arcs: tuple[tuple[int, int], ...]) -> int:
    source, sink = len(held) + len(asked), len(held) + len(asked) + 1
    rows = [*(source for _grams in held), *(place for place, _at in arcs), *range(len(held), source)]
    columns = [*range(len(held)), *(at for _place, at in arcs), *(sink for _grams in asked)]
    capacity = np.array([*held, *(ENDLESS for _arc in arcs), *asked], dtype=np.int32)
    graph = csr_array((capacity, (rows, columns)), shape=(sink + 1, sink + 1))
    return int(maximum_flow(graph, source, sink).flow_value)


def served_one_by_one(lots: Lots, demands: Demands) -> list[int]:
    """Return what each demand gets, each as much as leaves those before it in the list as well served."""
    served: list[int] = []
    for place in range(len(demands)):
        kept = [(grams, day) for grams, (_asked, day) in zip(served, demands, strict=False)]
        served.append(most_served(lots, [*kept, demands[place]]) - sum(served))
    return served


def free_beside(lots: Lots, served: Demands, day: int, wanted: int) -> int:
    """Return how much of *wanted* a new demand gets on *day* while every one of *served* gets all it had."""
    return most_served(lots, [*served, (wanted, day)]) - sum(grams for grams, _day in served)
