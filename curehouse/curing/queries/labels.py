"""Questions about label weights."""

from typing import Self

from curehouse.curing.queries.obstacles import Obstructed
from curehouse.workshops.scoping import ScopedLedgerQuerySet


class LabelWeightQuerySet(Obstructed, ScopedLedgerQuerySet):
    """Label weights."""

    def newest_first(self) -> Self:
        """Return the label weights, the newest first."""
        return self.order_by("-id")
