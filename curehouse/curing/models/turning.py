"""When the bars of a batch were turned, all of them."""

from django.db import models

from curehouse.curing.queries.turning import TurningQuerySet
from curehouse.making.models import Batch
from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager


class Turning(ScopedLedger, Signed):
    """All bars of a batch were turned, wherever they stand; those at one place alone are a ``Placement``."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="turnings")
    turned_at = models.DateTimeField()
    written_at = models.DateTimeField()

    unscoped = TurningQuerySet.as_manager()
    objects = ScopedManager.from_queryset(TurningQuerySet)()

    def __str__(self) -> str:
        return f"turned {self.turned_at:%-d %b %Y}"
