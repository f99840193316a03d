"""Questions about cures and their assessments."""

from datetime import date
from typing import Self

from django.db.models import Q

from curehouse.curing.queries.obstacles import Obstructed
from curehouse.workshops.scoping import ScopedLedgerQuerySet, ScopedQuerySet


class AssessmentQuerySet(ScopedLedgerQuerySet):
    """Assessments."""

    def newest_first(self) -> Self:
        """Return the assessments by the moment they speak of, the newest first."""
        return self.order_by("-moment", "-id")


class CureQuerySet(Obstructed, ScopedQuerySet):
    """Cures."""

    def going_on(self) -> Self:
        """Return the cures that have not ended, with batch and verdict at hand."""
        return self.filter(ended_at__isnull=True).select_related("batch__formula", "assessment").order_by("batch__number")

    def with_forecast(self) -> Self:
        """Add the forecast at hand."""
        return self.select_related("batch__formula", "assessment", "forecast")

    def due(self, *, on: date) -> Self:
        """Return the cures whose sample bars are to be weighed on or before *on*."""
        return self.filter(ended_at__isnull=True, due_on__lte=on)

    def wanting_assessment(self) -> Self:
        """Return the cures with news that no assessment has answered, the oldest news first."""
        return self.filter(assess_wanted_at__isnull=False).order_by("assess_wanted_at", "pk")

    def wanting_forecast(self) -> Self:
        """Return the cures with news that no forecast has answered, the oldest news first."""
        return self.filter(forecast_wanted_at__isnull=False, ended_at__isnull=True).order_by("forecast_wanted_at", "pk")

    def wanting_record(self) -> Self:
        """Return the weighed cures of which nothing is known yet, and those that ended with news of their weighings."""
        of_ended = Q(ended_at__isnull=False, forecast_wanted_at__isnull=False)
        return self.filter(of_ended | Q(ended_at__isnull=True, record__isnull=True, last_reading__isnull=False))
