"""What is kept of a material, what is on its way, and who sells it how: all that a night looks at.

Days count from today (0); quantities are grams, or pieces of what is counted; money is in one currency.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from curehouse.core.stock.lead_time import LeadTime
from curehouse.core.stock.reorder.things import Planned, Use

# Nothing that is bought for a storeroom is counted on for longer (our own choice, no source).
KEEPS_DAYS = 3650


@dataclass(frozen=True, slots=True)
class Lot:
    """So much that may be used, today to its last day, that day included."""

    key: str
    quantity: float
    last_day: float = inf


@dataclass(frozen=True, slots=True)
class Coming:
    """So much that is ordered: how likely it is to come in how many days from today, and how long it keeps then."""

    key: str
    quantity: float
    days: LeadTime
    life_days: int = KEEPS_DAYS


@dataclass(frozen=True, slots=True)
class LeadFrom:
    """What a delivery time is learnt from.

    ``seen`` deliveries of the material from its seller, ``others`` of anything else of theirs. Where there is neither, it
    takes ``usual_days``, as the seller says or, where ``is_assumed``, as nobody said.
    """

    seen: int = 0
    others: int = 0
    usual_days: float | None = None
    is_assumed: bool = False


@dataclass(frozen=True, slots=True)
class Offered:
    """A material as a seller sells it, in packs; ``breaks`` are prices of a pack from so many packs on."""

    key: str
    seller: str
    pack: float
    price: float
    lead: LeadTime
    minimum_packs: int = 1
    breaks: Sequence[tuple[int, float]] = ()
    life_days: int = KEEPS_DAYS
    is_hazardous: bool = False
    lead_from: LeadFrom = LeadFrom()

    def pack_price(self, packs: int) -> float:
        """Return what a pack costs if so many are bought."""
        held = [price for least, price in sorted(self.breaks) if packs >= least]
        return held[-1] if held else self.price


@dataclass(frozen=True, slots=True)
class Seller:
    """What an order costs beside its goods: one's own work, freight up to a sum of goods, a surcharge for hazardous goods."""

    key: str
    work: float
    freight: float = 0.0
    free_from: float = inf
    surcharge: float = 0.0


@dataclass(frozen=True, slots=True)
class Kept:
    """A material with its past and what is here, on its way and spoken for.

    ``known_days``: for how many days its uses were written down, today counted.
    """

    key: str
    uses: Sequence[Use]
    known_days: int
    lots: Sequence[Lot] = ()
    coming: Sequence[Coming] = ()
    planned: Sequence[Planned] = ()
    offers: Sequence[Offered] = ()
