"""Questions about turned bars."""

from collections.abc import Iterable
from datetime import datetime
from typing import Self

from django.db.models import Max

from curehouse.workshops.scoping import ScopedLedgerQuerySet


class TurningQuerySet(ScopedLedgerQuerySet):
    """When bars were turned."""

    def newest_first(self) -> Self:
        """Return when bars were turned, newest first, with who says so."""
        return self.select_related("by_user", "by_device").order_by("-turned_at", "-id")

    def last_of(self, batches: Iterable[object]) -> dict[int, datetime]:
        """Return when the bars of each of *batches* were turned last, by the key of the batch."""
        return dict(self.filter(batch__in=batches).order_by().values_list("batch").annotate(Max("turned_at")))
