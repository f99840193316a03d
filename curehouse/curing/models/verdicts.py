"""What the house makes of the weighings."""

from django.db import models
from django.db.models import Q

from curehouse.curing.models.forecasts import CureRecord, Forecast
from curehouse.curing.models.labels import LabelWeight
from curehouse.curing.models.weighing import Reading
from curehouse.curing.queries.verdicts import AssessmentQuerySet, CureQuerySet
from curehouse.making.models import Batch
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel


class State(models.TextChoices):
    """The states of a cure, in the words of the trade."""

    CURING = "curing", "curing"
    CHECK_DUE = "check_due", "dry enough, check due"
    READY = "ready", "ready"
    TOO_SOFT = "too_soft", "too soft"
    LOOK_AGAIN = "look_again", "look again"
    NOT_WEIGHED = "not_weighed", "not weighed"


# How a batch is shown that is dry enough and whose last check failed; its state is "check due".
CHECK_FAILED = "check_failed"


class Assessment(ScopedLedger):
    """A verdict on a batch as of one moment, with its figures and its reasons.

    ``method`` names the rule that was used, so that a forecast can stand beside the measured rule;
    ``reasons`` and ``advice`` are what a person reads, ``figures`` everything the rule computed.
    """

    class Cause(models.TextChoices):
        READING = "reading", "a weighing"
        REVIEW = "review", "a weighing kept, corrected or struck out"
        CHECK = "check", "a safety check"
        MORNING = "morning", "the morning"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="assessments")
    moment = models.DateTimeField()
    cause = models.CharField(max_length=8, choices=Cause.choices)
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, null=True, related_name="+")
    method = models.CharField(max_length=20)
    state = models.CharField(max_length=12, choices=State.choices)
    age_days = models.PositiveIntegerField()
    dry_enough = models.BooleanField()
    weekly_loss_pct = models.FloatField(null=True)
    total_loss_pct = models.FloatField(null=True)
    water_left_pct = models.FloatField(null=True)
    reasons = models.JSONField()
    advice = models.JSONField()
    figures = models.JSONField()
    written_at = models.DateTimeField()

    unscoped = AssessmentQuerySet.as_manager()
    objects = ScopedManager.from_queryset(AssessmentQuerySet)()

    class Meta:
        indexes = [
            # AssessmentQuerySet.newest_first, for one batch: its page and the API.
            models.Index(fields=["batch", "-moment", "-id"], name="assessment_newest"),
        ]
        constraints = [
            # A task that runs twice assesses a weighing once, and a morning once.
            models.UniqueConstraint(fields=["reading"], condition=Q(cause="reading"), name="assessment_once_a_reading"),
            models.UniqueConstraint(fields=["batch", "moment"], condition=Q(cause="morning"), name="assessment_once_a_morning"),
        ]

    def __str__(self) -> str:
        return f"{self.get_state_display()} on day {self.age_days}"


class Cure(ScopedModel):
    """Where a batch's cure stands now: one row a batch, kept so that a page reads few rows.

    ``assess_wanted_at`` is set in the transaction that made an assessment necessary and cleared by
    the assessment that answered it; ``forecast_wanted_at`` likewise by a forecast, or, once the cure has ended,
    by reading anew what is known of it. ``record`` is what
    was known of its weighings when it was last foretold or learnt from, ``label`` the newest label weight
    of the batch. ``episode`` counts the changes of state: a notice is about one.
    """

    batch = models.OneToOneField(Batch, on_delete=models.PROTECT, related_name="cure")
    state = models.CharField(max_length=12, choices=State.choices, default=State.CURING)
    state_since = models.DateTimeField()
    episode = models.PositiveIntegerField(default=0)
    assessment = models.ForeignKey(Assessment, on_delete=models.PROTECT, null=True, related_name="+")
    last_reading = models.ForeignKey(Reading, on_delete=models.PROTECT, null=True, related_name="+")
    last_weighed_at = models.DateTimeField(null=True)
    due_on = models.DateField(null=True)
    assess_wanted_at = models.DateTimeField(null=True)
    record = models.ForeignKey(CureRecord, on_delete=models.PROTECT, null=True, related_name="+")
    forecast = models.ForeignKey(Forecast, on_delete=models.PROTECT, null=True, related_name="+")
    forecast_wanted_at = models.DateTimeField(null=True)
    label = models.ForeignKey(LabelWeight, on_delete=models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True)

    unscoped = CureQuerySet.as_manager()
    objects = ScopedManager.from_queryset(CureQuerySet)()

    class Meta:
        indexes = [
            # CureQuerySet.going_on: Today, Racks, the round.
            models.Index(fields=["workshop", "due_on"], condition=Q(ended_at__isnull=True), name="cure_going_on"),
            # CureQuerySet.wanting_assessment: the tick, in all workshops.
            models.Index(fields=["assess_wanted_at"], condition=Q(assess_wanted_at__isnull=False), name="cure_wanting"),
            # CureQuerySet.wanting_forecast: the tick, in all workshops.
            models.Index(fields=["forecast_wanted_at"], condition=Q(forecast_wanted_at__isnull=False), name="cure_unforetold"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(due_on__isnull=True),
                name="cure_ended_is_not_due",
                violation_error_code="ended",
            ),
        ]

    def __str__(self) -> str:
        return self.get_state_display()

    @property
    def shown_as(self) -> str:
        """Return the state to show: a check that failed must not look like one that is merely due."""
        reasons = self.assessment.reasons if self.state == State.CHECK_DUE and self.assessment else []
        return CHECK_FAILED if any(reason["code"] == "check_failed" for reason in reasons) else self.state
