"""Who works here: people, workshops, the scales they weigh on, the devices they trust."""

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from curehouse.common import units
from curehouse.workshops.queries import DeviceTokenQuerySet, MemberQuerySet, ScaleQuerySet, ScaleTareQuerySet, WorkshopQuerySet
from curehouse.workshops.roles import Reach, Role
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel


class User(AbstractBaseUser):
    """A person, known by an e-mail address."""

    email = models.EmailField(max_length=254, unique=True)
    name = models.CharField(max_length=120)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField()

    objects = BaseUserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"

    class Meta:
        constraints = [
            # Addresses are kept in small letters, so that one person cannot be two.
            models.CheckConstraint(condition=Q(email=Lower("email")), name="user_email_small", violation_error_code="email"),
        ]

    def __str__(self) -> str:
        return self.name


class Workshop(models.Model):
    """One maker's house: everything else belongs to one."""

    class Unit(models.TextChoices):
        GRAM = units.GRAM, "grams (g)"
        OUNCE = units.OUNCE, "ounces (oz)"

    name = models.CharField(max_length=120)
    unit = models.CharField(max_length=2, choices=Unit.choices, default=Unit.GRAM)
    time_zone = models.CharField(max_length=64)
    currency = models.CharField(max_length=3)
    round_days = models.JSONField(help_text="Weekdays of the round, Monday is 0.")
    morning_at = models.TimeField()
    morning_done_on = models.DateField(null=True)
    min_days = models.PositiveSmallIntegerField(default=28)
    weekly_loss_limit_pct = models.DecimalField(max_digits=5, decimal_places=3, default="0.75")
    latest_day = models.PositiveSmallIntegerField(default=56)
    water_left_limit_pct = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    check_method = models.CharField(max_length=120, blank=True)
    check_limit = models.CharField(max_length=200, blank=True)
    late_batch_cost = models.DecimalField(
        max_digits=12, decimal_places=2, null=True, help_text="A batch that waits; null: reckoned."
    )
    late_day_cost = models.DecimalField(max_digits=12, decimal_places=2, null=True, help_text="Each day of it; null: reckoned.")
    order_work_cost = models.DecimalField(max_digits=12, decimal_places=2, null=True, help_text="An order; null: reckoned.")
    turn_every_days = models.PositiveSmallIntegerField(
        null=True, default=7, db_default=7, help_text="Bars are to be turned so often; null: nobody is reminded."
    )
    turn_for_days = models.PositiveSmallIntegerField(
        default=28, db_default=28, help_text="The first days of a cure in which one is reminded to turn bars."
    )
    last_batch_number = models.PositiveIntegerField(default=0)
    last_lot_number = models.PositiveIntegerField(default=0)
    last_order_number = models.PositiveIntegerField(default=0, db_default=0)
    created_at = models.DateTimeField()

    objects = WorkshopQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="workshop_named", violation_error_code="missing"),
            models.CheckConstraint(
                condition=Q(weekly_loss_limit_pct__gt=0) & Q(weekly_loss_limit_pct__lte=10),
                name="workshop_weekly_loss_limit",
                violation_error_code="loss_limit",
            ),
            models.CheckConstraint(
                condition=Q(min_days__gte=1) & Q(latest_day__gt=F("min_days")) & Q(latest_day__lte=730),
                name="workshop_days_in_order",
                violation_error_code="days_in_order",
            ),
            models.CheckConstraint(
                condition=Q(water_left_limit_pct__isnull=True)
                | (Q(water_left_limit_pct__gt=0) & Q(water_left_limit_pct__lt=100)),
                name="workshop_water_left_limit",
                violation_error_code="water_limit",
            ),
            models.CheckConstraint(
                condition=(Q(late_batch_cost__isnull=True) | Q(late_batch_cost__gte=0))
                & (Q(late_day_cost__isnull=True) | Q(late_day_cost__gte=0))
                & (Q(order_work_cost__isnull=True) | Q(order_work_cost__gte=0)),
                name="workshop_waiting_costs",
                violation_error_code="negative",
            ),
            models.CheckConstraint(
                condition=(Q(turn_every_days__isnull=True) | Q(turn_every_days__gte=1, turn_every_days__lte=28))
                & Q(turn_for_days__gte=1, turn_for_days__lte=365),
                name="workshop_turning",
                violation_error_code="turning",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class MemberManager(ScopedManager):
    """Finds who is in a workshop now, unless it is asked for all who ever were."""

    def within(self, workshop: models.Model) -> MemberQuerySet:
        """Return the people of *workshop* now."""
        return self.ever_within(workshop).now()

    def ever_within(self, workshop: models.Model) -> MemberQuerySet:
        """Return the people of *workshop*, and those who left it."""
        return super().within(workshop)


class Member(ScopedModel):
    """A person's place in a workshop, now or once; whoever comes back gets a new one.

    ``objects.within(workshop)`` finds those who are there now, ``objects.ever_within`` those who left too.
    """

    Role = Role

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=10, choices=Role.choices)
    joined_at = models.DateTimeField()
    left_at = models.DateTimeField(null=True)
    ended_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    unscoped = MemberQuerySet.as_manager()
    objects = MemberManager.from_queryset(MemberQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["workshop", "user"],
                condition=Q(left_at__isnull=True),
                name="member_once",
                violation_error_code="member_once",
            ),
            models.CheckConstraint(
                condition=Q(left_at__isnull=True, ended_by__isnull=True) | Q(left_at__isnull=False, ended_by__isnull=False),
                name="member_ended_by_somebody",
                violation_error_code="ended",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user} ({self.role})"


