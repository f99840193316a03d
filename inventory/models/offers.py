"""What a supplier sells: a material in packs, at what price, from how many packs on, how fresh and how soon."""

from django.db import models
from django.db.models import Q

from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel
from inventory.models.things import Material, Supplier
from inventory.queries.offers import OfferQuerySet

# More packs of one thing at once are a slip of the finger.
MOST_PACKS = 9_999
# Ten years and two years.
MOST_SHELF_DAYS, MOST_LEAD_DAYS = 3_660, 730


class Offer(ScopedModel, Signed):
    """A material as a supplier sells it. Its terms stay as written: other terms are a new offer that follows this one.

    ``price`` is that of one pack in the workshop's currency; ``breaks`` are cheaper ones from so many packs on.
    """

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="offers")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="offers")
    article = models.CharField(max_length=80, blank=True, help_text="The supplier's own number or name of it.")
    pack = models.DecimalField(max_digits=13, decimal_places=3, help_text="Grams or pieces in a pack.")
    price = models.DecimalField(max_digits=12, decimal_places=4, help_text="Of one pack, in the workshop's currency.")
    min_packs = models.PositiveIntegerField(default=1, help_text="Sold from so many packs on.")
    is_hazardous = models.BooleanField(default=False, help_text="Whether the supplier's hazard surcharge comes with it.")
    shelf_days = models.PositiveIntegerField(null=True, help_text="Days to its best-before as it usually comes in.")
    lead_days = models.PositiveIntegerField(null=True, help_text="Days it takes, as the supplier says; empty: as its others.")
    follows = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="followed_by")
    written_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)

    unscoped = OfferQuerySet.as_manager()
    objects = ScopedManager.from_queryset(OfferQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["supplier", "material", "pack", "article"],
                condition=Q(ended_at__isnull=True),
                name="offer_once",
                violation_error_code="offer_taken",
            ),
            models.CheckConstraint(condition=Q(pack__gt=0), name="offer_pack", violation_error_code="not_positive"),
            models.CheckConstraint(condition=Q(price__gte=0), name="offer_price", violation_error_code="negative"),
            models.CheckConstraint(
                condition=Q(min_packs__gte=1) & Q(min_packs__lte=MOST_PACKS),
                name="offer_min_packs",
                violation_error_code="packs",
            ),
            models.CheckConstraint(
                condition=Q(shelf_days__isnull=True) | Q(shelf_days__gte=1, shelf_days__lte=MOST_SHELF_DAYS),
                name="offer_shelf_days",
                violation_error_code="shelf_days",
            ),
            models.CheckConstraint(
                condition=Q(lead_days__isnull=True) | Q(lead_days__lte=MOST_LEAD_DAYS),
                name="offer_lead_days",
                violation_error_code="lead_days",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.material.name} of {self.supplier.name}"


class OfferBreak(ScopedLedger):
    """What a pack costs from so many packs on; all packs of the order cost that then."""

    offer = models.ForeignKey(Offer, on_delete=models.PROTECT, related_name="breaks")
    from_packs = models.PositiveIntegerField()
    price = models.DecimalField(max_digits=12, decimal_places=4)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["offer", "from_packs"], name="offerbreak_once", violation_error_code="break_twice"),
            models.CheckConstraint(
                condition=Q(from_packs__gte=2) & Q(from_packs__lte=MOST_PACKS),
                name="offerbreak_from_packs",
                violation_error_code="packs",
            ),
            models.CheckConstraint(condition=Q(price__gte=0), name="offerbreak_price", violation_error_code="negative"),
        ]

    def __str__(self) -> str:
        return f"from {self.from_packs} packs {self.price}"
