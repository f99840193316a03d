"""A material's stock gone through day by day: what a standing rule comes to, with nothing of the product in it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np


@dataclass
class Came:
    """What came of it, by the year."""

    orders: float = 0.0
    late: float = 0.0
    waited: float = 0.0
    lying: float = 0.0
    wasted: float = 0.0


def uses(rng: np.random.Generator, a_day: float, sizes: Sequence[float], days: int) -> Iterator[list[float]]:
    """Make the uses of each day: a Poisson number of them, of one of *sizes* each."""
    for count in rng.poisson(a_day, days):
        yield [float(rng.choice(sizes)) for _ in range(count)]


def go_through(
    made: Iterator[list[float]], *, level: float, order: float, deliveries: Iterator[int], life: int, years: float
) -> Came:
    """Order whenever the position is at or below *level*; a use that finds too little waits, whole."""
    lots: list[list[float]] = [[life, order]]
    on_order: list[tuple[int, float]] = []
    waiting: list[float] = []
    came = Came()
    for day, fresh in enumerate(made):
        lots += [[day + life, amount] for due, amount in on_order if due <= day]
        on_order = [one for one in on_order if one[0] > day]
        came.wasted += sum(amount for until, amount in lots if until < day)
        lots = sorted(lot for lot in lots if lot[0] >= day)
        left = []
        for place, amount in enumerate([*waiting, *fresh]):
            if sum(lot[1] for lot in lots) < amount:
                left.append(amount)
                came.late += place >= len(waiting)
                continue
            for lot in lots:
                taken = min(amount, lot[1])
                lot[1] -= taken
                amount -= taken
        waiting = left
        came.waited += len(waiting)
        here = sum(lot[1] for lot in lots)
        came.lying += here / 365
        position = here + sum(amount for _due, amount in on_order) - sum(waiting)
        if position <= level:
            count = int((level - position) // order) + 1
            on_order.append((day + next(deliveries), count * order))
            came.orders += count
    return Came(*(value / years for value in (came.orders, came.late, came.waited, came.lying, came.wasted)))
