"""Questions about the ledger."""

from datetime import datetime
from decimal import Decimal
from typing import Any, Self

from django.db.models import Q, Sum
from django.db.models.functions import Round

from curehouse.workshops.scoping import ScopedLedgerQuerySet

_STEP = Decimal("0.001")


class MovementQuerySet(ScopedLedgerQuerySet):
    """Movements."""

    def in_order(self) -> Self:
        """Return the movements as they happened."""
        return self.order_by("moment", "pk")

    def newest_first(self) -> Self:
        """Return the movements, the last that happened first."""
        return self.order_by("-moment", "-pk")

    def in_force(self) -> Self:
        """Return the movements that were not taken back, without the reversals themselves."""
        return self.exclude(kind="reversal").filter(corrected_by__isnull=True)

    def with_corrections(self) -> Self:
        """Return the movements with what took them back, and with what was found for them."""
        return self.select_related("corrected_by", "count_of", "found__movement__corrected_by")

    def used_since(self, moment: datetime) -> Self:
        """Return what was used since *moment* and not taken back."""
        return self.filter(kind="use", moment__gte=moment, corrected_by__isnull=True)

    def used_by_material(self) -> dict[int, Decimal]:
        """Return the amounts used (above zero) by the key of the material."""
        sums = self.order_by().values_list("lot__material").annotate(total=Round(Sum("amount"), 3))
        return {material: -Decimal(total).quantize(_STEP) for material, total in sums}

    def total(self) -> Decimal:
        """Return the sum of the movements, in grams or pieces."""
        return Decimal(self.aggregate(total=Sum("amount"))["total"] or 0).quantize(_STEP)


class CountQuerySet(ScopedLedgerQuerySet):
    """Counts."""

    def newest_first(self) -> Self:
        """Return the counts, the last first."""
        return self.order_by("-moment", "-pk")

    def standing(self) -> Self:
        """Return the counts that say what a lot held, as they happened.

        A count that was taken back says nothing any more, and what was found at a pour only that there
        was more than booked.
        """
        told = self.filter(restates__isnull=True, for_use__isnull=True)
        not_taken_back = Q(movement__isnull=True) | Q(movement__corrected_by__isnull=True)
        return told.filter(not_taken_back).order_by("moment", "written_at", "pk")

    def that_take_up(self, movement: Any) -> Self:
        """Return what was held against the book anew for *movement*: it is written with it and after it."""
        return self.filter(
            lot=movement.lot_id, restates__isnull=False, written_at=movement.written_at, movement__gt=movement.pk
        ).order_by("pk")  # fmt: skip

    def by_people(self) -> Self:
        """Return what people counted, without what follows from it, what lists say and what pours found."""
        return self.filter(for_use__isnull=True, restates__isnull=True, by_list=False)
