"""Questions about what is brought in."""

from datetime import datetime
from typing import Self

from django.db.models import Q

from curehouse.workshops.scoping import ScopedQuerySet


class ImportQuerySet(ScopedQuerySet):
    """Imports."""

    def under_way(self) -> Self:
        """Return the imports a worker is to go on with, the oldest first."""
        return self.filter(state__in=["checking", "bringing"]).order_by("changed_at", "pk")

    def free(self, *, at: datetime) -> Self:
        """Return the imports under way that no worker holds at *at*."""
        return self.under_way().filter(Q(claimed_until__isnull=True) | Q(claimed_until__lte=at))

    def newest_first(self) -> Self:
        """Return the imports, the newest first."""
        return self.order_by("-id")
