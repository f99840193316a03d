"""Questions about forecasts and what they are learnt from."""

from datetime import datetime
from typing import Self

from django.db.models import Q

from curehouse.curing.queries.obstacles import Obstructed
from curehouse.workshops.scoping import ScopedLedgerQuerySet, ScopedQuerySet


class ForecastQuerySet(Obstructed, ScopedLedgerQuerySet):
    """Forecasts."""

    def newest_first(self) -> Self:
        """Return the forecasts, the newest first."""
        return self.order_by("-id")


class CureLearningQuerySet(ScopedQuerySet):
    """What workshops go by."""

    def free(self, *, at: datetime) -> Self:
        """Return those that are to be learnt anew and that nobody is at, the oldest wish first."""
        free = Q(claimed_until__isnull=True) | Q(claimed_until__lte=at)
        return self.filter(free, wanted_at__isnull=False).order_by("wanted_at", "pk")
