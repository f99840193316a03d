"""Questions about places that are kept for runs."""

from typing import Self

from django.db.models import Model, Q

from curehouse.workshops.scoping import ScopedQuerySet


class ExpectedCureQuerySet(ScopedQuerySet):
    """What is expected of runs' cures."""

    def at(self, position: Model) -> Self:
        """Return those with places kept at a position."""
        return self.filter(places__position=position)

    def standing(self) -> Self:
        """Return those whose bars are still to come, by day, with run and places at hand (two queries).

        That is as long as the run is planned, or poured and its batch not cut: from then on placements tell.
        """
        still = Q(run__state="planned") | Q(run__state="poured", run__batch__state="poured")
        found = self.filter(still).select_related("run__formula", "run__batch__formula").prefetch_related("places")
        return found.order_by("cut_on", "pk")
