"""What the storeroom holds, and who sells it."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from curehouse.workshops.scoping import ScopedManager, ScopedModel
from inventory.queries.things import MaterialQuerySet, SupplierQuerySet


class Material(ScopedModel):
    """Something that is bought or made in lots and used up, in grams or in pieces."""

    class Kind(models.TextChoices):
        FAT = "fat", "fat"
        LYE = "lye", "lye"
        LIQUID = "liquid", "liquid"
        ADDITIVE = "additive", "additive"
        FRAGRANCE = "fragrance", "fragrance"
        COLOUR = "colour", "colour"
        PACKAGING = "packaging", "packaging"
        BARS = "bars", "bars"

    class Measure(models.TextChoices):
        GRAMS = "grams", "grams"
        PIECES = "pieces", "pieces"

    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    measure = models.CharField(max_length=6, choices=Measure.choices)
    retired_at = models.DateTimeField(null=True)

    unscoped = MaterialQuerySet.as_manager()
    objects = ScopedManager.from_queryset(MaterialQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint("workshop", Lower("name"), name="material_name_once", violation_error_code="name_taken"),
            models.CheckConstraint(condition=~Q(name=""), name="material_named", violation_error_code="missing"),
            models.CheckConstraint(
                condition=Q(measure__in=["grams", "pieces"]), name="material_measure", violation_error_code="measure"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Supplier(ScopedModel):
    """Who sells materials."""

    name = models.CharField(max_length=120)
    contact = models.CharField(max_length=400, blank=True)
    note = models.TextField(blank=True, max_length=4000)
    freight = models.DecimalField(max_digits=12, decimal_places=2, null=True, help_text="What an order costs beside its goods.")
    free_freight_from = models.DecimalField(
        max_digits=12, decimal_places=2, null=True, help_text="Goods of so much come without freight."
    )
    hazard_surcharge = models.DecimalField(
        max_digits=12, decimal_places=2, null=True, help_text="Once an order, with anything hazardous in it, such as lye."
    )
    lead_days = models.PositiveIntegerField(null=True, help_text="Days from sending to receipt, as the supplier says.")
    retired_at = models.DateTimeField(null=True)

    unscoped = SupplierQuerySet.as_manager()
    objects = ScopedManager.from_queryset(SupplierQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint("workshop", Lower("name"), name="supplier_name_once", violation_error_code="name_taken"),
            models.CheckConstraint(condition=~Q(name=""), name="supplier_named", violation_error_code="missing"),
            models.CheckConstraint(
                condition=(Q(freight__isnull=True) | Q(freight__gte=0))
                & (Q(free_freight_from__isnull=True) | Q(free_freight_from__gte=0))
                & (Q(hazard_surcharge__isnull=True) | Q(hazard_surcharge__gte=0)),
                name="supplier_costs",
                violation_error_code="negative",
            ),
            models.CheckConstraint(
                condition=Q(lead_days__isnull=True) | Q(lead_days__lte=730),
                name="supplier_lead_days",
                violation_error_code="lead_days",
            ),
        ]

    def __str__(self) -> str:
        return self.name
