"""Questions about label weights."""

from typing import Self

from curehouse.workshops.scoping import ScopedLedgerQuerySet


class LabelWeightQuerySet(ScopedLedgerQuerySet):
    """Label weights."""

    def newest_first(self) -> Self:
        """Return the label weights, the newest first."""
        return self.order_by("-id")
