"""Which lots to take an amount from: first expired, first out.

Days are whole numbers on any one scale (a date's ordinal), amounts are grams or pieces. Taking
from the usable lot that expires first serves as much as can be served, also over several needs that
are served in the order of their days: it is earliest-deadline-first matching on intervals.
"""

from collections.abc import Sequence
from dataclasses import dataclass

# Half of what a ledger keeps: less than that is an echo of the arithmetic, not an amount.
NOTHING = 0.0005


@dataclass(frozen=True, slots=True)
class LotOnHand:
    """What a lot holds, and when it may be used: from its receipt to its last day, if it has one."""

    key: int
    on_hand: float
    received_day: int
    last_day: int | None = None
    released: bool = True

    def usable_on(self, day: int) -> bool:
        """Return whether the lot is here, released and not expired on *day*."""
        lasts = self.last_day is None or day <= self.last_day
        return self.released and self.received_day <= day and lasts and self.on_hand > NOTHING


@dataclass(frozen=True, slots=True)
class Take:
    """An amount to take from one lot."""

    key: int
    amount: float


@dataclass(frozen=True, slots=True)
class Allocation:
    """What to take, in the order of taking, and what no usable lot can give."""

    takes: tuple[Take, ...]
    short: float


def _order(lot: LotOnHand) -> tuple[bool, int, int, int]:
    return (lot.last_day is None, lot.last_day or 0, lot.received_day, lot.key)


def allocate(lots: Sequence[LotOnHand], amount: float, day: int) -> Allocation:
    """Return what to take from *lots* on *day* so that *amount* is served as far as it can be.

    The lot that expires first goes first, one that never expires last; among equals the one that
    came first, then the lower key. Raises ``ValueError`` for an amount below zero.
    """
    if not amount >= 0:
        raise ValueError(f"an amount below zero: {amount}")
    takes: list[Take] = []
    wanted = amount
    for lot in sorted((one for one in lots if one.usable_on(day)), key=_order):
        if wanted <= NOTHING:
            break
        part = min(lot.on_hand, wanted)
        takes.append(Take(lot.key, part))
        wanted -= part
    return Allocation(tuple(takes), wanted if wanted > NOTHING else 0.0)
