"""What a night finds: orders as they might be sent, and for each line the figures that say why."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from curehouse.core.stock.reorder.kept import Kept, LeadFrom, Offered, Seller
from curehouse.core.stock.reorder.things import Planned


class Because(Enum):
    """Why a line stands on an order."""

    DUE = "due"
    JOINS = "joins"
    FREIGHT = "freight"
    FRESH = "fresh"


# These call for an order; the others come along with one.
CALLS = (Because.DUE, Because.FRESH)


@dataclass(frozen=True, slots=True)
class Why:
    """The figures behind a line.

    ``days``: from today until what is ordered when it is next looked has come with a chance of 90 %; over
    these, ``planned`` runs, and what nobody has planned: as much as not (``unplanned_half``) and at most with
    a chance of 90 % (``unplanned_most``). ``here``: what is here or on its way and counts. ``lead_from``: what the
    days of a delivery are learnt from. ``risk``: the chance that less is here than goes if nothing is ordered
    today, ``risk_after`` if this is, ``risk_accepted`` what the house lives with. ``expires``: what is expected to
    expire of these packs, ``next_expires`` the share of one pack more that would. ``last_day``: the last day on which
    ordering keeps the risk near what is accepted.
    """

    days: int
    planned: tuple[Planned, ...]
    unplanned_half: float
    unplanned_most: float
    here: float
    lead_half: int
    lead_most: int
    risk: float
    risk_after: float
    risk_accepted: float
    lasts_days: float
    expires: float
    next_expires: float
    last_day: int
    lead_from: LeadFrom = LeadFrom()


@dataclass(frozen=True, slots=True)
class Line:
    """So many packs of an offer; ``for_freight`` of them are there only so that the goods come without freight."""

    kept: Kept
    offer: Offered
    packs: int
    because: Because
    why: Why
    for_freight: int = 0

    @property
    def price(self) -> float:
        """Return what they cost."""
        return self.packs * self.offer.pack_price(self.packs)


@dataclass(frozen=True, slots=True)
class Draft:
    """An order with one seller as it might be sent today."""

    seller: Seller
    lines: tuple[Line, ...]

    @property
    def goods(self) -> float:
        """Return what its goods cost."""
        return sum(line.price for line in self.lines)

    @property
    def freight(self) -> float:
        """Return what freight comes to."""
        return 0.0 if self.is_free else self.seller.freight

    @property
    def is_free(self) -> bool:
        """Return whether its goods come to the sum from which on no freight is asked."""
        return self.goods >= self.seller.free_from

    @property
    def surcharge(self) -> float:
        """Return what is asked for hazardous goods among them."""
        return self.seller.surcharge if any(line.offer.is_hazardous for line in self.lines) else 0.0

    @property
    def last_day(self) -> int:
        """Return in how many days it must be decided: the earliest of its lines that are no mere company."""
        return last_day_of([(line.because, line.why.last_day) for line in self.lines])


def last_day_of(lines: Sequence[tuple[Because, int]]) -> int:
    """Return in how many days an order must be decided, by why each line stands there and until when it may wait itself.

    What only comes along decides nothing, unless nothing else is there.
    """
    own = [day for because, day in lines if because in CALLS]
    return min(own or [day for _because, day in lines])


@dataclass(frozen=True, slots=True)
class Watched:
    """How a material stands tonight, whether it is ordered or not."""

    kept: Kept
    here: float
    risk: float
    risk_accepted: float
    a_day: float

    @property
    def is_due(self) -> bool:
        """Return whether it should be ordered now."""
        return self.risk > self.risk_accepted


@dataclass(frozen=True, slots=True)
class Night:
    """All that was found: drafts by seller, and every material that has a past or is planned."""

    drafts: tuple[Draft, ...]
    watched: tuple[Watched, ...]
