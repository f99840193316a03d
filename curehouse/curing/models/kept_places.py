"""Places that are kept for runs: for which days, by what was expected of their cure when they were kept."""

from django.db import models
from django.db.models import F, Q

from curehouse.curing.models.places import Position
from curehouse.curing.queries.kept_places import ExpectedCureQuerySet
from curehouse.making.models import Run
from curehouse.workshops.scoping import ScopedManager, ScopedModel


class ExpectedCure(ScopedModel):
    """What is expected of the cure of a run: how many bars, from when, and until when they have to stay.

    It stands as it was when the run was planned, moved or reserved anew. ``half_dry_on`` is the day by which half of
    such batches are dry enough, null where none looked at is; ``stays_until`` the one by which nine of ten are, or,
    where that takes longer than it was looked (``is_told`` false), the last one looked at.
    """

    run = models.OneToOneField(Run, on_delete=models.PROTECT, related_name="expected_cure")
    bars = models.PositiveIntegerField()
    pour_on = models.DateField(help_text="The day of the pour it was reckoned for.")
    cut_on = models.DateField()
    half_dry_on = models.DateField(null=True)
    stays_until = models.DateField()
    is_told = models.BooleanField()
    written_at = models.DateTimeField()

    unscoped = ExpectedCureQuerySet.as_manager()
    objects = ScopedManager.from_queryset(ExpectedCureQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(bars__gt=0), name="expectedcure_bars", violation_error_code="not_positive"),
            models.CheckConstraint(
                condition=Q(stays_until__gte=F("cut_on"), cut_on__gte=F("pour_on")),
                name="expectedcure_days",
                violation_error_code="day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.bars} bars from {self.cut_on:%-d %b %Y} to {self.stays_until:%-d %b %Y}"


class KeptPlace(ScopedModel):
    """So many bars of a run are to stand at a position; kept, not filled: what really stands where, placements say."""

    cure = models.ForeignKey(ExpectedCure, on_delete=models.PROTECT, related_name="places")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="kept")
    bars = models.PositiveIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["cure", "position"], name="keptplace_once", violation_error_code="place_taken"),
            models.CheckConstraint(condition=Q(bars__gt=0), name="keptplace_bars", violation_error_code="not_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.bars} bars at {self.position_id}"
