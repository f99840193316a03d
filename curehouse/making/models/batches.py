"""Batches: what was poured, how many bars it gave, and what became of them."""

from decimal import Decimal

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from curehouse.making.models.formulas import Formula, FormulaVersion
from curehouse.making.queries import BatchHoldQuerySet, BatchQuerySet, BatchUseQuerySet, SafetyCheckQuerySet
from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel
from inventory.models import Irregular, Movement


class Batch(ScopedModel, Signed):
    """One pour of one formula, and the bars it was cut into.

    Of a batch that was brought in from a file what went in may not be known, nor when it was poured
    (``poured_at`` is then the cut, so that lists stay in order), nor how many bars it gave (0).
    """

    class State(models.TextChoices):
        PLANNED = "planned", "planned"
        POURED = "poured", "poured, not cut yet"
        CURING = "curing", "curing"
        RELEASED = "released", "released"
        REJECTED = "rejected", "rejected"
        CLOSED = "closed", "closed"

    formula = models.ForeignKey(Formula, on_delete=models.PROTECT, related_name="batches")
    version = models.ForeignKey(FormulaVersion, on_delete=models.PROTECT, null=True, related_name="batches")
    number = models.PositiveIntegerField()
    known_as = models.CharField(max_length=40, blank=True, help_text="What the maker called it before it was brought in.")
    is_brought_in = models.BooleanField(default=False)
    state = models.CharField(max_length=10, choices=State.choices)
    poured_at = models.DateTimeField()
    pour_known = models.BooleanField(default=True)
    cut_at = models.DateTimeField(null=True)
    bars_cut = models.PositiveIntegerField(default=0)
    bars_left = models.PositiveIntegerField(default=0)
    fats_g = models.DecimalField(max_digits=10, decimal_places=3, null=True)
    lye_g = models.DecimalField(max_digits=10, decimal_places=3, null=True)
    koh_g = models.DecimalField(
        max_digits=10, decimal_places=3, null=True, help_text="How much of the lye is potassium hydroxide; null: nobody said."
    )
    lye_confirmed = models.BooleanField(default=False, help_text="The lye is out of the usual, and a person said it is right.")
    needs_check = models.BooleanField(
        default=False, help_text="May be caustic: its bars go to nobody before a safety check was passed."
    )
    check_by_formula = models.BooleanField(default=False, help_text="It needs the check by its formula, whatever its lots say.")
    superfat_low = models.DecimalField(max_digits=6, decimal_places=4, null=True)
    superfat_middle = models.DecimalField(max_digits=6, decimal_places=4, null=True)
    superfat_high = models.DecimalField(max_digits=6, decimal_places=4, null=True)
    superfat_effective = models.DecimalField(max_digits=6, decimal_places=4, null=True, help_text="With the milk's own fat.")
    superfat_effective_low = models.DecimalField(max_digits=6, decimal_places=4, null=True)
    superfat_effective_high = models.DecimalField(max_digits=6, decimal_places=4, null=True)
    superfat_by_lots = models.BooleanField(default=False, help_text="By the lots that were booked, not as it was reckoned.")
    reckoned = models.JSONField(null=True, help_text="What went in as far as lye is concerned, as reckoned at the pour.")
    water_share_computed = models.DecimalField(max_digits=5, decimal_places=4, null=True)
    water_share_stated = models.DecimalField(max_digits=5, decimal_places=4, null=True)
    note = models.TextField(blank=True, max_length=4000)
    written_at = models.DateTimeField()

    unscoped = BatchQuerySet.as_manager()
    objects = ScopedManager.from_queryset(BatchQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["workshop", "number"], name="batch_number_once", violation_error_code="number_taken"
            ),
            models.CheckConstraint(
                condition=Q(cut_at__isnull=True) | Q(cut_at__gte=F("poured_at")),
                name="batch_cut_after_pour",
                violation_error_code="cut_before_pour",
            ),
            models.CheckConstraint(
                condition=Q(bars_left__lte=F("bars_cut")), name="batch_bars_left", violation_error_code="too_many_bars"
            ),
            models.CheckConstraint(
                condition=(Q(fats_g__isnull=True) | Q(fats_g__gt=0)) & (Q(lye_g__isnull=True) | Q(lye_g__gt=0)),
                name="batch_masses_positive",
                violation_error_code="not_positive",
            ),
            models.CheckConstraint(
                condition=Q(koh_g__isnull=True) | Q(lye_g__isnull=False, koh_g__gte=0, koh_g__lte=F("lye_g")),
                name="batch_koh_of_the_lye",
                violation_error_code="koh",
            ),
            models.CheckConstraint(
                condition=Q(is_brought_in=True)
                | Q(pour_known=True, fats_g__isnull=False, lye_g__isnull=False, water_share_computed__isnull=False),
                name="batch_entered_here_is_complete",
                violation_error_code="missing",
            ),
            models.CheckConstraint(
                condition=Q(water_share_computed__isnull=False) | Q(water_share_stated__isnull=False),
                name="batch_water_share_known",
                violation_error_code="missing",
            ),
            models.CheckConstraint(
                condition=Q(pour_known=True) | Q(poured_at=F("cut_at")),
                name="batch_unknown_pour_is_the_cut",
                violation_error_code="missing",
            ),
            models.UniqueConstraint(
                "workshop",
                Lower("known_as"),
                condition=~Q(known_as=""),
                name="batch_known_as_once",
                violation_error_code="name_taken",
            ),
            models.CheckConstraint(
                condition=(Q(water_share_computed__isnull=True) | Q(water_share_computed__gte=0, water_share_computed__lt=1))
                & (Q(water_share_stated__isnull=True) | (Q(water_share_stated__gt=0) & Q(water_share_stated__lt=1))),
                name="batch_water_share",
                violation_error_code="water_share",
            ),
            models.CheckConstraint(
                condition=~Q(state="curing") | (Q(cut_at__isnull=False) & Q(bars_left__gt=0)),
                name="batch_curing_has_bars",
                violation_error_code="no_bars",
            ),
        ]
        indexes = [
            # BatchQuerySet.open: Today, Racks and the round read the few batches that still stand.
            models.Index(fields=["workshop", "number"], condition=Q(state__in=["poured", "curing"]), name="batch_open"),
            # BatchQuerySet.newest_first: the Bench's list of all batches.
            models.Index(fields=["workshop", "-poured_at", "-id"], name="batch_newest"),
        ]

    def __str__(self) -> str:
        return f"{self.formula.name} {self.known_as or self.number}"

    @property
    def naoh_g(self) -> Decimal | None:
        """Return how many grams of the lye are sodium hydroxide, None where nobody said."""
        return None if self.lye_g is None or self.koh_g is None else self.lye_g - self.koh_g

    @property
    def water_share(self) -> float:
        """Return the water share of the fresh bar: the maker's own figure, or the computed one."""
        stated = self.water_share_stated
        return float(stated if stated is not None else self.water_share_computed)


