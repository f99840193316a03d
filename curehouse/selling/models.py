"""Where and when bars are sold."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from curehouse.selling.queries import MarketQuerySet
from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedManager, ScopedModel


class Market(ScopedModel, Signed):
    """A day on which bars are wanted: a market, a fair, an order that is fetched."""

    name = models.CharField(max_length=80)
    held_on = models.DateField()
    note = models.CharField(max_length=400, blank=True)
    called_off_at = models.DateTimeField(null=True)
    written_at = models.DateTimeField()

    unscoped = MarketQuerySet.as_manager()
    objects = ScopedManager.from_queryset(MarketQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="market_named", violation_error_code="missing"),
            models.UniqueConstraint(
                "workshop",
                "held_on",
                Lower("name"),
                condition=Q(called_off_at__isnull=True),
                name="market_once",
                violation_error_code="name_taken",
            ),
        ]

    def __str__(self) -> str:
        return self.name
