"""What a lot holds, by the plainest code: everything that happened, in its order, from the first to the last.

Written apart from ``inventory.services``: it keeps no balance and holds nothing anew, it goes through the
whole story each time.
"""

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

# When something happened, and the how-manieth thing it was that the house was told.
Position = tuple[datetime, int]
NOTHING = Decimal(0)


@dataclass
class PlainBook:
    """What happened to lots. A count says what was there, whatever came and went before it; whatever left was there."""

    # (lot, signed amount, position) of what came and went and is in force, by the movement's key.
    moved: dict[int, tuple[int, Decimal, Position]] = field(default_factory=dict)
    # (lot, what was counted, position), under any key of its own.
    counted: dict[int, tuple[int, Decimal, Position]] = field(default_factory=dict)

    def held(self, index: int, before: Position | None = None) -> Decimal:
        """Return what a lot held, up to a position or by now."""
        there = NOTHING
        for at, key, is_count in self._story(index):
            if before is not None and at >= before:
                break
            # More than is there cannot leave: so much was there.
            there = self.counted[key][1] if is_count else max(there + self.moved[key][1], NOTHING)
        return there

    def found(self, key: int) -> Decimal:
        """Return how much more than was there went out by a movement."""
        index, amount, at = self.moved[key]
        return max(-amount - self.held(index, at), NOTHING)

    def _story(self, index: int) -> list[tuple[Position, int, bool]]:
        story = [(at, key, False) for key, (lot, _amount, at) in self.moved.items() if lot == index]
        story += [(at, key, True) for key, (lot, _counted, at) in self.counted.items() if lot == index]
        # A list tells of its lot and its receipt at once: the receipt comes first.
        return sorted(story, key=lambda one: (one[0], one[2]))

    def copy(self) -> "PlainBook":
        return PlainBook(dict(self.moved), dict(self.counted))