class BatchLiquid(ScopedModel):
    """A liquid that went in, with the part of it that is water."""

    class Place(models.TextChoices):
        FRONT = "front", "in front, with the lye"
        TRACE = "trace", "at trace"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="liquids")
    kind = models.CharField(max_length=40)
    mass_g = models.DecimalField(max_digits=10, decimal_places=3)
    water_fraction = models.DecimalField(max_digits=5, decimal_places=4)
    place = models.CharField(max_length=5, choices=Place.choices, default=Place.FRONT)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(mass_g__gt=0), name="batchliquid_mass_positive", violation_error_code="not_positive"
            ),
            models.CheckConstraint(
                condition=Q(water_fraction__gte=0) & Q(water_fraction__lte=1),
                name="batchliquid_water_fraction",
                violation_error_code="fraction",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mass_g} g {self.kind}"


class SafetyCheck(ScopedLedger, Signed):
    """A person's verdict on a batch's alkalinity, by the maker's own written limit; a fail needs none."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="safety_checks")
    at = models.DateTimeField()
    method = models.CharField(max_length=120)
    value = models.CharField(max_length=60)
    limit = models.CharField(max_length=200, blank=True)
    passed = models.BooleanField()
    note = models.CharField(max_length=400, blank=True)
    written_at = models.DateTimeField()

    unscoped = SafetyCheckQuerySet.as_manager()
    objects = ScopedManager.from_queryset(SafetyCheckQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(method="") & ~Q(value="") & (~Q(limit="") | Q(passed=False)),
                name="safetycheck_complete",
                violation_error_code="missing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.value} ({'passed' if self.passed else 'failed'})"


class TakeOut(ScopedLedger, Signed):
    """Bars that left the cure, when, and what for."""

    class Purpose(models.TextChoices):
        SALE = "sale", "to sell"
        GIFT = "gift", "to give away"
        KEPT = "kept", "kept as reference"
        DESTROYED = "destroyed", "destroyed, or melted down to rework"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="take_outs")
    at = models.DateTimeField()
    bars = models.PositiveIntegerField()
    purpose = models.CharField(max_length=10, choices=Purpose.choices)
    state_then = models.CharField(max_length=20)
    forced_reason = models.CharField(max_length=400, blank=True)
    written_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(bars__gt=0), name="takeout_bars_positive", violation_error_code="not_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.bars} bars {self.get_purpose_display()}"


class BatchUse(ScopedLedger, Signed):
    """What a batch took from one lot of the storeroom; taken back with its movement."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="uses")
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="batch_use")
    irregular = models.CharField(max_length=10, choices=Irregular.choices, blank=True)
    reason = models.CharField(max_length=400, blank=True)
    written_at = models.DateTimeField()

    unscoped = BatchUseQuerySet.as_manager()
    objects = ScopedManager.from_queryset(BatchUseQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(irregular="") | ~Q(reason=""), name="batchuse_irregular_why", violation_error_code="reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{-self.movement.amount.normalize():f} of {self.movement.lot}"


class BatchHold(ScopedLedger, Signed):
    """Why a batch's bars go to nobody until a person says otherwise (see :class:`BatchHoldLift`)."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="holds")
    use = models.OneToOneField(BatchUse, on_delete=models.PROTECT, null=True, related_name="hold")
    cause = models.CharField(max_length=400)
    reason = models.CharField(max_length=400, blank=True)
    at = models.DateTimeField()

    unscoped = BatchHoldQuerySet.as_manager()
    objects = ScopedManager.from_queryset(BatchHoldQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(cause=""), name="batchhold_cause", violation_error_code="missing"),
        ]

    def __str__(self) -> str:
        return self.cause


class BatchHoldLift(ScopedLedger, Signed):
    """A person's word that a hold no longer stands."""

    hold = models.OneToOneField(BatchHold, on_delete=models.PROTECT, related_name="lift")
    why = models.CharField(max_length=400)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(why=""), name="batchholdlift_why", violation_error_code="missing"),
        ]

    def __str__(self) -> str:
        return self.why