class DeviceToken(ScopedModel):
    """A secret given to one device; only its SHA-256 is kept."""

    name = models.CharField(max_length=80)
    digest = models.CharField(max_length=64, unique=True)
    hint = models.CharField(max_length=8, help_text="The first characters, to tell tokens apart.")
    reach = models.CharField(max_length=6, choices=Reach.choices)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)

    unscoped = DeviceTokenQuerySet.as_manager()
    objects = ScopedManager.from_queryset(DeviceTokenQuerySet)()

    def __str__(self) -> str:
        return self.name


class Signed(models.Model):
    """Who wrote a row: a person, a device, or (both empty) Curehouse itself."""

    by_user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    by_device = models.ForeignKey(DeviceToken, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        abstract = True

    @property
    def signed_by(self) -> str:
        """Return the name of who wrote the row."""
        return str(self.by_user or self.by_device or "Curehouse")


class Scale(ScopedModel):
    """A scale: its step says how finely a weight can be known."""

    name = models.CharField(max_length=80)
    step_g = models.DecimalField(max_digits=15, decimal_places=12)
    retired_at = models.DateTimeField(null=True)

    unscoped = ScaleQuerySet.as_manager()
    objects = ScopedManager.from_queryset(ScaleQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "name"], name="scale_name_once", violation_error_code="name_taken"),
            models.CheckConstraint(condition=Q(step_g__gt=0), name="scale_step_positive", violation_error_code="not_positive"),
        ]

    def __str__(self) -> str:
        return self.name


class ScaleCheck(ScopedLedger, Signed):
    """A check of a scale with a test weight."""

    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, related_name="checks")
    at = models.DateTimeField()
    test_weight_g = models.DecimalField(max_digits=10, decimal_places=3)
    shown_g = models.DecimalField(max_digits=10, decimal_places=3)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(test_weight_g__gt=0) & Q(shown_g__gte=0),
                name="scalecheck_weights_positive",
                violation_error_code="not_positive",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.test_weight_g} g shown as {self.shown_g} g"


class ScaleTare(ScopedModel):
    """Something that stands on a scale and can be forgotten: a tray, a bowl, a sheet of paper."""

    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, related_name="tares")
    name = models.CharField(max_length=80)
    weight_g = models.DecimalField(max_digits=9, decimal_places=3)
    retired_at = models.DateTimeField(null=True)

    unscoped = ScaleTareQuerySet.as_manager()
    objects = ScopedManager.from_queryset(ScaleTareQuerySet)()

    class Meta:
        verbose_name = "tare"
        constraints = [
            models.UniqueConstraint(
                fields=["scale", "name"],
                condition=Q(retired_at__isnull=True),
                name="scaletare_name_once",
                violation_error_code="name_taken",
            ),
            models.CheckConstraint(
                condition=Q(weight_g__gt=0), name="scaletare_weight_positive", violation_error_code="not_positive"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Submission(ScopedModel):
    """Something sent to the house once: sent again under its key, it gets the first answer."""

    key = models.CharField(max_length=80)
    fingerprint = models.CharField(max_length=64, help_text="SHA-256 of what was sent.")
    answer = models.JSONField(null=True)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "key"], name="submission_once"),
        ]

    def __str__(self) -> str:
        return self.key
