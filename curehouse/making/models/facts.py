"""What a material of the storeroom is made of, as far as the chemistry asks."""

from django.db import models
from django.db.models import F, Q

from curehouse.core.chemistry.liquids import LiquidKind
from curehouse.workshops.scoping import ScopedModel
from inventory.models import Material


def _share(name: str) -> Q:
    """Return that a share is not known, or lies between 0 and 1."""
    return Q(**{f"{name}__isnull": True}) | Q(**{f"{name}__gte": 0, f"{name}__lte": 1})


class MaterialFacts(ScopedModel):
    """The workshop's own figures of a material: which catalogue row it is, and what differs from that row.

    Where a figure is missing the catalogue's counts; the certificate value of a lot beats both.
    """

    material = models.OneToOneField(Material, on_delete=models.PROTECT, related_name="facts")
    key = models.CharField(max_length=40, blank=True, help_text="Which fat or liquid of the catalogue it is.")
    saponification_low = models.DecimalField(max_digits=6, decimal_places=2, null=True, help_text="mg KOH per g.")
    saponification_high = models.DecimalField(max_digits=6, decimal_places=2, null=True, help_text="mg KOH per g.")
    water_fraction = models.DecimalField(max_digits=5, decimal_places=4, null=True)
    fat_fraction = models.DecimalField(max_digits=5, decimal_places=4, null=True)
    sugar_fraction = models.DecimalField(max_digits=5, decimal_places=4, null=True)
    liquid_kind = models.CharField(
        max_length=10,
        blank=True,
        choices=[(kind.value, kind.value) for kind in LiquidKind],
        help_text="What a liquid is, where its row of the catalogue does not say it or it has none.",
    )
    most_share = models.DecimalField(
        max_digits=5, decimal_places=4, null=True, help_text="A fragrance's maximum in the finished bar, by its supplier."
    )
    is_thickened = models.BooleanField(null=True)
    allergen = models.CharField(max_length=300, blank=True, help_text="Several with a comma between them.")
    source = models.CharField(max_length=200, blank=True, help_text="Where these figures are from.")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(saponification_low__isnull=True, saponification_high__isnull=True)
                | Q(saponification_low__gt=0, saponification_high__gte=F("saponification_low")),
                name="materialfacts_saponification",
                violation_error_code="range",
            ),
            models.CheckConstraint(
                condition=_share("water_fraction") & _share("fat_fraction") & _share("sugar_fraction") & _share("most_share"),
                name="materialfacts_shares",
                violation_error_code="fraction",
            ),
        ]

    def __str__(self) -> str:
        return str(self.material)
