"""Questions about what suppliers sell."""

from typing import Self

from django.db.models import F

from curehouse.workshops.scoping import ScopedQuerySet


class OfferQuerySet(ScopedQuerySet):
    """Offers."""

    def standing(self) -> Self:
        """Return the offers that have not ended."""
        return self.filter(ended_at__isnull=True)

    def buyable(self) -> Self:
        """Return the standing offers of suppliers who are in use."""
        return self.standing().filter(supplier__retired_at__isnull=True)

    def named(self) -> Self:
        """Return the offers with what their names are made of, and their price breaks."""
        return self.select_related("material", "supplier").prefetch_related("breaks")

    def standing_first(self) -> Self:
        """Return the offers by material and pack, those that have ended last."""
        return self.order_by(F("ended_at").desc(nulls_first=True), "material__name", "pack", "pk")

    def by_material(self) -> Self:
        """Return the offers by material, supplier and pack."""
        return self.order_by("material__name", "supplier__name", "pack", "pk")
