"""Questions about places."""

from collections.abc import Iterable
from datetime import datetime
from typing import Self

from django.db.models import Max

from curehouse.workshops.scoping import ScopedLedgerQuerySet, ScopedQuerySet


class PositionQuerySet(ScopedQuerySet):
    """Positions."""

    def in_walking_order(self) -> Self:
        """Return the positions with their racks, as one walks past them."""
        return self.select_related("rack").order_by("rack__order", "rack__name", "level", "place")


class OccupancyQuerySet(ScopedQuerySet):
    """What stands where."""

    def standing(self) -> Self:
        """Return where bars stand now, in walking order."""
        return (
            self.filter(bars__gt=0)
            .select_related("position__rack")
            .order_by("position__rack__order", "position__rack__name", "position__level", "position__place", "pk")
        )


class PlacementQuerySet(ScopedLedgerQuerySet):
    """The history of places."""

    def last_turned(self, batches: Iterable[object]) -> dict[tuple[int, int], datetime]:
        """Return when the bars of each of *batches* were turned last at each place, by the keys of batch and place."""
        rows = self.filter(batch__in=batches, act="turned").order_by().values_list("batch", "target").annotate(Max("at"))
        return {(batch, place): at for batch, place, at in rows}

    def newest_first(self) -> Self:
        """Return the history, newest first, with the places' names at hand."""
        return self.select_related("origin__rack", "target__rack", "by_user", "by_device").order_by("-at", "-id")
