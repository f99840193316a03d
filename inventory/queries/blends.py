"""Questions about materials that are made from others, and about what went into their lots."""

from collections.abc import Collection
from typing import Self

from django.db.models import Max

from curehouse.workshops.scoping import ScopedLedgerQuerySet


class BlendQuerySet(ScopedLedgerQuerySet):
    """Recipes of blends."""

    def newest_first(self) -> Self:
        """Return the recipes, the newest first, with their parts at hand."""
        return self.select_related("material", "by_user", "by_device").prefetch_related("parts__material").order_by("-number")

    def written(self) -> Self:
        """Return the newest recipe of each material that is made from others, retired or not."""
        newest = self.order_by().values("material").annotate(newest=Max("pk")).values("newest")
        return self.filter(pk__in=newest, parts__isnull=False).distinct()

    def in_force(self) -> Self:
        """Return the newest recipe of each material that is made from others, by its name, with its parts at hand."""
        found = self.written().filter(material__retired_at=None)
        return found.select_related("material").prefetch_related("parts__material").order_by("material__name")


class MakingQuerySet(ScopedLedgerQuerySet):
    """Blends that were made."""

    def newest_first(self) -> Self:
        """Return what was made, the last first, with its lot, its recipe and what it took at hand."""
        found = self.select_related("lot__material", "blend__material", "by_user", "by_device")
        return found.prefetch_related("takes__movement__lot__material").order_by("-made_at", "-pk")


class MakingTakeQuerySet(ScopedLedgerQuerySet):
    """What went into blends."""

    def in_force(self) -> Self:
        """Return what was taken and not taken back, with the lots on both sides at hand."""
        found = self.filter(movement__corrected_by__isnull=True)
        return found.select_related("movement__lot__material", "making__lot__material", "making__blend").order_by("pk")

    def of_lots(self, lots: Collection[int]) -> Self:
        """Return what went into these lots (keys)."""
        return self.in_force().filter(making__lot__in=lots)

    def from_lots(self, lots: Collection[int]) -> Self:
        """Return what was taken of these lots (keys)."""
        return self.in_force().filter(movement__lot__in=lots)
