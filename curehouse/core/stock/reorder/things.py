"""What is known of a shop's materials when it is asked what to order.

Days count from the day that is asked about: the past is negative, today is 0. Quantities are grams,
or pieces of what is counted; money is in one currency.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Use:
    """So much of a material was used on a day of the past (0: today)."""

    day: int
    quantity: float


@dataclass(frozen=True, slots=True)
class Planned:
    """So much of a material is spoken for by a run on a day to come."""

    day: int
    quantity: float
    run: str = ""


class Past(Protocol):
    """Whatever has uses, and days for which they were written down, today counted."""

    @property
    def uses(self) -> Sequence[Use]:
        """Return its uses, in any order."""

    @property
    def known_days(self) -> int:
        """Return for how many days they were written down."""


class Known(Past, Protocol):
    """Whatever has planned uses beside those of the past, by its name."""

    @property
    def name(self) -> str:
        """Return its name."""

    @property
    def planned(self) -> Sequence[Planned]:
        """Return what is spoken for, in any order."""


@dataclass(frozen=True, slots=True)
class Used:
    """A material as it is used, however it is bought; as in :class:`Item`."""

    name: str
    uses: Sequence[Use]
    known_days: int
    planned: Sequence[Planned] = ()


@dataclass(frozen=True, slots=True)
class Item:
    """A material as it is bought and used.

    ``known_days``: for how many days its uses were written down, today counted. ``days_taken``: the days from
    order to receipt of its past orders, oldest first; ``usual_days``: what its supplier takes for
    anything. ``life_days``: how long what is received is good for. ``price``: of one gram or piece.
    """

    name: str
    uses: Sequence[Use]
    known_days: int
    days_taken: Sequence[float]
    usual_days: float
    pack: float
    minimum_packs: int
    life_days: int
    price: float
    order_cost: float
    planned: Sequence[Planned] = ()


@dataclass(frozen=True, slots=True)
class Costs:
    """What it costs to hold stock (share of its value a year) and to be late with a batch."""

    holding_rate: float = 0.25
    late_batch: float = 15.0
    late_day: float = 3.0
