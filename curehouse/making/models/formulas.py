"""Formulas: what a soap is called, and what goes into each of its versions."""

from django.db import models
from django.db.models import Q

from curehouse.making.queries import FormulaLineQuerySet, FormulaQuerySet, FormulaVersionQuerySet
from curehouse.workshops.models import Scale, Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel
from inventory.models import Material


class Formula(ScopedModel):
    """What the maker calls a soap; what goes in stands in its versions, of which it may have none."""

    name = models.CharField(max_length=120)
    min_days = models.PositiveSmallIntegerField(null=True, help_text="Minimum cure, where it differs from the workshop's.")
    retired_at = models.DateTimeField(null=True)

    unscoped = FormulaQuerySet.as_manager()
    objects = ScopedManager.from_queryset(FormulaQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "name"], name="formula_name_once", violation_error_code="name_taken"),
            models.CheckConstraint(condition=~Q(name=""), name="formula_named", violation_error_code="missing"),
            models.CheckConstraint(
                condition=Q(min_days__isnull=True) | Q(min_days__gte=1), name="formula_min_days", violation_error_code="days"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class FormulaVersion(ScopedLedger, Signed):
    """A formula as it was written down once: how the lye is set, and the lines that go in.

    It never changes. Written again before it was poured it keeps its number, under the next
    revision; once it was poured, a change has the next number. Shares are 0-1.
    """

    formula = models.ForeignKey(Formula, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    revision = models.PositiveSmallIntegerField(default=1)
    fats_g = models.DecimalField(max_digits=10, decimal_places=3, help_text="The size it is written for.")
    superfat = models.DecimalField(max_digits=5, decimal_places=4)
    naoh_share = models.DecimalField(max_digits=5, decimal_places=4, help_text="Of the equivalents; the rest is KOH.")
    naoh_purity = models.DecimalField(max_digits=5, decimal_places=4, null=True)
    koh_purity = models.DecimalField(max_digits=5, decimal_places=4, null=True)
    naoh_from = models.ForeignKey(Material, on_delete=models.PROTECT, null=True, related_name="+")
    koh_from = models.ForeignKey(Material, on_delete=models.PROTECT, null=True, related_name="+")
    liquid_g = models.DecimalField(max_digits=10, decimal_places=3, null=True, help_text="The total liquid.")
    liquid_share = models.DecimalField(max_digits=5, decimal_places=4, null=True, help_text="The same, of the fats.")
    front_c = models.DecimalField(max_digits=4, decimal_places=1, help_text="The liquid in front, in °C.")
    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, null=True, related_name="+")
    fine_scale = models.ForeignKey(Scale, on_delete=models.PROTECT, null=True, related_name="+")
    note = models.TextField(blank=True, max_length=4000)
    confirmed = models.JSONField(default=list, help_text="What a person said they read, with its figures.")
    written_at = models.DateTimeField()

    unscoped = FormulaVersionQuerySet.as_manager()
    objects = ScopedManager.from_queryset(FormulaVersionQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["formula", "number", "revision"], name="formulaversion_once", violation_error_code="written_meanwhile"
            ),
            models.CheckConstraint(
                condition=Q(fats_g__gt=0) & Q(superfat__gte=0) & Q(superfat__lt=1),
                name="formulaversion_superfat",
                violation_error_code="superfat",
            ),
            models.CheckConstraint(
                condition=Q(naoh_share__gte=0) & Q(naoh_share__lte=1),
                name="formulaversion_naoh_share",
                violation_error_code="fraction",
            ),
            models.CheckConstraint(
                condition=(Q(naoh_purity__isnull=True) | Q(naoh_purity__gt=0, naoh_purity__lte="1.005"))
                & (Q(koh_purity__isnull=True) | Q(koh_purity__gt=0, koh_purity__lte="1.005")),
                name="formulaversion_purity",
                violation_error_code="purity",
            ),
            models.CheckConstraint(
                condition=Q(liquid_g__gt=0, liquid_share__isnull=True) | Q(liquid_g__isnull=True, liquid_share__gt=0),
                name="formulaversion_liquid",
                violation_error_code="liquid",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.formula.name}, version {self.number}"


class FormulaLine(ScopedLedger):
    """One thing that goes in: of the catalogue (``key``), of the storeroom, or just by its name."""

    class Role(models.TextChoices):
        FAT = "fat", "fat"
        LIQUID = "liquid", "liquid"
        ACID = "acid", "acid"
        ADDITIVE = "additive", "additive"
        FRAGRANCE = "fragrance", "fragrance"
        COLOUR = "colour", "colour"

    class Per(models.TextChoices):
        GRAMS = "grams", "grams"
        FATS = "fats", "of the fats"
        LIQUID = "liquid", "of the liquid"
        REST = "rest", "the rest of the liquid"

    class GoesIn(models.TextChoices):
        FRONT = "front", "in front, with the lye"
        TRACE = "trace", "at trace"

    version = models.ForeignKey(FormulaVersion, on_delete=models.PROTECT, related_name="lines")
    place = models.PositiveSmallIntegerField(help_text="Its place in the list.")
    role = models.CharField(max_length=10, choices=Role.choices)
    key = models.CharField(max_length=40, blank=True)
    material = models.ForeignKey(Material, on_delete=models.PROTECT, null=True, related_name="+")
    name = models.CharField(max_length=120)
    per = models.CharField(max_length=6, choices=Per.choices)
    amount = models.DecimalField(max_digits=13, decimal_places=6, null=True, help_text="Grams, or a share 0-1.")
    goes_in = models.CharField(max_length=5, choices=GoesIn.choices, blank=True)
    form = models.CharField(max_length=20, blank=True, help_text="Of an acid.")
    strength = models.DecimalField(max_digits=5, decimal_places=4, null=True, help_text="Of an acid that is dissolved.")
    saponification = models.DecimalField(max_digits=6, decimal_places=2, null=True, help_text="By its certificate.")
    water_fraction = models.DecimalField(max_digits=5, decimal_places=4, null=True, help_text="Measured.")
    fat_fraction = models.DecimalField(max_digits=5, decimal_places=4, null=True, help_text="Measured.")
    most_share = models.DecimalField(max_digits=5, decimal_places=4, null=True, help_text="A fragrance's maximum.")
    is_thickened = models.BooleanField(null=True)

    unscoped = FormulaLineQuerySet.as_manager()
    objects = ScopedManager.from_queryset(FormulaLineQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["version", "place"], name="formulaline_place_once"),
            models.CheckConstraint(condition=~Q(name=""), name="formulaline_named", violation_error_code="missing"),
            models.CheckConstraint(
                condition=Q(per="rest", amount__isnull=True, role="liquid") | (~Q(per="rest") & Q(amount__gt=0)),
                name="formulaline_amount",
                violation_error_code="not_positive",
            ),
            models.CheckConstraint(
                condition=Q(role="liquid") & ~Q(goes_in="") | ~Q(role="liquid") & Q(goes_in=""),
                name="formulaline_goes_in",
                violation_error_code="place",
            ),
        ]

    def __str__(self) -> str:
        return self.name
