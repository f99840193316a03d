"""Lots: what came in at one time, its papers, and what was ruled about it."""

from datetime import date

from django.db import models
from django.db.models import F, Q

from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel
from inventory.models.things import Material, Supplier
from inventory.queries.lots import LotFileQuerySet, LotQuerySet, LotRulingQuerySet, LotValueQuerySet

# Ten tonnes, or ten million labels: more in one lot is a slip of the finger.
MOST_ON_HAND = 9_999_999


class Irregular(models.TextChoices):
    """Why a lot is not for planning; really used, it wants a reason. The empty value is: it is in order."""

    EXPIRED = "expired", "expired"
    QUARANTINE = "quarantine", "in quarantine"
    REJECTED = "rejected", "rejected"


class Lot(ScopedModel, Signed):
    """What came in of one material at one time, under the house's own number.

    ``on_hand`` (grams or pieces) is the balance of the lot's movements and ``standing`` that of its
    rulings, kept so that a page reads few rows; so is ``is_estimated``, whether the last count that says
    what it held was judged by eye. ``manage.py verify_ledger`` recomputes all three.
    """

    class Standing(models.TextChoices):
        QUARANTINE = "quarantine", "in quarantine"
        RELEASED = "released", "released"
        REJECTED = "rejected", "rejected"

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="lots", db_index=False)
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, null=True, related_name="lots")
    number = models.PositiveIntegerField(help_text="The house's own number.")
    supplier_lot = models.CharField(max_length=120, blank=True, help_text="The supplier's lot number.")
    received_on = models.DateField()
    best_before = models.DateField(null=True)
    unit_cost = models.DecimalField(
        max_digits=14, decimal_places=6, null=True, help_text="A gram or a piece, in the workshop's currency."
    )
    standing = models.CharField(max_length=10, choices=Standing.choices)
    on_hand = models.DecimalField(max_digits=13, decimal_places=3, default=0)
    is_estimated = models.BooleanField(default=False, help_text="What it holds rests on what was judged by eye.")
    written_at = models.DateTimeField()

    unscoped = LotQuerySet.as_manager()
    objects = ScopedManager.from_queryset(LotQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "number"], name="lot_number_once", violation_error_code="number_taken"),
            models.CheckConstraint(
                condition=Q(on_hand__gte=0) & Q(on_hand__lte=MOST_ON_HAND),
                name="lot_on_hand",
                violation_error_code="not_enough",
            ),
            models.CheckConstraint(
                condition=Q(unit_cost__isnull=True) | Q(unit_cost__gte=0), name="lot_unit_cost", violation_error_code="negative"
            ),
            models.CheckConstraint(
                condition=Q(standing__in=["quarantine", "released", "rejected"]),
                name="lot_standing",
                violation_error_code="standing",
            ),
        ]
        indexes = [
            # MaterialQuerySet.with_stock: a material's lots that hold something, past all that are used up.
            models.Index(fields=["material", "on_hand"], name="lot_of_material"),
            # MaterialQuerySet.with_first_receipt: since when a material is known, however many lots it had.
            models.Index(fields=["material", "received_on"], name="lot_first_receipt"),
            # LotQuerySet.in_stock: what is here, of all materials.
            models.Index(fields=["workshop", "on_hand"], name="lot_in_stock"),
        ]

    def __str__(self) -> str:
        return f"{self.material.name}, lot {self.number}"

    def irregular_on(self, day: date) -> str:
        """Return why the lot is not in order on *day* (an :class:`Irregular`), or nothing.

        The last day of the best-before still counts. What is worse than a date comes first.
        """
        if self.standing == self.Standing.REJECTED:
            return Irregular.REJECTED
        if self.standing == self.Standing.QUARANTINE:
            return Irregular.QUARANTINE
        return Irregular.EXPIRED if self.best_before is not None and self.best_before < day else ""


class LotRuling(ScopedLedger, Signed):
    """A person's word on a lot: in quarantine, released or rejected, and why; the newest counts."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="rulings")
    standing = models.CharField(max_length=10, choices=Lot.Standing.choices)
    why = models.CharField(max_length=400)
    at = models.DateTimeField()

    unscoped = LotRulingQuerySet.as_manager()
    objects = ScopedManager.from_queryset(LotRulingQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(why=""), name="lotruling_why", violation_error_code="missing"),
        ]

    def __str__(self) -> str:
        return f"{self.get_standing_display()}: {self.why}"


class LotCorrection(ScopedLedger, Signed):
    """Something about a lot that was entered wrongly: what it said, what it says now, and why."""

    class Field(models.TextChoices):
        SUPPLIER_LOT = "supplier_lot", "the supplier's lot number"
        BEST_BEFORE = "best_before", "best before"
        UNIT_COST = "unit_cost", "the cost"
        RECEIVED_ON = "received_on", "the day of receipt"

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="corrections")
    field = models.CharField(max_length=20, choices=Field.choices)
    before = models.CharField(max_length=120, blank=True)
    after = models.CharField(max_length=120, blank=True)
    why = models.CharField(max_length=400)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(why=""), name="lotcorrection_why", violation_error_code="missing"),
        ]

    def __str__(self) -> str:
        return f"{self.get_field_display()}: {self.before or 'nothing'} became {self.after or 'nothing'}"


class LotValue(ScopedLedger, Signed):
    """A figure of the lot's certificate or of a measurement; the newest of a name counts."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="values")
    name = models.CharField(max_length=80)
    value = models.DecimalField(max_digits=14, decimal_places=5)
    unit = models.CharField(max_length=40, blank=True)
    at = models.DateTimeField()

    unscoped = LotValueQuerySet.as_manager()
    objects = ScopedManager.from_queryset(LotValueQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="lotvalue_named", violation_error_code="missing"),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.value.normalize():f} {self.unit}".strip()


class LotFile(ScopedLedger, Signed):
    """A paper of the lot; its content lies in the data folder under a random name (``common/uploads.py``)."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="files")
    name = models.CharField(max_length=120)
    content_type = models.CharField(max_length=80)
    size_bytes = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64, help_text="Of what it holds.")
    kept_as = models.CharField(max_length=64, help_text="Its name in the data folder; of old papers, their SHA-256.")
    without_prices = models.BooleanField(
        default=False,
        help_text="Whether whoever attached it said that it shows no prices; those who see no costs open no other.",
    )
    at = models.DateTimeField()

    unscoped = LotFileQuerySet.as_manager()
    objects = ScopedManager.from_queryset(LotFileQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="lotfile_named", violation_error_code="missing"),
            models.CheckConstraint(condition=Q(size_bytes__gt=0), name="lotfile_not_empty", violation_error_code="empty"),
            models.CheckConstraint(condition=~Q(kept_as=""), name="lotfile_kept", violation_error_code="missing"),
            models.UniqueConstraint(
                fields=["kept_as"],
                condition=~Q(kept_as=F("sha256")),
                name="lotfile_kept_once",
                violation_error_code="kept_before",
            ),
        ]

    def __str__(self) -> str:
        return self.name
