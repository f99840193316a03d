"""Materials that are made from others, such as lye dissolved beforehand: by which recipe, and what went into each lot."""

from django.db import models
from django.db.models import Q

from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager
from inventory.models.lots import Lot
from inventory.models.movements import Movement
from inventory.models.things import Material
from inventory.queries.blends import BlendQuerySet, MakingQuerySet, MakingTakeQuerySet


class Blend(ScopedLedger, Signed):
    """How a material is made from others, as it was written once; the newest of a material counts.

    One without parts says that it is not made any more. ``yielded`` is how much comes of a gram of the parts (0-1).
    """

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="blends")
    number = models.PositiveSmallIntegerField()
    yielded = models.DecimalField(max_digits=5, decimal_places=4, help_text="Of a gram of its parts, in grams.")
    keeps_days = models.PositiveIntegerField(null=True, help_text="For how many days it keeps, once it is made.")
    note = models.TextField(blank=True, max_length=4000)
    at = models.DateTimeField()

    unscoped = BlendQuerySet.as_manager()
    objects = ScopedManager.from_queryset(BlendQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["material", "number"], name="blend_once", violation_error_code="written_meanwhile"),
            models.CheckConstraint(
                condition=Q(yielded__gt=0) & Q(yielded__lte=1), name="blend_yielded", violation_error_code="fraction"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.material}, recipe {self.number}"


class BlendPart(ScopedLedger):
    """One part of a blend by mass: of the storeroom, or by its name alone what is not kept there, such as water."""

    blend = models.ForeignKey(Blend, on_delete=models.PROTECT, related_name="parts")
    place = models.PositiveSmallIntegerField(help_text="Its place in the list.")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, null=True, related_name="+")
    name = models.CharField(max_length=120)
    parts = models.DecimalField(max_digits=13, decimal_places=3)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["blend", "place"], name="blendpart_place_once"),
            models.CheckConstraint(condition=~Q(name=""), name="blendpart_named", violation_error_code="missing"),
            models.CheckConstraint(condition=Q(parts__gt=0), name="blendpart_positive", violation_error_code="not_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.parts.normalize():f} parts of {self.name}"


class Making(ScopedLedger, Signed):
    """A blend that was made: by which recipe, and the lot that came of it, in grams as it was weighed."""

    blend = models.ForeignKey(Blend, on_delete=models.PROTECT, related_name="makings")
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="made_by")
    made_g = models.DecimalField(max_digits=13, decimal_places=3)
    made_at = models.DateTimeField()
    note = models.TextField(blank=True, max_length=4000)
    written_at = models.DateTimeField()

    unscoped = MakingQuerySet.as_manager()
    objects = ScopedManager.from_queryset(MakingQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(made_g__gt=0), name="making_positive", violation_error_code="not_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.lot}, made"


class MakingTake(ScopedLedger):
    """What went into a blend that was made: a use of a lot, or by its name what is not kept in the storeroom."""

    making = models.ForeignKey(Making, on_delete=models.PROTECT, related_name="takes")
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, null=True, related_name="making_take")
    name = models.CharField(max_length=120)
    amount_g = models.DecimalField(max_digits=13, decimal_places=3)

    unscoped = MakingTakeQuerySet.as_manager()
    objects = ScopedManager.from_queryset(MakingTakeQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="makingtake_named", violation_error_code="missing"),
            models.CheckConstraint(
                condition=Q(amount_g__gt=0), name="makingtake_positive", violation_error_code="not_positive"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount_g.normalize():f} g of {self.name}"
