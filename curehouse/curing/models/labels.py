"""The label weight a person chose for a batch, with what it was chosen by."""

from django.db import models
from django.db.models import Q

from curehouse.curing.models.forecasts import Forecast
from curehouse.curing.queries.labels import LabelWeightQuerySet
from curehouse.making.models import Batch
from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager


class LabelWeight(ScopedLedger, Signed):
    """A weight for the label as it was worked out and chosen; the newest of a batch counts.

    ``chance`` is how likely the rule holds with it, by ``forecast``, for so many ``bars``; ``probability`` is how
    likely it was wanted to. ``shelf_months`` of 0 ask for the day of packing alone.
    """

    class Rule(models.TextChoices):
        DIRECTIVE_76_211 = "directive_76_211", "Directive 76/211/EEC, Annex I"
        HANDBOOK_133 = "handbook_133", "NIST Handbook 133"

    class Wrap(models.TextChoices):
        OPEN = "open", "open"
        BAND = "band", "in a band"
        SEALED = "sealed", "sealed"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="label_weights")
    forecast = models.ForeignKey(Forecast, on_delete=models.PROTECT, related_name="+")
    rule = models.CharField(max_length=20, choices=Rule.choices)
    wrap = models.CharField(max_length=6, choices=Wrap.choices)
    packed_on = models.DateField()
    shelf_months = models.PositiveSmallIntegerField()
    probability = models.DecimalField(max_digits=4, decimal_places=3)
    bars = models.PositiveIntegerField()
    weight_g = models.DecimalField(max_digits=9, decimal_places=3)
    chance = models.FloatField()
    written_at = models.DateTimeField()

    unscoped = LabelWeightQuerySet.as_manager()
    objects = ScopedManager.from_queryset(LabelWeightQuerySet)()

    class Meta:
        verbose_name = "label weight"
        constraints = [
            models.CheckConstraint(
                condition=Q(weight_g__gt=0) & Q(bars__gt=0), name="labelweight_positive", violation_error_code="not_positive"
            ),
            models.CheckConstraint(
                condition=Q(probability__gt=0) & Q(probability__lt=1),
                name="labelweight_probability",
                violation_error_code="probability",
            ),
        ]
        indexes = [
            # LabelWeightQuerySet.newest_first, for one batch: its label's page and the API.
            models.Index(fields=["batch", "-id"], name="labelweight_newest"),
        ]

    def __str__(self) -> str:
        return f"{self.weight_g.normalize():f} g"
