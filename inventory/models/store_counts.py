"""The store count: a walk past all lots, by one or by several, that may take more than a day."""

from django.db import models
from django.db.models import F, Q

from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedManager, ScopedModel
from inventory.queries.store_counts import StoreCountQuerySet


class StoreCount(ScopedModel, Signed):
    """A walk past all lots: begun with the first that was counted, signed by whoever did, ended once none is left.

    A workshop has one at a time, whoever takes part in it. Ended by a person before all were counted, it
    keeps how many were left.
    """

    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    lots_left = models.PositiveIntegerField(null=True, help_text="How many lots were not counted when it was ended.")

    unscoped = StoreCountQuerySet.as_manager()
    objects = ScopedManager.from_queryset(StoreCountQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["workshop"],
                condition=Q(ended_at__isnull=True),
                name="storecount_one_open",
                violation_error_code="one_open",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, lots_left__isnull=True)
                | Q(ended_at__gte=F("begun_at"), lots_left__isnull=False),
                name="storecount_ended",
                violation_error_code="ended",
            ),
        ]
        indexes = [
            # StoreCountQuerySet.newest_first: the last ones on the page of the count.
            models.Index(fields=["workshop", "begun_at"], name="storecount_newest"),
        ]

    def __str__(self) -> str:
        return "store count"
