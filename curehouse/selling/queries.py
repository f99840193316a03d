"""Questions about markets."""

from datetime import date
from typing import Self

from curehouse.workshops.scoping import ScopedQuerySet


class MarketQuerySet(ScopedQuerySet):
    """Markets of one workshop."""

    def to_come(self, *, on: date) -> Self:
        """Return those from a day on that were not called off, the next first."""
        return self.filter(called_off_at__isnull=True, held_on__gte=on).soonest_first()

    def soonest_first(self) -> Self:
        """Return them by their day."""
        return self.order_by("held_on", "name", "pk")
