"""The ledger of the storeroom: every gram and every piece that came, went, or was found or missed."""

from django.db import models
from django.db.models import F, Q

from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager
from inventory.models.lots import MOST_ON_HAND, Lot
from inventory.models.store_counts import StoreCount
from inventory.queries.movements import CountQuerySet, MovementQuerySet

__all__ = ["MOST_ON_HAND", "Count", "Movement"]


class Movement(ScopedLedger, Signed):
    """Grams or pieces that came to a lot (above zero) or left it (below).

    ``moment`` is when it happened, ``written_at`` when the house was told. A reversal takes back
    the movement it points at, as of that one's moment: it never happened.
    """

    class Kind(models.TextChoices):
        RECEIVE = "receive", "received"
        USE = "use", "used"
        COUNT = "count", "corrected by a count"
        WRITE_OFF = "write_off", "written off"
        GIVE_BACK = "give_back", "returned to the supplier"
        REVERSAL = "reversal", "taken back"

    class Source(models.TextChoices):
        PAGE = "page", "page"
        API = "api", "API"
        IMPORT = "import", "import"
        DEMO = "demo", "demo"

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movements", db_index=False)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    amount = models.DecimalField(max_digits=13, decimal_places=3)
    moment = models.DateTimeField()
    reason = models.CharField(max_length=400, blank=True)
    corrects = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="corrected_by")
    source = models.CharField(max_length=6, choices=Source.choices)
    written_at = models.DateTimeField()

    unscoped = MovementQuerySet.as_manager()
    objects = ScopedManager.from_queryset(MovementQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(kind="receive", amount__gt=0)
                    | Q(kind__in=["use", "write_off", "give_back"], amount__lt=0)
                    | (Q(kind__in=["count", "reversal"]) & ~Q(amount=0))
                ),
                name="movement_sign_fits_kind",
                violation_error_code="sign",
            ),
            models.CheckConstraint(
                condition=Q(kind="reversal", corrects__isnull=False) | (~Q(kind="reversal") & Q(corrects__isnull=True)),
                name="movement_reversal_corrects",
                violation_error_code="corrects",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["count", "write_off", "give_back", "reversal"]) | ~Q(reason=""),
                name="movement_reason",
                violation_error_code="missing",
            ),
        ]
        indexes = [
            # MovementQuerySet.in_order, for one lot: its story, and what was booked at a moment.
            models.Index(fields=["lot", "moment"], name="movement_of_lot"),
            # MovementQuerySet.used_since: the recent consumption of all materials.
            models.Index(fields=["workshop", "kind", "moment"], name="movement_recent_use"),
        ]

    def __str__(self) -> str:
        return f"{self.amount.normalize():+f} {self.get_kind_display()}"

    @property
    def is_estimate(self) -> bool:
        """Return whether it follows from what somebody judged by eye; read ``with_their_counts``."""
        row = self if self.corrects is None else self.corrects
        count = getattr(row, "count_of", None)
        return count is not None and (count.restates or count).is_estimate


class Count(ScopedLedger, Signed):
    """What a person found of a lot against what was booked at that moment.

    ``movement`` corrects the difference; without one there was nothing to correct. ``for_use``
    is set where a use told of more than was booked: found at the pour. ``by_list`` is what a stock
    list says of a lot that it brings, whose receipt is its movement. ``restates`` leads to the count
    that this one holds against the book anew, because something dated before it was entered after it
    (``services/recounts.py``). ``takes_back`` leads to a count without a difference that never happened;
    one with a difference is taken back by its movement. ``is_estimate``: judged by eye; what fits the book
    then leaves it as it is. ``store_count`` is the walk past all lots on which it was counted, if any.
    """

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="counts")
    counted = models.DecimalField(max_digits=13, decimal_places=3)
    expected = models.DecimalField(max_digits=13, decimal_places=3)
    moment = models.DateTimeField()
    reason = models.CharField(max_length=400, blank=True)
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, null=True, related_name="count_of")
    for_use = models.OneToOneField(Movement, on_delete=models.PROTECT, null=True, related_name="found")
    restates = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="restated_by")
    takes_back = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="taken_back_by")
    by_list = models.BooleanField(default=False)
    is_estimate = models.BooleanField(default=False, help_text="Judged by eye, not weighed or counted.")
    store_count = models.ForeignKey(StoreCount, on_delete=models.PROTECT, null=True, related_name="counts")
    written_at = models.DateTimeField()

    unscoped = CountQuerySet.as_manager()
    objects = ScopedManager.from_queryset(CountQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(counted__gte=0), name="count_not_negative", violation_error_code="negative"),
            models.CheckConstraint(
                condition=Q(movement__isnull=True, counted=F("expected"))
                | (Q(movement__isnull=False) & ~Q(counted=F("expected")) & ~Q(reason="")),
                name="count_corrects_a_difference",
                violation_error_code="count",
            ),
            models.CheckConstraint(
                condition=Q(takes_back__isnull=True)
                | (Q(movement__isnull=True, for_use__isnull=True, restates__isnull=True, by_list=False) & ~Q(reason="")),
                name="count_taken_back_says_why",
                violation_error_code="missing",
            ),
            models.CheckConstraint(
                condition=Q(is_estimate=False, store_count__isnull=True)
                | Q(for_use__isnull=True, restates__isnull=True, takes_back__isnull=True, by_list=False),
                name="count_by_a_person",
                violation_error_code="count",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.counted} counted, {self.expected} booked"

    @property
    def is_taken_back(self) -> bool:
        """Return whether it never happened."""
        return hasattr(self, "taken_back_by") or (self.movement is not None and hasattr(self.movement, "corrected_by"))
