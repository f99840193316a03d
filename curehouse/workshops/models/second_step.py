"""The second step of signing in, for whoever has switched it on, and the codes that open without the app."""

from django.conf import settings
from django.db import models

from curehouse.workshops.queries import RecoveryCodeQuerySet, SecondStepQuerySet


class SecondStep(models.Model):
    """A person's second step; without a row it is off.

    The app's secret is not kept: it is made each time of *seed* and the house's secret key, so the
    tables alone make no code.
    """

    person = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="second_step")
    seed = models.CharField(max_length=64)
    on_since = models.DateTimeField()
    last_step = models.PositiveBigIntegerField(help_text="Of the newest code that was accepted; none up to it is again.")
    codes_set = models.PositiveIntegerField(default=1, help_text="Counts the sets of recovery codes; the newest is good.")

    objects = SecondStepQuerySet.as_manager()

    def __str__(self) -> str:
        return f"since {self.on_since:%Y-%m-%d}"


class RecoveryCode(models.Model):
    """A code that stands in for the app once; only its SHA-256 is kept."""

    second_step = models.ForeignKey(SecondStep, on_delete=models.CASCADE, related_name="recovery_codes")
    digest = models.CharField(max_length=64, unique=True)
    used_at = models.DateTimeField(null=True)

    objects = RecoveryCodeQuerySet.as_manager()

    def __str__(self) -> str:
        return "used" if self.used_at else "unused"
