"""What the house foretells of a cure, and everything it was worked out from: kept, so that it can be worked out again."""

from django.db import models
from django.db.models import Q

from curehouse.curing.queries.forecasts import CureLearningQuerySet, ForecastQuerySet
from curehouse.making.models import Batch
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel


class CureRecord(ScopedLedger):
    """What was known of a batch's weighings, or of a room's air, at some time: written once under its own fingerprint.

    ``content`` is what :func:`curehouse.curing.foretelling.record_of` makes of the rows.
    """

    fingerprint = models.CharField(max_length=64)
    content = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "fingerprint"], name="curerecord_once", violation_error_code="once"),
        ]

    def __str__(self) -> str:
        return self.fingerprint[:12]


class CurePrior(ScopedLedger):
    """What a workshop's own cures taught of its batches to come, under the fingerprint of what it was learnt from."""

    version = models.PositiveIntegerField()
    fingerprint = models.CharField(max_length=64)
    method = models.CharField(max_length=20)
    prior = models.JSONField()
    cures = models.PositiveIntegerField()
    learnt_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "version"], name="cureprior_version", violation_error_code="once"),
            models.UniqueConstraint(fields=["workshop", "fingerprint"], name="cureprior_once", violation_error_code="once"),
        ]

    def __str__(self) -> str:
        return f"version {self.version}"


class CureCalibration(ScopedLedger):
    """By how much ranges are widened, found by replaying the workshop's own ended cures."""

    fingerprint = models.CharField(max_length=64)
    method = models.CharField(max_length=20)
    calibration = models.JSONField()
    found_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["workshop", "fingerprint"], name="curecalibration_once", violation_error_code="once"
            ),
        ]

    def __str__(self) -> str:
        return self.fingerprint[:12]


class CureLearning(ScopedModel):
    """What a workshop goes by now: one row a workshop, claimed by who learns.

    ``stages`` are pairs of the day (an ordinal, or null for the first) from which a batch's last weighing
    is foretold by a prior, and that prior's key. ``logged_stages`` and ``logged_calibration`` are the same for
    batches that hear the log of their room; empty where none does.
    """

    stages = models.JSONField(default=list)
    calibration = models.ForeignKey(CureCalibration, on_delete=models.PROTECT, null=True, related_name="+")
    logged_stages = models.JSONField(default=list)
    logged_calibration = models.ForeignKey(CureCalibration, on_delete=models.PROTECT, null=True, related_name="+")
    fingerprint = models.CharField(max_length=64, blank=True)
    learnt_at = models.DateTimeField(null=True)
    wanted_at = models.DateTimeField(null=True)
    claimed_until = models.DateTimeField(null=True)

    unscoped = CureLearningQuerySet.as_manager()
    objects = ScopedManager.from_queryset(CureLearningQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop"], name="curelearning_one", violation_error_code="once"),
        ]
        indexes = [
            # CureLearningQuerySet.free: the tick, in all workshops.
            models.Index(fields=["wanted_at"], condition=Q(wanted_at__isnull=False), name="curelearning_wanting"),
        ]

    def __str__(self) -> str:
        return f"learnt {self.learnt_at}"


class Forecast(ScopedLedger):
    """What is foretold of a batch as of its last weighing, with all that it was worked out from.

    From ``record``, the records ``beside`` it and of the ``room``, ``prior``, ``calibration`` and ``asked`` the
    method gives ``foretold`` again, to the last digit; ``fingerprint`` is of all of these.
    """

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="forecasts")
    moment = models.DateTimeField()
    method = models.CharField(max_length=20)
    fingerprint = models.CharField(max_length=64)
    record = models.ForeignKey(CureRecord, on_delete=models.PROTECT, related_name="+")
    beside = models.JSONField(default=list)
    room = models.ForeignKey(CureRecord, on_delete=models.PROTECT, null=True, related_name="+")
    prior = models.ForeignKey(CurePrior, on_delete=models.PROTECT, null=True, related_name="+")
    calibration = models.ForeignKey(CureCalibration, on_delete=models.PROTECT, null=True, related_name="+")
    asked = models.JSONField()
    foretold = models.JSONField()
    written_at = models.DateTimeField()

    unscoped = ForecastQuerySet.as_manager()
    objects = ScopedManager.from_queryset(ForecastQuerySet)()

    class Meta:
        indexes = [
            # ForecastQuerySet.newest_first, for one batch: its page and the API.
            models.Index(fields=["batch", "-id"], name="forecast_newest"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["batch", "fingerprint"], name="forecast_once", violation_error_code="once"),
        ]

    def __str__(self) -> str:
        return f"forecast of {self.moment:%Y-%m-%d}"
