"""The brake at the door: how often somebody tried, by account, by address, by device."""

from django.db import models
from django.db.models import Q

from curehouse.workshops.queries import DoorCountQuerySet


class DoorCount(models.Model):
    """Tries under one key, of which each puts the end off; whose they are is in no column, the key is a digest."""

    key = models.CharField(max_length=100, unique=True)
    tries = models.PositiveIntegerField()
    began_at = models.DateTimeField()
    ends_at = models.DateTimeField(db_index=True)
    refused_at = models.DateTimeField(null=True)

    objects = DoorCountQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=models.F("began_at")), name="doorcount_ends_after_it_began"),
        ]

    def __str__(self) -> str:
        return f"{self.key}: {self.tries}"
