"""Runs that are planned: what is to be poured when, how that changed, and what it will take of the storeroom."""

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from decimal import Decimal

from django.db import models
from django.db.models import F, Q

from curehouse.making.models.batches import Batch
from curehouse.making.models.formulas import Formula, FormulaVersion
from curehouse.making.queries import ReservationQuerySet, RunQuerySet
from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel
from inventory.models import Lot, Material


@dataclass(frozen=True, slots=True)
class Unasked:
    """What the storeroom cannot be asked for: grams of one thing, or pieces; None where no amount can be told."""

    name: str
    amount_g: Decimal | None
    is_kept: bool
    is_lye: bool


class Run(ScopedModel, Signed):
    """A pour that is planned for a day: of which version of a formula, and how much.

    ``announced_on`` is the day on which it was planned first, and stays: how long before their day runs
    are known says what is still to be expected. ``pour_on`` is its day by the newest change.
    """

    class State(models.TextChoices):
        PLANNED = "planned", "planned"
        CALLED_OFF = "called_off", "called off"
        POURED = "poured", "poured"

    formula = models.ForeignKey(Formula, on_delete=models.PROTECT, related_name="runs")
    version = models.ForeignKey(FormulaVersion, on_delete=models.PROTECT, related_name="runs")
    batch = models.OneToOneField(Batch, on_delete=models.PROTECT, null=True, related_name="run")
    state = models.CharField(max_length=10, choices=State.choices, default=State.PLANNED)
    fats_g = models.DecimalField(max_digits=10, decimal_places=3, help_text="The oils, in grams.")
    bars = models.PositiveIntegerField(
        null=True, help_text="How many bars it is to give, as the maker says; null: as batches of its formula gave."
    )
    pour_on = models.DateField()
    announced_on = models.DateField()
    unasked = models.JSONField(
        default=list, help_text="What of it the storeroom could not be asked for when it was reserved; see Unasked."
    )
    note = models.TextField(blank=True, max_length=4000)
    written_at = models.DateTimeField()

    unscoped = RunQuerySet.as_manager()
    objects = ScopedManager.from_queryset(RunQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(fats_g__gt=0), name="run_fats_positive", violation_error_code="not_positive"),
            models.CheckConstraint(
                condition=Q(bars__isnull=True) | Q(bars__gt=0), name="run_bars_positive", violation_error_code="not_positive"
            ),
            models.CheckConstraint(
                condition=Q(state__in=["planned", "called_off", "poured"]), name="run_state", violation_error_code="state"
            ),
            models.CheckConstraint(
                condition=Q(state="poured", batch__isnull=False) | (~Q(state="poured") & Q(batch__isnull=True)),
                name="run_poured_has_its_batch",
                violation_error_code="batch",
            ),
        ]
        indexes = [
            # RunQuerySet.planned: the few that are still ahead, by their day.
            models.Index(fields=["workshop", "pour_on", "id"], condition=Q(state="planned"), name="run_planned"),
        ]

    def __str__(self) -> str:
        return f"{self.formula.name}, {self.pour_on:%-d %b %Y}"

    @property
    def not_kept(self) -> list[Unasked]:
        """Return what of it nothing is reserved of: not kept in the storeroom, counted in pieces, or of no known amount."""
        return [
            Unasked(one["name"], None if one["amount_g"] is None else Decimal(one["amount_g"]), one["is_kept"], one["is_lye"])
            for one in self.unasked
        ]

    @not_kept.setter
    def not_kept(self, found: Iterable[Unasked]) -> None:
        self.unasked = [{**asdict(one), "amount_g": None if one.amount_g is None else f"{one.amount_g:f}"} for one in found]


class RunChange(ScopedLedger, Signed):
    """What was said of a run, when and by whom: planned, moved, made larger or smaller, called off, poured."""

    class What(models.TextChoices):
        PLANNED = "planned", "planned"
        MOVED = "moved", "moved"
        RESERVED = "reserved", "reserved anew"
        CALLED_OFF = "called_off", "called off"
        POURED = "poured", "poured"

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="changes")
    what = models.CharField(max_length=10, choices=What.choices)
    pour_on = models.DateField(help_text="Its day from then on.")
    was_on = models.DateField(null=True, help_text="Its day until then, where it was moved.")
    fats_g = models.DecimalField(
        max_digits=10, decimal_places=3, null=True, help_text="Its oils from then on, in grams; null: nobody noted them."
    )
    version = models.ForeignKey(
        FormulaVersion, on_delete=models.PROTECT, null=True, related_name="+", help_text="Its version from then on."
    )
    why = models.CharField(max_length=400, blank=True)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(what="moved", was_on__isnull=False) & ~Q(was_on=F("pour_on"))
                | (~Q(what="moved") & Q(was_on__isnull=True)),
                name="runchange_moved_from",
                violation_error_code="day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_what_display()}, {self.pour_on:%-d %b %Y}"


class Reservation(ScopedModel):
    """What a run takes of one material, in grams, on its day, until the use is booked; of which lots, netting says."""

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="reservations")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    amount_g = models.DecimalField(max_digits=13, decimal_places=3)
    water_g = models.DecimalField(
        max_digits=13, decimal_places=3, default=0, help_text="Of lye: the water in front that may come with it, dissolved."
    )
    stands_in = models.ForeignKey(
        Lot, on_delete=models.PROTECT, null=True, related_name="+",
        help_text="Of lye: the lot of it dissolved beforehand that was chosen for the run, and stays its own.",
    )  # fmt: skip

    unscoped = ReservationQuerySet.as_manager()
    objects = ScopedManager.from_queryset(ReservationQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["run", "material"], name="reservation_once", violation_error_code="reserved"),
            models.CheckConstraint(
                condition=Q(amount_g__gt=0), name="reservation_positive", violation_error_code="not_positive"
            ),
            models.CheckConstraint(condition=Q(water_g__gte=0), name="reservation_water", violation_error_code="negative"),
        ]

    def __str__(self) -> str:
        return f"{self.amount_g.normalize():f} g of {self.material}"
